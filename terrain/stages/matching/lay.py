"""Lay a planned line on the roads of a region, in riding order."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from terrain.calc.candidates import RoadCandidates, SegmentGrid, near_positions, segment_grid
from terrain.calc.geodesy import steps_m
from terrain.errors import RouteError
from terrain.stages.matching.assemble import MatchedPart, assemble
from terrain.stages.matching.lattice.links import Costs, Steps
from terrain.stages.matching.lattice.pieces import ridden_pieces
from terrain.stages.matching.lattice.search import EdgeGraph, SearchBuffers, make_work
from terrain.stages.matching.lattice.viterbi import OFF_MAP, likeliest, spots_of
from terrain.stages.matching.line import Line, prepared, wrapped
from terrain.stages.matching.params import (
    DEFAULT_PARAMS,
    MatchParams,
    StepMode,
    kind_rates,
)
from terrain.stages.matching.remarks import match_remarks
from terrain.text.message import message
from terrain.values.arrays import BoolArray, FloatArray, Int32Array, IntArray
from terrain.values.match import Match
from terrain.values.route import Problem, Route
from terrain.values.views import Category, RoadsView

# Flat distances as the degrees measure at one end are this share of the true ones, or less, within
# 60 km up to 60 N; farther on a detour may come out a little longer than need be.
_SURELY = 0.98
_ALIKE_M = 1.0  # positions nearer to each other than this are as likely to be meant


def match_route(route: Route, roads: RoadsView, params: MatchParams = DEFAULT_PARAMS) -> Match:
    """The ride along the mapped ways that the route's line most likely means.

    Where no mapped way fits, the ride follows the drawn line itself (LegKind.UNMAPPED). Gaps
    too wide to show the way taken are bridged by routing (`filled`). Parts farther apart than
    params.bridge_m are matched one by one. What was odd is told in the match's problems.
    Longitudes of the ride are those of the region; like the route's they may run past 180.
    Raises RouteError if fewer than two points have a position.
    """
    placed = np.isfinite(route.lon) & np.isfinite(route.lat)
    if not placed.all():
        return _without_lost(route, roads, params, placed)
    grid = segment_grid(roads)
    turns = np.round((route.lon[0] - wrapped(route.lon[:1], grid)[0]) / 360.0)
    if turns:
        route = replace(route, lon=route.lon - 360.0 * turns)
    work = make_work(roads.n_nodes, roads.n_edges)
    graph = _graph(roads)
    step = steps_m(route.lon, route.lat)
    parts = _parts(route, step, params)
    sections = [_section(route, roads, graph, grid, work, part, params) for part in parts]
    match = assemble(route, roads, sections)
    return replace(match, problems=match_remarks(route, roads, match, step, params))


def _without_lost(route: Route, roads: RoadsView, params: MatchParams, placed: BoolArray) -> Match:
    """The match of the points that have a position; the others' places are not known."""
    used = np.flatnonzero(placed)
    lost = route.n_points - len(used)
    if len(used) < 2:
        raise RouteError(
            message("fewer than two points have a position"),
            route.source,
            message("Export the route again."),
        )
    rest = replace(
        route, lon=route.lon[used], lat=route.lat[used], ele_m=route.ele_m[used],
        piece=route.piece[used], shaping=route.shaping[used], planned=route.planned[used],
    )  # fmt: skip
    match = match_route(rest, roads, params)
    place = np.full(route.n_points, np.nan)
    place[used] = match.point_at_m
    problem = Problem(
        code="points-without-position",
        where=message("point {n_point}", n_point=int(np.flatnonzero(~placed)[0]) + 1),
        what=message(
            "{n_lost} of {n_points} points have no position",
            n_lost=lost,
            n_points=route.n_points,
        ),
        action=message("left out; the line was joined across them"),
    )
    return replace(match, point_at_m=place, problems=(problem, *match.problems))


