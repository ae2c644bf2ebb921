"""Lines of 30 routes whose ways are known, ten kinds of line each, laid on the map.

The routes were made by an independent routing engine, and its own matcher told their ways; seven
kinds are that line thinned, shaken or reduced to stops, three are lines as riders plan them: on
another map, thinned, clicked by eye. The figures are means over the routes. The error of the
paved share is taken over the ways whose `surface` is tagged, the only ones whose ground is known.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from terrain.region.osm import read_osm
from terrain.stages.matching import match_route
from tests.match_checks import check_match
from tests.match_scoring import AREAS, known_paved, lines, paved_share, score, true_routes

# kind of line: share of the true length found, at least; route mismatch fraction (missed and
# extra over true length, Newson and Krumm 2009) and error of the paved share [percentage points],
# at most
_BARS = {
    "clean10": (0.9995, 0.004, 0.05),
    "clean50": (0.9995, 0.004, 0.05),
    "clean200": (0.995, 0.010, 0.10),
    "noisy5": (0.999, 0.007, 0.15),
    "noisy15": (0.996, 0.030, 0.50),
    "via2000": (0.95, 0.06, 0.5),
    "via5000": (0.89, 0.13, 1.5),
    "othermap": (0.997, 0.008, 0.20),
    "coarse": (0.993, 0.018, 0.40),
    "clicked": (0.980, 0.024, 0.30),
}

Rows = dict[str, list[tuple[float, float, float]]]


@pytest.fixture(scope="module")
def rows(shared_data: Path) -> Rows:
    """Of each kind of line, a row of the three figures for each route."""
    truth = {route.name: route for route in true_routes(shared_data)}
    folder = shared_data / "match-truth"
    areas = {area: read_osm((folder / name,), lambda *_: None) for area, name in AREAS.items()}
    paved = {area: known_paved(found.roads) for area, found in areas.items()}
    found: Rows = {variant: [] for variant in _BARS}
    for name, variant, route in lines(shared_data):
        true = truth[name]
        match = match_route(route, areas[true.area].roads)
        check_match(match, route, areas[true.area].roads)
        known = paved[true.area]
        error = abs(paved_share(match.ways, known) - paved_share(true.ways, known))
        got = score(match.ways, true.ways)
        found[variant].append((got.matched, got.rmf, error))
    return found


@pytest.mark.parametrize("variant", list(_BARS))
def test_lines_of_known_ways(rows: Rows, variant: str) -> None:
    matched, rmf, error = _BARS[variant]
    assert len(rows[variant]) == 30
    got = np.mean(rows[variant], axis=0)
    assert got[0] >= matched and got[1] <= rmf and got[2] <= error, got.round(5).tolist()
