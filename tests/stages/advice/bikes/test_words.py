"""When a word is said for or against a bike, a case on each side of each limit, by hand.

All limits: common practice, no source, but where named.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.advice.bikes import reasons
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.advice import AdviceItem
from terrain.values.fleet import Parts, Repair
from terrain.values.trip import Luggage, Rider

BIKE = DEFAULT_FLEET.classes[0]
Said = tuple[list[str], list[str]]


def _codes(function: Any, *args: Any) -> Said:
    good: list[AdviceItem] = []
    bad: list[AdviceItem] = []
    function(*args, good, bad)
    return [item.code for item in good], [item.code for item in bad]


@pytest.mark.parametrize(
    ("rate", "said"),
    [
        (0.04, (["reliable", "reliable-rate"], [])), (0.041, ([], [])), (0.079, ([], [])),
        (0.08, ([], ["unreliable", "unreliable-rate"])),
    ],
)  # fmt: skip
def test_incidents(rate: float, said: Said, monkeypatch: pytest.MonkeyPatch) -> None:
    found = SimpleNamespace(rate=rate, low=rate, high=rate, basis="x")
    monkeypatch.setattr(reasons, "incident_rate", lambda case, bike: found)
    assert _codes(reasons._rate_words, None, BIKE) == said


@pytest.mark.parametrize(
    ("motorway_m", "fast_m", "ability", "said"),
    [
        (9_999.0, 9_999.0, 0.9, ([], [])), (10_000.0, 0.0, 0.8, (["motorway-good"], [])),
        (0.0, 10_000.0, 0.79, ([], [])), (0.0, 10_000.0, 0.51, ([], [])),
        (0.0, 10_000.0, 0.5, ([], ["motorway"])), (9_999.0, 9_999.0, 0.1, ([], [])),
    ],
)  # fmt: skip
def test_motorways(
    motorway_m: float, fast_m: float, ability: float, said: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reasons, "motorway_m", lambda case: motorway_m)
    monkeypatch.setattr(reasons, "fast_m", lambda case, kph: fast_m if kph == 90.0 else 0.0)
    assert _codes(reasons._road_words, None, replace(BIKE, motorway=ability)) == said


@pytest.mark.parametrize(
    ("gap_m", "carry_l", "said"),
    [
        (80_000.0, 0.0, ([], [])), (80_100.0, 0.0, (["range-good"], [])),
        (120_000.0, 0.0, (["range-good"], [])), (120_100.0, 0.0, ([], ["range-tight"])),
        (210_000.0, 1.0, ([], ["range-carry"])), (None, 1.0, ([], [])),
    ],
)  # fmt: skip
def test_range(
    gap_m: float | None, carry_l: float, said: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    """200 km of range: three fifths are 120 km."""
    monkeypatch.setattr(reasons, "range_m", lambda case, bike: 200_000.0)
    monkeypatch.setattr(reasons, "canister_l", lambda case, bike: carry_l)
    case: Any = SimpleNamespace(fuel_gap_m=gap_m, fuel_gap_from_m=7_000.0)
    good: list[AdviceItem] = []
    bad: list[AdviceItem] = []
    reasons._range_words(case, BIKE, good, bad)
    assert ([item.code for item in good], [item.code for item in bad]) == said
    for item in (*good, *bad):
        assert gap_m is not None
        assert (item.from_m, item.to_m) == (7_000.0, 7_000.0 + gap_m)


@pytest.mark.parametrize(
    ("rider", "hardness", "said"),
    [
        (Rider.NOVICE, 0.2, (["asks-little"], [])), (Rider.NOVICE, 0.21, ([], [])),
        (Rider.NOVICE, 0.9, ([], [])), (Rider.STEADY, 0.1, ([], [])),
        (Rider.STEADY, 0.79, ([], [])), (Rider.STEADY, 0.8, ([], ["asks-much"])),
        (Rider.EXPERT, 0.9, ([], [])), (Rider.EXPERT, 0.1, ([], [])),
    ],
)  # fmt: skip
def test_what_a_bike_asks(
    rider: Rider, hardness: float, said: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reasons, "hardness", lambda bike: hardness)
    case: Any = SimpleNamespace(trip=SimpleNamespace(skill=rider))
    assert _codes(reasons._rider_words, case, BIKE) == said


EASY = {"parts": Parts.COMMON, "repair": Repair.EASY, "kick_start": True}


@pytest.mark.parametrize(
    ("known", "farthest_s", "bike", "said"),
    [
        (False, 9_000.0, EASY, ([], ["no-help-known"])),
        (True, None, EASY, ([], [])),
        (True, 3_599.0, {**EASY, "kick_start": False}, ([], [])),
        (True, 3_600.0, EASY, (["easy-repair"], [])),
        (True, 3_600.0, {**EASY, "kick_start": False}, (["easy-repair"], ["no-kick-start"])),
        (True, 3_600.0, {**EASY, "parts": Parts.RARE}, ([], ["hard-repair"])),
        (True, 3_600.0, {**EASY, "repair": Repair.HARD}, ([], ["hard-repair"])),
    ],
)
def test_repair_an_hour_from_help(
    known: bool, farthest_s: float | None, bike: dict[str, Any], said: Said
) -> None:
    reach = SimpleNamespace(
        known=known, farthest_s=farthest_s, farthest_m=50_000.0, farthest_at_m=9_000.0
    )
    case: Any = SimpleNamespace(reach_of=lambda name: reach)
    assert _codes(reasons._repair_words, case, replace(BIKE, **bike)) == said
    none: Any = SimpleNamespace(reach_of=lambda name: None)
    assert _codes(reasons._repair_words, none, replace(BIKE, **bike)) == ([], [])


@pytest.mark.parametrize(
    ("top_m", "kw", "said"),
    [
        (2_499.0, 17.0, []), (2_500.0, 17.0, ["thin-air"]), (2_500.0, 18.0, []), (None, 17.0, []),
    ],
)  # fmt: skip
def test_small_engines_in_thin_air(top_m: float | None, kw: float, said: list[str]) -> None:
    assert _rest(top_m=top_m, bike=replace(BIKE, power_kw=kw)) == said


@pytest.mark.parametrize(
    ("pillion", "dirt_s", "said"),
    [(True, 899.0, []), (True, 900.0, ["two-up-slow"]), (False, 9_000.0, [])],
)
def test_two_up_off_tarmac(pillion: bool, dirt_s: float, said: list[str]) -> None:
    assert _rest(pillion=pillion, dirt_s=dirt_s) == said


@pytest.mark.parametrize(
    ("luggage", "takes", "said"),
    [
        (Luggage.NONE, (), []), (Luggage.BOXES, (Luggage.SOFT,), ["luggage-not"]),
        (Luggage.BOXES, (Luggage.BOXES,), []),
    ],
)  # fmt: skip
def test_luggage_it_does_not_take(
    luggage: Luggage, takes: tuple[Luggage, ...], said: list[str]
) -> None:
    assert _rest(luggage=luggage, bike=replace(BIKE, luggage=takes)) == said


def _rest(
    *, top_m: float | None = None, pillion: bool = False, dirt_s: float = 0.0,
    luggage: Luggage = Luggage.NONE, bike: Any = BIKE,
) -> list[str]:  # fmt: skip
    """Half of the riding is on a stretch that is half sealed."""
    burden: Any = SimpleNamespace(
        time_s=np.array([2 * dirt_s, 5_000.0]), p=np.array([[0.5, 0.25, 0.25], [1.0, 0.0, 0.0]])
    )
    case: Any = SimpleNamespace(
        trip=SimpleNamespace(luggage=luggage, pillion=pillion), max_ele_m=top_m,
        max_ele_at_m=5.0, heat=SimpleNamespace(engine_of=lambda name: None),
    )  # fmt: skip
    bad: list[AdviceItem] = []
    reasons._rest_words(case, burden, bike, None, bad)
    return [item.code for item in bad]


def _ground(
    monkeypatch: pytest.MonkeyPatch,
    *,
    paved_s: float = 0.0,
    dirt_s: float = 0.0,
    tarmac: float = 0.7,
    dirt: float = 0.5,
    short_s: float | None = None,
    hard_s: float = 0.0,
    mass_kg: float = 179.0,
    clearance_mm: float = 250.0,
) -> list[str]:
    """Words of a ride over tarmac, then over track, some of which road tyres cannot do."""
    one = np.ones(3)
    ease = SimpleNamespace(paved=one * tarmac, gravel=one * 0.0, track=one * dirt)
    run = SimpleNamespace(rows=(0,), from_m=0.0, to_m=9.0)
    monkeypatch.setattr(reasons, "ease_of", lambda *_: ease)
    monkeypatch.setattr(reasons, "_hardest", lambda *_: run)
    monkeypatch.setattr(reasons, "_out_of_depth", lambda *_: None if short_s is None else run)
    burden: Any = SimpleNamespace(
        ride_s=paved_s + dirt_s,
        time_s=np.array([paved_s, dirt_s - hard_s, hard_s]),
        p=np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, 0.0, 1.0]]),
        hard=np.array([[False] * 3, [False] * 3, [True] * 3]),
    )
    case: Any = SimpleNamespace(stretches=(SimpleNamespace(time_s=short_s),))
    bike = replace(BIKE, mass_kg=mass_kg, clearance_mm=clearance_mm)
    model: Any = SimpleNamespace(clearance_mm=200.0)
    good: list[AdviceItem] = []
    bad: list[AdviceItem] = []
    reasons._ground_words(case, burden, bike, model, good, bad)
    return [item.code for item in (*good, *bad)]


@pytest.mark.parametrize(
    ("ride", "said"),
    [
        ({"paved_s": 900.0, "tarmac": 0.75}, ["suits-tarmac"]),
        ({"paved_s": 899.0, "tarmac": 0.75}, []),
        ({"paved_s": 900.0, "tarmac": 0.74}, []),
        ({"paved_s": 900.0, "tarmac": 0.69}, []),
        ({"paved_s": 900.0, "tarmac": 0.67}, ["dull-tarmac"]),
        ({"paved_s": 899.0, "tarmac": 0.67}, []),
        # A fifth of the ride; the rest is dirt that the bike neither copes with nor fails on.
        ({"paved_s": 1_000.0, "dirt_s": 4_000.0, "tarmac": 0.8}, ["suits-tarmac"]),
        ({"paved_s": 1_000.0, "dirt_s": 4_010.0, "tarmac": 0.8}, []),
        ({"dirt_s": 900.0, "dirt": 0.85}, ["suits-dirt"]),
        ({"dirt_s": 899.0, "dirt": 0.85}, ["copes-dirt"]),
        ({"dirt_s": 900.0, "dirt": 0.84}, ["copes-dirt"]),
        ({"dirt_s": 900.0, "dirt": 0.56}, ["copes-dirt"]),
        ({"dirt_s": 900.0, "dirt": 0.54}, []),
        ({"dirt_s": 300.0, "dirt": 0.6}, ["copes-dirt"]),
        ({"dirt_s": 299.0, "dirt": 0.6}, []),
        ({"dirt_s": 900.0, "dirt": 0.6, "short_s": 300.0}, ["short-dirt"]),
        ({"dirt_s": 900.0, "dirt": 0.6, "short_s": 299.0}, ["copes-dirt"]),
        ({"dirt_s": 900.0, "mass_kg": 180.0}, ["heavy-dirt"]),
        ({"dirt_s": 899.0, "mass_kg": 180.0}, []),
        ({"dirt_s": 900.0, "hard_s": 300.0}, ["hard-work"]),
        ({"dirt_s": 900.0, "hard_s": 299.0}, []),
        ({"dirt_s": 900.0, "hard_s": 300.0, "dirt": 0.85}, ["suits-dirt"]),
        ({"dirt_s": 900.0, "hard_s": 300.0, "short_s": 10.0}, []),
        ({"dirt_s": 900.0, "hard_s": 300.0, "clearance_mm": 200.0}, ["hard-work"]),
        ({"dirt_s": 900.0, "hard_s": 300.0, "clearance_mm": 199.0}, ["hard-work", "low-clearance"]),
        ({"dirt_s": 900.0, "hard_s": 299.0, "clearance_mm": 199.0}, []),
    ],
)
def test_ground(ride: dict[str, Any], said: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    assert _ground(monkeypatch, **ride) == said
