"""Heights along the ride: from tiles, over bridges and through tunnels, smoothed, summed up."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from terrain.calc.elevation import sample_heights
from terrain.stages.relief.gradient import (
    ascent_descent,
    grade_pct,
    hairpins_m,
    known_runs,
    runs_steeper,
    smooth,
    steepest_ramps,
    turning_points,
)
from terrain.text.message import join_messages, message
from terrain.values.arrays import BoolArray, FloatArray, Int8Array, IntArray
from terrain.values.heights import HeightFlag, HeightsView
from terrain.values.match import LegKind, Match
from terrain.values.relief import KNOWN_ENOUGH, MOSTLY, NEAR_M, EleBasis, Ramp, Relief
from terrain.values.views import RoadsView, WayFlag


@dataclass(frozen=True, slots=True, kw_only=True)
class ReliefParams:
    """How heights are treated.

    step_m : distance between heights, whatever the spacing of the route's points
    window_m : full width of the Hann window heights are averaged under. Of 200 to 500 m, 400
        came closest to the published ascents of four Andorran climbs (within 1.3 %, 100 m
        longer or shorter within 2 %) and left the height of five passes within 6 m
    threshold_m : rises and falls below it are not counted: about twice what noise is left
    join_m : bridges and tunnels nearer than this to each other count as one: in between, a
        3 arc second tile still sees the gorge or the mountain
    sure_span_m : a bridge from here on has a sound grade even if an end lies in a filled void
    file_gap_m : the file's own heights are joined across gaps up to this
    grade_span_m : grades and ramps are measured over this
    doubtful_pct : beyond it, a public road's grade is a fault of the elevation model
    doubtful_filled : so is a ramp with this share of its heights in a void that was filled
    ramp_pct : ramps from here on are listed; most_ramps : so many steepest ones, each at least
        apart_m from the next
    Common practice, no source, where nothing else is said.
    """

    step_m: float = 10.0
    window_m: float = 400.0
    threshold_m: float = 5.0
    join_m: float = 60.0
    sure_span_m: float = 500.0
    file_gap_m: float = 1000.0
    grade_span_m: float = 100.0
    doubtful_pct: float = 25.0
    doubtful_filled: float = 0.25
    ramp_pct: float = 10.0
    least_steep_pct: float = 1.0
    most_ramps: int = 5
    apart_m: float = 400.0

    @property
    def text(self) -> str:
        return (
            f"heights each {self.step_m:.0f} m, averaged under a {self.window_m:.0f} m window; "
            f"rises of {self.threshold_m:.0f} m or more count; bridges, tunnels and ferries run "
            "straight from end to end"
        )


PARAMS = ReliefParams()


def judge_relief(
    match: Match,
    roads: RoadsView,
    heights: HeightsView | None,
    *,
    file_ele_m: FloatArray | None = None,
    params: ReliefParams = PARAMS,
) -> Relief:
    """Heights, climbs, grades, ramps and hairpins of a ride.

    heights : the region's elevation, None if it has none
    file_ele_m : heights of the drawn points as the file gave them [m], shape of
        match.point_at_m, NaN where it gave none; used only where the tiles know nothing
    """
    at_m, cuts = _stations(match, params.step_m)
    raw, basis = _tile_heights(match, heights, at_m, cuts)
    raw, basis, of_file = _with_file(match, at_m, raw, basis, file_ele_m, params)
    raw, basis = _span(at_m, raw, basis, _spans(match, roads, params.join_m), params.sure_span_m)
    runs = known_runs(~np.isnan(raw), cuts=cuts)
    ele_m = smooth(raw, half=round(params.window_m / 2 / params.step_m), runs=runs)
    up, down = ascent_descent(ele_m, threshold_m=params.threshold_m, runs=runs)
    known = float(np.mean(basis != EleBasis.UNKNOWN)) if len(basis) else 0.0
    enough = known >= KNOWN_ENOUGH
    grades = grade_pct(at_m, ele_m, span_m=params.grade_span_m, runs=runs)
    public = _public(match, roads, at_m)
    filled = basis == EleBasis.FILLED
    trusted = np.where(public, np.clip(grades, -params.doubtful_pct, params.doubtful_pct), grades)
    half_m = params.grade_span_m / 2
    trusted[_share(filled, at_m, at_m - half_m, at_m + half_m) > MOSTLY] = np.nan
    return Relief(
        at_m=at_m,
        ele_m=ele_m,
        grade_pct=trusted,
        basis=basis,
        turns=_turns(ele_m, runs, params),
        ascent_m=up if enough else None,
        descent_m=down if enough else None,
        climbed_known_m=up if known > 0 else None,
        steepest=_steepest(at_m, ele_m, runs, public, filled, params),
        ramps=_ramps(at_m, grades, public, filled, params),
        hairpins_m=_hairpins(match, roads),
        source=_source(heights, basis, of_file),
        method=params.text,
    )


def _stations(match: Match, step_m: float) -> tuple[FloatArray, list[int]]:
    """Positions about step_m apart, equally in each piece of the line, its ends included; and
    where pieces after the first begin. Two positions stand at every break."""
    length = match.length_m
    if length <= 0:
        return np.zeros(0), []
    inner = sorted({at for at in match.breaks_m if 0 < at < length})
    pieces = [
        np.linspace(start, end, max(round((end - start) / step_m), 1) + 1)
        for start, end in pairwise([0.0, *inner, length])
    ]
    return np.concatenate(pieces), np.cumsum([len(piece) for piece in pieces])[:-1].tolist()


def _tile_heights(
    match: Match, heights: HeightsView | None, at_m: FloatArray, cuts: list[int]
) -> tuple[FloatArray, Int8Array]:
    """Heights from the tiles and their EleBasis."""
    if heights is None or not len(at_m):
        return np.full(len(at_m), np.nan), np.full(len(at_m), EleBasis.UNKNOWN, np.int8)
    place = at_m.copy()
    place[np.array(cuts, dtype=np.int64) - 1] -= NEAR_M  # before the break, not after it
    lon, lat = match.lonlat(place)
    ele_m, flag = sample_heights(heights, lon, lat)
    code = np.empty(len(HeightFlag), dtype=np.int8)
    code[HeightFlag.MEASURED] = EleBasis.MEASURED
    code[HeightFlag.FILLED] = EleBasis.FILLED
    code[HeightFlag.UNKNOWN] = EleBasis.UNKNOWN
    return ele_m, code[flag]


def _with_file(
    match: Match,
    at_m: FloatArray,
    raw: FloatArray,
    basis: Int8Array,
    file_ele_m: FloatArray | None,
    params: ReliefParams,
) -> tuple[FloatArray, Int8Array, bool]:
    """The file's heights where the tiles know nothing, set level with them; and whether any."""
    missing = np.isnan(raw)
    if file_ele_m is None or not missing.any():
        return raw, basis, False
    given = np.flatnonzero(_believable(file_ele_m) & np.isfinite(match.point_at_m))
    place, height = match.point_at_m[given], file_ele_m[given]
    # One height for every point is a field left at its default, not a measurement.
    if len(given) < 2 or np.ptp(height) == 0:
        return raw, basis, False
    order = np.argsort(place, kind="stable")
    place, height = place[order], height[order]
    known_to = np.searchsorted(place, at_m, side="left")
    after = place[np.minimum(known_to, len(place) - 1)]
    before = place[np.maximum(np.minimum(known_to, len(place) - 1) - 1, 0)]
    covered = (at_m >= place[0]) & (at_m <= place[-1]) & (after - before <= params.file_gap_m)
    file_at = np.interp(at_m, place, height)
    both = covered & ~missing
    # Receivers and planners count from other sea levels: tens of metres, nearly constant.
    shift = float(np.median((raw - file_at)[both])) if both.any() else 0.0
    used = missing & covered
    return (
        np.where(used, file_at + shift, raw),
        np.where(used, EleBasis.FILE, basis).astype(np.int8),
        bool(used.any()),
    )


