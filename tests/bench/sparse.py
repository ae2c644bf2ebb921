"""Rides drawn with a point each 2 or 5 km against the same rides drawn in full.

Run: python -m tests.bench.sparse [RIDES [SEED]]   (drawn for each area; 90 if not told)

Rides: the routes of known ways of the shared data, and rides drawn here over the same two maps:
by the cheapest way between random junctions, a third of them by way of tracks and fond of them.
Each has a taste of its own for every class of road (plausible speed times e to a normal number of
spread .4), so that none is chosen by the weights the matcher goes by. Each is drawn every 10 m,
and as a planned route with a point each 2 and 5 km.

Told for each spacing: of the rides with a firm answer in full, the share that gets the same one;
how many get the opposite; of those that are open in full, the share made firm; the share of rides
whose interval of the paved share holds that of the ride in full, and its width; the time a report
takes against that of the ride in full.
"""

from __future__ import annotations

import itertools
import os
import sys
import tarfile
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.csgraph import dijkstra

import terrain
from terrain.calc.geodesy import steps_m
from terrain.cli import main as terrain_main
from terrain.region.region import Region
from terrain.values.advice import SetupChoice
from terrain.values.arrays import FloatArray, IntArray
from terrain.values.ground import GroundKind
from terrain.values.route import Route, RouteKind
from terrain.values.views import NEVER_PROPOSED, RoadsView
from tests.match_scoring import AREAS, plain_route

