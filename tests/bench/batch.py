"""Many routes at once: two processes against one, a cluster against both, memory as they grow.

Run by hand: python -m tests.bench.batch [ROUTES]. The region holds Andorra, Malta and the Faroes;
each ride is the quickest way between two random places of one of them. Whole seconds are told
beside processor time, since only a quiet machine has two cores to give.
"""

from __future__ import annotations

import hashlib
import itertools
import os
import resource
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from scipy import sparse
from scipy.sparse.csgraph import dijkstra

from terrain.batch import Order, find_routes, run_batch
from terrain.calc.geodesy import steps_m
from terrain.flow import open_region
from terrain.region.build import build_region
from terrain.report.files import write_whole
from terrain.values.arrays import FloatArray, IntArray
from terrain.values.trip import Trip
from terrain.values.views import NEVER_PROPOSED, RoadsView
from tests.bench.help import EXTRACTS
from tests.test_batch import Cluster

ROOT = Path(__file__).resolve().parents[2]
DATA = ROOT.parent / "shared" / "data"
MADE_AT = datetime(2027, 2, 1, 9, 0, tzinfo=UTC)
_LEAST_M, _MOST_M, _SPACING_M = 15_000.0, 120_000.0, 30.0


def mixed_region(home: Path) -> Path:
    """One region of three countries, its folder."""
    dem = tuple(DATA / "dem" / f"{tile}.hgt.zip" for tile in ("N42E001", "N41E001"))
    build_region("mixed", tuple(DATA / "osm" / name for name in EXTRACTS), dem, home=home)
    return home / "regions" / "mixed"


def write_rides(roads: RoadsView, n: int, folder: Path) -> None:
    """n rides as GPX files, each the shortest way between two random places."""
    random = np.random.default_rng(1)
    folder.mkdir(parents=True)
    use = np.flatnonzero((roads.ways.flags[roads.edge_way] & int(NEVER_PROPOSED)) == 0)
    use = use[np.argsort(-roads.edge_length_m[use])]  # of parallel edges the shortest is kept
    u, v = roads.edge_u[use], roads.edge_v[use]
    ends = np.c_[np.r_[u, v], np.r_[v, u]].tolist()
    edge_of = {(a, b): e for (a, b), e in zip(ends, [*use, *use], strict=True)}
    keys = np.array(list(edge_of))
    length = np.maximum(roads.edge_length_m[list(edge_of.values())], 1e-3)
    size = (roads.n_nodes, roads.n_nodes)
    graph = sparse.csr_matrix((length, (keys[:, 0], keys[:, 1])), shape=size)
    made = 0
    while made < n:
        start = int(random.choice(u))
        far, before = dijkstra(graph, indices=start, return_predecessors=True, limit=_MOST_M)
        there = np.flatnonzero(np.isfinite(far) & (far > _LEAST_M))
        for goal in random.choice(there, min(len(there), 5)).tolist():
            nodes = [goal]
            while before[nodes[-1]] >= 0:
                nodes.append(int(before[nodes[-1]]))
            points = [_points(roads, edge_of[a, b], a) for a, b in itertools.pairwise(nodes)]
            if made < n:
                point = np.concatenate(points)
                text = _gpx(roads.pt_lon[point], roads.pt_lat[point])
                (folder / f"ride-{made:05d}.gpx").write_text(text, encoding="utf-8")
                made += 1


def _points(roads: RoadsView, edge: int, tail: int) -> IntArray:
    points = np.arange(roads.edge_start[edge], roads.edge_start[edge + 1])
    return points if roads.edge_u[edge] == tail else points[::-1]


def _gpx(lon: FloatArray, lat: FloatArray) -> str:
    at_m = np.r_[0.0, np.cumsum(steps_m(lon, lat))]
    mark = np.arange(0.0, at_m[-1], _SPACING_M)
    points = zip(np.interp(mark, at_m, lat), np.interp(mark, at_m, lon), strict=True)
    drawn = "".join(f'<trkpt lat="{a:.6f}" lon="{b:.6f}"/>' for a, b in points)
    head = '<gpx version="1.1" creator="a bench" xmlns="http://www.topografix.com/GPX/1/1">'
    return f"{head}<trk><trkseg>{drawn}</trkseg></trk></gpx>"


@dataclass(frozen=True)
class Run:
    """One batch: seconds by the clock and of processors, anonymous memory [MB] of the process that
    started it after a tenth of the routes and at the end, and the sum of its files."""

    wall_s: float
    cpu_s: float
    early_mb: float
    late_mb: float
    sum: str


def run(region: Path, rides: Path, out: Path, how: str) -> Run:
    """A batch in a process of its own. how : a number of workers, or a scheduler's address"""
    env = os.environ | {"PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-m", "tests.bench.batch", "run", str(region), str(rides), str(out)]
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
    done = subprocess.run([*command, how], env=env, check=True, capture_output=True, text=True)
    wall_s, after = time.monotonic() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    early, late = (float(word) for word in done.stdout.split())
    whole = hashlib.sha256()
    for path in sorted(out.iterdir()):
        whole.update(path.name.encode() + path.read_bytes())
    cpu_s = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return Run(wall_s, cpu_s, early, late, whole.hexdigest()[:16])


def _run(region: str, rides: str, out: str, how: str) -> None:
    order = Order(region=Path(region), trip=Trip(), formats=("html", "json"), made_at=MADE_AT)
    workers, scheduler = (int(how), None) if how.isdigit() else (1, how)
    routes, early = find_routes([Path(rides)]), 0.0
    outcomes = run_batch(routes, order, workers=workers, scheduler=scheduler)
    for n, outcome in enumerate(outcomes):
        for name, data in outcome.files or ((f"{outcome.name}.error", outcome.error.encode()),):
            write_whole(Path(out) / name, data)
        if n == len(routes) // 10:
            early = _anonymous_mb()
    print(early, _anonymous_mb())


def _anonymous_mb() -> float:
    told = Path("/proc/self/smaps_rollup").read_text()
    return int(told.partition("Anonymous:")[2].split()[0]) / 1024


def print_table(region: Path, rides: Path, folder: Path) -> None:
    one = run(region, rides, folder / "one", "1")
    two = run(region, rides, folder / "two", "2")
    print("one process   ", one)
    print("two processes ", two)
    print(f"by the clock {one.wall_s / two.wall_s:.2f} times as quick")
    print(f"with two cores to themselves {2 * one.cpu_s / two.cpu_s:.2f} times at most")
    print("same bytes:", one.sum == two.sum, flush=True)
    cluster = Cluster(2)
    try:
        both = run(region, rides, folder / "dask", cluster.address)
    finally:
        cluster.stop()
    print("Dask, two workers", both, f"same bytes: {one.sum == both.sum}")


def main(n: int) -> None:
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        region = mixed_region(folder / "home")
        write_rides(open_region(region).roads, n, folder / "rides")
        print_table(region, folder / "rides", folder)


if __name__ == "__main__":
    if sys.argv[1:2] == ["run"]:
        _run(*sys.argv[2:])
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