def _believable(file_ele_m: FloatArray) -> BoolArray:
    """Heights a file may give in earnest. Programs write 0 where they knew none."""
    with np.errstate(invalid="ignore"):
        fine = (file_ele_m > -500) & (file_ele_m < 9000)
    some = file_ele_m[fine & (file_ele_m != 0)]
    if len(some) and np.percentile(some, 5) > 100:
        fine &= file_ele_m != 0
    return np.asarray(fine)


def _spans(match: Match, roads: RoadsView, join_m: float) -> list[tuple[float, float]]:
    """From where to where the ride is on bridges, in tunnels, on ferries; none over a break."""
    over = int(WayFlag.BRIDGE | WayFlag.TUNNEL)
    on_way = match.way >= 0
    flags = np.zeros(len(match.way), dtype=np.int64)
    flags[on_way] = roads.ways.flags[match.way[on_way]]
    spanning = ((flags & over) > 0) | (match.kind == LegKind.FERRY)
    spans: list[tuple[float, float]] = []
    for i in np.flatnonzero(spanning):
        first, end = float(match.from_m[i]), float(match.to_m[i])
        near = spans and first - spans[-1][1] <= join_m
        if near and not any(spans[-1][1] <= at <= first for at in match.breaks_m):
            spans[-1] = (spans[-1][0], end)
        else:
            spans.append((first, end))
    return spans


