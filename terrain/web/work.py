"""One report, from what is stored to what will be stored: the same writers as everywhere."""

from __future__ import annotations

import json
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from terrain.web.ruling import Ruling, apply_ruling
from terrain.web.settings import WebSettings

if TYPE_CHECKING:
    from terrain.text.translator import Translator
    from terrain.values.fleet import Fleet
    from terrain.values.report import Facts
    from terrain.values.trip import Trip


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """All a report is made from.

    booking : its columns; notes : GeoJSON, helpers : GeoJSON, pins : TOML; "" for none
    """

    name: str
    content: bytes
    booking: dict[str, Any]
    notes: str
    helpers: str
    pins: str
    ruling: Ruling | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """summary : the parts of the verdict for the table of bookings; files : name to content"""

    summary: dict[str, Any]
    facts: bytes
    files: dict[str, bytes]


def pack(data: bytes) -> bytes:
    return zlib.compress(data, 6)


def unpack(data: bytes) -> bytes:
    return zlib.decompress(data)


def make_report(material: Material, settings: WebSettings, step: Callable[[str], None]) -> Made:
    """Judge a route and write the report for rider, staff and guide.

    step : told "judging", "writing"
    Raises TerrainError, with the reason, for what cannot be judged.
    """
    from terrain import flow
    from terrain.inputs.lines import parse_route
    from terrain.report.formats import Asked, render_files
    from terrain.text.translator import translator_for

    route = parse_route(material.content, material.name)
    if settings.region:
        region = flow.open_region(settings.region, settings.home)
    else:
        region = flow.find_region(route, settings.home)
    step("judging")
    fleet = fleet_of(settings)
    trip = _trip(material.booking, fleet)
    report = flow.assess(route, region, trip, fleet, made_at=datetime.now(UTC), **_own(material))
    step("writing")
    facts = report.to_dict()
    if material.ruling is not None:
        facts = apply_ruling(facts, material.ruling)
    translator = translator_for(material.booking["lang"], material.booking["units"])
    files: dict[str, bytes] = {}
    for audience, formats in (("rider", _RIDER), ("staff", _STAFF), ("guide", _GUIDE)):
        asked = Asked(translator=translator, audience=audience)
        for name in formats:
            ((_, data),) = render_files(report, (name,), stem="x", asked=asked, facts=facts)
            files[f"{audience}.{name}"] = pack(data)
    return Made(
        summary=summary_of(facts, material.booking, fleet),
        facts=pack(json.dumps(facts, ensure_ascii=False, allow_nan=False).encode()),
        files=files,
    )


_RIDER = ("html", "pdf", "gpx")
_STAFF = ("html", "csv", "geojson")
_GUIDE = ("html", "card")


def fleet_of(settings: WebSettings) -> Fleet:
    """The operator's fleet, or the generic one."""
    from terrain.inputs.fleet import read_fleet
    from terrain.tables.fleet import DEFAULT_FLEET

    path = settings.fleet_file
    return DEFAULT_FLEET if path is None else read_fleet(path)


def _trip(booking: dict[str, Any], fleet: Fleet) -> Trip:
    from terrain.values.trip import Luggage, Rider, Trip

    depart = booking["depart"]
    return Trip(
        depart=datetime.fromisoformat(depart) if depart else None,
        rider=Rider(booking["rider"]),
        pillion=bool(booking["pillion"]),
        luggage=Luggage(booking["luggage"]),
        guided=bool(booking["guided"]),
        wanted_class=_class_named(booking["wanted"], fleet),
    )


def _class_named(text: str, fleet: Fleet) -> str | None:
    """The fleet's class that a booking means by name or title; None if it means none."""
    word = text.strip().casefold()
    for bike in fleet.classes:
        if word in (bike.name.casefold(), bike.title.casefold()):
            return bike.name
    return None


def _own(material: Material) -> dict[str, Any]:
    from terrain.inputs.helpers import parse_helpers
    from terrain.inputs.notes import parse_notes
    from terrain.inputs.pins import parse_pins

    given: dict[str, Any] = {}
    if material.notes:
        given["notes"] = parse_notes(material.notes.encode(), "notes of the desk")
    if material.helpers:
        given["helpers"] = parse_helpers(material.helpers.encode(), "helpers of the desk")
    if material.pins:
        given["pins"] = parse_pins(material.pins.encode(), "plan of the guide")
    return given


def summary_of(facts: Facts, booking: dict[str, Any], fleet: Fleet) -> dict[str, Any]:
    """The verdict's parts for the desk: sentences in English, and `in` the other languages."""
    from terrain.text.catalogue import LANGUAGES

    advice = facts["advice"] or {"bikes": [], "setup": {"choice": None}, "excluded": []}
    bikes = advice["bikes"]
    name = _class_named(booking["wanted"], fleet)
    return {
        **_sentences(facts, booking, fleet, "en"),
        "setup": advice["setup"]["choice"],
        "bike": bikes[0]["class"] if bikes else "",
        "excluded": [bike["class"] for bike in advice.get("excluded") or ()],
        "differs": bool(booking["wanted"]) and (not bikes or bikes[0]["class"] != name),
        "edited": bool(advice.get("edited")),
        "days": len(facts["days"]),
        "length_m": facts["route"]["length_m"],
        "in": {
            lang: _sentences(facts, booking, fleet, lang) for lang in LANGUAGES if lang != "en"
        },
    }  # fmt: skip


def _sentences(facts: Facts, booking: dict[str, Any], fleet: Fleet, lang: str) -> dict[str, Any]:
    """The verdict's parts in one language, out of the report's own words."""
    from terrain.report.head import make_page
    from terrain.text.translator import translator_for

    translator = translator_for(lang, booking["units"])
    page = make_page(facts, translator, "staff")
    advice = facts["advice"] or {"bikes": [], "excluded": []}
    first = page.know[0] if page.know else None
    return {
        "route": page.title,
        "about": page.about,
        "verdict": page.verdict,
        "lead": page.lead,
        "shares": [[share.name, share.text] for share in page.shares],
        "know": f"{first.what}{first.where}" if first else "",
        "unknown": list(page.unknown),
        "bikes": [
            [b["class"], translator.translate_term(b["title"]), b["fit"]] for b in advice["bikes"]
        ],
        "mismatch": mismatch(booking["wanted"], advice, fleet, translator),
    }


def mismatch(
    wanted: str, advice: dict[str, Any], fleet: Fleet, translator: Translator | None = None
) -> str:
    """How the booked bike stands against the advised one, in a sentence; "" without a bike."""
    from terrain.text.translator import translator_for

    translator = translator or translator_for("en")
    if not wanted:
        return ""
    name = _class_named(wanted, fleet)
    if name is None:
        return translator._("Booked {bike}, which is no class of the fleet.", bike=repr(wanted))
    bike = fleet.named(name)
    title = translator.translate_term(bike.title) if bike else name
    for out in advice.get("excluded") or ():
        if out["class"] == name:
            why = translator.translate(out["reasons"][0]) if out["reasons"] else ""
            return f"{translator._('Booked {bike}, which must not go.', bike=title)} {why}".strip()
    bikes = advice["bikes"]
    if not bikes:
        return translator._("Booked {bike}; no bike of the fleet fits.", bike=title)
    if bikes[0]["class"] == name:
        return translator._("Booked {bike}, as advised.", bike=title)
    advised = translator.translate_term(bikes[0]["title"])
    return translator._("Booked {bike}; advised {advised}.", bike=title, advised=advised)
