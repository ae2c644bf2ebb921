"""Speed and scale against the project's bars: one command, one table, every ratio in one run.

Run by hand: `python -m tests.bench.speed` from the checkout; with --large also the figures of a map
of sixty copies of one country (150 MB, several minutes, 2 GB of disk). Times are processor time of
one thread, or of a process with its children, and each figure is a ratio to something timed in the
same run, so that a shared machine tells much the same as a quiet one. tests/bench/README.md tells
what was found and tried.
"""

from __future__ import annotations

import argparse
import os
import resource
import shutil
import subprocess
import sys
import tarfile
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from terrain.flow import assess, open_region
from terrain.inputs.lines import parse_route
from terrain.region.build import build_region
from terrain.region.region import Region
from terrain.report.data.jsonfile import render_json
from terrain.stages.matching import match_route, other_ways
from terrain.values.route import Route
from tests.bench.matching import DATA, peer_matcher, terrain_matcher
from tests.bench.speed_maps import copied_map
from tests.match_scoring import AREAS, TrueRoute, lines, true_routes
from tests.peers import Matcher

ROOT = Path(__file__).resolve().parents[2]
_COPIES = 60
_COMPILED = Path(tempfile.gettempdir()) / "terrain-bench-modules"
Case = tuple[TrueRoute, Route]


@dataclass(frozen=True)
class Figure:
    """One row of the table: what was found, against its bar."""

    what: str
    bar: str
    found: float
    unit: str = ""

    def __str__(self) -> str:
        limit = float(self.bar.split()[1])
        met = self.found >= limit if self.bar[0] == ">" else self.found <= limit
        sign = "met" if met else "NOT MET"
        return f"{self.what:62s} {self.bar:>8s} {self.found:9.2f} {self.unit:3s} {sign}"


def least_s(work: Callable[[], object], passes: int = 3) -> float:
    """Processor time of this thread, the least of several passes after one that warms up [s]."""
    work()
    spent = []
    for _ in range(passes):
        start = time.thread_time()
        work()
        spent.append(time.thread_time() - start)
    return min(spent)


def process_s(*args: str, **surroundings: str) -> float:
    """Processor time of a Python process and its children, the least of three [s]."""
    return min(_process_s(args, surroundings) for _ in range(3))