def _graph(roads: RoadsView) -> EdgeGraph:
    rate = kind_rates(roads.ways, roads.kind_way)
    return EdgeGraph(
        roads.node_lon, roads.node_lat, roads.edge_u, roads.edge_v, roads.edge_way,
        roads.edge_length_m, roads.way_kind, roads.out_start, roads.out_arc, roads.arc_head,
        roads.arc_length_m, roads.arc_kind, rate, _SURELY * rate.min(axis=1),
    )  # fmt: skip


def _parts(route: Route, step: FloatArray, params: MatchParams) -> list[tuple[int, int]]:
    """Runs of points (first, last) with no break of the file too wide to bridge."""
    breaks = (np.diff(route.piece) != 0) & (step > params.bridge_m)
    ends = np.flatnonzero(breaks).tolist()
    firsts, lasts = [0, *(e + 1 for e in ends)], [*ends, route.n_points - 1]
    return list(zip(firsts, lasts, strict=True))


def _section(
    route: Route, roads: RoadsView, graph: EdgeGraph, grid: SegmentGrid, work: SearchBuffers,
    part: tuple[int, int], params: MatchParams,
) -> MatchedPart:  # fmt: skip
    points = slice(part[0], part[1] + 1)
    line = prepared(route.lon[points], route.lat[points], grid, params)
    radius_m = min(max(5.0 * line.sigma_m, 30.0), 90.0)
    cands = _plausible(_candidates(line, radius_m, grid, params), line.sigma_m, params)
    cands = _on_nodes(cands, roads, params)
    steps = _steps(line, _on_track(cands, roads), params)
    costs = Costs(params.switch_cost, params.turn_cost)
    spots = spots_of(graph, wrapped(line.lon, grid), line.lat, cands)
    chain = likeliest(graph, work, spots, steps, costs)
    on = chain.state != OFF_MAP
    chosen = chain.state[on] >> 1
    edge = np.full(len(on), -1, np.int32)
    at_m, dist_m = np.full(len(on), np.nan), np.full(len(on), np.nan)
    edge[on], at_m[on], dist_m[on] = cands.edge[chosen], cands.at_m[chosen], cands.dist_m[chosen]
    return MatchedPart(
        lon=line.lon, index=line.index + part[0], on=on,
        sparse=(steps.mode != StepMode.SHOWN) & (steps.mode != StepMode.ROUGH),
        edge=edge, at_m=at_m, dist_m=dist_m, slack_m=steps.slack_m, sigma_m=steps.sigma_m,
        pieces=ridden_pieces(graph, work, spots, steps, chain),
    )  # fmt: skip


def _candidates(
    line: Line, radius_m: float, grid: SegmentGrid, params: MatchParams
) -> RoadCandidates:
    """Positions near each point; where there are none, the search goes farther once."""
    most, n = params.n_candidates, len(line.lon)
    lon = wrapped(line.lon, grid)
    near = near_positions(lon, line.lat, np.full(n, radius_m), most, grid)
    n_near = np.diff(near.start)
    lone = np.flatnonzero(n_near == 0)
    if not len(lone):
        return near
    farther = np.full(len(lone), params.far_factor * radius_m)
    far = near_positions(lon[lone], line.lat[lone], farther, most, grid)
    point = np.concatenate([np.repeat(np.arange(n), n_near), np.repeat(lone, np.diff(far.start))])
    order = np.argsort(point, kind="stable")
    return RoadCandidates(
        _starts(np.bincount(point, minlength=n)),
        np.concatenate([near.edge, far.edge])[order],
        np.concatenate([near.at_m, far.at_m])[order],
        np.concatenate([near.dist_m, far.dist_m])[order],
    )


