"""The paved/unpaved flag of the routing library in pyvalhalla-weekly beside our estimate.

Run: python -m tests.bench.ground_peer

Builds the library's graph of Andorra 2023 in a temporary folder, walks random routes through it
(trace_attributes) and compares its `unpaved` flag of each way with our paved share above one
half, by what our estimate rests on. Where they differ, the commonest reasons are shown.
"""

from __future__ import annotations

import json
import subprocess
import tempfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from terrain.stages.ways.fit import fit_way_ground
from terrain.values.ground import BASES, Basis, WayGround
from terrain.values.views import RoadsView
from tests.bench.ground_intervals import routes
from tests.bench.ground_maps import Mapped, extracts, read_map


@dataclass(frozen=True, slots=True, kw_only=True)
class Flagged:
    """A way as the library sees it: flag and kind of surface."""

    unpaved: bool
    surface: str


def peer_flags(one: Mapped, extract: Path, folder: Path, seeds: range) -> dict[int, Flagged]:
    """The library's flag of every way met on random routes, by OSM way id."""
    import valhalla

    config = valhalla.get_config(tile_extract="", tile_dir=folder)
    config["service_limits"]["trace"].update(max_shape=200_000, max_distance=1e9)
    path = folder / "config.json"
    path.write_text(json.dumps(config), encoding="utf-8")
    tool = Path(valhalla.__file__).parent / "bin" / "valhalla_build_tiles"
    # It writes a list of odd ways to the folder it runs in.
    subprocess.run(
        [tool, "-c", path.resolve(), extract.resolve()], cwd=folder, check=True, capture_output=True
    )
    actor = valhalla.Actor(str(path))
    found: dict[int, Flagged] = {}
    for seed in seeds:
        for edges in routes(one, seed):
            found.update(_walk(actor, one.roads, edges))
    return found


def _walk(actor: object, roads: RoadsView, edges: np.ndarray) -> dict[int, Flagged]:
    points = [
        {"lat": float(roads.node_lat[n]), "lon": float(roads.node_lon[n])}
        for e in edges
        for n in (roads.edge_u[e], roads.edge_v[e])
    ]
    request = {
        "shape": points, "costing": "motorcycle", "shape_match": "map_snap",
        "costing_options": {"motorcycle": {"use_trails": 1}},
        "filters": {"attributes": ["edge.way_id", "edge.unpaved", "edge.surface"],
                    "action": "include"},
    }  # fmt: skip
    try:
        told = actor.trace_attributes(request)  # type: ignore[attr-defined]
    except Exception as exc:
        if "442" in str(exc) or "444" in str(exc) or "No path" in str(exc):
            return {}  # the library finds no way along this one
        raise
    return {
        int(edge["way_id"]): Flagged(unpaved=bool(edge["unpaved"]), surface=edge["surface"])
        for edge in told["edges"]
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """ways, km compared, and the share of the km on which both say the same."""

    ways: int
    km: float
    share: float
    reasons: Counter[tuple[str, str, str]]


def compare(one: Mapped, ground: WayGround, flags: dict[int, Flagged]) -> dict[Basis, Agreement]:
    """Agreement by what our estimate rests on."""
    ways = one.roads.ways
    out = {}
    for code, basis in enumerate(BASES):
        rows = [i for i in np.flatnonzero(ground.basis == code) if int(ways.way_id[i]) in flags]
        if not rows:
            continue
        length = one.facts.shape.length_m[rows] / 1000
        same, reasons = [], Counter[tuple[str, str, str]]()
        for i in rows:
            peer = flags[int(ways.way_id[i])]
            ours = ground.p[i, 0] < 0.5
            same.append(ours == peer.unpaved)
            if not same[-1]:
                told = ways.surface.text(i) or ways.tracktype.text(i) or "no tag"
                reasons[ways.highway.text(i) or "", told, peer.surface] += 1
        out[basis] = Agreement(
            ways=len(rows), km=float(length.sum()),
            share=float(np.average(same, weights=length)), reasons=reasons,
        )  # fmt: skip
    return out


def main() -> None:
    path = extracts()["andorra-2023"]
    one = read_map(path, "andorra-2023")
    with tempfile.TemporaryDirectory() as folder:
        flags = peer_flags(one, path, Path(folder), range(1, 9))
    for basis, got in compare(one, fit_way_ground(one.roads, one.places), flags).items():
        print(f"{basis.value:9s} {got.ways:5d} ways {got.km:6.1f} km  same on {got.share:.3f}")
        for (highway, told, peer), n in got.reasons.most_common(6):
            print(f"    {n:4d} {highway}, {told}; the library says {peer}")


if __name__ == "__main__":
    main()
