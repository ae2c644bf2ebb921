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
from terrain.text.plain import shortened
from terrain.text.translator import N_, Words
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
    voice: str = "rider"


def make_page(
    facts: Facts, words: Words, voice: str = "rider", *, most_sections: int = MOST_SECTIONS
) -> Page:
    """The report in words, for rider, staff or guide."""
    cut = sections(facts["stretches"], most_sections)
    answer = findings.verdict(facts, words)
    know = things_to_know(facts, words)
    return Page(
        title=facts["route"]["name"],
        about=about(facts, words),
        verdict=answer.headline(),
        lead=answer.lead(words),
        shares=_shares(facts, words),
        certainty=findings.shares_in_words(facts, words),
        setup=tuple(findings.setup_lines(facts, words)),
        know_title=words.n_("One thing to know", "{n} things to know", len(know)),
        know=tuple(_know(item, facts, words) for item in know),
        unknown=tuple(findings.not_known(facts, words)),
        cut=tuple(cut),
        table=_section_rows(cut, facts, words),
        has_speed=any(s["speed_kph"] is not None for s in facts["stretches"]),
        has_height=any(s["grade_pct"] is not None for s in facts["stretches"]),
        parts=make_parts(facts, words, voice),
        credit=_map_credit(facts, words),
        footer=_footer(facts, words),
        voice=voice,
    )


def about(facts: Facts, words: Words) -> str:
    """Length, time, day and rider in one line."""
    trip = facts["trip"]
    parts = [words.far(facts["route"]["length_m"])]
    speed = facts.get("speed")
    if speed:
        parts.append(
            words._(
                "{low} to {high} of riding",
                low=words.lasting(speed["riding_low_s"]),
                high=words.lasting(speed["riding_high_s"]),
            )
        )
    if trip["depart"]:
        start = datetime.fromisoformat(trip["depart"])
        parts.append(words._("{day}, start {time}", day=words.day(start), time=words.clock(start)))
    parts.append(_rider(trip, words))
    return ", ".join(parts) + "."


def _rider(trip: dict[str, Any], words: Words) -> str:
    riders = {
        "novice": words._("novice rider"),
        "steady": words._("steady rider"),
        "expert": words._("expert rider"),
    }
    loads = {
        "none": words._("no luggage"),
        "soft": words._("soft luggage"),
        "boxes": words._("boxes"),
    }
    parts = [riders[trip["rider"]]]
    if trip["pillion"]:
        parts.append(words._("with a pillion"))
    parts.append(loads[trip["luggage"]])
    if trip.get("guided"):
        parts.append(words._("with a guide"))
    return ", ".join(parts)


def _shares(facts: Facts, words: Words) -> tuple[ShareLine, ...]:
    shares = facts["ground"]["shares"]
    known = {kind: shares[kind] for kind in LAND if shares[kind] is not None}
    return tuple(
        ShareLine(kind=kind, name=words._(GROUND_WORDS[kind]), text=text, share=known[kind])
        for kind, text in words.intervals(known).items()
    )


def _know(item: Finding, facts: Facts, words: Words) -> Know:
    return Know(what=item.what, where=where_text(item, facts, words), do=item.do)


def _section_rows(cut: list[Section], facts: Facts, words: Words) -> tuple[SectionRow, ...]:
    climbs = _climb_texts(cut, facts, words)
    return tuple(
        _section_row(section, climb, facts, words)
        for section, climb in zip(cut, climbs, strict=True)
    )


def _section_row(section: Section, climb: str, facts: Facts, words: Words) -> SectionRow:
    part = facts["stretches"][section.first : section.last + 1]
    ground = _ground_text(section, words)
    road = _road_text(section, part, words)
    basis = ", ".join(
        words._(BASIS_WORDS[key])
        for key in sorted(section.basis, key=lambda key: -section.basis[key])
        if section.basis[key] >= 0.1 * section.length_m
    )
    span = _span_number(section, words)
    time = _time_text(part, words)
    told = words._("{where}: {text}", where=words.span(section.from_m, section.to_m), text=ground)
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


def _span_number(section: Section, words: Words) -> str:
    digits = 1 if section.length_m < 2 * words.far_m else 0
    a = words.number(section.from_m / words.far_m, digits)
    return f"{a}–{words.number(section.to_m / words.far_m, digits)}"


