"""Heat, cold and height in words and tables."""

from __future__ import annotations

from typing import Any

from terrain.report.page.blocks import Block, Part
from terrain.text.catalogue import N_
from terrain.text.translator import Translator
from terrain.values.report import Facts

_CONCERNS: dict[str, str] = {
    "low": N_("little concern"),
    "medium": N_("some concern"),
    "high": N_("much concern"),
}


def heat_part(facts: Facts, translator: Translator) -> Part | None:
    """Rider, engine and the year; None if nothing is known."""
    heat = facts["heat"]
    if heat is None:
        return None
    blocks: list[Block] = []
    lines = tuple(translator.translate_all(heat["words"]))
    if lines:
        blocks.append(Block(kind="list", lines=lines))
    if lines or heat["months"]:
        blocks.append(Block(kind="text", text=translator.translate(heat["basis"]["text"])))
    if heat["asks"]:
        blocks.append(Block(kind="text", text=" ".join(translator.translate_all(heat["asks"]))))
    blocks += _engines(heat, translator)
    if heat["rider"].get("max_air_temp_c") is None:
        blocks += _year(heat, translator)
    if heat["cautions"]:
        blocks.append(
            Block(kind="heading", text=translator._("Cautions for heat, cold and height"))
        )
        lines = tuple(_caution(item, translator) for item in heat["cautions"])
        blocks.append(Block(kind="list", lines=lines))
    return Part(key="heat", title=translator._("Heat, cold and height"), blocks=tuple(blocks))


def _caution(item: dict[str, Any], translator: Translator) -> str:
    text = translator.translate(item["text"])
    return text if item["at_m"] is None else f"{text} ({translator.km_mark(item['at_m'])})"


def _engines(heat: dict[str, Any], translator: Translator) -> list[Block]:
    rows = [
        (
            translator.translate_term(engine["title"]),
            translator._(_CONCERNS[engine["concern"]]),
            translator.duration(60 * engine["fan_dependent_min"]),
            translator.temp(engine["peak_c"]) if engine["peak_c"] is not None else "",
        )
        for engine in heat["engine"]["classes"]
    ]
    if not rows:
        return []
    head = (
        translator._("Bike"),
        translator._("Engine heat"),
        translator._("On the fan"),
        translator._("Hottest"),
    )
    return [
        Block(kind="heading", text=translator._("Engine")),
        Block(kind="table", head=head, rows=tuple(rows)),
    ]


def _year(heat: dict[str, Any], translator: Translator) -> list[Block]:
    """The ride month by month, for a trip without a date."""
    rows = []
    for month in heat["months"]:
        low, high = month["max_air_temp_low_c"], month["max_air_temp_high_c"]
        band = "" if low is None else f"{_degrees(low, translator)}–{_degrees(high, translator)}"
        rows.append(
            (
                translator.month(month["month"]),
                f"{translator.temp(month['max_air_temp_c'])} ({band})",
                translator.temp(month["max_wbgt_c"]),
                "" if month["rain_mm"] is None else translator.length_mm(month["rain_mm"]),
                translator.duration(month["daylight_s"]),
            )
        )
    if not rows:
        return []
    head = (
        translator._("Month"), translator._("Warmest"), translator._("Heat with humidity and sun"),
        translator._("Rain"), translator._("Daylight"),
    )  # fmt: skip
    return [
        Block(kind="heading", text=translator._("Month by month")),
        Block(kind="table", head=head, rows=tuple(rows)),
    ]


def _degrees(temp_c: float, translator: Translator) -> str:
    return translator.number(translator.temp_value(temp_c))
