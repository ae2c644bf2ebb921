"""Speeds and times worked by hand, from the figures of tables/speed and the road classes."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.speed import edges
from terrain.stages.speed.edges import edge_bend_deg_km, edge_speed_kph
from terrain.stages.speed.judge import stretch_speeds
from terrain.stages.speed.pace import SpeedInputs
from terrain.tables.speed import ROAD_CLASS_SPEEDS, Traveller
from terrain.values.ride import Speeds
from terrain.values.trip import Luggage, OwnPace, Rider, Trip
from tests.stages.speed.test_speed import GRAVEL, PAVED, TRACK, _roads, inputs

_BARE = Trip(luggage=Luggage.NONE)
_CLASS = {row.highway: (row.paved_kph, row.gravel_kph, row.track_kph) for row in ROAD_CLASS_SPEEDS}


def _kph(given: SpeedInputs, trip: Trip = _BARE) -> float:
    speeds = stretch_speeds(np.array([0.0]), np.array([1_000.0]), inputs=given, trip=trip)
    return float(speeds.speed_kph[0])


# A straight road without a grade: no bends, and a severity that is told.
_SMOOTH = {"bend": 0.0, "severity": 0.0, "grade": 0.0}
_SECONDARY, _TRACKS = _CLASS["secondary"], _CLASS["track"]


@pytest.mark.parametrize(
    ("given", "kph"),
    [
        (inputs("secondary", PAVED, **_SMOOTH), _SECONDARY[0]),
        (inputs("secondary", GRAVEL, **_SMOOTH), _SECONDARY[1]),
        (inputs("track", TRACK, **_SMOOTH), _TRACKS[2]),
        # At the worst severity a sealed road loses half, gravel 55 and a track 68 %.
        (inputs("secondary", PAVED, bend=0, severity=1.0, grade=0), _SECONDARY[0] * 0.5),
        (inputs("secondary", GRAVEL, bend=0, severity=1.0, grade=0), _SECONDARY[1] * 0.45),
        (inputs("track", TRACK, bend=0, severity=1.0, grade=0), _TRACKS[2] * 0.32),
        # Beyond the worst is no worse; half way is half the loss.
        (inputs("secondary", PAVED, bend=0, severity=3.0, grade=0), _SECONDARY[0] * 0.5),
        (inputs("secondary", PAVED, bend=0, severity=0.5, grade=0), _SECONDARY[0] * 0.75),
        # Where none is told: 0.1, 0.2, 0.3 by ground.
        (inputs("secondary", PAVED, bend=0, grade=0), _SECONDARY[0] * 0.95),
        (inputs("track", TRACK, bend=0, grade=0), _TRACKS[2] * (1 - 0.3 * 0.68)),
        # 10 % is 3 above what a sealed road keeps its speed on, at 1.5 % each; up as down.
        (inputs("secondary", PAVED, bend=0, severity=0, grade=10), _SECONDARY[0] * 0.955),
        (inputs("secondary", PAVED, bend=0, severity=0, grade=-10), _SECONDARY[0] * 0.955),
        (inputs("track", TRACK, bend=0, severity=0, grade=15), _TRACKS[2] * 0.7),
        # A posted limit of 40 is ridden at 92 %; one of 100 makes a better road at 78 % of that.
        (inputs("secondary", PAVED, maxspeed=40, **_SMOOTH), 36.8),
        (inputs("tertiary", PAVED, maxspeed=100, **_SMOOTH),
         max(_CLASS["tertiary"][0], 0.78 * 0.92 * 100)),
        # No road is posted at 0: it says nothing.
        (inputs("secondary", PAVED, maxspeed=0, **_SMOOTH), _SECONDARY[0]),
        # On gravel a high limit lifts nothing; settlements hold all to 40.
        (inputs("secondary", GRAVEL, maxspeed=100, **_SMOOTH), _SECONDARY[1]),
        (inputs("secondary", PAVED, settled=True, **_SMOOTH), 40.0),
        (inputs("ferry", (np.nan,) * 3, ferry_kph=24.0), 24.0),
    ],
)  # fmt: skip
def test_one_stretch(given: SpeedInputs, kph: float) -> None:
    assert _kph(given) == pytest.approx(kph, rel=1e-6)


def test_bends_cost_a_twentieth_of_a_second_for_each_degree() -> None:
    straight, bent = (_kph(inputs("secondary", PAVED, bend=bend, severity=0)) for bend in (0, 400))
    assert 3600 / bent - 3600 / straight == pytest.approx(400 * 0.05)


def test_uncertain_ground_has_the_mean_of_the_times() -> None:
    half = inputs("secondary", (0.5, 0.0, 0.5), **_SMOOTH)
    times = [3.6 / _kph(inputs("secondary", p, **_SMOOTH)) for p in (PAVED, TRACK)]
    assert 3.6 / _kph(half) == pytest.approx(np.mean(times))
    # Nothing known at all is what is mostly missing from a map: 0.2, 0.3, 0.5.
    grounds = [3.6 / _kph(inputs("", p, **_SMOOTH)) for p in (PAVED, GRAVEL, TRACK)]
    unknown = inputs("", (np.nan,) * 3, **_SMOOTH)
    assert 3.6 / _kph(unknown) == pytest.approx(np.dot((0.2, 0.3, 0.5), grounds))


@pytest.mark.parametrize(
    ("trip", "paved", "track"),
    [
        (Trip(rider=Rider.NOVICE, luggage=Luggage.NONE), 0.90, 0.75),
        (Trip(rider=Rider.EXPERT, luggage=Luggage.NONE), 1.05, 1.25),
        (Trip(pillion=True, luggage=Luggage.NONE), 0.95, 0.75),
        (Trip(luggage=Luggage.SOFT), 0.99, 0.95),
        (Trip(luggage=Luggage.BOXES), 0.97, 0.85),
        (Trip(rider=Rider.NOVICE, pillion=True, luggage=Luggage.BOXES), 0.90 * 0.95 * 0.97,
         0.75 * 0.75 * 0.85),
    ],
)  # fmt: skip
def test_who_rides_and_with_what(trip: Trip, paved: float, track: float) -> None:
    for p, highway, factor in ((PAVED, "secondary", paved), (TRACK, "track", track)):
        given = inputs(highway, p, **_SMOOTH)
        assert _kph(given, trip) / _kph(given) == pytest.approx(factor)


def test_times_learned_from_own_rides_are_factors_on_the_time() -> None:
    """A quarter longer on gravel, a fifth shorter on tracks."""
    own = OwnPace(
        factor=(1.0, 1.25, 0.8), low=(1.0, 1.2, 0.7), high=(1.0, 1.3, 0.9),
        spread=(0.1, 0.1, 0.1), ten_min_sd=0.1, n_rides=9, n_alike=9,
        first_day="2027-03-01", last_day="2027-03-14",
    )  # fmt: skip
    trip = replace(_BARE, own_pace=own)
    for p, highway, share in ((PAVED, "secondary", 1.0), (GRAVEL, "secondary", 1.25),
                              (TRACK, "track", 0.8)):  # fmt: skip
        given = inputs(highway, p, **_SMOOTH)
        assert _kph(given) / _kph(given, trip) == pytest.approx(share)


def _three() -> tuple[SpeedInputs, Speeds]:
    """1 km of sealed road, 3 of gravel, 2 of track."""
    rows = [inputs("secondary", p, **_SMOOTH) for p in (PAVED, GRAVEL, TRACK)]
    given = replace(
        rows[0],
        p=np.vstack([row.p for row in rows]),
        **{name: np.concatenate([getattr(row, name) for row in rows]) for name in (
            "highway", "maxspeed_kph", "severity", "grade_pct", "bend_deg_km", "settled",
            "ferry", "ferry_kph")},
    )  # fmt: skip
    ends = np.array([0.0, 1_000.0, 4_000.0, 6_000.0])
    return given, stretch_speeds(ends[:-1], ends[1:], inputs=given, trip=_BARE)


def test_times_add_up_along_the_ride() -> None:
    _, got = _three()
    want = 3.6 * np.array([1_000.0, 3_000.0, 2_000.0]) / np.array(_SECONDARY)
    np.testing.assert_allclose(got.time_s, want)
    np.testing.assert_allclose(got.start_s, [0.0, want[0], want[0] + want[1]])
    assert got.total_s == pytest.approx(want.sum())
    np.testing.assert_allclose(got.speed_kph, _SECONDARY)
    # The band of a stretch: 1.645 standard deviations of the logarithm each way.
    half = np.log(got.high_kph / got.speed_kph)
    np.testing.assert_allclose(half, np.log(got.speed_kph / got.low_kph))
    np.testing.assert_allclose(half, 1.645 * np.sqrt(np.log1p(np.square([0.15, 0.2, 0.28]))),
                               rtol=1e-3)  # fmt: skip


def test_the_ride_is_surer_than_its_stretches_but_not_as_if_they_were_independent() -> None:
    _, got = _three()
    width = np.log(got.total_high_s / got.total_low_s)
    each = np.log(got.high_kph / got.low_kph)
    share = got.time_s / got.total_s
    alone = float(np.sqrt(np.sum(np.square(share * each))))
    together = float(np.sum(share * each))
    assert alone < width < together
    assert width == pytest.approx(np.sqrt((alone**2 + together**2) / 2), rel=0.02)


def test_a_traveller_is_held_by_a_top_speed_and_never_stands() -> None:
    flat = np.zeros(3)
    p = np.array([PAVED, TRACK, (np.nan,) * 3])
    fast = Traveller(name="fast", factor=(9.0, 9.0, 9.0), top_kph=80.0)
    slow = Traveller(name="slow", factor=(0.001, 0.001, 0.001), top_kph=80.0)
    roads = _roads()
    kph = edge_speed_kph(roads, p, traveller=fast, severity=flat, grade_pct=flat)
    assert kph[0] == pytest.approx(80.0)
    assert kph[2] == pytest.approx(15.0)  # no traveller hurries a ferry
    assert edge_speed_kph(roads, p, traveller=slow)[0] == pytest.approx(4.0)


@pytest.mark.parametrize("at_once", [1, 2, 100])
def test_where_one_edge_ends_and_another_begins_nothing_turns(
    at_once: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """North for 1 km, east for 1 km somewhere else, and a corner of 90 degrees in 200 m."""
    roads: Any = SimpleNamespace(
        pt_lon=np.array([0.0, 0.0, 5.0, 5.01, 9.0, 9.0, 9.001]), edge_start=np.array([0, 2, 4, 7]),
        pt_lat=np.array([0.0, 0.01, 3.0, 3.0, 0.0, 0.001, 0.001]),
        edge_length_m=np.array([1_000.0, 1_000.0, 200.0]),
    )  # fmt: skip
    monkeypatch.setattr(edges, "_CHUNK", at_once)
    assert edge_bend_deg_km(roads) == pytest.approx([0.0, 0.0, 450.0], abs=1e-3)


def test_only_bends_within_an_edge_slow_it() -> None:
    """The hairpin of 400 m turns about 180 degrees; where edges meet, nothing is counted."""
    usual = Traveller(name="usual", factor=(1.0, 1.0, 1.0), top_kph=200.0)
    flat = np.zeros(3)
    p = np.array([PAVED, TRACK, (np.nan,) * 3])
    kph = edge_speed_kph(_roads(), p, traveller=usual, severity=flat, grade_pct=flat)
    assert kph[0] == pytest.approx(_SECONDARY[0])
    turned = (3_600 / kph[1] - 3_600 / _TRACKS[2]) * 0.4 / 0.05
    assert turned == pytest.approx(180, abs=6)
