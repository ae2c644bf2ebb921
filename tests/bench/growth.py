"""How time and memory grow with points, length, edges and gaps, and by which exponents.

Run by hand: python -m tests.bench.growth. Times are processor time of one thread, the least of two;
an exponent is the slope over the logarithms, 1 for twice the time on twice as much.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from terrain.flow import assess, open_region
from terrain.region.build import build_region
from terrain.region.region import Region
from terrain.stages.matching import match_route, other_ways
from terrain.values.route import Route
from tests.bench.matching import DATA
from tests.bench.sparse import route_of
from tests.bench.speed import least_s, there_and_back
from tests.bench.speed_maps import copied_map
from tests.match_scoring import AREAS, lines

_COPIES = (1, 4, 16)


def exponent(sizes: Sequence[float], seconds: Sequence[float]) -> float:
    return float(np.polyfit(np.log(sizes), np.log(seconds), 1)[0])


def table(what: str, sizes: Sequence[float], work: Callable[[float], Callable[[], object]]) -> None:
    spent = [least_s(work(size), 2) for size in sizes]
    told = "  ".join(f"{n:,.0f}: {s:.3f} s" for n, s in zip(sizes, spent, strict=True))
    print(f"{what:44s} {told}  exponent {exponent(sizes, spent):.2f}", flush=True)


def main() -> None:
    route = next(r for name, kind, r in lines(DATA) if kind == "clean10" and "andorra" in name)
    extract = DATA / "match-truth" / AREAS["andorra"]
    with tempfile.TemporaryDirectory() as made:
        home = Path(made)
        build_region("one", (extract,), (), home=home)
        region = open_region("one", home)
        _rides(route, region)
        _regions(route, extract, home)


def _rides(route: Route, region: Region) -> None:
    drawn = {
        n: there_and_back(route, 10.0 * n, int(n), region) for n in (5_000.0, 20_000.0, 80_000.0)
    }
    table("match, by points each 10 m", list(drawn), lambda n: (
        lambda: match_route(drawn[n], region.roads)
    ))  # fmt: skip
    table("report, by points each 10 m", list(drawn)[:2], lambda n: (
        lambda: assess(drawn[n], region)
    ))  # fmt: skip
    sparse = {}
    for n in (20.0, 80.0, 320.0):
        long = there_and_back(route, 2_000.0 * n, int(200 * n), region)
        sparse[n] = match_route(route_of(long.lon, long.lat, 2_000.0, planned=True), region.roads)
    table("other ways, by gaps of 2 km", list(sparse), lambda n: (
        lambda: other_ways(sparse[n], region.roads)
    ))  # fmt: skip


def _regions(route: Route, extract: Path, home: Path) -> None:
    regions: dict[float, Region] = {}

    def build(copies: float) -> object:
        source = home / f"{copies:.0f}.osm.pbf"
        if not source.exists():
            copied_map(extract, int(copies), source)
        name = f"copies-{copies:.0f}"
        build_region(name, (source,), (), home=home, replace=True)
        regions[copies] = open_region(name, home)
        return regions[copies]

    table("region build, by copies of a country", _COPIES, lambda n: lambda: build(n))
    edges = {float(one.roads.n_edges): one for one in regions.values()}
    table("report, by edges of the region", list(edges), lambda n: (
        lambda: assess(route, edges[n])
    ))  # fmt: skip
    for one in regions.values():
        size = sum(path.stat().st_size for path in one.pack.rglob("*") if path.is_file())
        print(f"{one.roads.n_edges:,} edges: {size / 1e6:.0f} MB on disk")


if __name__ == "__main__":
    main()
