"""What must hold of every match, whatever the line and the map."""

from __future__ import annotations

import numpy as np
from pyproj import Geod

from terrain.values.match import LegKind, Match
from terrain.values.route import Route
from terrain.values.views import RoadsView, WayFlag

_GEOD = Geod(ellps="WGS84")
_CLOSE_M = 0.01


def check_match(match: Match, route: Route, roads: RoadsView) -> None:
    """Raise AssertionError unless the match is whole and true to its own words."""
    _check_legs(match)
    _check_edges(match, roads)
    _check_line(match)
    _check_joints(match, roads)
    _check_points(match, route)


def _check_legs(match: Match) -> None:
    """Legs without gaps from 0 to the length; the parts add up."""
    if not len(match.kind):
        assert match.length_m == 0.0
        return
    assert match.from_m[0] == 0.0
    np.testing.assert_array_equal(match.from_m[1:], match.to_m[:-1])
    assert (match.to_m > match.from_m).all()
    parts = match.matched_m + match.unmapped_m + match.ferry_m
    assert abs(parts - match.length_m) < 1e-6 * max(1.0, match.length_m)
    assert 0.0 <= match.filled_m <= match.length_m + 1e-6
    listed = sum(length for _, length in match.ways)
    assert abs(listed - match.matched_m - match.ferry_m) < 1e-6 * max(1.0, match.length_m)
    unknown = match.filled | (match.kind == LegKind.UNMAPPED)
    np.testing.assert_array_equal(np.isnan(match.offset_m), unknown)
    breaks = np.array(match.breaks_m)
    assert (np.diff(breaks) > 0).all()
    assert ((breaks > 0) & (breaks < match.length_m)).all()


def _check_edges(match: Match, roads: RoadsView) -> None:
    """Each leg on the map lies on its edge and is named after its way."""
    on = match.kind != LegKind.UNMAPPED
    edge = match.edge[on]
    assert (edge >= 0).all()
    np.testing.assert_array_equal(match.way[on], roads.edge_way[edge])
    np.testing.assert_array_equal(match.way_id[on], roads.ways.way_id[match.way[on]])
    ferry = (roads.ways.flags[match.way[on]] & int(WayFlag.FERRY)) > 0
    np.testing.assert_array_equal(match.kind[on] == LegKind.FERRY, ferry)
    a, b = match.edge_from_m[on], match.edge_to_m[on]
    np.testing.assert_array_equal(match.forward[on], b > a)
    np.testing.assert_allclose(np.abs(b - a), (match.to_m - match.from_m)[on], atol=1e-6)
    assert (np.minimum(a, b) >= -1e-6).all()
    assert (np.maximum(a, b) <= roads.edge_length_m[edge] + 1e-6).all()
    for column in (match.edge, match.way, match.way_id):
        assert (column[~on] == -1).all()
    assert np.isnan(match.edge_from_m[~on]).all() and np.isnan(match.edge_to_m[~on]).all()
    assert not match.filled[~on].any()


def _check_line(match: Match) -> None:
    """The ride line never falls back, has a point at each leg's ends, and is as long as it says."""
    if not len(match.at_m):
        assert match.length_m == 0.0
        return
    assert match.at_m[0] == 0.0
    assert match.at_m[-1] == match.length_m
    assert (np.diff(match.at_m) >= 0).all()
    assert np.isin(match.from_m, match.at_m).all() and np.isin(match.to_m, match.at_m).all()
    assert np.isfinite(match.lon).all() and np.isfinite(match.lat).all()
    step = _GEOD.inv(match.lon[:-1], match.lat[:-1], match.lon[1:], match.lat[1:])[2]
    told = np.diff(match.at_m)
    # At a break the line jumps without riding.
    jump = np.isin(match.at_m[1:], match.breaks_m) & (told == 0.0)
    np.testing.assert_allclose(step[~jump], told[~jump], rtol=2e-5, atol=_CLOSE_M)
    assert np.abs(np.diff(match.lon)[~jump]).max(initial=0.0) < 180.0


def _check_joints(match: Match, roads: RoadsView) -> None:
    """Consecutive legs on the map meet on one edge, at a node of both, or at nodes on one spot."""
    for i in range(len(match.kind) - 1):
        j = i + 1
        if LegKind.UNMAPPED in (match.kind[i], match.kind[j]) or match.to_m[i] in match.breaks_m:
            continue
        if match.edge[i] == match.edge[j] and match.edge_to_m[i] == match.edge_from_m[j]:
            continue
        ends = _spots_at(roads, match.edge[i], match.edge_to_m[i])
        starts = _spots_at(roads, match.edge[j], match.edge_from_m[j])
        assert ends & starts, f"legs {i} and {j} do not meet"


def _spots_at(roads: RoadsView, edge: int, at_m: float) -> set[tuple[float, float]]:
    """Where the nodes lie that a position on an edge is at: none, one, or both of a short edge."""
    nodes = []
    if abs(at_m) < _CLOSE_M:
        nodes.append(roads.edge_u[edge])
    if abs(at_m - roads.edge_length_m[edge]) < _CLOSE_M:
        nodes.append(roads.edge_v[edge])
    return {(float(roads.node_lon[n]), float(roads.node_lat[n])) for n in nodes}


def _check_points(match: Match, route: Route) -> None:
    """Every drawn point with a position has a place on the ride, in order."""
    assert len(match.point_at_m) == route.n_points
    placed = np.isfinite(route.lon) & np.isfinite(route.lat)
    if not len(match.kind):
        assert np.isnan(match.point_at_m).all()
        return
    np.testing.assert_array_equal(np.isfinite(match.point_at_m), placed)
    place = match.point_at_m[placed]
    assert (np.diff(place) >= 0).all()
    assert place[0] >= 0.0 and place[-1] <= match.length_m
