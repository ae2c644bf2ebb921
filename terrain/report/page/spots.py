"""What the map labels: both ends, where to decide, the farthest and the hottest spot, help."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np

from terrain.calc.geodesy import metres_per_degree
from terrain.report.drawing.map import MapSpot
from terrain.report.page.first import shown_findings
from terrain.report.page.help import time_there
from terrain.text.catalogue import N_
from terrain.text.plain import shortened
from terrain.text.terms import HELP_TERMS
from terrain.text.translator import Translator
from terrain.values.exits import Exit
from terrain.values.help import HelpKind, PlaceRef
from terrain.values.match import Match
from terrain.values.report import Report
from terrain.values.verdict import FindingKind

_MOST = 6
_LONGEST = 26  # letters of a place's name
_LEAST_COMMIT_M = 1_000.0  # a shorter part without a way out needs no decision
_TOGETHER_M = 1_000.0  # places this near each other are told as one


def map_spots(report: Report, translator: Translator) -> tuple[MapSpot, ...]:
    """At most six labels in riding order: both ends always, then the gravest."""
    ends = _ends(report, translator)
    found = [
        spot for made in (_closed, _decide, _far, _help, _hot) for spot in made(report, translator)
    ][: _MOST - len(ends)]
    return tuple(sorted((*ends[:1], *found, *ends[1:]), key=lambda spot: spot.at_m))


def _at(
    report: Report, at_m: float, kind: str, title: str, note: str = "", href: str = ""
) -> MapSpot:
    """A spot of the ride itself."""
    lon, lat = report.assessed.match.lonlat(np.array([at_m]))
    return MapSpot(
        kind=kind, lon=float(lon[0]), lat=float(lat[0]), at_m=at_m, title=title, note=note,
        href=href,
    )  # fmt: skip


def _row(report: Report, part: str, *kinds: FindingKind) -> str:
    """Where the finding of one of these kinds stands; else the part of the report."""
    for kind in kinds:
        for number, item in enumerate(shown_findings(report), start=1):
            if item.kind is kind:
                return f"#f{number}"
        if any(item.kind is kind for item in report.verdict.findings):
            return "#more"
    return part


def _ends(report: Report, translator: Translator) -> list[MapSpot]:
    match, near = report.assessed.match, report.assessed.places.near
    first = _at(report, 0.0, "start", _named(near(0.0), translator._("start"), translator))
    end = _named(near(match.length_m), translator._("end"), translator)
    last = _at(report, match.length_m, "end", end)
    if _apart_m(first, last) >= max(match.length_m / 100.0, 300.0):
        return [first, last]
    both = _named(near(0.0), translator._("start and end"), translator)
    return [replace(first, title=both)]


def _named(place: str, said: str, translator: Translator) -> str:
    if not place:
        return said
    return translator._("{where}: {text}", where=shortened(place, _LONGEST), text=said)


def _closed(report: Report, translator: Translator) -> Iterator[MapSpot]:
    """The longest part that is closed to motorcycles."""
    for item in report.verdict.forbidden:
        part = item.longest
        if item.kind is FindingKind.CLOSED and part is not None:
            where = translator.km_range(part.from_m, part.to_m)
            title, more = translator._("Closed, {where}", where=where), len(item.parts) - 1
            yield _at(
                report, (part.from_m + part.to_m) / 2, "closed", title,
                note=translator.n_("one more part", "{n} more parts", more) if more else "",
                href=_row(report, "", FindingKind.CLOSED),
            )  # fmt: skip
            return


def _decide(report: Report, translator: Translator) -> Iterator[MapSpot]:
    """Where the longest part without a way out begins."""
    ways = [w for w in report.assessed.help.exits if not w.is_short]
    ways = [w for w in ways if w.commit_m >= _LEAST_COMMIT_M]
    if not ways:
        return
    way = max(ways, key=lambda w: w.commit_s)
    at_m = decision_m(way)
    note = translator._(
        "{length}, {time} without a way out", length=translator.distance(way.commit_m),
        time=translator.duration(way.commit_s),
    )  # fmt: skip
    title = translator._("Decide here, {where}", where=translator.km_mark(at_m))
    yield _at(report, at_m, "decide", title, note, _row(report, "#p-exits"))


def decision_m(way: Exit) -> float:
    """Where one can still choose before the longest part without a way out [m]."""
    return way.from_m if way.last_decision.at_m is None else way.last_decision.at_m


def _far(report: Report, translator: Translator) -> Iterator[MapSpot]:
    """The spot farthest in time from a mechanic, or from a town where none is mapped."""
    far, form = report.assessed.help.kind(HelpKind.MECHANIC), N_("{time} to a mechanic")
    if far.farthest_s is None:
        far, form = report.assessed.help.kind(HelpKind.TOWN), N_("{time} to a town")
    if far.farthest_s is None or far.farthest_s_at_m is None:
        return
    title = translator._(
        "Farthest from help, {where}", where=translator.km_mark(far.farthest_s_at_m)
    )
    said = translator._(form, time=time_there(far.farthest_s, far.ferry_m, translator))
    yield _at(
        report, far.farthest_s_at_m, "far", title, said, _row(report, "#p-help", FindingKind.REMOTE)
    )


def _help(report: Report, translator: Translator) -> Iterator[MapSpot]:
    """The place of help nearest to the farthest spot, with what it offers."""
    match = report.assessed.match
    kinds = [(kind, far.place) for kind, far in report.assessed.help.kinds if far.place]
    for kind, place in kinds:
        if place is None or kind is HelpKind.TOWN or not _around(report, place):
            continue
        together = [
            translator._(HELP_TERMS[other])
            for other, beside in kinds
            if other is not HelpKind.TOWN
            and beside is not None
            and _apart_m(place, beside) < _TOGETHER_M
        ]
        name = place.near or place.name
        yield MapSpot(
            kind="help", title=_named(name or "", translator.listing(together), translator),
            lon=place.lon, lat=place.lat, at_m=_passed_m(match, place),
            href="#p-help",
        )  # fmt: skip
        return


def _hot(report: Report, translator: Translator) -> Iterator[MapSpot]:
    """The hottest spot of a ride that is told to be hot, the coldest of one told to be cold."""
    heat = report.assessed.heat
    if heat.rider is None or heat.air is None:
        return
    told = {item.kind for item in report.verdict.findings}
    cold = FindingKind.HEAT not in told
    if cold and FindingKind.COLD not in told:
        return
    at_m = heat.rider.min_air_temp_at_m if cold else heat.rider.max_air_temp_at_m
    temp_c = heat.rider.min_air_temp_c if cold else heat.rider.max_air_temp_c
    unix_s = float(np.interp(at_m, heat.air.at_m, heat.air.unix_s))
    zone = heat.zone
    when = datetime.fromtimestamp(unix_s, UTC).astimezone(zone)
    note = translator._(
        "{temp} about {time}", temp=translator.temp(temp_c),
        time=translator.clock(when),
    )  # fmt: skip
    where = translator.km_mark(at_m)
    if cold:
        title, kind = translator._("Coldest, {where}", where=where), FindingKind.COLD
    else:
        title, kind = translator._("Hottest, {where}", where=where), FindingKind.HEAT
    yield _at(report, at_m, "hot", title, note, _row(report, "#p-heat", kind))


def _around(report: Report, place: PlaceRef) -> bool:
    """Whether a place lies in the box of the ride, a tenth of it around."""
    match = report.assessed.match
    rooms = ((match.lon, place.lon), (match.lat, place.lat))
    return all(
        values.min() - 0.04 * np.ptp(values) <= at <= values.max() + 0.04 * np.ptp(values)
        for values, at in rooms
    )


def _passed_m(match: Match, place: PlaceRef) -> float:
    """Where the ride passes nearest to a place [m]."""
    m_lon, m_lat = metres_per_degree(place.lat)
    off = np.hypot((match.lon - place.lon) * m_lon, (match.lat - place.lat) * m_lat)
    return float(match.at_m[int(np.argmin(off))])


def _apart_m(one: PlaceRef | MapSpot, two: PlaceRef | MapSpot) -> float:
    m_lon, m_lat = metres_per_degree(one.lat)
    return float(np.hypot((one.lon - two.lon) * m_lon, (one.lat - two.lat) * m_lat))
