"""Seeded recordings of rides whose every turn and second is known.

A ride follows a line of known ways, leaves it for a while by another way round, goes at the pace
of the speed tables times factors of its own and noise that lasts a kilometre, rests for seconds
or for an hour, and is recorded by a receiver that errs and drifts.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import dijkstra

from terrain.stages.speed.edges import edge_speed_kph
from terrain.stages.speed.pace import rider_of
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.match import LegKind, Match
from terrain.values.route import Route, RouteKind
from terrain.values.track import Track
from terrain.values.trip import Trip
from terrain.values.views import NEVER_PROPOSED, RoadsView, WayFlag

_SHY, _LEAST_AWAY_M = 4.0, 500.0
START_S = 1_805_000_000.0  # a morning of March 2027


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """A true line on the map: edges in riding order and its points with their places."""

    edge: IntArray
    forward: BoolArray
    lon: FloatArray
    lat: FloatArray
    at_m: FloatArray
    row: IntArray  # of each step of the line, its place in `edge`

    @property
    def length_m(self) -> float:
        return float(self.at_m[-1])


#: Riding time from the start of a true line to places on it [s].
Estimate = Callable[[Line, FloatArray], FloatArray]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Recording:
    """track : what a receiver wrote; from_m, to_m : true places of its first and last fix"""

    track: Track
    from_m: float
    to_m: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrueRide:
    """plan : what was planned; line : what was ridden; off : metres by way off the plan

    missed_m : of the plan, not ridden; knot_m, knot_s : riding time along the line, rests left out
    rest_m, rest_s : where it stood, and how long
    """

    plan: Route
    line: Line
    off: dict[int, float]
    missed_m: float
    knot_m: FloatArray
    knot_s: FloatArray
    rest_m: FloatArray
    rest_s: FloatArray

    def moving_s(self, from_m: float, to_m: float) -> float:
        a, b = np.interp([from_m, to_m], self.knot_m, self.knot_s)
        return float(b - a)

    def standing_s(self, from_m: float, to_m: float) -> float:
        inside = (self.rest_m > from_m) & (self.rest_m < to_m)
        return float(self.rest_s[inside].sum())


@dataclass(frozen=True, slots=True, kw_only=True)
class Habits:
    """How a ride goes. factor : on the pace of paved, gravel and track; spread : of the noise
    of log pace that lasts a kilometre; rest_km, short_km : kilometres between rests of minutes
    and of seconds; leaves : how often it goes another way round."""

    factor: tuple[float, float, float] = (1.0, 1.0, 1.0)
    spread: float = 0.25
    rest_km: float = 18.0
    short_km: float = 9.0
    leaves: int = 2


def whole_edges(match: Match) -> list[tuple[int, bool]]:
    """Edges of a matched line that it rides from end to end, broken where it does not."""
    on = match.kind == LegKind.MATCHED
    return [
        (int(e), bool(f))
        for e, f in zip(match.edge[on].tolist(), match.forward[on].tolist(), strict=True)
    ]


class Maker:
    """Makes rides on one region."""

    def __init__(self, roads: RoadsView, ground_p: FloatArray, rng: np.random.Generator) -> None:
        self.roads, self.rng = roads, rng
        p = np.asarray(ground_p, dtype=np.float64)
        known = ~np.isnan(p).any(axis=1)
        cumulated = np.cumsum(np.where(known[:, None], p, 1.0 / 3.0), axis=1)
        self.ground = (rng.random(len(p))[:, None] > cumulated).sum(axis=1).clip(0, 2)
        sure = np.eye(3)[self.ground]
        self.pace = 3.6 / edge_speed_kph(roads, sure, traveller=rider_of(Trip()))
        flags = roads.ways.flags[roads.edge_way]
        self.open = (flags & int(NEVER_PROPOSED | WayFlag.FERRY)) == 0

    def ride(self, base: Match, habits: Habits, estimate: Estimate | None = None) -> TrueRide:
        """A ride that follows a matched line but for some detours.

        estimate : riding time along a true line, in place of that of the edges' classes alone
        """
        path = self._connected(whole_edges(base))
        planned_line = self._line(path)
        off: dict[int, float] = {}
        missed = 0.0
        planned = {edge for edge, _ in path}
        for _ in range(habits.leaves):
            found = self._detour(path, planned)
            if found is None:
                continue
            first, last, other = found
            taken = {e for e, _ in other}
            missed += sum(
                float(self.roads.edge_length_m[e]) for e, _ in path[first:last] if e not in taken
            )
            for edge in taken - planned:
                way = int(self.roads.ways.way_id[self.roads.edge_way[edge]])
                off[way] = off.get(way, 0.0) + float(self.roads.edge_length_m[edge])
            path = [*path[:first], *other, *path[last:]]
        line = self._line(path)
        knot_m, knot_s = self._times(line, habits, estimate)
        rest_m, rest_s = self._rests(line.length_m, habits)
        return TrueRide(
            plan=_drawn(planned_line), line=line, off=off, missed_m=missed, knot_m=knot_m,
            knot_s=knot_s, rest_m=rest_m, rest_s=rest_s,
        )  # fmt: skip

    def _ends(self, step: tuple[int, bool]) -> tuple[int, int]:
        u, v = int(self.roads.edge_u[step[0]]), int(self.roads.edge_v[step[0]])
        return (u, v) if step[1] else (v, u)

    def _connected(self, path: list[tuple[int, bool]]) -> list[tuple[int, bool]]:
        """The longest run whose edges meet end to end."""
        best: list[tuple[int, bool]] = []
        run: list[tuple[int, bool]] = []
        for step in path:
            if run and run[-1] == step:
                continue
            if run and self._ends(run[-1])[1] != self._ends(step)[0]:
                run = []
            run.append(step)
            if len(run) > len(best):
                best = list(run)
        return best

    def _detour(
        self, path: list[tuple[int, bool]], planned: set[int]
    ) -> tuple[int, int, list[tuple[int, bool]]] | None:
        """Another way round some kilometres of the path: (first, last, edges), if there is one."""
        length = np.cumsum(self.roads.edge_length_m[[e for e, _ in path]])
        for _ in range(12):
            start = float(self.rng.uniform(2_200.0, max(length[-1] - 5_000.0, 2_300.0)))
            first = int(np.searchsorted(length, start))
            last = int(np.searchsorted(length, start + self.rng.uniform(1_000.0, 6_000.0)))
            if last >= len(path) - 1 or length[-1] - length[last] < 2_500.0 or last <= first + 1:
                continue
            if any(e not in planned for e, _ in path[first:last]):
                continue  # there is a detour already
            a, b = self._ends(path[first])[0], self._ends(path[last - 1])[1]
            other = self._way(a, b, planned)
            whole = float(length[last - 1] - (length[first - 1] if first else 0.0))
            away = sum(self.roads.edge_length_m[e] for e, _ in other if e not in planned)
            if away > _LEAST_AWAY_M and away < 3.0 * whole + 1_000.0:
                return first, last, other
        return None

    def _way(self, a: int, b: int, planned: set[int]) -> list[tuple[int, bool]]:
        roads = self.roads
        e = np.flatnonzero(self.open)
        one = roads.ways.oneway[roads.edge_way[e]]
        along, against = e[one >= 0], e[one <= 0]
        u = np.concatenate([roads.edge_u[along], roads.edge_v[against]])
        v = np.concatenate([roads.edge_v[along], roads.edge_u[against]])
        which = np.concatenate([along, against])
        cost = roads.edge_length_m[which] * self.pace[which] + 1e-3
        cost[np.isin(which, list(planned))] *= _SHY  # another way is wanted, not the planned one
        order = np.lexsort((cost, v, u))
        u, v, which, cost = u[order], v[order], which[order], cost[order]
        single = np.r_[True, (np.diff(u) != 0) | (np.diff(v) != 0)]
        u, v, which, cost = u[single], v[single], which[single], cost[single]
        graph = csr_matrix((cost, (u, v)), shape=(roads.n_nodes, roads.n_nodes))
        _, before = dijkstra(graph, indices=a, return_predecessors=True, limit=4_500.0)
        if before[b] < 0 or a == b:
            return []
        nodes = [b]
        while nodes[-1] != a:
            nodes.append(int(before[nodes[-1]]))
        nodes.reverse()
        arcs = dict(zip(zip(u.tolist(), v.tolist(), strict=True), which.tolist(), strict=True))
        steps = [arcs[pair] for pair in itertools.pairwise(nodes)]
        return [(k, int(roads.edge_u[k]) == n) for k, n in zip(steps, nodes, strict=False)]

    def _line(self, path: list[tuple[int, bool]]) -> Line:
        roads = self.roads
        lon, lat, row = [], [], []
        for i, (edge, forward) in enumerate(path):
            pts = slice(roads.edge_start[edge], roads.edge_start[edge + 1])
            step = 1 if forward else -1
            lon.append(roads.pt_lon[pts][::step])
            lat.append(roads.pt_lat[pts][::step])
            row.append(np.full(len(lon[-1]), i))
        x, y = np.concatenate(lon), np.concatenate(lat)
        m = np.hypot(np.diff(x) * 111_320.0 * np.cos(np.radians(y[1:])), np.diff(y) * 110_574.0)
        return Line(
            edge=np.array([e for e, _ in path]), forward=np.array([f for _, f in path]),
            lon=x, lat=y, at_m=np.concatenate([[0.0], np.cumsum(m)]),
            row=np.concatenate(row)[1:],
        )  # fmt: skip

    def _times(
        self, line: Line, habits: Habits, estimate: Estimate | None
    ) -> tuple[FloatArray, FloatArray]:
        at = np.append(np.arange(0.0, line.length_m, 20.0), line.length_m)
        step = np.clip(np.searchsorted(line.at_m, at[:-1] + 1e-6) - 1, 0, len(line.row) - 1)
        edge = line.edge[line.row[step]]
        ground = self.ground[self.roads.edge_way[edge]]
        shock = self.rng.normal(0.0, 1.0, len(edge))
        keep = np.exp(-20.0 / 1_000.0)
        noise = np.empty(len(edge))
        level = self.rng.normal()
        for i, s in enumerate(shock):
            level = keep * level + np.sqrt(1 - keep**2) * s
            noise[i] = level
        plain = self.pace[edge] if estimate is None else np.diff(estimate(line, at)) / np.diff(at)
        pace = plain * np.array(habits.factor)[ground] * np.exp(habits.spread * noise)
        return at, np.concatenate([[0.0], np.cumsum(pace * np.diff(at))])

    def _rests(self, length_m: float, habits: Habits) -> tuple[FloatArray, FloatArray]:
        rng = self.rng
        many = rng.poisson(length_m / 1000.0 / habits.rest_km)
        few = rng.poisson(length_m / 1000.0 / habits.short_km)
        at = rng.uniform(0.0, length_m, many + few)
        s = np.concatenate([
            np.clip(np.exp(rng.normal(6.2, 0.8, many)), 185.0, 7_200.0),
            rng.uniform(25.0, 150.0, few),
        ])  # fmt: skip
        order = np.argsort(at)
        return at[order], s[order]

    def record(
        self, ride: TrueRide, every_s: float, noise_m: float = 2.5, drift_m: float = 3.0
    ) -> Recording:
        """The ride as a receiver records it."""
        rng, line = self.rng, ride.line
        # Clock against place: rests are jumps of time.
        place = np.concatenate([ride.knot_m, ride.rest_m, ride.rest_m])
        moving = np.interp(place, ride.knot_m, ride.knot_s)
        extra = np.concatenate([
            np.zeros(len(ride.knot_m)), np.zeros(len(ride.rest_m)), ride.rest_s,
        ])  # fmt: skip
        kind = np.concatenate([
            np.zeros(len(ride.knot_m)), np.ones(len(ride.rest_m)), np.full(len(ride.rest_m), 2.0)
        ])  # fmt: skip
        order = np.lexsort((kind, place))
        clock = moving[order] + np.cumsum(extra[order])
        times = np.arange(rng.uniform(0.0, every_s), clock[-1], every_s)
        at = np.interp(times, clock, place[order])
        lon, lat = np.interp(at, line.at_m, line.lon), np.interp(at, line.at_m, line.lat)
        keep = np.exp(-every_s / 60.0)
        drift = np.zeros((len(times), 2))
        shocks = rng.normal(0.0, drift_m, (len(times), 2))
        level = rng.normal(0.0, drift_m, 2)
        for i in range(len(times)):
            level = keep * level + np.sqrt(1 - keep**2) * shocks[i]
            drift[i] = level
        error = drift + rng.normal(0.0, noise_m, (len(times), 2))
        lat = lat + error[:, 1] / 110_574.0
        lon = lon + error[:, 0] / (111_320.0 * np.cos(np.radians(lat)))
        n = len(times)
        track = Track(
            name="ride", time_s=START_S + times, lon=np.round(lon, 6), lat=np.round(lat, 6),
            ele_m=np.full(n, np.nan), piece=np.zeros(n, dtype=np.int32), source="ride",
        )  # fmt: skip
        return Recording(track=track, from_m=float(at[0]), to_m=float(at[-1]))


def _drawn(line: Line) -> Route:
    """The line as a planner draws it, a point each 50 m."""
    at = np.append(np.arange(0.0, line.length_m, 50.0), line.length_m)
    return plain_route(np.interp(at, line.at_m, line.lon), np.interp(at, line.at_m, line.lat))


def plain_route(lon: FloatArray, lat: FloatArray, name: str = "plan") -> Route:
    n = len(lon)
    none = np.zeros(n, dtype=np.bool_)
    return Route(
        name=name, kind=RouteKind.TRACK, lon=lon, lat=lat, ele_m=np.full(n, np.nan),
        piece=np.zeros(n, dtype=np.int32), shaping=none, planned=none, source=name,
    )  # fmt: skip


__all__ = ["Habits", "Line", "Maker", "TrueRide", "plain_route"]
