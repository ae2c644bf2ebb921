"""Heat, cold and height in words and tables."""

from __future__ import annotations

from terrain.report.page.blocks import Block, Part
from terrain.tables.heat import COLD_TOLD_C
from terrain.text.terms import CAUSE_TERMS, CONCERN_TERMS
from terrain.text.translator import Translator
from terrain.values.heat import Caution, EngineHeat, Heat
from terrain.values.report import Report
from terrain.values.verdict import FindingKind

# What the first level of cold asks the line of cold asks too, at the same wind chill.
_COLD_SAID = f"cold-{COLD_TOLD_C:.0f}"


def heat_part(report: Report, translator: Translator) -> Part | None:
    """Rider, engine and the year."""
    heat = report.assessed.heat
    blocks: list[Block] = []
    # A class of bikes may begin one.
    lines = tuple(text[:1].upper() + text[1:] for text in translator.translate_all(heat.words))
    if any(item.kind is FindingKind.HEAT for item in report.verdict.findings):
        lines = lines[1:]  # the finding says how hot, and how much to drink
    if lines:
        blocks.append(Block(kind="list", lines=lines))
    if report.assessed.weather is not None and report.assessed.weather.words:
        told = " ".join(translator.translate_all(report.assessed.weather.words))
        blocks.append(Block(kind="text", text=told))
    if lines or heat.months:
        blocks.append(Block(kind="text", text=translator.translate(heat.basis.get("text", ""))))
    if heat.asks:
        blocks.append(Block(kind="text", text=" ".join(translator.translate_all(heat.asks))))
    blocks += _engines(heat, translator)
    if heat.rider is None:
        blocks += _year(heat, translator)
    said = {translator.translate(item.text) for item in report.assessed.advice.cautions}
    cautions = [
        item
        for item in heat.cautions
        if translator.translate(item.text) not in said and item.code != _COLD_SAID
    ]
    if cautions:
        blocks.append(
            Block(kind="heading", text=translator._("Cautions for heat, cold and height"))
        )
        lines = tuple(_caution(item, translator) for item in cautions)
        blocks.append(Block(kind="list", lines=lines))
    return Part(key="heat", title=translator._("Heat, cold and height"), blocks=tuple(blocks))


def _caution(item: Caution, translator: Translator) -> str:
    text = translator.translate(item.text)
    return text if item.at_m is None else f"{text} ({translator.km_mark(item.at_m)})"


def _engines(heat: Heat, translator: Translator) -> list[Block]:
    rows = tuple(
        (
            translator.translate_term(engine.title),
            translator._(CONCERN_TERMS[engine.concern]),
            _why(engine, translator),
        )
        for engine in heat.engines
    )
    if not rows:
        return []
    head = (translator._("Bike"), translator._("Engine heat"), translator._("Why"))
    return [
        Block(kind="heading", text=translator._("Engine")),
        Block(kind="table", head=head, rows=rows),
    ]


def _why(engine: EngineHeat, translator: Translator) -> str:
    if not engine.causes:
        return translator._("the air of riding carries it off")
    return ", ".join(translator._(CAUSE_TERMS[cause]) for cause in engine.causes)


def _year(heat: Heat, translator: Translator) -> list[Block]:
    """The ride month by month, for a trip without a date."""
    rows = tuple(
        (
            translator.month(month.month),
            f"{translator.temp(month.max_air_temp_c)} ("
            f"{_degrees(month.max_air_temp_low_c, translator)}–"
            f"{_degrees(month.max_air_temp_high_c, translator)})",
            translator.temp(month.max_wbgt_c),
            "" if month.rain_mm is None else translator.length_mm(month.rain_mm),
            translator.duration(month.daylight_s),
        )
        for month in heat.months
    )
    if not rows:
        return []
    head = (
        translator._("Month"), translator._("Warmest"), translator._("Heat with humidity and sun"),
        translator._("Rain"), translator._("Daylight"),
    )  # fmt: skip
    return [
        Block(kind="heading", text=translator._("Month by month")),
        Block(kind="table", head=head, rows=rows),
    ]


def _degrees(temp_c: float, translator: Translator) -> str:
    return translator.number(translator.temp_value(temp_c))
