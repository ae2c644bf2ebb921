"""The waypoints of a report for the GPS unit.

Symbol names are those most units draw (common practice, no source); a unit that does not know
one shows a dot.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

import numpy as np

from terrain.text.catalogue import N_
from terrain.text.message import join_messages, road_called, term
from terrain.text.terms import EXIT_TERMS, HELP_BASIS_TERMS, HELP_TERMS, STOP_TERMS
from terrain.text.translator import Translator
from terrain.values.arrays import joined_spans
from terrain.values.exits import Exit, WayOut
from terrain.values.help import Help, PlaceRef, Remote
from terrain.values.plan import Stop, StopKind, clock
from terrain.values.report import Report
from terrain.values.verdict import Audience, Finding, FindingKind

_NEW_PIECE_M = 500.0  # common practice, no source
_SYMBOLS = {
    StopKind.FUEL: "Gas Station",
    StopKind.LUNCH: "Restaurant",
    StopKind.REST: "Picnic Area",
    StopKind.WATER: "Drinking Water",
    StopKind.CHECK: "Car Repair",
    StopKind.VAN: "Parking Area",
    StopKind.NIGHT: "Lodging",
    StopKind.PINNED: "Flag, Blue",
}
_HELP_SYMBOLS = {
    "mechanic": "Car Repair",
    "fuel": "Gas Station",
    "water": "Drinking Water",
    "hospital": "Medical Facility",
    "lodging": "Lodging",
    "food": "Restaurant",
    "town": "City (Small)",
}


class Point(NamedTuple):
    """A waypoint before it is written."""

    name: str
    lon: float
    lat: float
    text: str
    symbol: str
    kind: str


def points_of(report: Report, translator: Translator) -> Iterator[Point]:
    """All waypoints of the report: what forbids, stops, ways out, remote parts, helpers."""
    plan, help_ = report.assessed.plan, report.assessed.help
    for item in report.verdict.forbidden:
        yield from _forbidden(item, report, translator)
    yield from (_stop(stop, translator) for stop in plan.stops)
    for way in help_.exits:
        if not way.is_short:
            yield from _exit(way, translator)
    for run in help_.remote:
        if not help_.near_town(run):
            yield from _remote(run, report, translator)
    yield from _helpers(help_, translator)


_FORBIDDEN = {
    FindingKind.CLOSED: N_("Closed from here: {spot_at_m}"),
    FindingKind.BEYOND_RIDER: N_("Too hard from here: {spot_at_m}"),
}


def _forbidden(item: Finding, report: Report, translator: Translator) -> Iterator[Point]:
    """Where each piece of it begins; a break of less than a unit's warning begins no new one."""
    text = translator.translate(join_messages((item.told, item.do.to(Audience.RIDER))))
    for from_m, to_m in joined_spans(((p.from_m, p.to_m) for p in item.parts), _NEW_PIECE_M):
        lon, lat = report.assessed.match.lonlat(np.array(from_m))
        yield Point(
            translator.say(_FORBIDDEN[item.kind], spot_at_m=from_m), float(lon), float(lat),
            f"{translator.km_range(from_m, to_m)}: {text}", "Danger Area", "forbidden",
        )  # fmt: skip


def _stop(stop: Stop, translator: Translator) -> Point:
    kinds = ", ".join(translator._(STOP_TERMS[kind]) for kind in stop.kinds)
    if not stop.name:
        name = kinds
    else:
        name = translator._("{what}: {where}", what=kinds, where=translator.translate(stop.name))
    texts = [
        translator.say(
            "Day {n_day}, {time}, {stop_at_m}.",
            n_day=stop.day, time=clock(stop.arrive_s), stop_at_m=stop.at_m,
        ),
        translator.translate(stop.why),
    ]  # fmt: skip
    if stop.van_access is not None:
        texts.append(translator._(_VAN_ACCESS[not stop.van_access]))
    if stop.off_m >= 50.0:
        texts.append(translator.say("{off_m} off the ride.", off_m=stop.off_m))
    symbol = _SYMBOLS[stop.kinds[0]]
    return Point(name, stop.lon, stop.lat, " ".join(texts), symbol, "stop")


_VAN_ACCESS = (N_("A van can come here."), N_("No way for a van."))


