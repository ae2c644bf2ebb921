"""Map matching against two general-purpose libraries, on lines whose ways are known.

Run by hand: `python -m tests.bench.matching` from the checkout. Prints, for each kind of line,
the share of the true length found, the route mismatch fraction (missed + extra over true length,
Newson and Krumm 2009), the error of the paved share (over the ways whose surface is tagged), and
points matched a second, for terrain, for the C++ hidden-Markov matcher of the pyvalhalla-weekly
wheel and for fastmm: with eight candidates within 50 m of a point, and lighter, with four within
30 m. Reading GPX and reading answers are left out of the times; all run in one process, taken in
turn, best of several passes after one that warms up.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np

from terrain.region.osm import read_osm
from terrain.stages.matching import match_route
from terrain.values.match import Match
from terrain.values.route import Route
from terrain.values.views import RoadsView
from tests.match_scoring import (
    AREAS,
    SETS,
    TrueRoute,
    known_paved,
    lines,
    paved_share,
    score,
    true_routes,
)
from tests.peers import LIGHT, Answer, Matcher, Ways, fastmm_matcher, valhalla_matcher

DATA = Path(__file__).resolve().parents[3] / "shared" / "data"
VARIANTS = tuple(v for group in SETS.values() for v in group)
PEERS = ("valhalla", "fastmm", "fastmm-light")
Case = tuple[TrueRoute, Route]
Figures = tuple[float, float, float]


def main() -> None:
    args = argparse.ArgumentParser(description=__doc__)
    args.add_argument("--peers", default=",".join(PEERS), help="libraries to compare with")
    args.add_argument("--passes", type=int, default=3, help="timed passes over each kind of line")
    args.add_argument("variants", nargs="*", default=list(VARIANTS), help="kinds of line")
    options = args.parse_args()
    extracts = {area: DATA / "match-truth" / name for area, name in AREAS.items()}
    roads = {area: read_osm((path,), lambda *_: None).roads for area, path in extracts.items()}
    paved = {area: known_paved(view) for area, view in roads.items()}
    truth = {route.name: route for route in true_routes(DATA)}
    cases: dict[str, list[Case]] = {variant: [] for variant in options.variants}
    for name, variant, route in lines(DATA):
        if variant in cases:
            cases[variant].append((truth[name], route))
    with tempfile.TemporaryDirectory() as folder:
        matchers = {"terrain": {area: terrain_matcher(view) for area, view in roads.items()}}
        for peer in (p for p in options.peers.split(",") if p):
            matchers[peer] = {
                area: peer_matcher(peer, extracts[area], roads[area], Path(folder) / peer / area)
                for area in roads
            }
        print(f"{'line':10s} {'matcher':12s} {'matched':>8s} {'rmf':>7s} {'paved err':>9s} "
              f"{'points/s':>9s} {'to terrain':>10s}")  # fmt: skip
        for variant, some in cases.items():
            compare(variant, some, matchers, paved, options.passes)


def terrain_matcher(roads: RoadsView) -> Matcher:
    def match(route: Route) -> Answer:
        return partial(_ways, match_route(route, roads))

    return match


def _ways(match: Match) -> Ways:
    return match.ways


def peer_matcher(name: str, extract: Path, roads: RoadsView, folder: Path) -> Matcher:
    folder.mkdir(parents=True)
    makers: dict[str, Callable[[], Matcher]] = {
        "valhalla": lambda: valhalla_matcher(extract, folder),
        "fastmm": lambda: fastmm_matcher(roads, folder),
        "fastmm-light": lambda: fastmm_matcher(roads, folder, LIGHT),
    }
    return makers[name]()


def compare(
    variant: str,
    cases: list[Case],
    matchers: dict[str, dict[str, Matcher]],
    paved: dict[str, dict[int, float]],
    passes: int,
) -> None:
    """Print a row for each matcher on one kind of line."""
    figures = {name: _figures(match, cases, paved) for name, match in matchers.items()}
    best = dict.fromkeys(matchers, np.inf)
    for _ in range(passes):
        for name, match in matchers.items():
            best[name] = min(best[name], _seconds(match, cases))
    n_points = sum(route.n_points for _, route in cases)
    for name, (matched, rmf, error) in figures.items():
        print(f"{variant:10s} {name:12s} {matched:8.5f} {rmf:7.4f} {error:9.3f} "
              f"{n_points / best[name]:9.0f} {best['terrain'] / best[name]:10.2f}",
              flush=True)  # fmt: skip


def _figures(
    match: dict[str, Matcher], cases: list[Case], paved: dict[str, dict[int, float]]
) -> Figures:
    """Share found, mismatch and error of the paved share, means over the routes."""
    rows = []
    for true, route in cases:
        ways = match[true.area](route)()
        found, known = score(ways, true.ways), paved[true.area]
        error = abs(paved_share(ways, known) - paved_share(true.ways, known))
        rows.append((found.matched, found.rmf, error))
    matched, rmf, error = np.mean(rows, axis=0).tolist()
    return matched, rmf, error


def _seconds(match: dict[str, Matcher], cases: list[Case]) -> float:
    spent = 0.0
    for true, route in cases:
        started = time.perf_counter()
        match[true.area](route)
        spent += time.perf_counter() - started
    return spent


if __name__ == "__main__":
    main()