SHARED = Path(__file__).resolve().parents[3] / "shared" / "data" / "match-truth"
SPACINGS_M = (2000.0, 5000.0)
RIDES = 90
SHORTEST_M, LONGEST_M = 15_000.0, 70_000.0
_TASTE = 0.4
_FOND = 6.0  # rides by way of tracks go as if tracks were so much faster
_KPH = {
    "motorway": 100.0, "trunk": 80.0, "primary": 70.0, "secondary": 65.0, "tertiary": 55.0,
    "unclassified": 45.0, "residential": 35.0, "track": 25.0, "service": 20.0,
}  # fmt: skip
#: What is asked at each spacing: same answer at least, open made firm at most, width at most.
BARS = {2000.0: (0.75, 0.10, 0.09), 5000.0: (0.70, 0.20, 0.14)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What one report says: the setup, the paved share and its interval, what it cost."""

    choice: SetupChoice
    paved: float
    low: float
    high: float
    cost_s: float


def drawn_rides(roads: RoadsView, n: int, seed: int) -> Iterator[tuple[FloatArray, FloatArray]]:
    """Lines (lon, lat) of n rides over whole edges."""
    random = np.random.default_rng(seed)
    values = roads.ways.highway.values
    way = roads.edge_way
    codes = roads.ways.highway.codes[way]
    base = np.array([_KPH.get(v.removesuffix("_link"), 0.0) for v in values])
    use = (base[codes] > 0) & ((roads.ways.flags[way] & int(NEVER_PROPOSED)) == 0)
    track = values.index("track")
    tracks = np.flatnonzero(use & (codes == track))
    made = 0
    while made < n:
        taste = np.maximum(base, 1.0) * np.exp(random.normal(0.0, _TASTE, len(base)))
        stops = random.choice(roads.edge_u[use], 2).tolist()
        if made % 3 == 0:
            taste[track] *= _FOND
            stops[1:1] = roads.edge_u[random.choice(tracks, 2 + made % 4)].tolist()
        graph, edge_of = _graph(roads, np.flatnonzero(use), roads.edge_length_m / taste[codes])
        edges: list[tuple[int, bool]] = []
        for a, b in itertools.pairwise(stops):
            edges += _path(graph, edge_of, int(a), int(b))
        length = sum(float(roads.edge_length_m[e]) for e, _ in edges)
        if SHORTEST_M <= length <= LONGEST_M:
            made += 1
            yield _line(roads, edges)


_EdgeOf = dict[tuple[int, int], tuple[int, bool]]


def _graph(roads: RoadsView, use: IntArray, cost: FloatArray) -> tuple[sparse.csr_matrix, _EdgeOf]:
    edge_of: _EdgeOf = {}
    for e in use.tolist():
        u, v = int(roads.edge_u[e]), int(roads.edge_v[e])
        oneway = int(roads.ways.oneway[roads.edge_way[e]])
        for key, ahead, shut in (((u, v), True, -1), ((v, u), False, 1)):
            if oneway != shut and (key not in edge_of or cost[e] < cost[edge_of[key][0]]):
                edge_of[key] = (e, ahead)
    keys = np.asarray(list(edge_of), dtype=np.int64)
    weight = np.maximum(cost[[e for e, _ in edge_of.values()]], 1e-6)
    n = roads.n_nodes
    return sparse.csr_matrix((weight, (keys[:, 0], keys[:, 1])), shape=(n, n)), edge_of


def _path(graph: sparse.csr_matrix, edge_of: _EdgeOf, a: int, b: int) -> list[tuple[int, bool]]:
    _, back = dijkstra(graph, indices=a, return_predecessors=True)
    edges = []
    while b != a and back[b] >= 0:
        edges.append(edge_of[int(back[b]), b])
        b = int(back[b])
    return edges[::-1] if b == a else []


def _line(roads: RoadsView, edges: list[tuple[int, bool]]) -> tuple[FloatArray, FloatArray]:
    lon, lat = [], []
    for e, ahead in edges:
        points = slice(int(roads.edge_start[e]), int(roads.edge_start[e + 1]))
        step = 1 if ahead else -1
        lon.append(roads.pt_lon[points][::step])
        lat.append(roads.pt_lat[points][::step])
    return np.concatenate(lon), np.concatenate(lat)


def route_of(lon: FloatArray, lat: FloatArray, spacing_m: float, *, planned: bool) -> Route:
    """The line with a point each so many metres, its ends kept."""
    at_m = np.r_[0.0, np.cumsum(steps_m(lon, lat))]
    n = max(1, round(at_m[-1] / spacing_m))
    mark = np.minimum(np.arange(n + 1) * spacing_m, at_m[-1])
    mark[-1] = at_m[-1]
    k = len(mark)
    return Route(
        name="", kind=RouteKind.ROUTE if planned else RouteKind.TRACK,
        lon=np.interp(mark, at_m, lon), lat=np.interp(mark, at_m, lat), ele_m=np.full(k, np.nan),
        piece=np.zeros(k, np.int32), shaping=np.zeros(k, np.bool_),
        planned=np.full(k, planned),
    )  # fmt: skip


def known_lines(area: str) -> Iterator[tuple[FloatArray, FloatArray]]:
    """The lines of the routes of known ways, drawn every 10 m."""
    with tarfile.open(SHARED / "gpx.tar.gz") as packed:
        for member in packed:
            if f"{area}-" in member.name and member.name.endswith(".clean10.gpx"):
                stream = packed.extractfile(member)
                assert stream is not None
                route = plain_route(stream.read().decode())
                yield route.lon, route.lat


def rides(region: Region, area: str, n: int, seed: int) -> Iterator[dict[float, Route]]:
    """Each ride drawn in full (key 0) and at each spacing."""
    for lon, lat in [*known_lines(area), *drawn_rides(region.roads, n, seed=seed + len(area))]:
        yield {
            0.0: route_of(lon, lat, 10.0, planned=False),
            **{m: route_of(lon, lat, m, planned=True) for m in SPACINGS_M},
        }


def seen(route: Route, region: Region) -> Seen:
    start = time.process_time()
    report = terrain.assess(replace(route, name="ride"), region)
    cost_s = time.process_time() - start
    shares, setup = report.assessed.ground.shares, report.assessed.advice.setup
    assert shares is not None
    paved = shares[GroundKind.PAVED]
    return Seen(
        choice=setup.choice, paved=paved.best, low=paved.low, high=paved.high, cost_s=cost_s
    )


def build_regions(home: Path) -> dict[str, Region]:
    os.environ["TERRAIN_HOME"] = str(home)
    out = {}
    for area, extract in AREAS.items():
        if not (home / "regions" / area).exists():
            terrain_main(["region", "build", area, "--osm", str(SHARED / extract)])
        out[area] = terrain.open_region(area, home)
    return out


def print_table(rows: list[dict[float, Seen]]) -> None:
    full = [row[0.0] for row in rows]
    off = sum(one.choice is SetupChoice.OFF_ROAD for one in full)
    firm = [one.choice is not SetupChoice.ASK for one in full]
    print(f"{len(rows)} rides, {sum(firm)} with a firm answer in full, {off} of them off-road")
    print("points  same  opposite  open made firm  interval holds  width  cost")
    for m in SPACINGS_M:
        own = [row[m] for row in rows]
        same = [a.choice is b.choice for a, b, f in zip(full, own, firm, strict=True) if f]
        opposite = sum(
            SetupChoice.ASK not in (a.choice, b.choice) and a.choice is not b.choice
            for a, b in zip(full, own, strict=True)
        )
        made = [b.choice is not SetupChoice.ASK for b, f in zip(own, firm, strict=True) if not f]
        held = [b.low - 0.005 <= a.paved <= b.high + 0.005 for a, b in zip(full, own, strict=True)]
        width = np.mean([b.high - b.low for b in own])
        cost = np.median([b.cost_s / a.cost_s for a, b in zip(full, own, strict=True)])
        print(f"{m / 1000:.0f} km    {np.mean(same):.3f}  {opposite:8d}  {np.mean(made):14.3f}"
              f"  {np.mean(held):14.3f}  {width:.3f}  {cost:.2f}")  # fmt: skip


def main(arguments: list[str]) -> None:
    n, seed = (*(int(a) for a in arguments), *(RIDES, 0)[len(arguments) :])
    with tempfile.TemporaryDirectory() as folder:
        regions = build_regions(Path(folder))
        rows = {
            area: [
                {m: seen(route, region) for m, route in ride.items()}
                for ride in rides(region, area, n, seed)
            ]
            for area, region in regions.items()
        }
        for area, own in rows.items():
            print(area, end=": ")
            print_table(own)
        print("all", end=": ")
        print_table([row for own in rows.values() for row in own])


if __name__ == "__main__":
    main(sys.argv[1:])