def _span(
    at_m: FloatArray,
    raw: FloatArray,
    basis: Int8Array,
    spans: list[tuple[float, float]],
    sure_m: float,
) -> tuple[FloatArray, Int8Array]:
    """Straight lines between the ends of the spans; a span with an unknown end stays unknown,
    and one shorter than sure_m with a filled end is no better than filled."""
    raw, basis, found = raw.copy(), basis.copy(), basis
    for first, end in spans:
        inside = slice(np.searchsorted(at_m, first, "right"), np.searchsorted(at_m, end, "left"))
        low, high = np.interp([first + NEAR_M, end - NEAR_M], at_m, raw)
        raw[inside] = np.interp(at_m[inside], [first, end], [low, high])
        if np.isnan(low) or np.isnan(high):
            basis[inside] = EleBasis.UNKNOWN
        elif end - first < sure_m and (found[_ends(at_m, first, end)] == EleBasis.FILLED).any():
            basis[inside] = EleBasis.FILLED
        else:
            basis[inside] = EleBasis.SPANNED
    return raw, basis


def _ends(at_m: FloatArray, first: float, end: float) -> IntArray:
    """The positions just outside a span, or its own ends where the ride begins or stops there."""
    before = max(int(np.searchsorted(at_m, first + NEAR_M)) - 1, 0)
    after = min(int(np.searchsorted(at_m, end - NEAR_M)), len(at_m) - 1)
    return np.array([before, after])


def _turns(ele_m: FloatArray, runs: list[tuple[int, int]], params: ReliefParams) -> IntArray:
    """Tops and bottoms of all runs."""
    found = [
        turning_points(ele_m[first:end], threshold_m=params.threshold_m) + first
        for first, end in runs
    ]
    return np.concatenate([np.zeros(0, dtype=np.int64), *found])


def _public(match: Match, roads: RoadsView, at_m: FloatArray) -> BoolArray:
    """Which positions lie on roads built for traffic: on the map, no track and no path."""
    highway = roads.ways.highway
    rough = [i for i, value in enumerate(highway.values) if value in ("track", "path", "bridleway")]
    on_way = match.way >= 0
    built = np.zeros(len(match.way), dtype=bool)
    way = match.way[on_way]
    is_path = (roads.ways.flags[way] & int(WayFlag.PATH)) > 0
    built[on_way] = ~np.isin(highway.codes[way], rough) & ~is_path
    if not len(built):
        return np.zeros(len(at_m), dtype=bool)
    leg = np.minimum(np.searchsorted(match.to_m, at_m, side="right"), len(built) - 1)
    return np.asarray(built[leg])


