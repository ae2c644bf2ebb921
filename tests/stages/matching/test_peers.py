"""The matcher beside two general-purpose libraries, on lines whose ways are known.

Peers: the C++ hidden-Markov matcher of the pyvalhalla-weekly wheel and fastmm, both from PyPI,
driven as in tests/bench/matching.py.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from terrain.region.osm import read_osm
from terrain.stages.matching import lay_route
from tests.bench import matching as bench
from tests.match_scoring import AREAS, lines, score, true_routes

_ROUTES = ("andorra-000", "andorra-008", "andorra-028", "liechtenstein-006", "liechtenstein-026")


@pytest.mark.parametrize(("peer", "module"), [("valhalla", "valhalla"), ("fastmm", "fastmm")])
def test_finds_at_least_what_a_peer_finds(
    shared_data: Path, tmp_path: Path, peer: str, module: str
) -> None:
    pytest.importorskip(module, reason=f"{peer} is not installed")
    truth = {r.name: r for r in true_routes(shared_data) if r.name in _ROUTES}
    folder = shared_data / "match-truth"
    roads = {a: read_osm((folder / name,), lambda *_: None).roads for a, name in AREAS.items()}
    matcher = (
        bench.valhalla_matcher(tmp_path)
        if peer == "valhalla"
        else bench.fastmm_matcher(roads, tmp_path)
    )
    ours, theirs = [], []
    for name, variant, route in lines(shared_data):
        if variant != "clean50" or name not in truth:
            continue
        true = truth[name]
        ours.append(score(lay_route(route, roads[true.area]).ways, true.ways).matched)
        theirs.append(score(matcher(route, true.area)(), true.ways).matched)
    assert len(ours) == len(_ROUTES)
    assert np.mean(ours) >= 0.999
    assert np.mean(ours) >= np.mean(theirs) - 0.001
    assert np.mean(theirs) > 0.9  # a peer driven wrongly would prove nothing
