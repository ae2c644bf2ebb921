"""The report's head out of its JSON, for the mail and the desk."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from terrain.report import findings
from terrain.report.dangers import Finding, things_to_know, where_text
from terrain.report.findings import GROUND_WORDS
from terrain.report.sections import LAND
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
    footer: tuple[str, ...]
    audience: str = "rider"


def make_page(
    facts: Facts,
    translator: Translator,
    audience: str = "rider",
) -> Page:
    """The report in words, for rider, staff or guide."""
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
