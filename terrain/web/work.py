"""One report, from what is stored to what will be stored: the same writers as everywhere."""

from __future__ import annotations

import json
import zlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from terrain.web.booked import differs, mismatch
from terrain.web.group_work import group_summary, party_of, rider_files
from terrain.web.settings import WebSettings
from terrain.web.stock import Item, region_for
from terrain.web.summary import (
    AskedPart,
    BikeLine,
    Needs,
    PartAt,
    Rental,
    Sentences,
    SharePart,
    Summary,
    Told,
)
from terrain.web.trips import Booked, OneRider, trip_of

if TYPE_CHECKING:
    from terrain.values.answers import PartAnswer
    from terrain.values.fleet import Fleet
    from terrain.values.forecast import Forecast
    from terrain.values.group import InGroup
    from terrain.values.learned import Learned
    from terrain.values.rentals import Failure
    from terrain.values.report import Report
    from terrain.values.route import Route
    from terrain.values.trip import Trip
    from terrain.values.verdict import StaffDecision
    from terrain.values.zones import ZoneGrid


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """All a report is made from.

    riders : those beside the first
    decision : for everybody; own_decisions : of each rider, who booked first, in its place
    notes : GeoJSON, helpers : GeoJSON, pins, learned : TOML; "" for none
    stock : what the desk judges with, empty if not known; failures : what broke on rentals, most
        often first
    """

    name: str
    content: bytes
    booking: Booked
    notes: str
    helpers: str
    pins: str
    decision: StaffDecision | None
    stock: tuple[Item, ...] = ()
    answers: tuple[PartAnswer, ...] = ()
    learned: str = ""
    riders: tuple[OneRider, ...] = ()
    failures: tuple[Failure, ...] = ()
    own_decisions: tuple[StaffDecision | None, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """summary : the parts of the verdict for the table of bookings; draft : the mail, ready to go;
    facts : the report as JSON, packed; files : name to content
    ways : ids of the ways it rests on, packed int64; None if not known
    """

    summary: Summary
    draft: str
    facts: bytes
    files: dict[str, bytes]
    ways: bytes | None = None


def pack(data: bytes) -> bytes:
    return zlib.compress(data, 6)


def unpack(data: bytes) -> bytes:
    return zlib.decompress(data)


def make_report(material: Material, settings: WebSettings, step: Callable[[str], None]) -> Made:
    """Judge a route and write the report for rider, staff and guide.

    step : told "judging", "writing"
    Raises TerrainError, with the reason, for what cannot be judged.
    """
    import numpy as np

    from terrain import flow
    from terrain.inputs.lines import parse_route
    from terrain.inputs.rentals.learn import parts_by_class
    from terrain.report.data.jsonfile import render_json
    from terrain.report.desk.handover import handovers_of
    from terrain.report.formats import Asked, render_files
    from terrain.report.mail import make_draft
    from terrain.text.translator import translator_for

    route = parse_route(material.content, material.name)
    region = region_for(route, settings, material.stock)
    step("judging")
    fleet = fleet_of(settings).failing(parts_by_class(material.failures))
    booking = material.booking
    riders = (booking.first, *material.riders)
    trips = [replace(trip_of(booking, x, fleet), answers=material.answers) for x in riders]
    ridden = _decided(
        flow.assess_group(
            route, region, trips, fleet,
            forecast=weather_of(route, trips[0], settings, region.zones),
            learned=learned_of(settings, material.learned), made_at=datetime.now(UTC),
            **_own(material),
        ),
        [own or material.decision for own in material.own_decisions or (None,) * len(riders)],
    )  # fmt: skip
    report = ridden[0].report
    party = party_of(ridden, riders) if material.riders else None
    step("writing")
    translator = translator_for(booking.lang, booking.units)
    files: dict[str, bytes] = {}
    for audience, formats in (("rider", _RIDER), ("staff", _STAFF), ("guide", _GUIDE)):
        asked = Asked(translator=translator, audience=audience)
        for name in formats:
            if name == "ics" and trips[0].depart is None:
                continue  # without a day there is no calendar
            ((_, data),) = render_files(report, (name,), stem="x", asked=asked)
            files[f"{audience}.{name}"] = pack(data)
    sheets = json.dumps(handovers_of(report).to_dict(), ensure_ascii=False)
    files["staff.sheets"] = pack(sheets.encode())
    summary = summary_of(report, booking, fleet)
    if party is not None:
        files |= rider_files(party, translator, pack)
        summary = group_summary(summary, party, fleet, booking.units)
    way_id = report.assessed.match.way_id
    return Made(
        summary=summary,
        draft=make_draft(
            report, translator, group=None if party is None else party.group
        ).to_json(),
        facts=pack(render_json(report)),
        files=files,
        ways=pack(np.unique(way_id[way_id > 0]).astype("<i8").tobytes()),
    )


def weather_of(
    route: Route, trip: Trip, settings: WebSettings, zones: ZoneGrid | None = None
) -> Forecast | None:
    """Days about the departure, of the desk's service; None if it has none or no day is known."""
    if not settings.forecast or trip.depart is None:
        return None
    from terrain.region.forecast import Service, fetch_forecast

    service = Service(url=settings.forecast, credit=settings.forecast_credit)
    return fetch_forecast(route, service, trip.depart, zones=zones)


def _decided(
    ridden: Sequence[InGroup], decisions: Sequence[StaffDecision | None]
) -> Sequence[InGroup]:
    """The reports with the desk's decisions, judged anew; riders alike go on sharing one."""
    from terrain.stages.verdict import decided, judge_verdict

    new: dict[tuple[int, StaffDecision | None], Report] = {}
    for item, decision in zip(ridden, decisions, strict=True):
        key = (id(item.report), decision)
        if decision is None:
            new[key] = item.report
        elif key not in new:
            assessed = decided(item.report.assessed, decision)
            verdict = judge_verdict(assessed)
            new[key] = replace(item.report, assessed=assessed, verdict=verdict)
    return [
        replace(item, report=new[id(item.report), decision])
        for item, decision in zip(ridden, decisions, strict=True)
    ]


_RIDER = ("html", "pdf", "gpx", "kml", "ics")
_STAFF = ("html", "csv", "geojson")
_GUIDE = ("html", "card")


def fleet_of(settings: WebSettings) -> Fleet:
    """The operator's fleet, or the generic one."""
    from terrain.inputs.fleet import read_fleet
    from terrain.tables.fleet import DEFAULT_FLEET

    path = settings.fleet_file
    return DEFAULT_FLEET if path is None else read_fleet(path)


def learned_of(settings: WebSettings, own: str = "") -> Learned | None:
    """What rides taught, if anything: those sent to the desk, beside the operator's own file.

    own : what those sent to the desk taught, as TOML
    """
    from terrain.inputs.learned import parse_learned, read_learned

    path = settings.learned_file
    file = None if path is None else read_learned(path)
    return file if not own else parse_learned(own.encode(), "rides of the desk").beside(file)


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


def summary_of(report: Report, booking: Booked, fleet: Fleet) -> Summary:
    """The verdict's parts for the desk: sentences in English, and `in` the other languages."""
    from terrain.report.desk.strip import strip_of
    from terrain.stages.asking import ask_after
    from terrain.text.catalogue import LANGUAGES

    advice, verdict = report.assessed.advice, report.verdict
    bikes = advice.bikes
    facts = Told(
        setup=verdict.answer.value,
        bike=bikes[0].name if bikes else "",
        excluded=tuple(item.name for item in advice.excluded),
        differs=differs(booking.first.wanted, advice, fleet),
        edited=verdict.decided,
        days=len(report.assessed.plan.days),
        length_m=round(report.assessed.match.length_m, 1),
        strip=strip_of(report),
        places=_places(report),
        parts=tuple(
            PartAt(part.sent_from_m, part.sent_to_m, part.about_ground, part.sent_again)
            for part in verdict.asked
        ),
        rental=_rental(report),
        needs=_needs(report),
        after=tuple(part.way_ids for part in ask_after(report.assessed)),
    )
    spoken = {lang: _sentences(report, booking, fleet, lang) for lang in LANGUAGES}
    # English stands in the summary itself.
    return Summary(**{**dict(facts), **dict(spoken.pop("en")), "spoken": spoken})


def _places(report: Report) -> tuple[str, ...]:
    """Names of the route and of the places along it, each once: what a search finds it by."""
    passed = report.assessed.places.surroundings.places
    names = [report.assessed.route.name, *(place.name for place in passed)]
    return tuple(dict.fromkeys(names))[:_MOST_PLACES]


_MOST_PLACES = 200


def _needs(report: Report) -> Needs:
    from terrain.values.arrays import joined_spans
    from terrain.values.plan import StopKind
    from terrain.values.verdict import FindingKind, Rank

    assessed, found = report.assessed, report.verdict.findings
    hot = any(item.kind is FindingKind.HEAT for item in found)
    rider = assessed.heat.rider
    # What the season may shut is to be taken as shut until somebody says otherwise.
    shut = joined_spans(
        (part.from_m, part.to_m)
        for item in found
        if item.kind is FindingKind.CLOSED
        or (item.kind is FindingKind.SEASON and item.rank is Rank.DANGER)
        for part in item.parts
    )
    return Needs(
        van=any(StopKind.VAN in stop.kinds for stop in assessed.plan.stops),
        hot_c=rider.max_air_temp_c if hot and rider is not None else None,
        shut_m=round(sum(to_m - from_m for from_m, to_m in shut)),
    )


def _rental(report: Report) -> Rental:
    shares, rider = report.assessed.ground.shares, report.assessed.heat.rider
    main = max(shares.items(), key=lambda item: item[1].best) if shares else None
    mixed = main is None or main[1].best < 0.6  # common practice, no source
    return Rental(
        ground="mixed" if main is None or mixed else main[0].value,
        heat_c=None if rider is None else rider.max_air_temp_c,
        km=round(report.assessed.match.length_m / 1000.0),
        setup=report.verdict.answer.value,
    )


def _sentences(report: Report, booking: Booked, fleet: Fleet, lang: str) -> Sentences:
    from terrain.report.desk.brief import brief_of
    from terrain.report.page.lead import share_rows
    from terrain.report.said import about_line, finding_fact, finding_line
    from terrain.stages.asking import ask_after, has_boxes
    from terrain.text.translator import translator_for
    from terrain.values.answers import PARTS_TICKED, TICKED
    from terrain.values.verdict import Audience, Rank

    translator = translator_for(lang, booking.units)
    say = translator.translate
    verdict, advice = report.verdict, report.assessed.advice
    rest = verdict.of(Rank.DANGER, Rank.CARE, Rank.NOTE)
    brief = brief_of(report, translator)
    return Sentences(
        route=report.assessed.route.name,
        about=about_line(report, translator),
        verdict=say(verdict.headline),
        lead=say(verdict.lead),
        shares=tuple(SharePart(row.name, row.text) for row in share_rows(report, translator)[0]),
        forbidden=tuple(
            finding_line(item, translator, Audience.STAFF) for item in verdict.forbidden
        ),
        know=finding_fact(rest[0], translator) if rest else "",
        unknown=tuple(say(item.why) for item in verdict.unknown),
        asked=tuple(AskedPart(say(part.text), say(part.if_left)) for part in verdict.asked),
        after_said=tuple(say(part.text) for part in ask_after(report.assessed)),
        questions=tuple(
            say(x.text)
            for x in advice.questions
            if x.code not in TICKED and not (x.code in PARTS_TICKED and has_boxes(x, verdict.asked))
        ),
        bikes=tuple(
            BikeLine(b.name, translator.translate_term(b.title), round(b.fit, 4))
            for b in advice.bikes
        ),
        bike_said=say(verdict.bike_text),
        mismatch=mismatch(booking.first.wanted, advice, fleet, translator),
        booked=mismatch(booking.first.wanted, advice, fleet, translator, why=False),
        why=tuple(brief.why),
        no_bike=brief.no_bike,
        works=tuple(brief.works),
        ask=brief.ask,
    )
