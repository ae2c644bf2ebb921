"""Help, ways out, ways round and plan search little of a region for a 500 km report.

Counted in nodes, so that it holds on any machine; the seconds are told by
`python -m tests.bench.help`.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import terrain.calc.search as search
import terrain.stages.detours.guided as guided
from tests.bench.help import EXTRACTS, Asked, asked, build, stages_s


@pytest.fixture(
    scope="module",
    params=[
        # The one that is searched most each time, the others in the long runs.
        pytest.param(name, marks=() if name.startswith("andorra") else pytest.mark.bench)
        for name in EXTRACTS
    ],
)
def of(request: pytest.FixtureRequest, shared_data: Path) -> Asked:
    path = shared_data / "osm" / request.param
    if not path.is_file():
        pytest.skip(f"{request.param} is not laid beside this checkout")
    data, way_p, fields, _ = build(path)
    return asked(data, way_p, fields)


def test_a_500_km_report_searches_little(of: Asked, monkeypatch: pytest.MonkeyPatch) -> None:
    reached: list[int] = []
    drawn: list[int] = []
    spread, between = search.spread_cheapest, guided._arcs_between

    def counted_spread(*args: Any) -> Any:
        found = spread(*args)
        reached.append(int((found[1] >= 0).sum()))
        return found

    def counted_between(start: Any, *args: Any) -> Any:
        drawn.append(len(start) - 1)
        return between(start, *args)

    monkeypatch.setattr(search, "spread_cheapest", counted_spread)
    monkeypatch.setattr(guided, "_arcs_between", counted_between)
    assert of.ride.length_m >= 500_000
    stages_s(of)
    # A search of a whole region for each of a hundred remote stretches would reach 100 times all
    # nodes; in fact it is 3 to 8 times, and ways round are looked for in 20 to 25 times as many.
    nodes = of.data.roads.n_nodes
    assert 5 < len(reached) <= 12 and nodes < sum(reached) <= 9 * nodes
    assert 10 < len(drawn) <= 30 and sum(drawn) <= 28 * nodes
