"""Speed as evidence of ground: used where it helps, silent where it does not, always bounded."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from terrain.stages.ridden.learning.pace_evidence import MODEL, learn_from_pace
from terrain.values.ground import LAND_GROUNDS, Basis, Severity
from terrain.values.ridden import Ridden, RiddenPart
from terrain.values.trip import Three
from tests.stages.ridden.test_hindsight import ride

_KPH = (42.0, 30.0, 18.0)


def _part(way: int, p: Three, kph: float, length_m: float) -> RiddenPart:
    return RiddenPart(
        from_m=0.0, to_m=length_m, way_id=way, highway="unclassified", name=None,
        ground=LAND_GROUNDS[int(np.argmax(p))], p=p, basis=Basis.INFERRED, severity=Severity.EASY,
        grade_pct=0.0, moving_s=3.6 * length_m / kph, expected_s=60.0, clock_s=60.0, off_plan=None,
        shown=True,
    )  # fmt: skip


def _rides(
    rng: np.random.Generator, n: int, kph: Three, truth: dict[int, int], map_p: dict[int, Three]
) -> list[Ridden]:
    """Rides over some of the ways, each with a pace of its own."""
    found = []
    for i in range(n):
        own = rng.normal(0.0, 0.1)
        ways = rng.choice(list(truth), 30, replace=False).tolist()
        parts = [
            _part(
                way, map_p[way],
                kph[truth[way]] * float(np.exp(own + rng.normal(0.0, 0.2))),
                float(rng.uniform(300.0, 3_000.0)),
            )
            for way in ways
        ]  # fmt: skip
        found.append(replace(ride(f"ride {i}", 1.0), day=date(2027, 3, 1), parts=tuple(parts)))
    return found


def _region(
    rng: np.random.Generator, grounds: tuple[int, ...] = (0, 1, 2)
) -> tuple[dict[int, int], dict[int, Three], list[int]]:
    truth = {way: int(rng.choice(grounds)) for way in range(1, 161)}
    map_p: dict[int, Three] = {}
    for way, g in truth.items():
        if way % 4 == 0:
            map_p[way] = (1 / 3, 1 / 3, 1 / 3)
        else:
            a, b, c = (np.eye(3)[g] * 0.94 + 0.02).tolist()
            map_p[way] = (a, b, c)
    return truth, map_p, [way for way in truth if way % 4 == 0]


def _log_loss(p: dict[int, Three], truth: dict[int, int], ways: list[int]) -> float:
    return float(np.mean([-np.log(p[w][truth[w]]) for w in ways]))


def test_where_speed_tells_it_is_used_and_helps() -> None:
    rng = np.random.default_rng(5)
    truth, map_p, doubtful = _region(rng)
    told = learn_from_pace(_rides(rng, 25, _KPH, truth, map_p))
    assert told.used
    assert told.log_loss_pace is not None
    assert told.log_loss_class is not None
    assert told.log_loss_pace < 0.97 * told.log_loss_class
    after = map_p | {way.way_id: way.p for way in told.ways}
    assert {way.way_id for way in told.ways} <= set(doubtful)
    assert _log_loss(after, truth, doubtful) < 0.9 * _log_loss(map_p, truth, doubtful)


def test_where_speed_tells_nothing_it_is_silent() -> None:
    for seed in range(6):
        rng = np.random.default_rng(seed)
        truth, map_p, _ = _region(rng)
        told = learn_from_pace(_rides(rng, 25, (30.0, 30.0, 30.0), truth, map_p))
        assert not told.used
        assert told.ways == ()


@pytest.mark.parametrize(("grounds", "used"), [((0, 2), True), ((2,), False)])
def test_two_grounds_are_enough_to_learn_from(grounds: tuple[int, ...], used: bool) -> None:
    """At 42 and at 18 km/h; where all is track there is nothing to tell apart."""
    rng = np.random.default_rng(5)
    truth, map_p, _ = _region(rng, grounds)
    assert learn_from_pace(_rides(rng, 12, _KPH, truth, map_p)).used is used


@pytest.mark.parametrize("lacking", [{"shown": False}, {"way_id": None}, {"p": None}])
def test_what_is_not_known_to_be_ridden_there_tells_nothing(lacking: dict[str, object]) -> None:
    part = _part(1, (0.98, 0.01, 0.01), 40.0, 1_000.0)
    rides = [replace(ride("a", 1.0), parts=(part, replace(part, **lacking)))]  # type: ignore[arg-type]
    assert learn_from_pace(rides).n_parts == 1


def test_few_rides_are_not_asked() -> None:
    rng = np.random.default_rng(5)
    truth, map_p, _ = _region(rng)
    assert not learn_from_pace(_rides(rng, 7, _KPH, truth, map_p)).used
    assert not learn_from_pace([]).used


def test_what_it_says_is_bounded() -> None:
    rng = np.random.default_rng(5)
    truth, map_p, _ = _region(rng)
    rides = _rides(rng, 25, _KPH, truth, map_p)
    crawl = [
        replace(one, parts=(*one.parts, _part(999, (0.6, 0.2, 0.2), 3.0, 2_000.0))) for one in rides
    ]
    told = {way.way_id: way for way in learn_from_pace(crawl).ways}
    assert told[999].n_rides == 25
    p = told[999].p
    assert (p[2] / p[0]) / (0.2 / 0.6) <= MODEL.most + 1e-6
