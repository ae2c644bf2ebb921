"""Heat, cold and height in words and tables."""

from __future__ import annotations

from typing import Any

from terrain.report.page.blocks import Block, Part
from terrain.text.translator import N_, Words
from terrain.values.report import Facts

_CONCERNS: dict[str, str] = {
    "low": N_("little concern"),
    "medium": N_("some concern"),
    "high": N_("much concern"),
}


def heat_part(facts: Facts, words: Words) -> Part | None:
    """Rider, engine and the year; None if nothing is known."""
    heat = facts["heat"]
    if heat is None:
        return None
    blocks: list[Block] = []
    lines = tuple(words.tell_all(heat["words"]))
    if lines:
        blocks.append(Block(kind="list", lines=lines))
    if lines or heat["months"]:
        blocks.append(Block(kind="text", text=words.tell(heat["basis"]["text"])))
    if heat["asks"]:
        blocks.append(Block(kind="text", text=" ".join(words.tell_all(heat["asks"]))))
    blocks += _engines(heat, words)
    if heat["rider"].get("max_air_temp_c") is None:
        blocks += _year(heat, words)
    if heat["cautions"]:
        blocks.append(Block(kind="heading", text=words._("Cautions for heat, cold and height")))
        lines = tuple(_caution(item, words) for item in heat["cautions"])
        blocks.append(Block(kind="list", lines=lines))
    return Part(key="heat", title=words._("Heat, cold and height"), blocks=tuple(blocks))


def _caution(item: dict[str, Any], words: Words) -> str:
    text = words.tell(item["text"])
    return text if item["at_m"] is None else f"{text} ({words.at(item['at_m'])})"


def _engines(heat: dict[str, Any], words: Words) -> list[Block]:
    rows = [
        (
            words.said(engine["title"]),
            words._(_CONCERNS[engine["concern"]]),
            words.lasting(60 * engine["fan_dependent_min"]),
            words.temp(engine["peak_c"]) if engine["peak_c"] is not None else "",
        )
        for engine in heat["engine"]["classes"]
    ]
    if not rows:
        return []
    head = (words._("Bike"), words._("Engine heat"), words._("On the fan"), words._("Hottest"))
    return [
        Block(kind="heading", text=words._("Engine")),
        Block(kind="table", head=head, rows=tuple(rows)),
    ]


def _year(heat: dict[str, Any], words: Words) -> list[Block]:
    """The ride month by month, for a trip without a date."""
    rows = []
    for month in heat["months"]:
        low, high = month["max_air_temp_low_c"], month["max_air_temp_high_c"]
        band = "" if low is None else f"{_degrees(low, words)}–{_degrees(high, words)}"
        rows.append(
            (
                words.month(month["month"]),
                f"{words.temp(month['max_air_temp_c'])} ({band})",
                words.temp(month["max_wbgt_c"]),
                "" if month["rain_mm"] is None else words.small(month["rain_mm"]),
                words.lasting(month["daylight_s"]),
            )
        )
    if not rows:
        return []
    head = (
        words._("Month"), words._("Warmest"), words._("Heat with humidity and sun"),
        words._("Rain"), words._("Daylight"),
    )  # fmt: skip
    return [
        Block(kind="heading", text=words._("Month by month")),
        Block(kind="table", head=head, rows=tuple(rows)),
    ]


def _degrees(temp_c: float, words: Words) -> str:
    return words.number(words.temp_value(temp_c))
