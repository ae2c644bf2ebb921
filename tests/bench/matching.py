"""Map matching against two general-purpose libraries, on lines whose ways are known.

Run by hand: `python -m tests.bench.matching` from the checkout. Prints, for each kind of line,
the share of the true length found, the route mismatch fraction (missed + extra over true length,
Newson and Krumm 2009), the error of the paved share, and points matched a second, for terrain,
for the C++ hidden-Markov matcher of the pyvalhalla-weekly wheel and for fastmm. Reading GPX is
left out of the times; all run in one process, taken in turn, best of three passes.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from terrain.region.osm import read_osm
from terrain.stages.ground import fit_way_ground
from terrain.stages.matching import lay_route
from terrain.values.match import Match
from terrain.values.route import Route
from terrain.values.views import RoadsView, WayFlag
from tests.match_scoring import (
    AREAS,
    SETS,
    TrueRoute,
    lines,
    paved_share,
    score,
    true_routes,
)

DATA = Path(__file__).resolve().parents[3] / "shared" / "data"
VARIANTS = tuple(v for group in SETS.values() for v in group)
TIMED = ("clean10", "clean50", "noisy15")
Ways = list[tuple[int, float]]
Matcher = Callable[[Route, str], Callable[[], Ways]]  # matches; the rest only reads the answer


def main() -> None:
    args = argparse.ArgumentParser(description=__doc__)
    args.add_argument("--peers", default="valhalla,fastmm", help="libraries to compare with")
    args.add_argument("variants", nargs="*", default=list(VARIANTS))
    options = args.parse_args()
    truth = {r.name: r for r in true_routes(DATA)}
    roads, paved = {}, {}
    for area, extract in AREAS.items():
        found = read_osm((DATA / "match-truth" / extract,), lambda *_: None)
        roads[area] = found.roads
        ground = fit_way_ground(found.roads, found.places)
        ids = found.roads.ways.way_id
        paved[area] = dict(zip(ids.tolist(), ground.p[:, 0].tolist(), strict=True))
    cases = {v: [] for v in options.variants}
    for name, variant, route in lines(DATA):
        if variant in cases:
            cases[variant].append((truth[name], route))
    with tempfile.TemporaryDirectory() as folder:
        matchers: dict[str, Matcher] = {
            "terrain": lambda route, area: partial(_ways, lay_route(route, roads[area]))
        }
        if "valhalla" in options.peers:
            matchers["valhalla"] = valhalla_matcher(Path(folder))
        if "fastmm" in options.peers:
            matchers["fastmm"] = fastmm_matcher(roads, Path(folder))
        report(cases, matchers, paved)


def report(
    cases: dict[str, list[tuple[TrueRoute, Route]]],
    matchers: dict[str, Matcher],
    paved: dict[str, dict[int, float]],
) -> None:
    print(f"{'line':10s} {'matcher':9s} {'matched':>8s} {'rmf':>7s} {'paved err':>9s} "
          f"{'points/s':>9s} {'to terrain':>10s}")  # fmt: skip
    for variant, routes in cases.items():
        speed = {}
        for name, match in matchers.items():
            rows, best = [], np.inf
            for turn in range(3 if variant in TIMED else 1):
                spent = 0.0
                for true, route in routes:
                    started = time.perf_counter()
                    answer = match(route, true.area)
                    spent += time.perf_counter() - started
                    if turn:
                        continue
                    ways = answer()
                    s = score(ways, true.ways)
                    share = paved[true.area]
                    error = abs(paved_share(ways, share) - paved_share(true.ways, share))
                    rows.append((s.matched, s.rmf, error))
                best = min(best, spent)
            mean = np.mean(rows, axis=0)
            speed[name] = sum(r.n_points for _, r in routes) / best
            print(f"{variant:10s} {name:9s} {mean[0]:8.5f} {mean[1]:7.4f} {mean[2]:9.3f} "
                  f"{speed[name]:9.0f} {speed[name] / speed['terrain']:10.2f}")  # fmt: skip


def _ways(match: Match) -> Ways:
    return match.ways


def valhalla_matcher(folder: Path) -> Matcher:
    """The matcher of pyvalhalla-weekly with motorcycle costing and trails allowed."""
    import valhalla

    tool = Path(valhalla.__file__).parent / "bin" / "valhalla_build_tiles"
    actors = {}
    for area, extract in AREAS.items():
        tiles = folder / area
        tiles.mkdir()
        config = valhalla.get_config(tile_extract="", tile_dir=tiles)
        config["service_limits"]["trace"].update(max_shape=200_000, max_distance=1e9)
        path = folder / f"{area}.json"
        path.write_text(json.dumps(config))
        subprocess.run(
            [tool, "-c", path, DATA / "match-truth" / extract],
            check=True,
            capture_output=True,
            cwd=folder,
        )
        actors[area] = valhalla.Actor(str(path))

    def match(route: Route, area: str) -> Callable[[], Ways]:
        request = {
            "shape": [
                {"lat": y, "lon": x}
                for x, y in zip(route.lon.tolist(), route.lat.tolist(), strict=True)
            ],
            "costing": "motorcycle",
            "costing_options": {"motorcycle": {"use_trails": 1}},
            "shape_match": "map_snap",
            "filters": {
                "attributes": ["edge.way_id", "edge.length", "edge.source_percent_along",
                               "edge.target_percent_along"],
                "action": "include",
            },
        }  # fmt: skip
        try:
            found = actors[area].trace_attributes(request)
        except RuntimeError:
            return list
        return partial(_edge_lengths, found["edges"])

    return match


def _edge_lengths(edges: list[dict[str, float]]) -> Ways:
    return [
        (int(e["way_id"]), 1000.0 * e["length"]
         * (e.get("target_percent_along", 1.0) - e.get("source_percent_along", 0.0)))
        for e in edges
    ]  # fmt: skip


def fastmm_matcher(roads: dict[str, RoadsView], cache: Path) -> Matcher:
    """fastmm over the same edges, in a flat frame of metres."""
    import fastmm

    matchers, frames, ids = {}, {}, {}
    networks = []  # the matcher does not keep its network alive
    for area, view in roads.items():
        lon0, lat0 = float(view.pt_lon.mean()), float(view.pt_lat.mean())
        kx, ky = 111_320.0 * np.cos(np.radians(lat0)), 111_132.0
        frames[area] = (lon0, lat0, kx, ky)
        network, n = fastmm.Network(), 0
        ids[area] = {}
        closed = int(WayFlag.NO_MOTORCYCLE)
        for e in range(view.n_edges):
            way = view.edge_way[e]
            if view.ways.flags[way] & closed:
                continue
            pts = slice(view.edge_start[e], view.edge_start[e + 1])
            line = list(zip(((view.pt_lon[pts] - lon0) * kx).tolist(),
                            ((view.pt_lat[pts] - lat0) * ky).tolist(), strict=True))  # fmt: skip
            u, v = int(view.edge_u[e]), int(view.edge_v[e])
            if view.ways.oneway[way] >= 0:
                network.add_edge(n, u, v, line)
                ids[area][n] = (int(view.ways.way_id[way]), float(view.edge_length_m[e]))
                n += 1
            if view.ways.oneway[way] <= 0:
                network.add_edge(n, v, u, line[::-1])
                ids[area][n] = (int(view.ways.way_id[way]), float(view.edge_length_m[e]))
                n += 1
        network.finalize()
        networks.append(network)
        matchers[area] = fastmm.FastMapMatch(
            network, fastmm.TransitionMode.SHORTEST, max_distance_between_candidates=1_000.0,
            cache_dir=str(cache / f"fastmm-{area}"),
        )  # fmt: skip

    def match(route: Route, area: str) -> Callable[[], Ways]:
        assert networks
        lon0, lat0, kx, ky = frames[area]
        points = list(zip(((route.lon - lon0) * kx).tolist(),
                          ((route.lat - lat0) * ky).tolist(), strict=True))  # fmt: skip
        found = matchers[area].match(
            fastmm.Trajectory.from_xy_tuples(points), max_candidates=8,
            candidate_search_radius=50.0, gps_error=10.0, reverse_tolerance=20.0,
        )  # fmt: skip
        return partial(_segment_lengths, found, ids[area])

    return match


def _segment_lengths(found: Any, ids: dict[int, tuple[int, float]]) -> Ways:
    ways: Ways = []
    for part in found.subtrajectories:
        for segment in part.segments:
            for edge in segment.edges:
                along = [p.edge_offset for p in edge.points]
                ways.append((ids[edge.edge_id][0], abs(along[-1] - along[0])))
    return ways


if __name__ == "__main__":
    sys.exit(main())
