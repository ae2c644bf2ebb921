"""The waypoints of a report for the GPS unit.

Symbol names are those most units draw (common practice, no source); a unit that does not know
one shows a dot.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

import numpy as np

from terrain.values.exits import Exit, Leaving, Spot
from terrain.values.help import Help, PlaceRef, Remote
from terrain.values.plan import Plan, Stop, StopKind, clock
from terrain.values.report import Report

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


def points_of(report: Report) -> Iterator[Point]:
    """All waypoints of the report: stops, ways out, remote parts, helpers."""
    plan, help_ = report.plan, report.help
    if isinstance(plan, Plan):
        yield from (_stop(stop) for stop in plan.stops)
    if isinstance(help_, Help):
        for way in help_.exits:
            if not way.is_short:
                yield from _exit(way)
        for run in help_.remote:
            yield from _remote(run, report)
        yield from _helpers(help_)


def _stop(stop: Stop) -> Point:
    label = stop.name or stop.kinds[0].value
    kinds = ", ".join(kind.value for kind in stop.kinds)
    access = {True: "A van can come here.", False: "No way for a van.", None: ""}[stop.van_access]
    text = f"Day {stop.day}, {clock(stop.arrive_s)}, km {stop.at_m / 1000:.1f}. {stop.why} {access}"
    if stop.off_m >= 50.0:
        text += f" {stop.off_m / 1000:.1f} km off the ride."
    symbol = _SYMBOLS[stop.kinds[0]]
    return Point(f"{kinds}: {label}", stop.lon, stop.lat, text, symbol, "stop")


def _exit(way: Exit) -> Iterator[Point]:
    spot = way.last_decision
    yield Point(f"Decide: km {_km(spot)}", spot.lon, spot.lat, way.words, "Flag, Blue", "decision")
    for side in way.sides:
        if side.at_m != spot.at_m and len(side.lon):
            yield Point(
                f"Way out: km {side.at_m / 1000:.1f}",
                float(side.lon[0]),
                float(side.lat[0]),
                out_text(side),
                "Flag, Green",
                "exit",
            )
    if way.worst is not None and len(way.worst.lon):
        yield Point(
            f"Hardest to leave: km {way.worst.at_m / 1000:.1f}",
            float(way.worst.lon[0]),
            float(way.worst.lat[0]),
            out_text(way.worst),
            "Danger Area",
            "exit",
        )
    for label, meet in (("before", way.van_before), ("after", way.van_after)):
        if meet is not None and not way.van_passes:
            yield Point(
                f"Van {label}: km {_km(meet)}",
                meet.lon,
                meet.lat,
                f"The {'last' if label == 'before' else 'first'} point of the ride a van can "
                f"reach {label} the part off road from km {way.from_m / 1000:.1f} to "
                f"{way.to_m / 1000:.1f}.",
                "Parking Area",
                "van",
            )


def _km(spot: Spot) -> str:
    return "?" if spot.at_m is None else f"{spot.at_m / 1000:.1f}"


def out_text(way: Leaving) -> str:
    return (
        f"{way.length_m / 1000:.1f} km, {max(way.time_s / 60, 1):.0f} min to "
        f"{way.to.name or 'paved road'} ({way.out.value})."
    )


def _remote(run: Remote, report: Report) -> Iterator[Point]:
    near = "none in the map data" if run.nearest is None else _called(run.nearest)
    hours = "" if run.nearest_s is None else f", {run.nearest_s / 3600:.1f} h by road"
    text = (
        f"Far from a mechanic from km {run.from_m / 1000:.1f} to {run.to_m / 1000:.1f}. "
        f"Nearest: {near}{hours}."
    )
    match = report.match
    for label, at_m, symbol in (
        ("Remote from here", run.from_m, "Flag, Red"),
        ("Remote until here", run.to_m, "Flag, Green"),
    ):
        lon = float(np.interp(at_m, match.at_m, match.lon))
        lat = float(np.interp(at_m, match.at_m, match.lat))
        yield Point(f"{label}: km {at_m / 1000:.1f}", lon, lat, text, symbol, "remote")


def _called(place: PlaceRef) -> str:
    """A place's name, or what it is and near what it lies."""
    return place.name or (f"{place.kind} near {place.near}" if place.near else place.kind)


def _helpers(help_: Help) -> Iterator[Point]:
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
            f"{place.kind} ({place.basis.value})",
            place.phone and f"phone {place.phone}",
            place.opening_hours and f"open {place.opening_hours}",
            place.note,
        )
        yield Point(
            _called(place),
            place.lon,
            place.lat,
            "; ".join(fact for fact in facts if fact),
            _HELP_SYMBOLS.get(place.kind, "Information"),
            "helper",
        )