def _exit(way: Exit, translator: Translator) -> Iterator[Point]:
    spot = way.last_decision
    name = translator.say("Decide: {spot_at_m}", spot_at_m=spot.at_m)
    yield Point(name, spot.lon, spot.lat, translator.translate(way.words), "Flag, Blue", "decision")
    for side in way.sides:
        if side.at_m != spot.at_m and len(side.lon):
            name = translator.say("Way out: {side_at_m}", side_at_m=side.at_m)
            yield _leaving(name, side, "Flag, Green", translator)
    if way.worst is not None and len(way.worst.lon):
        name = translator.say("Hardest to leave: {worst_at_m}", worst_at_m=way.worst.at_m)
        yield _leaving(name, way.worst, "Danger Area", translator)
    if way.van_passes:
        return
    where = translator.km_range(way.from_m, way.to_m)
    if way.van_before is not None:
        name = translator.say("Van before: {van_at_m}", van_at_m=way.van_before.at_m)
        text = translator._(
            "The last point a van can reach before the part off road ({where}).", where=where
        )
        yield Point(name, way.van_before.lon, way.van_before.lat, text, "Parking Area", "van")
    if way.van_after is not None:
        name = translator.say("Van after: {van_at_m}", van_at_m=way.van_after.at_m)
        text = translator._(
            "The first point a van can reach after the part off road ({where}).", where=where
        )
        yield Point(name, way.van_after.lon, way.van_after.lat, text, "Parking Area", "van")


def _leaving(name: str, way: WayOut, symbol: str, translator: Translator) -> Point:
    text = out_text(way, translator)
    return Point(name, float(way.lon[0]), float(way.lat[0]), text, symbol, "exit")


def out_text(way: WayOut, translator: Translator) -> str:
    """A way out in one sentence."""
    return translator.say(
        "{out_m}, {out_s} to {road}, {how}.",
        out_m=way.length_m,
        out_s=max(way.time_s, 60.0),
        road=road_called(way.to.name) if way.to.name else term(N_("paved road")),
        how=term(EXIT_TERMS[way.out]),
    )


def _remote(run: Remote, report: Report, translator: Translator) -> Iterator[Point]:
    text = translator._(
        "Far from a mechanic: {where}.", where=translator.km_range(run.from_m, run.to_m)
    )
    if run.nearest is None:
        text += " " + translator._("The map data hold none that can be reached.")
    else:
        text += " " + translator.say(
            "Nearest: {mechanic}, {near_s} by road.",
            mechanic=_called(run.nearest, translator),
            near_s=run.nearest_s,
        )
    match = report.assessed.match
    ends = (
        (N_("Remote from here: {spot_at_m}"), run.from_m, "Flag, Red"),
        (N_("Remote until here: {spot_at_m}"), run.to_m, "Flag, Green"),
    )
    for message, at_m, symbol in ends:
        lon, lat = match.lonlat(np.array(at_m))
        yield Point(
            translator.say(message, spot_at_m=at_m), float(lon), float(lat), text, symbol, "remote"
        )


def _called(place: PlaceRef, translator: Translator) -> str:
    """A place's name, or what it is and near what it lies."""
    if place.name:
        return place.name
    kind = translator._(HELP_TERMS.get(place.kind, place.kind))
    return translator._("{what} near {place}", what=kind, place=place.near) if place.near else kind


def _helpers(help_: Help, translator: Translator) -> Iterator[Point]:
    """Every helper the report names, once."""
    named: Iterable[PlaceRef | None] = (
        *help_.helpers,
        *(far.place for _, far in help_.kinds),
        *(run.nearest for run in help_.remote),
        *(run.town for run in help_.remote),
    )
    seen: set[tuple[str, float, float]] = set()
    for place in named:
        if place is None or (key := (place.kind, place.lon, place.lat)) in seen:
            continue
        seen.add(key)
        facts = (
            f"{translator._(HELP_TERMS.get(place.kind, place.kind))} "
            f"({translator._(HELP_BASIS_TERMS[place.basis.value])})",
            place.phone and translator._("phone {phone}", phone=place.phone),
            place.opening_hours and translator._("open {hours}", hours=place.opening_hours),
            place.note,
        )
        yield Point(
            _called(place, translator),
            place.lon,
            place.lat,
            "; ".join(fact for fact in facts if fact),
            _HELP_SYMBOLS.get(place.kind, "Information"),
            "helper",
        )
