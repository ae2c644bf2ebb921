"""The report as headings, sentences and tables: what HTML and PDF both set in type."""

from __future__ import annotations

from dataclasses import dataclass

from terrain.report.page.blocks import Part
from terrain.report.page.first import (
    FirstScreen,
    first_screen,
    shown_findings,
    split_gaps,
)
from terrain.report.page.parts import make_parts
from terrain.report.said import finding_line, made_lines
from terrain.tables.climate import ATTRIBUTION as CLIMATE_ATTRIBUTION
from terrain.text.message import road_called
from terrain.text.plain import shortened
from terrain.text.terms import BASIS_TERMS, GROUND_TERMS, ROAD_TERMS
from terrain.text.translator import Translator
from terrain.values.ground import LAND_GROUNDS
from terrain.values.report import Report
from terrain.values.verdict import Audience, Section

_LONGEST_NAME = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionRow:
    """One section in words."""

    number: int
    span: str
    kind: str
    ground: str
    road: str
    basis: str
    time: str
    climb: str
    told: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """Everything a reader is told, in order.

    more_findings, more_unknown : what the first screen had no room for
    """

    first: FirstScreen
    more_findings: tuple[str, ...]
    more_unknown: tuple[str, ...]
    table: tuple[SectionRow, ...]
    has_height: bool
    parts: tuple[Part, ...]
    credit: str
    footer: tuple[str, ...]
    audience: Audience


def make_page(report: Report, translator: Translator, audience: Audience) -> Page:
    """The report in words, for rider, staff or guide."""
    verdict = report.verdict
    shown = shown_findings(report)
    return Page(
        first=first_screen(report, translator, audience),
        more_findings=tuple(
            finding_line(item, translator, audience)
            for item in verdict.findings
            if item not in shown
        ),
        more_unknown=tuple(translator.translate(item.why) for item in split_gaps(report)[1]),
        table=tuple(_section_row(section, translator) for section in verdict.sections),
        has_height=any(section.up_m is not None for section in verdict.sections),
        parts=make_parts(report, translator, audience),
        credit=map_credit(report, translator),
        footer=made_lines(report, translator),
        audience=audience,
    )


def _section_row(section: Section, translator: Translator) -> SectionRow:
    ground, road = _ground_text(section, translator), _road_text(section, translator)
    basis = ", ".join(
        translator._(BASIS_TERMS[key])
        for key, metres in section.basis
        if metres >= 0.1 * section.length_m
    )
    time = "" if section.time_s is None else translator.duration(section.time_s)
    told = translator._(
        "{where}: {text}", where=translator.km_range(section.from_m, section.to_m), text=ground
    )
    told += "".join(f"; {text}" for text in (road, basis, time) if text)
    return SectionRow(
        number=section.number, span=_span_number(section, translator), kind=section.ground.value,
        ground=ground, road=road, basis=basis, time=time, climb=_climb_text(section, translator),
        told=told,
    )  # fmt: skip


def _span_number(section: Section, translator: Translator) -> str:
    digits = 1 if section.length_m < 2 * translator.distance_unit_m else 0
    a = translator.number(section.from_m / translator.distance_unit_m, digits)
    return f"{a}–{translator.number(section.to_m / translator.distance_unit_m, digits)}"


def _ground_text(section: Section, translator: Translator) -> str:
    """ "gravel", or each ground with how likely it is."""
    name = translator._(GROUND_TERMS[section.ground])
    if section.p is None or section.ground not in LAND_GROUNDS:
        return name
    ranked = sorted(zip(LAND_GROUNDS, section.p, strict=True), key=lambda item: -item[1])
    shown = [
        translator._(
            "{ground} {share}",
            ground=translator._(GROUND_TERMS[kind]),
            share=translator.percent(share),
        )
        for kind, share in ranked
        if share >= 0.1
    ]
    return name if len(shown) == 1 else ", ".join(shown)


def _road_text(section: Section, translator: Translator) -> str:
    kind = section.highway
    # What an unnamed road is called, by its class on the map.
    unnamed = (
        [translator._(ROAD_TERMS.get(kind.removesuffix("_link"), kind.replace("_", " ")))]
        if kind is not None and section.unnamed
        else []
    )
    named = [
        shortened(translator.translate(road_called(name)), _LONGEST_NAME) for name in section.names
    ]
    shown, more = [*unnamed, *named][:2], len(unnamed) + len(named) - 2
    return ", ".join(shown) + (translator._(" and {n} more", n=more) if more > 0 else "")


def _climb_text(section: Section, translator: Translator) -> str:
    """Climb and descent; a dash where too little of the section has heights."""
    if section.up_m is None or section.down_m is None:
        return "–"
    shown = [
        f"{sign}{translator.number(round(translator.height_value(move_m) / 10) * 10)}"
        for sign, move_m in (("+", section.up_m), ("−", section.down_m))
        if move_m >= 5.0
    ]
    return " ".join(shown) or "0"


def map_credit(report: Report, translator: Translator) -> str:
    """Whom to thank for what the map shows; climate is not drawn there."""
    lines = [x for x in report.assessed.region.attribution if x != CLIMATE_ATTRIBUTION]
    return "; ".join(translator.translate_term(line).rstrip(". ") for line in lines)
