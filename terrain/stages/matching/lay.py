"""Lay a planned line on the roads of a region, in riding order."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.calc.candidates import Candidates, SegmentGrid, near_positions, segment_grid
from terrain.calc.geodesy import along_m, steps_m
from terrain.calc.lattice import OFF_MAP, Costs, Graph, Steps, Work, likeliest, make_work, ridden_pieces
from terrain.calc.thinning import shake_m, smooth_line, thin_line
from terrain.stages.matching.assemble import Section, assemble
from terrain.stages.matching.params import DEFAULT_PARAMS, MatchParams, StepMode, class_rates
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.match import Match
from terrain.values.route import Route
from terrain.values.views import RoadsView, WayFlag


def lay_route(route: Route, roads: RoadsView, params: MatchParams = DEFAULT_PARAMS) -> Match:
    """The ride along the mapped ways that the route's line most likely means.

    Where no mapped way fits, the ride follows the drawn line itself (LegKind.UNMAPPED). Gaps
    too wide to show the way taken are bridged by routing (`filled`). Parts farther apart than
    params.bridge_m are matched one by one.
    """
    work = make_work(roads.n_nodes, roads.n_edges)
    step = steps_m(route.lon, route.lat)
    sections = [
        _section(route, roads, work, first, last, params)
        for first, last in _parts(route, step, params)
    ]
    return assemble(route, roads, sections, params)


def _graph(roads: RoadsView) -> Graph:
    ways = roads.ways
    rate = np.array(class_rates(ways.highway.values))
    flag_rate = np.ones((len(StepMode), 18))
    for flag, (one, two) in _FLAG_RATES.items():
        flag_rate[:, int(flag).bit_length() - 1] = one, two, np.sqrt(one * two)
    return Graph(
        roads.edge_u, roads.edge_v, roads.edge_way, roads.edge_length_m, roads.out_start,
        roads.out_arc, ways.highway.codes, ways.oneway, ways.flags,
        rate, flag_rate, sum(int(f) for f in _FLAG_RATES), np.array([4.0, 20.0, 8.0]),
    )  # fmt: skip


# Factors on the weight of a metre (line shows the way, way is guessed).
_FLAG_RATES = {
    WayFlag.NO_MOTORCYCLE: (1.1, 4.0),
    WayFlag.PRIVATE: (1.0, 2.0),
    WayFlag.UNDER_CONSTRUCTION: (1.1, 3.0),
    WayFlag.ICE_ROAD: (1.1, 5.0),
}


def _parts(route: Route, step: FloatArray, params: MatchParams) -> list[tuple[int, int]]:
    """Runs of points (first, last) with no break of the file too wide to bridge."""
    breaks = (np.diff(route.piece) != 0) & (step > params.bridge_m)
    ends = np.flatnonzero(breaks)
    return list(zip(np.r_[0, ends + 1], np.r_[ends, route.n_points - 1], strict=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """A thinned line, perhaps with points put on long steps: `index` is NaN-free position in the
    drawn line (fractions lie between drawn points)."""

    lon: FloatArray
    lat: FloatArray
    index: FloatArray
    sigma_m: FloatArray
    gap_m: FloatArray


def _section(
    route: Route, roads: RoadsView, work: Work, first: int, last: int,
    params: MatchParams,
) -> Section:  # fmt: skip
    lon, lat = route.lon[first : last + 1], route.lat[first : last + 1]
    grid = segment_grid(roads)

    def offsets(x: FloatArray, y: FloatArray) -> FloatArray:
        start, _, _, dist = near_positions(x, y, np.full(len(x), 60.0), 4, grid)
        out = np.full(len(x), np.nan)
        has = start[1:] > start[:-1]
        if has.any():
            out[has] = np.minimum.reduceat(dist, start[:-1][has])
        return out

    line = _thinned(lon, lat, offsets, params)
    radius = np.clip(5.0 * line.sigma_m, 30.0, 90.0)
    cands = _plausible(_candidates(line, radius, grid, params), line.sigma_m, params)
    steps = _steps(line, radius, params)
    graph = _graph(roads)
    costs = Costs(params.switch_cost, params.turn_cost)
    choice = likeliest(graph, work, cands, steps, costs)
    on = choice != OFF_MAP
    edge, from_m, to_m, step = ridden_pieces(graph, work, cands, steps, costs, choice)
    choice = choice >> 1
    return Section(
        first=first, last=last, lon=line.lon, lat=line.lat, index=line.index + first,
        on=on, sparse=steps.mode == StepMode.GUESSED,
        edge=np.where(on, cands.edge[choice], -1).astype(np.int32) if len(cands.edge) else
        np.full(len(on), -1, np.int32),
        at_m=np.where(on, cands.at_m[choice], np.nan) if len(cands.edge) else
        np.full(len(on), np.nan),
        dist_m=np.where(on, cands.dist_m[choice], np.nan) if len(cands.edge) else
        np.full(len(on), np.nan),
        slack_m=steps.slack_m, piece_edge=edge, piece_from_m=from_m, piece_to_m=to_m,
        piece_step=step,
    )  # fmt: skip


def _candidates(
    line: _Line, radius: FloatArray, grid: SegmentGrid, params: MatchParams
) -> Candidates:
    """Positions near each point; where there are none, the search goes farther once."""
    most = params.n_candidates
    near = Candidates(*near_positions(line.lon, line.lat, radius, most, grid))
    count = np.diff(near.start)
    lone = np.flatnonzero(count == 0)
    if not len(lone):
        return near
    far = Candidates(
        *near_positions(
            line.lon[lone], line.lat[lone], params.far_factor * radius[lone], most, grid
        )
    )
    count[lone] = np.diff(far.start)
    point = np.concatenate([np.repeat(np.arange(len(line.lon)), np.diff(near.start)),
                            np.repeat(lone, np.diff(far.start))])
    order = np.argsort(point, kind="stable")
    return Candidates(
        np.concatenate([[0], np.cumsum(count)]).astype(np.int32),
        np.concatenate([near.edge, far.edge])[order],
        np.concatenate([near.at_m, far.at_m])[order],
        np.concatenate([near.dist_m, far.dist_m])[order],
    )


def _plausible(cands: Candidates, sigma_m: FloatArray, params: MatchParams) -> Candidates:
    """Without positions so much farther than the nearest that they could never win."""
    count = np.diff(cands.start)
    if not len(cands.edge):
        return cands
    has = count > 0
    nearest = np.full(len(count), np.inf)
    nearest[has] = np.minimum.reduceat(cands.dist_m, cands.start[:-1][has])
    point = np.repeat(np.arange(len(count)), count)
    most = np.sqrt(nearest**2 + 2.0 * params.give_up * sigma_m**2)
    keep = cands.dist_m <= most[point]
    start = np.concatenate([[0], np.cumsum(np.bincount(point[keep], minlength=len(count)))])
    return Candidates(
        start.astype(np.int32), cands.edge[keep], cands.at_m[keep], cands.dist_m[keep]
    )


def _spread_m(offset_m: FloatArray, params: MatchParams) -> float:
    known = offset_m[~np.isnan(offset_m)]
    sigma = params.sigma_factor * float(np.median(known)) if len(known) else params.sigma_most_m
    return min(max(sigma, params.sigma_least_m), params.sigma_most_m)


def _thinned(lon: FloatArray, lat: FloatArray, offsets, params: MatchParams) -> _Line:
    n = len(lon)
    lon, lat = _steadied(lon, lat, params)
    sample = np.unique(np.linspace(0, n - 1, min(n, 300)).astype(int))
    sigma = _spread_m(offsets(lon[sample], lat[sample]), params)
    keep = np.flatnonzero(thin_line(lon, lat, max(params.thin_m, params.thin_sigmas * sigma), params.longest_m))
    if sigma > params.sigma_least_m:
        keep = _spaced(lon, lat, keep, params.apart_sigmas * sigma)
    index = keep.astype(float)
    x, y = lon[keep], lat[keep]
    gap = steps_m(x, y)
    long = np.flatnonzero(gap > 1.5 * params.sample_m)
    spread = np.full(len(x), sigma)
    if len(long):
        some = long[np.unique(np.linspace(0, len(long) - 1, min(len(long), 300)).astype(int))]
        mid = offsets((x[some] + x[some + 1]) / 2, (y[some] + y[some + 1]) / 2)
        near = np.mean(~np.isnan(mid))
        if near > params.sample_near:
            mid_sigma = _spread_m(mid, params)
            counts = np.ones(len(gap), dtype=int)
            counts[long] = np.minimum(np.ceil(gap[long] / params.sample_m), 20).astype(int)
            counts[gap > params.sparse_m * 4] = 1
            at = np.concatenate([np.arange(c) / c + i for i, c in enumerate(counts)] + [[len(gap)]])
            inner = at % 1.0 > 0
            x, y = np.interp(at, np.arange(len(x)), x), np.interp(at, np.arange(len(y)), y)
            index = np.interp(at, np.arange(len(index)), index)
            spread = np.where(inner, np.hypot(sigma, mid_sigma), sigma)
            gap = steps_m(x, y)
    return _Line(lon=x, lat=y, index=index, sigma_m=spread, gap_m=gap)


def _steadied(
    lon: FloatArray, lat: FloatArray, params: MatchParams
) -> tuple[FloatArray, FloatArray]:
    """The line with the shaking of a recording smoothed out, if it shakes."""
    ky = 110_574.0
    kx = 111_320.0 * float(np.cos(np.radians(lat.mean())))
    x, y = (lon - lon[0]) * kx, (lat - lat[0]) * ky
    shake = shake_m(x, y)
    step = np.hypot(np.diff(x), np.diff(y))
    spacing = float(np.median(step)) if len(step) else 0.0
    if shake < params.shake_least_m or spacing > params.shake_spacing_m:
        return lon, lat
    # The shaking itself lengthens each step; a straight line's step is what is left.
    true_step = np.sqrt(max(spacing**2 - 4.0 * shake**2, (0.3 * spacing) ** 2))
    along = np.concatenate([[0.0], np.cumsum(np.minimum(step, 3.0 * spacing))])
    along *= true_step / spacing
    sx, sy = smooth_line(x, y, along, max(params.smooth_width * shake, params.smooth_spacings * spacing))
    return lon[0] + sx / kx, lat[0] + sy / ky


def _spaced(lon: FloatArray, lat: FloatArray, keep: IntArray, least_m: float) -> IntArray:
    """Leave out points closer than least_m (straight) to the last one kept."""
    kx, ky = 111_320.0 * np.cos(np.radians(lat[keep[0]])), 110_574.0
    x, y = lon[keep] * kx, lat[keep] * ky
    kept = [0]
    for i in range(1, len(keep) - 1):
        j = kept[-1]
        if (x[i] - x[j]) ** 2 + (y[i] - y[j]) ** 2 >= least_m * least_m:
            kept.append(i)
    kept.append(len(keep) - 1)
    return keep[kept]


def _steps(line: _Line, radius: FloatArray, params: MatchParams) -> Steps:
    gap = line.gap_m
    rough = np.diff(line.index) < 1.5  # nothing drawn in between
    middle = rough & (gap >= params.middle_m)
    sparse = rough & (gap >= params.sparse_m)
    sigma = line.sigma_m
    off_m = np.clip(params.off_sigmas * sigma, 25.0, 100.0)
    pair = np.hypot(sigma[1:], sigma[:-1])
    beta = params.beta_m + 0.5 * pair + params.beta_per_gap * gap
    weight_beta = np.full(len(gap), params.weight_beta_m)
    beta[middle] = params.beta_m + 0.5 * pair[middle] + params.beta_middle * gap[middle]
    weight_beta[middle] = params.weight_beta_m + params.weight_middle * gap[middle]
    beta[sparse] = params.beta_sparse * gap[sparse]
    weight_beta[sparse] = params.weight_sparse * gap[sparse]
    reach = 1.3 * gap + 25.0 * beta
    reach[middle] = 6.0 * gap[middle] + 1000.0
    reach[sparse] = 6.0 * gap[sparse] + 3000.0
    off_gap = gap / beta
    off_gap[middle] = reach[middle] / beta[middle]
    mode = np.select([sparse, middle], [StepMode.GUESSED, StepMode.ROUGH], StepMode.SHOWN)
    return Steps(
        sigma_m=sigma, off_cost=0.5 * (off_m / sigma) ** 2, gap_m=gap,
        mode=mode.astype(np.int8), beta_m=beta,
        weight_beta_m=weight_beta, reach_m=reach,
        slack_m=np.minimum(params.slack_sigmas * pair, 120.0), off_gap_cost=off_gap,
    )  # fmt: skip