def _steepest(
    at_m: FloatArray,
    ele_m: FloatArray,
    runs: list[tuple[int, int]],
    public: BoolArray,
    filled: BoolArray,
    params: ReliefParams,
) -> tuple[Ramp, ...]:
    span, most = params.grade_span_m, params.most_ramps
    ramps = steepest_ramps(at_m, ele_m, span_m=span, most=most, apart_m=params.apart_m, runs=runs)
    steep = [ramp for ramp in ramps if abs(ramp[2]) >= params.least_steep_pct]
    told = _told(at_m, steep, public, filled, params)
    # Some were cut to what is believable, which may put them behind others.
    return tuple(sorted(told, key=lambda ramp: (-abs(ramp.grade_pct), ramp.from_m)))


def _ramps(
    at_m: FloatArray,
    grades: FloatArray,
    public: BoolArray,
    filled: BoolArray,
    params: ReliefParams,
) -> tuple[Ramp, ...]:
    runs = runs_steeper(at_m, grades, limit_pct=params.ramp_pct)
    return _told(at_m, [(a, b, mean) for a, b, mean, _ in runs], public, filled, params)


def _told(
    at_m: FloatArray,
    ramps: list[tuple[float, float, float]],
    public: BoolArray,
    filled: BoolArray,
    params: ReliefParams,
) -> tuple[Ramp, ...]:
    """ramps : from, to [m], grade [%]"""
    from_m, to_m, _ = np.array(ramps).reshape(len(ramps), 3).T
    built = public[np.searchsorted(at_m, (from_m + to_m) / 2)].tolist()
    guessed = _share(filled, at_m, from_m, to_m).tolist()
    return tuple(
        _ramp(*ramp, on_public, share, params)
        for ramp, on_public, share in zip(ramps, built, guessed, strict=True)
    )


def _share(mask: BoolArray, at_m: FloatArray, from_m: FloatArray, to_m: FloatArray) -> FloatArray:
    """Share of the positions within each part that are marked, 0 where there are none."""
    count = np.append(0, np.cumsum(mask))
    first = np.searchsorted(at_m, from_m, side="left")
    end = np.searchsorted(at_m, to_m, side="right")
    return np.asarray((count[end] - count[first]) / np.maximum(end - first, 1))


def _ramp(
    from_m: float, to_m: float, grade: float, public: bool, filled: float, params: ReliefParams
) -> Ramp:
    limit = params.doubtful_pct
    # Heights guessed across a void of the tiles show no ramp: they show the sides of the void.
    void = filled >= params.doubtful_filled
    if abs(grade) > limit and public:
        return Ramp(
            from_m=from_m, to_m=to_m, grade_pct=float(np.clip(grade, -limit, limit)),
            doubtful=True, void=void,
        )  # fmt: skip
    return Ramp(
        from_m=from_m, to_m=to_m, grade_pct=grade, doubtful=abs(grade) > limit or void, void=void
    )


def _hairpins(match: Match, roads: RoadsView) -> FloatArray:
    """Hairpins of the ride line, those of roundabouts and ferries left out."""
    flags = np.zeros(len(match.way), dtype=np.int64)
    on_way = match.way >= 0
    flags[on_way] = roads.ways.flags[match.way[on_way]]
    out = ((flags & int(WayFlag.ROUNDABOUT)) > 0) | (match.kind == LegKind.FERRY)
    leg = np.minimum(np.searchsorted(match.to_m, match.at_m, side="left"), len(out) - 1)
    return hairpins_m(match.at_m, match.lon, match.lat, left_out=out[leg])


def _source(heights: HeightsView | None, basis: Int8Array, of_file: bool) -> str | None:
    """What the heights rest on, in words; None if there are none."""
    if not len(basis) or (basis == EleBasis.UNKNOWN).all():
        return None
    file_share = float(np.mean(basis == EleBasis.FILE))
    unknown = float(np.mean(basis == EleBasis.UNKNOWN))
    tiles = heights is not None and (basis <= EleBasis.FILLED).any()
    if not tiles:
        parts: list[str] = [
            message("the route file's own heights: the region has no elevation here")
        ]
    else:
        parts = [heights.source if heights is not None else ""]
        if of_file:
            parts.append(
                message(
                    "the route file's own heights on {file_share} of the way",
                    file_share=file_share,
                )
            )
    if unknown > 0:
        parts.append(message("not known on {unknown_share}", unknown_share=unknown))
    return join_messages(parts, "{first}; {then}")