def _process_s(args: tuple[str, ...], surroundings: dict[str, str]) -> float:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    # Modules are compiled once, as on a machine of somebody's own.
    kept = {"PYTHONDONTWRITEBYTECODE": "", "PYTHONPYCACHEPREFIX": str(_COMPILED)}
    env = os.environ | {"PYTHONPATH": str(ROOT)} | kept | surroundings
    subprocess.run([sys.executable, *args], env=env, check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


# -- matching ------------------------------------------------------------------------------------

_OVER_FASTMM = {
    "clean10": ">= 2.5", "clean50": ">= 1.3", "clean200": ">= 0.9", "noisy5": ">= 1.5",
    "noisy15": ">= 1.5", "via2000": ">= 0.6",
}  # fmt: skip


def matching(cases: dict[str, list[Case]], regions: dict[str, Region]) -> Iterator[Figure]:
    extracts = {area: DATA / "match-truth" / name for area, name in AREAS.items()}
    with tempfile.TemporaryDirectory() as folder:
        ours = {area: terrain_matcher(region.roads) for area, region in regions.items()}
        theirs: dict[str, dict[str, Matcher]] = {
            peer: {
                area: peer_matcher(
                    peer, extracts[area], regions[area].roads, Path(folder) / peer / area
                )
                for area in regions
            }
            for peer in ("fastmm", "valhalla")
        }
        for variant, bar in _OVER_FASTMM.items():
            mine = _match_s(ours, cases[variant])
            other = _match_s(theirs["fastmm"], cases[variant])
            yield Figure(f"{variant}: points a second over fastmm", bar, other / mine)
        mine = _match_s(ours, cases["clean10"])
        other = _match_s(theirs["valhalla"], cases["clean10"])
        yield Figure("dense: over the C++ matcher of pyvalhalla-weekly", ">= 3", other / mine)
    gaps = [(match_route(r, regions[t.area].roads), t.area) for t, r in cases["via5000"]]
    others = least_s(
        lambda: [
            other_ways(match, regions[area].roads, regions[area].ground) for match, area in gaps
        ]
    )
    yield Figure(
        "via5000: other ways over match", "<= 1", others / _match_s(ours, cases["via5000"])
    )


def _match_s(matchers: dict[str, Matcher], cases: list[Case]) -> float:
    return least_s(lambda: [matchers[true.area](route) for true, route in cases])


# -- reports -------------------------------------------------------------------------------------


def reports(cases: dict[str, list[Case]], region: Region) -> Iterator[Figure]:
    """Reports on lines of one country."""
    andorra = {v: [route for true, route in cases[v] if true.area == "andorra"][:6] for v in cases}
    dense, sparse = (
        least_s(lambda v=variant: [assess(route, region) for route in andorra[v]], 2)  # type: ignore[misc]
        for variant in ("clean10", "via5000")
    )
    yield Figure("a report on stops 5 km apart over the dense line's", "<= 1.5", sparse / dense)
    long = there_and_back(andorra["clean10"][0], 1_000_000.0, 50_000, region)
    told = least_s(lambda: render_json(assess(long, region)))
    laid = least_s(lambda: match_route(long, region.roads))
    yield Figure("1,000 km, 50,000 points: report and JSON over its match", "<= 6", told / laid)


def there_and_back(route: Route, length_m: float, n_points: int, region: Region) -> Route:
    """A ride to and fro on a line until it is so long, with points evenly apart."""
    match = match_route(route, region.roads)
    at_m = np.linspace(0.0, length_m, n_points)
    turn = at_m % (2.0 * match.length_m)
    lon, lat = match.lonlat(np.minimum(turn, 2.0 * match.length_m - turn))
    return Route(
        name="to and fro", kind=route.kind, lon=lon, lat=lat, ele_m=np.full(n_points, np.nan),
        piece=np.zeros(n_points, np.int32), shaping=np.zeros(n_points, bool),
        planned=np.zeros(n_points, bool),
    )  # fmt: skip


# -- reading -------------------------------------------------------------------------------------


def reading() -> Iterator[Figure]:
    for what, bar, data in (
        ("50,000 points: read over gpxpy", "<= 0.9", _dense_gpx(50_000)),
        ("2,762 tracks of two points: read over gpxpy", "<= 15", _legs_gpx(2_762)),
    ):
        theirs = min(_gpxpy_s(data, lxml) for lxml in (False, True))
        yield Figure(what, bar, least_s(lambda d=data: parse_route(d, "a.gpx")) / theirs)  # type: ignore[misc]


def _gpxpy_s(data: bytes, lxml: bool) -> float:
    """gpxpy's own time, with the parser of the standard library or with lxml."""
    import xml.etree.ElementTree

    import gpxpy.parser

    chosen = gpxpy.parser.mod_etree
    try:
        if not lxml:
            gpxpy.parser.mod_etree = xml.etree.ElementTree
        return least_s(lambda: gpxpy.parse(data.decode()))
    finally:
        gpxpy.parser.mod_etree = chosen


def _dense_gpx(n: int) -> bytes:
    rng = np.random.default_rng(1)
    lat, lon = 42 + np.cumsum(rng.normal(0, 1e-4, n)), 1.5 + np.cumsum(rng.uniform(0, 1e-4, n))
    points = (
        f'<trkpt lat="{a:.6f}" lon="{b:.6f}"><ele>{1000 + i % 50:.1f}</ele></trkpt>\n'
        for i, (a, b) in enumerate(zip(lat, lon, strict=True))
    )
    return _gpx(f"<trk><trkseg>{''.join(points)}</trkseg></trk>")


def _legs_gpx(n: int) -> bytes:
    lon, lat = -90 + 0.02 * np.arange(n + 1), 42 + 3 * np.sin(np.arange(n + 1) / 300)
    point = [f'<trkpt lat="{a:.6f}" lon="{b:.6f}"/>' for a, b in zip(lat, lon, strict=True)]
    legs = (f"<trk><trkseg>{point[i]}{point[i + 1]}</trkseg></trk>\n" for i in range(n))
    return _gpx("".join(legs))


def _gpx(body: str) -> bytes:
    head = '<gpx version="1.1" creator="a bench" xmlns="http://www.topografix.com/GPX/1/1">'
    return f'<?xml version="1.0"?>\n{head}{body}</gpx>'.encode()


# -- processes -----------------------------------------------------------------------------------

_IMPORTS = "import numpy, numba, scipy.spatial"
_REPORT = """
import resource, sys
from terrain.cli import main
status = main(["report", sys.argv[1], "--region", sys.argv[2], "--out", sys.argv[3]])
held = open("/proc/self/smaps_rollup").read().split("Anonymous:")[1].split()[0]
open(sys.argv[3] + "/anonymous", "w").write(held)
sys.exit(status)
"""


def processes(home: Path) -> Iterator[Figure]:
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        route = _line_file("andorra-005.clean10.gpx", folder)
        args = ("-c", _REPORT, str(route), str(home / "regions" / "andorra"), str(folder))
        told = process_s(*args, TERRAIN_HOME=str(home))
        yield Figure(
            "a report as a process over importing numpy, numba, scipy.spatial", "<= 2.5",
            told / process_s("-c", _IMPORTS),
        )  # fmt: skip
        yield Figure(
            "anonymous memory of that process", "<= 130",
            int((folder / "anonymous").read_text()) / 1024, "MB",
        )  # fmt: skip
        cold = _demo_s(folder / "cold", folder / "kernels")
        warm = min(_demo_s(folder / f"warm{k}", folder / "kernels") for k in range(2))
        yield Figure("demo with cold kernels over warm", "<= 7", cold / warm)


def _demo_s(home: Path, kernels: Path) -> float:
    home.mkdir()
    return _process_s(
        ("-m", "terrain", "demo", "--out", str(home / "out")),
        {"TERRAIN_HOME": str(home), "NUMBA_CACHE_DIR": str(kernels)},
    )


def _line_file(name: str, folder: Path) -> Path:
    with tarfile.open(DATA / "match-truth" / "gpx.tar.gz") as tar:
        member = next(m for m in tar if m.name.endswith(name))
        stream = tar.extractfile(member)
        assert stream is not None
        path = folder / name
        path.write_bytes(stream.read())
    return path


# -- building ------------------------------------------------------------------------------------

_BARE = """
import sys, osmium
osmium.apply(sys.argv[1], osmium.filter.EmptyTagFilter())
"""
_BUILD = """
import resource, sys
from pathlib import Path
from terrain.cli import main
status = main(["region", "build", "large", "--osm", sys.argv[1], "--replace"])
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
sys.exit(status)
"""


def large(extract: Path, small: Region, cases: list[Case], folder: Path) -> Iterator[Figure]:
    """The figures of a map of sixty copies of a country; the first copy lies where it lay."""
    copied = folder / "copies.osm.pbf"
    copied_map(extract, _COPIES, copied)
    home = folder / "large"
    bare = _process_s(("-c", _BARE, str(copied)), {})
    env = os.environ | {"PYTHONPATH": str(ROOT), "TERRAIN_HOME": str(home)}
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(
        [sys.executable, "-c", _BUILD, str(copied)], env=env, check=True, capture_output=True,
        text=True,
    )  # fmt: skip
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    size = copied.stat().st_size / 1e6
    yield Figure(f"import of {size:.0f} MB over a bare pass", "<= 7", spent / bare)
    peak = int(done.stdout.split()[-1]) / 2**20
    yield Figure("peak of that import", "<= 1.1", peak, "GB")
    region = open_region("large", home)
    routes = [route for true, route in cases if true.area == "andorra"][:6]
    here, there = (
        least_s(lambda r=one: [assess(route, r) for route in routes], 2)  # type: ignore[misc]
        for one in (small, region)
    )
    yield Figure(f"a report in a region {_COPIES} times as large", "<= 1.1", there / here)


def main() -> None:
    args = argparse.ArgumentParser(description=__doc__)
    args.add_argument("--large", action="store_true", help="with the map of sixty copies")
    args.add_argument("parts", nargs="*", help="matching, reports, reading, processes; all if none")
    options = args.parse_args()
    folder = Path(tempfile.mkdtemp())
    try:
        home = folder / "home"
        for area, name in AREAS.items():
            dem = (DATA / "dem" / "N42E001.hgt.zip",) if area == "andorra" else ()
            build_region(area, (DATA / "match-truth" / name,), dem, home=home)
        regions = {area: open_region(area, home) for area in AREAS}
        truth = {route.name: route for route in true_routes(DATA)}
        cases: dict[str, list[Case]] = {}
        for name, variant, route in lines(DATA):
            cases.setdefault(variant, []).append((truth[name], route))
        parts: dict[str, Callable[[], Iterator[Figure]]] = {
            "matching": lambda: matching(cases, regions),
            "reports": lambda: reports(cases, regions["andorra"]),
            "reading": reading,
            "processes": lambda: processes(home),
        }
        if options.large:
            extract = DATA / "match-truth" / AREAS["andorra"]
            parts["large"] = lambda: large(extract, regions["andorra"], cases["clean10"], folder)
        for part, figures in parts.items():
            if not options.parts or part in options.parts:
                for figure in figures():
                    print(figure, flush=True)
    finally:
        shutil.rmtree(folder)


if __name__ == "__main__":
    main()