def _plausible(cands: RoadCandidates, sigma_m: float, params: MatchParams) -> RoadCandidates:
    """Without positions so much farther than the nearest that they could never win."""
    if not len(cands.edge):
        return cands
    count = np.diff(cands.start)
    has = count > 0
    nearest = np.full(len(count), np.inf)
    nearest[has] = np.minimum.reduceat(cands.dist_m, cands.start[:-1][has])
    point = np.repeat(np.arange(len(count)), count)
    keep = cands.dist_m <= np.sqrt(nearest**2 + 2.0 * params.give_up * sigma_m**2)[point]
    return RoadCandidates(
        _starts(np.bincount(point[keep], minlength=len(count))),
        cands.edge[keep], cands.at_m[keep], cands.dist_m[keep],
    )  # fmt: skip


def _on_nodes(cands: RoadCandidates, roads: RoadsView, params: MatchParams) -> RoadCandidates:
    """Positions next to an end of their edge moved to it, so that no slivers are ridden."""
    whole = roads.edge_length_m[cands.edge]
    at_m = np.where(cands.at_m < params.sliver_m, 0.0, cands.at_m)
    at_m = np.where(at_m > np.maximum(whole - params.sliver_m, 0.5 * whole), whole, at_m)
    return cands._replace(at_m=at_m)


def _starts(count: IntArray) -> Int32Array:
    return np.concatenate([[0], np.cumsum(count)]).astype(np.int32)


def _on_track(cands: RoadCandidates, roads: RoadsView) -> BoolArray:
    """True for the points that lie on a track, and not on a road as well."""
    highway, count = roads.ways.highway, np.diff(cands.start)
    point = np.repeat(np.arange(len(count)), count)
    nearest = np.full(len(count), np.inf)
    np.minimum.at(nearest, point, cands.dist_m)
    near = cands.dist_m <= nearest[point] + _ALIKE_M
    track = highway.codes[roads.edge_way[cands.edge]] == _code(highway, "track")
    only_tracks = count > 0
    only_tracks[point[near & ~track]] = False
    return only_tracks


def _code(column: Category, value: str) -> int:
    return column.values.index(value) if value in column.values else -2


def _steps(line: Line, on_track: BoolArray, params: MatchParams) -> Steps:
    """What the line says between its points: the farther apart, the less."""
    gap, sigma = line.gap_m, line.sigma_m
    middle = line.bare & (gap >= params.middle_m)
    sparse = line.bare & (gap >= params.sparse_m)
    pair = float(np.hypot(sigma, sigma))
    beta = params.beta_m + 0.5 * pair + params.beta_per_gap * gap
    weight_beta = np.full(len(gap), params.weight_beta_m)
    beta[middle] = params.beta_m + 0.5 * pair + params.beta_middle * gap[middle]
    weight_beta[middle] = params.weight_beta_m + params.weight_middle * gap[middle]
    beta[sparse] = params.beta_sparse * gap[sparse]
    weight_beta[sparse] = params.weight_sparse * gap[sparse]
    reach = np.maximum(1.3 * gap + 25.0 * beta, params.reach_against * gap)
    reach[middle] = 4.0 * gap[middle] + 800.0
    reach[sparse] = 8.0 * gap[sparse] + 4000.0
    off_gap = gap / beta
    off_gap[middle] = (6.0 * gap[middle] + 1000.0) / beta[middle]
    off_m = min(max(params.off_sigmas * sigma, 25.0), 100.0)
    tracks = on_track[1:] & on_track[:-1] & (not params.any_road)
    plainly = StepMode.ANY_ROAD if params.any_road else StepMode.GUESSED
    guessed = np.where(tracks, StepMode.OFF_ROAD, plainly)
    return Steps(
        sigma_m=sigma, off_cost=0.5 * (off_m / sigma) ** 2,
        slack_m=min(params.slack_sigmas * pair, 120.0), gap_m=gap,
        mode=np.select([sparse, middle], [guessed, StepMode.ROUGH], StepMode.SHOWN)
        .astype(np.int8),
        beta_m=beta, weight_beta_m=weight_beta, reach_m=reach, off_gap_cost=off_gap,
    )  # fmt: skip
