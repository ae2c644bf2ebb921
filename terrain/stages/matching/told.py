"""What was odd about laying a line on the map, in words for its reader."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.stages.matching.params import MatchParams
from terrain.values.arrays import BoolArray, FloatArray
from terrain.values.match import LegKind, Match
from terrain.values.route import Problem, Route
from terrain.values.views import RoadsView

_MOST_TOLD = 5  # places told one by one; the rest are summed up
_GAP_M = 400.0  # a gap between parts of the file shorter than this goes without saying
_OFF_M = 500.0
_AGAINST_M = 150.0
_GUESSED_M = 2_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """A part of the ride that is odd in one way, size_m large."""

    from_m: float
    to_m: float
    size_m: float
    action: str


def told(
    route: Route, roads: RoadsView, match: Match, step_m: FloatArray, params: MatchParams
) -> tuple[Problem, ...]:
    """What was odd and what was done about it, each kind in riding order.

    step_m : length of each drawn step, shape (route.n_points - 1,)
    """
    one_way = roads.ways.oneway[np.maximum(match.way, 0)]
    seen = (match.kind == LegKind.MATCHED) & ~match.filled
    against = seen & (one_way == np.where(match.forward, -1, 1))
    off = match.kind == LegKind.UNMAPPED
    outside = _outside(match, off, roads)
    return (
        *_gaps(route, match, step_m, params),
        *_guessed(match),
        *_places(
            "off-map", "no mapped way near the line for {km} km",
            _runs(match, off & ~outside, _OFF_M, "followed as drawn; its ground is not known"),
        ),
        *_places(
            "outside-region", "the line lies outside the region for {km} km",
            _runs(match, outside, _OFF_M, "followed the drawn line; add a map of that part"),
        ),
        *_places(
            "against-one-way", "the line runs {km} km against a one-way road",
            _runs(match, against, _AGAINST_M, "followed as drawn; check the direction"),
        ),
    )  # fmt: skip


def _gaps(
    route: Route, match: Match, step_m: FloatArray, params: MatchParams
) -> tuple[Problem, ...]:
    """Breaks of the file, bridged or not."""
    broken = np.flatnonzero((np.diff(route.piece) != 0) & (step_m > _GAP_M)).tolist()
    bridged, kept = [], []
    for i in broken:
        a, b = float(match.point_at_m[i]), float(match.point_at_m[i + 1])
        place = (a, b, float(step_m[i]))
        if np.isnan(a):
            continue
        if step_m[i] > params.bridge_m:
            kept.append(_place(place, "matched part by part; what lies between is left out"))
            continue
        inside = (match.from_m < b) & (match.to_m > a)
        off = bool((match.kind[inside] == LegKind.UNMAPPED).any())
        how = "joined by a straight line" if off else "filled by routing"
        bridged.append(_place(place, f"{how}; check it against the plan"))
    return (
        *_places("gap-bridged", "the line stops and goes on {km} km away", bridged),
        *_places("gap-left-open", "the line stops and goes on {km} km away", kept),
    )


def _place(place: tuple[float, float, float], action: str) -> _Place:
    return _Place(from_m=place[0], to_m=place[1], size_m=place[2], action=action)


def _guessed(match: Match) -> tuple[Problem, ...]:
    if match.filled_m < _GUESSED_M:
        return ()
    return (
        Problem(
            code="way-guessed",
            where="",
            what=f"points so far apart that {_km(match.filled_m)} km of way were guessed",
            action="filled by routing; check it against the plan",
        ),
    )


def _outside(match: Match, off: BoolArray, roads: RoadsView) -> BoolArray:
    """Legs off the map whose line lies mostly beyond the region's roads."""
    outside = np.zeros(len(off), np.bool_)
    east = roads.grid_west + roads.grid_cols * roads.grid_step_lon
    north = roads.grid_south + roads.grid_rows * roads.grid_step_lat
    for leg in np.flatnonzero(off).tolist():
        at = np.linspace(match.from_m[leg], match.to_m[leg], 50)
        lon, lat = np.interp(at, match.at_m, match.lon), np.interp(at, match.at_m, match.lat)
        within = (lon >= roads.grid_west) & (lon <= east)
        within &= (lat >= roads.grid_south) & (lat <= north)
        outside[leg] = within.mean() < 0.5
    return outside


def _runs(match: Match, mask: BoolArray, least_m: float, action: str) -> list[_Place]:
    """Runs of consecutive legs of a kind, from a length on."""
    edges = np.flatnonzero(np.diff(np.r_[False, mask, False].astype(np.int8)))
    places = []
    for first, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        a, b = float(match.from_m[first]), float(match.to_m[end - 1])
        if b - a >= least_m:
            places.append(_Place(from_m=a, to_m=b, size_m=b - a, action=action))
    return places


def _places(code: str, what: str, places: list[_Place]) -> tuple[Problem, ...]:
    """A problem for each of the largest places, and one for all the others."""
    rank = sorted(places, key=lambda p: -p.size_m)
    said = sorted(rank[:_MOST_TOLD], key=lambda p: p.from_m)
    problems = [
        Problem(
            code=code, where=_where(p), what=what.format(km=_km(p.size_m)), action=p.action,
        )
        for p in said
    ]  # fmt: skip
    rest = rank[_MOST_TOLD:]
    if rest:
        whole = _km(sum(p.size_m for p in rest))
        problems.append(
            Problem(
                code=code, where=f"{len(rest)} more places",
                what=what.format(km=whole) + " in all", action=rest[0].action,
            )
        )  # fmt: skip
    return tuple(problems)


def _where(place: _Place) -> str:
    if place.to_m - place.from_m < 50.0:
        return f"km {_km(place.from_m)}"
    return f"km {_km(place.from_m)} to {_km(place.to_m)}"


def _km(length_m: float) -> str:
    return f"{length_m / 1000:.1f}"
