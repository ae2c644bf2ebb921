"""The recording with every rest made one point, so that jitter at rest is no riding."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.calc.geodesy import metres_per_degree
from terrain.calc.thinning import shake_m
from terrain.stages.ridden.stays import stays
from terrain.values.arrays import BoolArray, Columns, FloatArray, Int32Array
from terrain.values.route import Route, RouteKind
from terrain.values.track import Track


@dataclass(frozen=True, slots=True, kw_only=True)
class RestRules:
    """When a run of fixes is a rest: common practice, no source, tried on simulated rides.

    radius_m, radius_noises : a rest keeps within this, and as many times the noise more
    least_s : shorter rests are riding; for a noisy record, so much that a walk would be seen
    walk_ms : slower than this is a rest
    core_m, core_noises : the rest begins and ends this near its middle; what lies before and
        after is braking and setting off
    noise_m : taken where the fixes are too far apart in time to show it
    """

    radius_m: float = 15.0
    radius_noises: float = 3.0
    least_s: float = 25.0
    walk_ms: float = 0.7
    core_m: float = 4.0
    core_noises: float = 1.5
    noise_m: float = 4.0


RULES = RestRules()
# Common practice, no source.
_NOISE_SEEN_S = 3.0  # with fixes farther apart in time a bend looks like noise


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Knots(Columns):
    """The places of a recording in riding order, shape (k,).

    lon, lat, ele_m; piece as in Track; arrive_s, leave_s : seconds since 1970 UTC, equal but for
    rests; noise_m : spread of the fixes
    """

    lon: FloatArray
    lat: FloatArray
    ele_m: FloatArray
    piece: Int32Array
    arrive_s: FloatArray
    leave_s: FloatArray
    noise_m: float

    def __len__(self) -> int:
        return len(self.lon)


def knots_of(track: Track, rules: RestRules = RULES) -> Knots:
    """The recording as places with a time of arriving and of leaving."""
    m_lon, m_lat = metres_per_degree(float(track.lat.mean()))
    x, y = (track.lon - track.lon[0]) * m_lon, (track.lat - track.lat[0]) * m_lat
    noise = _noise_m(track, x, y, rules)
    radius = min(rules.radius_m + rules.radius_noises * noise, 75.0)
    least_s = max(rules.least_s, radius / rules.walk_ms)
    first, last = stays(x, y, track.time_s, track.piece, radius, least_s)
    keep = np.ones(track.n_fixes, dtype=np.bool_)
    leave_s = track.time_s.copy()
    lon, lat = track.lon.copy(), track.lat.copy()
    core = rules.core_m + rules.core_noises * noise
    for a, b in zip(first.tolist(), last.tolist(), strict=True):
        run = slice(a, b + 1)
        cx, cy = float(np.median(x[run])), float(np.median(y[run]))
        near = a + np.flatnonzero(np.hypot(x[run] - cx, y[run] - cy) <= core)
        i, j = (int(near[0]), int(near[-1])) if len(near) > 1 else (a, b)
        keep[i + 1 : j + 1] = False
        leave_s[i] = track.time_s[j]
        lon[i], lat[i] = track.lon[0] + cx / m_lon, track.lat[0] + cy / m_lat
    return _kept(track, keep, lon, lat, leave_s, noise)


def _kept(
    track: Track, keep: BoolArray, lon: FloatArray, lat: FloatArray, leave_s: FloatArray,
    noise_m: float,
) -> Knots:  # fmt: skip
    return Knots(
        lon=lon[keep], lat=lat[keep], ele_m=track.ele_m[keep], piece=track.piece[keep],
        arrive_s=track.time_s[keep], leave_s=leave_s[keep], noise_m=noise_m,
    )  # fmt: skip


def _noise_m(track: Track, x: FloatArray, y: FloatArray, rules: RestRules) -> float:
    if track.n_fixes < 20 or float(np.median(np.diff(track.time_s))) > _NOISE_SEEN_S:
        return rules.noise_m
    return float(np.clip(shake_m(x, y), 1.0, 20.0))


def route_of(knots: Knots, name: str, source: str) -> Route:
    """The line of a recording, as matching takes it."""
    n = len(knots)
    none = np.zeros(n, dtype=np.bool_)
    return Route(
        name=name, kind=RouteKind.TRACK, lon=knots.lon, lat=knots.lat, ele_m=knots.ele_m,
        piece=knots.piece, shaping=none, planned=none, source=source,
    )  # fmt: skip
