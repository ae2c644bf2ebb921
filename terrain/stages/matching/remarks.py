"""What was odd about laying a line on the map, in words for its reader."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.stages.matching.params import MatchParams
from terrain.text.catalogue import N_
from terrain.text.message import message, term
from terrain.values.arrays import BoolArray, FloatArray, spans
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


def match_remarks(
    route: Route, roads: RoadsView, match: Match, step_m: FloatArray, params: MatchParams
) -> tuple[Problem, ...]:
    """What was odd and what was done about it, each kind in riding order.

    step_m : length of each drawn step, shape (route.n_points - 1,)
    """
    off = match.kind == LegKind.UNMAPPED
    outside = _outside(match, off, roads)
    return (
        *_gaps(route, match, step_m, params),
        *_guessed(match),
        *_places(
            "off-map", N_("no mapped way near the line for {gap_m}"),
            _runs(match, off & ~outside, _OFF_M, N_("followed as drawn; its ground is not known")),
        ),
        *_places(
            "outside-region", N_("the line lies outside the region for {gap_m}"),
            _runs(match, outside, _OFF_M, N_("followed the drawn line; add a map of that part")),
        ),
        *_places(
            "against-one-way", N_("the line runs {gap_m} against a one-way road"),
            _runs(match, _is_against(match, roads), _AGAINST_M,
                  N_("followed as drawn; check the direction")),
        ),
    )  # fmt: skip


def _is_against(match: Match, roads: RoadsView) -> BoolArray:
    """Legs ridden against a one-way road, where the line shows the way."""
    one_way = roads.ways.oneway[np.maximum(match.way, 0)]
    seen = (match.kind == LegKind.MATCHED) & ~match.filled
    return np.asarray(seen & (one_way == np.where(match.forward, -1, 1)))


def against_one_way(match: Match, roads: RoadsView) -> tuple[tuple[float, float], ...]:
    """The parts of the ride against one-way roads, long enough to be no slip of the line."""
    runs = _runs(match, _is_against(match, roads), _AGAINST_M, "")
    return tuple((run.from_m, run.to_m) for run in runs)


def outside_region(match: Match, roads: RoadsView) -> tuple[tuple[float, float], ...]:
    """The parts of the ride that lie beyond the region's roads."""
    runs = _runs(match, _outside(match, match.kind == LegKind.UNMAPPED, roads), _OFF_M, "")
    return tuple((run.from_m, run.to_m) for run in runs)


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
            kept.append(_place(place, N_("matched part by part; what lies between is left out")))
            continue
        inside = (match.from_m < b) & (match.to_m > a)
        off = bool((match.kind[inside] == LegKind.UNMAPPED).any())
        how = (
            N_("joined by a straight line; check it against the plan")
            if off
            else N_("filled by routing; check it against the plan")
        )
        bridged.append(_place(place, how))
    return (
        *_places("gap-bridged", N_("the line stops and goes on {gap_m} away"), bridged),
        *_places("gap-left-open", N_("the line stops and goes on {gap_m} away"), kept),
    )


def _place(place: tuple[float, float, float], action: str) -> _Place:
    return _Place(from_m=place[0], to_m=place[1], size_m=place[2], action=action)


def _guessed(match: Match) -> tuple[Problem, ...]:
    if match.filled_m < _GUESSED_M:
        return ()
    return (
        Problem(
            code="way-guessed",
            what=message(
                "points so far apart that {guessed_m} of way were guessed",
                guessed_m=match.filled_m,
            ),
            action=message("filled by routing; check it against the plan"),
        ),
    )


def _outside(match: Match, off: BoolArray, roads: RoadsView) -> BoolArray:
    """Legs off the map whose line lies mostly beyond the region's roads."""
    outside = np.zeros(len(off), np.bool_)
    east = roads.grid_west + roads.grid_cols * roads.grid_step_lon
    north = roads.grid_south + roads.grid_rows * roads.grid_step_lat
    for leg in np.flatnonzero(off).tolist():
        at = np.linspace(match.from_m[leg], match.to_m[leg], 50)
        lon, lat = match.lonlat(at)
        within = (lon >= roads.grid_west) & (lon <= east)
        within &= (lat >= roads.grid_south) & (lat <= north)
        outside[leg] = within.mean() < 0.5
    return outside


def _runs(match: Match, mask: BoolArray, least_m: float, action: str) -> list[_Place]:
    """Runs of consecutive legs of a kind, from a length on."""
    places = []
    for first, end in spans(mask):
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
            code=code, where=_where(p), what=message(what, gap_m=p.size_m),
            action=term(p.action),
        )
        for p in said
    ]  # fmt: skip
    rest = rank[_MOST_TOLD:]
    if rest:
        whole = message(what, gap_m=sum(p.size_m for p in rest))
        problems.append(
            Problem(
                code=code,
                where=message("one more place", "{n} more places", n=len(rest)),
                what=message("{what} in all", what=whole),
                action=term(rest[0].action),
            )
        )
    return tuple(problems)


def _where(place: _Place) -> str:
    if place.to_m - place.from_m < 50.0:
        return message("{spot_at_m}", spot_at_m=place.from_m)
    return message("{from_at_m} to {to_at_m}", from_at_m=place.from_m, to_at_m=place.to_m)
