"""Two general-purpose matchers to compare with, driven alike: a line in, (way id, metres) out.

A matcher answers in two steps, so that reading its answer can be left out of its time.
"""

from __future__ import annotations

import json
import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from terrain.values.route import Route
from terrain.values.views import RoadsView, WayFlag

Ways = list[tuple[int, float]]
Answer = Callable[[], Ways]
Matcher = Callable[[Route], Answer]


def valhalla_matcher(extract: Path, folder: Path) -> Matcher:
    """The C++ hidden-Markov matcher of the pyvalhalla-weekly wheel, over its own tiles.

    Motorcycle costing with trails allowed. Tiles are built from the extract into `folder`.
    """
    import valhalla  # type: ignore[import-untyped, unused-ignore]

    tiles = folder / "tiles"
    tiles.mkdir(parents=True, exist_ok=True)
    config = valhalla.get_config(tile_extract="", tile_dir=tiles)
    config["service_limits"]["trace"].update(max_shape=200_000, max_distance=1e9)
    path = folder / "config.json"
    path.write_text(json.dumps(config))
    tool = Path(valhalla.__file__).parent / "bin" / "valhalla_build_tiles"
    # It writes a list of odd ways to the folder it runs in.
    subprocess.run(
        [tool, "-c", path.resolve(), extract.resolve()], cwd=folder, check=True, capture_output=True
    )
    actor = valhalla.Actor(str(path))

    def match(route: Route) -> Answer:
        shape = zip(route.lon.tolist(), route.lat.tolist(), strict=True)
        request = {
            "shape": [{"lat": lat, "lon": lon} for lon, lat in shape],
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
            found = actor.trace_attributes(request)
        except RuntimeError:  # it found nothing to match
            return list
        return partial(_edge_lengths, found["edges"])

    return match


def _edge_lengths(edges: list[dict[str, float]]) -> Ways:
    return [
        (int(e["way_id"]), 1000.0 * e["length"]
         * (e.get("target_percent_along", 1.0) - e.get("source_percent_along", 0.0)))
        for e in edges
    ]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class FastmmSettings:
    """Arguments of fastmm's matcher; see its documentation."""

    max_candidates: int = 8
    candidate_search_radius: float = 50.0
    gps_error: float = 10.0
    reverse_tolerance: float = 20.0


# Half the candidates within a smaller circle: faster, and no worse on lines this near their ways.
LIGHT = FastmmSettings(max_candidates=4, candidate_search_radius=30.0)


def fastmm_matcher(
    roads: RoadsView, cache: Path, settings: FastmmSettings | None = None
) -> Matcher:
    """fastmm over the same edges as ours, in a flat frame of metres."""
    import fastmm  # type: ignore[import-untyped, unused-ignore]

    options = settings or FastmmSettings()
    lon0, lat0 = float(roads.pt_lon.mean()), float(roads.pt_lat.mean())
    kx, ky = 111_320.0 * float(np.cos(np.radians(lat0))), 111_132.0
    network, edges = fastmm.Network(), _fastmm_edges(roads)
    for n, (e, ahead) in enumerate(edges):
        pts = slice(roads.edge_start[e], roads.edge_start[e + 1])
        line = list(zip(((roads.pt_lon[pts] - lon0) * kx).tolist(),
                        ((roads.pt_lat[pts] - lat0) * ky).tolist(), strict=True))  # fmt: skip
        u, v = int(roads.edge_u[e]), int(roads.edge_v[e])
        network.add_edge(n, *((u, v, line) if ahead else (v, u, line[::-1])))
    network.finalize()
    matcher = fastmm.FastMapMatch(
        network, fastmm.TransitionMode.SHORTEST, max_distance_between_candidates=1_000.0,
        cache_dir=str(cache),
    )  # fmt: skip
    ids = [int(roads.ways.way_id[roads.edge_way[e]]) for e, _ in edges]

    def match(route: Route, keep: object = network) -> Answer:  # the matcher does not keep it
        points = list(zip(((route.lon - lon0) * kx).tolist(),
                          ((route.lat - lat0) * ky).tolist(), strict=True))  # fmt: skip
        found = matcher.match(
            fastmm.Trajectory.from_xy_tuples(points),
            max_candidates=options.max_candidates,
            candidate_search_radius=options.candidate_search_radius,
            gps_error=options.gps_error,
            reverse_tolerance=options.reverse_tolerance,
        )
        return partial(_segment_lengths, found, ids)

    return match


def _fastmm_edges(roads: RoadsView) -> list[tuple[int, bool]]:
    """(edge, as drawn) for each direction a motorcycle may ride; paths are left out, because
    fastmm weighs them like roads and loses its way on them."""
    flags, oneway = roads.ways.flags[roads.edge_way], roads.ways.oneway[roads.edge_way]
    closed = int(WayFlag.NO_MOTORCYCLE | WayFlag.PATH)
    usable = np.flatnonzero((flags & closed) == 0).tolist()
    return [
        (e, ahead) for e in usable for ahead in (True, False)
        if oneway[e] == 0 or (oneway[e] > 0) == ahead
    ]  # fmt: skip


def _segment_lengths(found: Any, ids: list[int]) -> Ways:
    ways: Ways = []
    for part in found.subtrajectories:
        for segment in part.segments:
            for edge in segment.edges:
                along = [p.edge_offset for p in edge.points]
                ways.append((ids[edge.edge_id], abs(along[-1] - along[0])))
    return ways