def _ground_text(section: Section, words: Words) -> str:
    """ "gravel", or each ground with how likely it is."""
    name = words._(GROUND_WORDS[section.ground])
    if section.p is None or section.ground not in LAND:
        return name
    shown = [
        words._("{ground} {share}", ground=words._(GROUND_WORDS[kind]), share=words.percent(share))
        for kind, share in sorted(section.p.items(), key=lambda item: -item[1])
        if share >= 0.1
    ]
    return name if len(shown) == 1 else ", ".join(shown)


def _road_text(section: Section, part: list[dict[str, Any]], words: Words) -> str:
    if section.names:
        shown = ", ".join(shortened(name, _LONGEST_NAME) for name in section.names[:2])
        more = len(section.names) - 2
        return shown + (words._(" and {n} more", n=more) if more > 0 else "")
    kinds: dict[str, float] = {}
    for s in part:
        if s["highway"]:
            kinds[s["highway"]] = kinds.get(s["highway"], 0.0) + s["to_m"] - s["from_m"]
    if not kinds:
        return ""
    kind = max(kinds, key=lambda k: kinds[k])
    return words._(_ROADS.get(kind.removesuffix("_link"), kind.replace("_", " ")))


# What an unnamed road is called, by its class on the map.
_ROADS: dict[str, str] = {
    "motorway": N_("motorway"), "trunk": N_("trunk road"), "primary": N_("primary road"),
    "secondary": N_("secondary road"), "tertiary": N_("tertiary road"),
    "unclassified": N_("minor road"), "residential": N_("street"),
    "living_street": N_("street"), "service": N_("service road"), "track": N_("farm or forest way"),
    "path": N_("path"), "road": N_("road of unknown class"),
}  # fmt: skip


def _time_text(part: list[dict[str, Any]], words: Words) -> str:
    known = [s for s in part if s["speed_kph"]]
    if not known:
        return ""
    return words.lasting(sum((s["to_m"] - s["from_m"]) / (s["speed_kph"] / 3.6) for s in known))


def _climb_texts(cut: list[Section], facts: Facts, words: Words) -> list[str]:
    """Climb and descent of each section; a dash where less than half of it has heights."""
    profile = facts["relief"]["profile"] if facts["relief"] else {"at_m": []}
    if len(profile["at_m"]) < 2 or not cut:
        return [""] * len(cut)
    at_m, ele_m = (np.array(profile[key], dtype=float) for key in ("at_m", "ele_m"))
    cuts_m = np.array([cut[0].from_m, *(section.to_m for section in cut)])
    up, down = climb_between(at_m, ele_m, cuts_m, threshold_m=PARAMS.threshold_m)
    return [_climb_text(*moves, words) for moves in zip(up.tolist(), down.tolist(), strict=True)]


def _climb_text(up_m: float, down_m: float, words: Words) -> str:
    if np.isnan(up_m):
        return "–"
    shown = [
        f"{sign}{words.number(round(words.height_value(move_m) / 10) * 10)}"
        for sign, move_m in (("+", up_m), ("−", down_m))
        if move_m >= 5.0
    ]
    return " ".join(shown) or "0"


def _footer(facts: Facts, words: Words) -> tuple[str, ...]:
    region = facts["region"]
    made = datetime.fromisoformat(facts["made_at"])
    lines = [
        words._(
            "Made {day} from the map of region {region}{date}, terrain {version}.",
            day=words.day(made),
            region=region["name"],
            date=_map_date(region, words),
            version=facts["terrain_version"],
        ),
        words._(
            "Ground, times and distances to help are estimates from open data; missing tags are "
            "shown as unknown. A line on a map is not leave to ride it: signs and local people "
            "decide."
        ),
        *(_credit_line(line, words) for line in region["attribution"]),
    ]
    return tuple(lines)


def _map_credit(facts: Facts, words: Words) -> str:
    """Whom to thank for what the map shows; climate is not drawn there."""
    lines = [line for line in facts["region"]["attribution"] if line != CLIMATE_ATTRIBUTION]
    return "; ".join(_credit_line(line, words).rstrip(". ") for line in lines)


def _credit_line(line: str, words: Words) -> str:
    """A line of credit; what an operator wrote stands as it is."""
    tiles = _TILES.fullmatch(line)
    if tiles is None:
        return words.said(line)
    return words._(
        "Heights from elevation tiles ({kinds}, {size} arc seconds)",
        kinds=words.listing(tiles[1].split(" and ")),
        size=words.listing(tiles[2].split(" and ")),
    )


def _map_date(region: dict[str, Any], words: Words) -> str:
    if not region["map_date"]:
        return ""
    return words._(" (map of {date})", date=words.day(date.fromisoformat(region["map_date"])))
