"""Sections: few, in order, gapless, and honest about what they swallow."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace

import numpy as np
import pytest

from terrain.report.page.page import _road_text
from terrain.stages.verdict.sections import _SectionRun, _without_slivers, cut_sections
from terrain.text.translator import translator_for
from terrain.values.ground import LAND_GROUNDS, GroundKind
from terrain.values.verdict import Section
from tests.assessed import RELIEF, ridden, stretch_of
from tests.report.sample import typed


def test_sections_cover_the_ride_without_gaps() -> None:
    report = typed()
    cut = report.verdict.sections
    assert cut[0].from_m == 0
    assert cut[-1].to_m == report.assessed.match.length_m
    assert all(a.to_m == b.from_m for a, b in itertools.pairwise(cut))
    assert [s.ground.value for s in cut] == [
        "paved", "gravel", "track", "unmapped", "gravel", "paved", "ferry", "paved",
    ]  # fmt: skip
    # 12.4 and 26.3 km of other roads, 35.6 without a name: the last is named by what has one.
    assert cut[-1].names == ("North Road",)
    assert cut[-1].highway == "primary"
    assert sum(s.time_s or 0.0 for s in cut) == pytest.approx(report.assessed.ride.total_s)


def _many(n: int) -> tuple[Section, ...]:
    """Sections of a ride of many slivers of every ground."""
    rng = random.Random(3)
    stretches, at_m = [], 0.0
    for _ in range(n):
        to_m = at_m + rng.choice([30.0, 90.0, 400.0, 1500.0])
        kind = rng.choice(tuple(GroundKind))
        p = (0.5, 0.3, 0.2) if kind in LAND_GROUNDS else None
        stretches.append(stretch_of(at_m, to_m, ground=kind, p=p))
        at_m = to_m
    ride = ridden(*stretches).ride
    cut = cut_sections(ride, RELIEF, most=60)
    for kind in GroundKind:
        metres = sum(s.length_m for s in stretches if s.ground is kind)
        assert sum(dict(s.lengths).get(kind, 0.0) for s in cut) == pytest.approx(metres)
    return cut


def test_many_slivers_become_few_sections_and_no_metre_is_lost() -> None:
    cut = _many(1500)
    assert len(cut) <= 60
    assert cut[0].first == 0
    assert all(a.last + 1 == b.first for a, b in itertools.pairwise(cut))
    for s in cut:
        if s.p is None or s.ground not in LAND_GROUNDS:
            assert dict(s.lengths)[s.ground] == max(dict(s.lengths).values())
        else:
            assert s.p[LAND_GROUNDS.index(s.ground)] == max(s.p)


P, G, T = GroundKind.PAVED, GroundKind.GRAVEL, GroundKind.TRACK


@pytest.mark.parametrize(
    ("runs", "joined"),
    [
        ([(P, 5_000), (G, 999), (P, 3_000)], [(P, 8_999)]),
        ([(P, 5_000), (G, 1_000), (P, 3_000)], [(P, 5_000), (G, 1_000), (P, 3_000)]),
        ([(G, 2_000), (P, 900), (T, 3_000)], [(G, 2_000), (T, 3_900)]),
        ([(G, 3_000), (P, 900), (T, 3_000)], [(G, 3_900), (T, 3_000)]),  # alike: the one before
        ([(P, 900), (T, 3_000), (G, 800)], [(T, 4_700)]),
        ([(P, 10)], [(P, 10)]),
    ],
)
def test_a_sliver_joins_its_longer_neighbour(
    runs: list[tuple[GroundKind, float]], joined: list[tuple[GroundKind, float]]
) -> None:
    """Shorter than a kilometre; neighbours that are alike then become one."""
    cut = [_SectionRun(i, i, {ground: metres}) for i, (ground, metres) in enumerate(runs)]
    got = _without_slivers(cut, 1_000.0)
    assert [(run.ground, run.length_m) for run in got] == joined
    assert got[0].first == 0 and got[-1].last == len(runs) - 1


def test_sections_climb_what_their_part_of_the_line_does_and_nothing_without_heights() -> None:
    """4 km of tarmac up by 200 m and down by 50; 4 km of gravel up by 100, the last half unknown;
    4 km of tarmac of which a quarter has a height."""
    ride = ridden(
        stretch_of(0.0, 4_000.0), stretch_of(4_000.0, 8_000.0, ground=G, p=(0.1, 0.8, 0.1)),
        stretch_of(8_000.0, 12_000.0),
    ).ride  # fmt: skip
    nan = float("nan")
    at = np.array([0.0, 2_000.0, 4_000.0, 6_000.0, 8_000.0, 10_000.0, 11_000.0, 12_000.0])
    ele = np.array([100.0, 300.0, 250.0, 350.0, nan, nan, 500.0, 450.0])
    n = len(at)
    relief = replace(
        RELIEF, at_m=at, ele_m=ele, grade_pct=np.zeros(n), basis=np.zeros(n, np.int8),
        source="tiles",
    )  # fmt: skip
    cut = cut_sections(ride, relief)
    assert [(s.up_m, s.down_m) for s in cut] == [(200.0, 50.0), (100.0, 0.0), (None, None)]
    bare = [cut_sections(ride, r) for r in (RELIEF, replace(relief, ele_m=np.full(n, nan)))]
    assert [(s.up_m, s.down_m) for s in (*bare[0], *bare[1])] == [(None, None)] * 6


def test_a_section_mostly_of_roads_without_a_name_is_not_named_by_the_one_that_has() -> None:
    """1.5 km of a road without a name and 300 m of a highway were told as the highway's ground."""
    minor = stretch_of(0, 1_500, highway="unclassified")
    main = stretch_of(1_500, 1_800, highway="trunk", name="N9")
    (section,) = cut_sections(ridden(minor, main).ride, RELIEF)
    assert (section.unnamed, section.highway, section.names) == (True, "unclassified", ("N9",))
    assert _road_text(section, translator_for("en")) == "minor road, N9"
    (section,) = cut_sections(ridden(minor, replace(main, to_m=9_000.0)).ride, RELIEF)
    assert _road_text(section, translator_for("en")) == "N9"
