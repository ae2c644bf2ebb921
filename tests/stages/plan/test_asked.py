"""Stops that have to be made, by hand: meetings with a van, nights, a guide's wishes."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.days.near import FOOD, FUEL, LODGING, WATER, NearbyPlaces
from terrain.stages.days.nights import Night
from terrain.stages.plan.asked import (
    met_once,
    night_stops,
    pinned_stops,
    unwanted,
    van_stops,
    with_places,
)
from terrain.stages.plan.candidates import RequiredStop
from terrain.stages.plan.make import _wanted
from terrain.stages.plan.stop_path import Chosen
from terrain.text.message import spaced
from terrain.values.plan import PinnedNight, PinnedStop, Pins, StopKind
from tests.stages.days.test_groups import near


def stop(at_m: float, *kinds: StopKind, source: int = -1, off_m: float = 0.0) -> RequiredStop:
    return RequiredStop(
        at_m=at_m, kinds=kinds, name=None, why="asked", lon=at_m / 1e5, lat=0.0, source=source,
        bits=0, off_m=off_m, off_s=0.0, stay_s=None, pinned=False,
    )  # fmt: skip


def run(from_m: float, to_m: float, *, before: float | None, after: float | None,
        ride_s: float = 3_600.0, van_passes: bool = False,
        gaps: tuple[tuple[float, float], ...] = ()) -> Any:  # fmt: skip
    """A part of the ride a van cannot follow, and where it can wait."""

    def spot(at_m: float | None) -> Any:
        return None if at_m is None else SimpleNamespace(at_m=at_m, lon=at_m / 1e5, lat=0.0)

    return SimpleNamespace(van_passes=van_passes, van_before=spot(before), van_after=spot(after),
                           from_m=from_m, to_m=to_m, ride_s=ride_s, van_gaps=gaps)  # fmt: skip


def met(*runs: Any) -> list[float]:
    return [stop.at_m for stop in van_stops(runs, 100_000.0)]


def test_a_van_is_met_before_and_after_what_it_cannot_follow() -> None:
    assert met(run(20_000, 40_000, before=19_000, after=41_000)) == [19_000, 41_000]
    assert met(run(20_000, 40_000, before=19_000, after=41_000, van_passes=True)) == []
    assert met(run(20_000, 40_000, before=None, after=41_000)) == [41_000]


def test_what_a_van_cannot_use_is_as_long_as_the_way_out_tells_it() -> None:
    """Of two parts, 6.5 km together, though 11 km lie between the meetings."""
    gaps = ((20_000.0, 24_000.0), (28_500.0, 31_000.0))
    for told, words in ((gaps, "before 6.5 km it"), (gaps[:1], "before 11 km it")):
        (first, _) = van_stops(
            [run(20_000, 31_000, before=20_000, after=31_000, gaps=told)], 100_000.0
        )
        assert words in spaced(str(first.why))


@pytest.mark.parametrize(
    ("to_m", "ride_s", "n"),
    [(22_999.0, 599.0, 0), (22_999.0, 600.0, 2), (23_000.0, 0.0, 2)],
)
def test_short_runs_are_ridden_without_the_van(to_m: float, ride_s: float, n: int) -> None:
    """3 km or ten minutes (common practice, no source); close meetings are one stop of both."""
    stops = van_stops([run(20_000, to_m, before=20_000, after=to_m, ride_s=ride_s)], 100_000.0)
    assert len(stops) == n


def test_time_is_that_of_the_whole_way_between_the_meetings() -> None:
    """1 km in 250 s, met 1.2 km apart: 300 s; met 2.6 km apart: 650 s."""
    assert met(run(20_000, 21_000, before=19_900, after=21_100, ride_s=250.0)) == []
    assert met(run(20_000, 21_000, before=19_200, after=21_800, ride_s=250.0)) == [19_200, 21_800]


def test_meetings_within_2_km_are_one_and_none_is_at_an_end() -> None:
    both = (run(20_000, 30_000, before=20_000, after=30_000),
            run(32_000, 40_000, before=32_000, after=40_000))  # fmt: skip
    assert met(*both) == [20_000, 30_000, 40_000]
    apart = (both[0], run(32_001, 40_000, before=32_001, after=40_000))
    assert met(*apart) == [20_000, 30_000, 32_001, 40_000]
    assert met(run(500, 99_500, before=500, after=99_500)) == []
    assert met(run(501, 99_499, before=501, after=99_499)) == [501, 99_499]


def test_a_night_is_at_its_own_bed_or_the_nearest() -> None:
    beds = near((LODGING, 5_000, 700), (LODGING, 9_000, 100))
    pins = (PinnedNight(day=1, at_m=5_000.0, name="Inn"), PinnedNight(day=2, name="Hut"))
    first, second, third = night_stops(
        [Night(5_000.0, 0, 0), Night(9_200.0, -1, 1), Night(20_000.0, -1, -1)], beds, pins
    )
    assert (first.name, first.pinned, first.source, first.off_m, first.off_s) == (
        "Inn", True, 0, 700.0, 70.0,
    )  # fmt: skip
    assert (second.name, second.source, second.off_m) == ("Hut", 1, 100.0)
    assert (third.name, third.pinned, third.source, third.lon) == (None, False, -1, None)


@pytest.mark.parametrize(
    ("kind", "bit", "along_m", "off_m", "row"),
    [
        (StopKind.FUEL, FUEL, 100, 10_000, 0),
        (StopKind.FUEL, FUEL, -100, 10_001, -1),
        (StopKind.FUEL, FUEL, 101, 0, -1),
        (StopKind.LUNCH, FOOD, -100, 300, 0),
        (StopKind.LUNCH, FOOD, 0, 301, -1),
        (StopKind.WATER, WATER, 0, 300, 0),
        (StopKind.WATER, FUEL, 0, 0, -1),
        (StopKind.PINNED, FUEL, 0, 0, -1),
    ],
)
def test_a_stop_for_something_is_at_the_place_that_has_it(kind, bit, along_m, off_m, row) -> None:
    ride = SimpleNamespace(length_m=50_000.0)
    places = near((bit, 9_000 + along_m, off_m))
    pins = Pins(stops=(PinnedStop(kind=kind, at_m=9_000.0),))
    (found,), problems = pinned_stops(pins, ride, places)
    assert problems == []
    assert found.source == row
    assert found.at_m == (9_000.0 + along_m if row >= 0 else 9_000.0)
    assert found.kinds == ((kind,) if kind is StopKind.PINNED else (kind, StopKind.PINNED))


@pytest.mark.parametrize(
    ("pinned", "at_m", "kinds"),
    [
        # A wish beside the van is the meeting at the van's spot; farther away it is its own.
        (stop(9_100, StopKind.LUNCH, StopKind.PINNED), [9_000],
         (StopKind.LUNCH, StopKind.VAN, StopKind.PINNED)),
        (stop(9_101, StopKind.LUNCH, StopKind.PINNED), [9_000, 9_101],
         (StopKind.LUNCH, StopKind.PINNED)),
        # At a place of its own it stays there.
        (stop(9_100, StopKind.LUNCH, StopKind.PINNED, source=4), [9_100],
         (StopKind.LUNCH, StopKind.VAN, StopKind.PINNED)),
        # A meeting the guide moved is where the guide wants it, up to 2 km.
        (stop(11_000, StopKind.VAN, StopKind.PINNED), [11_000], (StopKind.VAN, StopKind.PINNED)),
        (stop(11_001, StopKind.VAN, StopKind.PINNED), [9_000, 11_001],
         (StopKind.VAN, StopKind.PINNED)),
    ],
)  # fmt: skip
def test_no_meeting_is_made_twice(pinned: RequiredStop, at_m: list[float], kinds) -> None:
    found = met_once([stop(9_000, StopKind.VAN)], [pinned])
    assert [item.at_m for item in found] == at_m
    assert found[-1].kinds == kinds


def test_a_wish_takes_the_nearer_of_two_meetings_once() -> None:
    vans = [stop(8_000, StopKind.VAN), stop(9_500, StopKind.VAN)]
    wish = stop(9_000, StopKind.VAN, StopKind.PINNED)
    assert [item.at_m for item in met_once(vans, [wish])] == [8_000, 9_000]
    assert [item.at_m for item in met_once(vans, [wish, wish])] == [9_000, 9_000]


@pytest.mark.parametrize(("at_m", "is_so"), [(7_000, True), (6_999, False), (11_000, True),
                                             (11_001, False)])  # fmt: skip
def test_no_stop_of_ours_within_2_km_of_where_none_is_wanted(at_m: float, is_so: bool) -> None:
    assert unwanted(at_m, Pins(without_m=(50_000.0, 9_000.0))) is is_so


def test_stops_that_are_not_wanted_are_left_out_but_those_that_must_be() -> None:
    """Of stops at 20, 40 and 60 km on 90 those at 20 and 40 are not wanted; a night is at 40."""
    problem: Any = SimpleNamespace(must=np.arange(10) == 4)
    pins = Pins(without_m=(20_000.0, 40_000.0))
    chosen = _wanted(Chosen((0, 2, 4, 6, 9), (), 1.0), problem, 10_000.0 * np.arange(10), pins)
    assert chosen.stops == (0, 4, 6, 9)


def test_a_stop_offers_what_is_at_hand() -> None:
    places: NearbyPlaces = near((FUEL, 9_300, 300), (FOOD, 9_301, 0), (WATER, 8_700, 301))
    assert with_places(stop(9_000, StopKind.VAN, off_m=300.0), places).bits == FUEL
    assert with_places(stop(9_000, StopKind.VAN, off_m=301.0), places).bits == 0
    kept = stop(9_000, StopKind.VAN)._replace(bits=WATER)
    assert with_places(kept, places).bits == FUEL | WATER
    assert with_places(kept._replace(at_m=0.0), places).bits == WATER
    assert np.array_equal(places.bits, [FUEL, FOOD, WATER])
