"""Heat, cold and height in words and tables."""

from __future__ import annotations

from typing import Any

from terrain.report.blocks import Block, Part
from terrain.report.words import N_, Words
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
    lines = tuple(heat["words"]) if words.plain_english else _rider_lines(heat["rider"], words)
    if lines:
        blocks.append(Block(kind="list", lines=lines))
    if heat["asks"]:
        blocks.append(Block(kind="text", text=" ".join(words.said(a) for a in heat["asks"])))
    blocks += _engines(heat, words)
    if heat["rider"].get("max_air_temp_c") is None:
        blocks += _year(heat, words)
    if heat["cautions"]:
        blocks.append(Block(kind="heading", text=words._("Cautions for heat, cold and height")))
        lines = tuple(_caution(item, words) for item in heat["cautions"])
        blocks.append(Block(kind="list", lines=lines))
    return Part(key="heat", title=words._("Heat, cold and height"), blocks=tuple(blocks))


def _rider_lines(rider: dict[str, Any], words: Words) -> tuple[str, ...]:
    """The rider's day in sentences, where there is a day."""
    if rider.get("max_air_temp_c") is None:
        return ()
    lines = [
        words._(
            "Up to {temp} on the way ({low} to {high}); about {water} L of water an hour.",
            temp=words.temp(rider["max_air_temp_c"]),
            low=_degrees(rider["max_air_temp_low_c"], words),
            high=_degrees(rider["max_air_temp_high_c"], words),
            water=words.number(rider["water_l_per_h"], 1),
        )
    ]
    if rider["min_wind_chill_c"] is not None and rider["min_wind_chill_c"] < 5:
        chill = words.temp(rider["min_wind_chill_c"])
        lines.append(words._("At speed it may feel like {temp} at the coldest.", temp=chill))
    return tuple(lines)


def _caution(item: dict[str, Any], words: Words) -> str:
    text = words.said(item["text"])
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
                "" if month["rain_mm"] is None else f"{words.number(month['rain_mm'])} mm",
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
