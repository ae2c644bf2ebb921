"""The report as headings, sentences and tables: what HTML, PDF and mail all set in type."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import numpy as np

from terrain.report import findings
from terrain.report.dangers import Finding, things_to_know, where_text
from terrain.report.findings import BASIS_WORDS, GROUND_WORDS
from terrain.report.page.blocks import Part
from terrain.report.page.parts import make_parts
from terrain.report.sections import LAND, MOST_SECTIONS, Section, sections
from terrain.stages.relief.gradient import climb_between
from terrain.stages.relief.judge import PARAMS
from terrain.tables.climate import ATTRIBUTION as CLIMATE_ATTRIBUTION
from terrain.text.catalogue import N_
from terrain.text.plain import shortened
from terrain.text.translator import Translator
from terrain.values.report import Facts

_LONGEST_NAME = 60
# As a region built from tiles names them.
_TILES = re.compile(r"Heights from elevation tiles \((.+), ([\d. and]+) arc seconds\)")


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareLine:
    """One ground's share in words and numbers."""

    kind: str
    name: str
    text: str
    share: dict[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Know:
    """One thing to know, in words."""

    what: str
    where: str
    do: str


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
    """Everything a reader is told, in order."""

    title: str
    about: str
    verdict: str
    lead: str
    shares: tuple[ShareLine, ...]
    certainty: str
    setup: tuple[str, ...]
    know_title: str
    know: tuple[Know, ...]
    unknown: tuple[str, ...]
    cut: tuple[Section, ...]
    table: tuple[SectionRow, ...]
    has_speed: bool
    has_height: bool
    parts: tuple[Part, ...]
    credit: str
    footer: tuple[str, ...]
    audience: str = "rider"


def make_page(
    facts: Facts,
    translator: Translator,
    audience: str = "rider",
    *,
    most_sections: int = MOST_SECTIONS,
) -> Page:
    """The report in words, for rider, staff or guide."""
    cut = sections(facts["stretches"], most_sections)
    answer = findings.verdict(facts, translator)
    know = things_to_know(facts, translator)
    return Page(
        title=facts["route"]["name"],
        about=about(facts, translator),
        verdict=answer.headline(),
        lead=answer.lead(translator),
        shares=_shares(facts, translator),
        certainty=findings.shares_in_words(facts, translator),
        setup=tuple(findings.setup_lines(facts, translator)),
        know_title=translator.n_("One thing to know", "{n} things to know", len(know)),
        know=tuple(_know(item, facts, translator) for item in know),
        unknown=tuple(findings.not_known(facts, translator)),
        cut=tuple(cut),
        table=_section_rows(cut, facts, translator),
        has_speed=any(s["speed_kph"] is not None for s in facts["stretches"]),
        has_height=any(s["grade_pct"] is not None for s in facts["stretches"]),
        parts=make_parts(facts, translator, audience),
        credit=_map_credit(facts, translator),
        footer=_footer(facts, translator),
        audience=audience,
    )


def about(facts: Facts, translator: Translator) -> str:
    """Length, time, day and rider in one line."""
    trip = facts["trip"]
    parts = [translator.distance(facts["route"]["length_m"])]
    speed = facts.get("speed")
    if speed:
        parts.append(
            translator._(
                "{low} to {high} of riding",
                low=translator.duration(speed["riding_low_s"]),
                high=translator.duration(speed["riding_high_s"]),
            )
        )
    if trip["depart"]:
        start = datetime.fromisoformat(trip["depart"])
        parts.append(
            translator._(
                "{day}, start {time}", day=translator.day(start), time=translator.clock(start)
            )
        )
    parts.append(_rider(trip, translator))
    return ", ".join(parts) + "."


def _rider(trip: dict[str, Any], translator: Translator) -> str:
    riders = {
        "novice": translator._("novice rider"),
        "steady": translator._("steady rider"),
        "expert": translator._("expert rider"),
    }
    loads = {
        "none": translator._("no luggage"),
        "soft": translator._("soft luggage"),
        "boxes": translator._("boxes"),
    }
    parts = [riders[trip["rider"]]]
    if trip["pillion"]:
        parts.append(translator._("with a pillion"))
    parts.append(loads[trip["luggage"]])
    if trip.get("guided"):
        parts.append(translator._("with a guide"))
    return ", ".join(parts)


def _shares(facts: Facts, translator: Translator) -> tuple[ShareLine, ...]:
    shares = facts["ground"]["shares"]
    known = {kind: shares[kind] for kind in LAND if shares[kind] is not None}
    return tuple(
        ShareLine(kind=kind, name=translator._(GROUND_WORDS[kind]), text=text, share=known[kind])
        for kind, text in translator.intervals(known).items()
    )


def _know(item: Finding, facts: Facts, translator: Translator) -> Know:
    return Know(what=item.what, where=where_text(item, facts, translator), do=item.do)


def _section_rows(
    cut: list[Section], facts: Facts, translator: Translator
) -> tuple[SectionRow, ...]:
    climbs = _climb_texts(cut, facts, translator)
    return tuple(
        _section_row(section, climb, facts, translator)
        for section, climb in zip(cut, climbs, strict=True)
    )


def _section_row(section: Section, climb: str, facts: Facts, translator: Translator) -> SectionRow:
    part = facts["stretches"][section.first : section.last + 1]
    ground = _ground_text(section, translator)
    road = _road_text(section, part, translator)
    basis = ", ".join(
        translator._(BASIS_WORDS[key])
        for key in sorted(section.basis, key=lambda key: -section.basis[key])
        if section.basis[key] >= 0.1 * section.length_m
    )
    span = _span_number(section, translator)
    time = _time_text(part, translator)
    told = translator._(
        "{where}: {text}", where=translator.km_range(section.from_m, section.to_m), text=ground
    )
    told += "".join(f"; {text}" for text in (road, basis, time) if text)
    return SectionRow(
        number=section.number,
        span=span,
        kind=section.ground,
        ground=ground,
        road=road,
        basis=basis,
        time=time,
        climb=climb,
        told=told,
    )


def _span_number(section: Section, translator: Translator) -> str:
    digits = 1 if section.length_m < 2 * translator.distance_unit_m else 0
    a = translator.number(section.from_m / translator.distance_unit_m, digits)
    return f"{a}–{translator.number(section.to_m / translator.distance_unit_m, digits)}"


def _ground_text(section: Section, translator: Translator) -> str:
    """ "gravel", or each ground with how likely it is."""
    name = translator._(GROUND_WORDS[section.ground])
    if section.p is None or section.ground not in LAND:
        return name
    shown = [
        translator._(
            "{ground} {share}",
            ground=translator._(GROUND_WORDS[kind]),
            share=translator.percent(share),
        )
        for kind, share in sorted(section.p.items(), key=lambda item: -item[1])
        if share >= 0.1
    ]
    return name if len(shown) == 1 else ", ".join(shown)


def _road_text(section: Section, part: list[dict[str, Any]], translator: Translator) -> str:
    if section.names:
        shown = ", ".join(shortened(name, _LONGEST_NAME) for name in section.names[:2])
        more = len(section.names) - 2
        return shown + (translator._(" and {n} more", n=more) if more > 0 else "")
    kinds: dict[str, float] = {}
    for s in part:
        if s["highway"]:
            kinds[s["highway"]] = kinds.get(s["highway"], 0.0) + s["to_m"] - s["from_m"]
    if not kinds:
        return ""
    kind = max(kinds, key=lambda k: kinds[k])
    return translator._(_ROADS.get(kind.removesuffix("_link"), kind.replace("_", " ")))


# What an unnamed road is called, by its class on the map.
_ROADS: dict[str, str] = {
    "motorway": N_("motorway"), "trunk": N_("trunk road"), "primary": N_("primary road"),
    "secondary": N_("secondary road"), "tertiary": N_("tertiary road"),
    "unclassified": N_("minor road"), "residential": N_("street"),
    "living_street": N_("street"), "service": N_("service road"), "track": N_("farm or forest way"),
    "path": N_("path"), "road": N_("road of unknown class"),
}  # fmt: skip


def _time_text(part: list[dict[str, Any]], translator: Translator) -> str:
    known = [s for s in part if s["speed_kph"]]
    if not known:
        return ""
    return translator.duration(
        sum((s["to_m"] - s["from_m"]) / (s["speed_kph"] / 3.6) for s in known)
    )


def _climb_texts(cut: list[Section], facts: Facts, translator: Translator) -> list[str]:
    """Climb and descent of each section; a dash where less than half of it has heights."""
    profile = facts["relief"]["profile"] if facts["relief"] else {"at_m": []}
    if len(profile["at_m"]) < 2 or not cut:
        return [""] * len(cut)
    at_m, ele_m = (np.array(profile[key], dtype=float) for key in ("at_m", "ele_m"))
    cuts_m = np.array([cut[0].from_m, *(section.to_m for section in cut)])
    up, down = climb_between(at_m, ele_m, cuts_m, threshold_m=PARAMS.threshold_m)
    return [
        _climb_text(*moves, translator) for moves in zip(up.tolist(), down.tolist(), strict=True)
    ]


def _climb_text(up_m: float, down_m: float, translator: Translator) -> str:
    if np.isnan(up_m):
        return "–"
    shown = [
        f"{sign}{translator.number(round(translator.height_value(move_m) / 10) * 10)}"
        for sign, move_m in (("+", up_m), ("−", down_m))
        if move_m >= 5.0
    ]
    return " ".join(shown) or "0"


def _footer(facts: Facts, translator: Translator) -> tuple[str, ...]:
    region = facts["region"]
    made = datetime.fromisoformat(facts["made_at"])
    lines = [
        translator._(
            "Made {day} from the map of region {region}{date}, terrain {version}.",
            day=translator.day(made),
            region=region["name"],
            date=_map_date(region, translator),
            version=facts["terrain_version"],
        ),
        translator._(
            "Ground, times and distances to help are estimates from open data; missing tags are "
            "shown as unknown. A line on a map is not leave to ride it: signs and local people "
            "decide."
        ),
        *(_credit_line(line, translator) for line in region["attribution"]),
    ]
    return tuple(lines)


def _map_credit(facts: Facts, translator: Translator) -> str:
    """Whom to thank for what the map shows; climate is not drawn there."""
    lines = [line for line in facts["region"]["attribution"] if line != CLIMATE_ATTRIBUTION]
    return "; ".join(_credit_line(line, translator).rstrip(". ") for line in lines)


def _credit_line(line: str, translator: Translator) -> str:
    """A line of credit; what an operator wrote stands as it is."""
    tiles = _TILES.fullmatch(line)
    if tiles is None:
        return translator.translate_term(line)
    return translator._(
        "Heights from elevation tiles ({kinds}, {size} arc seconds)",
        kinds=translator.listing(tiles[1].split(" and ")),
        size=translator.listing(tiles[2].split(" and ")),
    )


def _map_date(region: dict[str, Any], translator: Translator) -> str:
    if not region["map_date"]:
        return ""
    return translator._(
        " (map of {date})", date=translator.day(date.fromisoformat(region["map_date"]))
    )
