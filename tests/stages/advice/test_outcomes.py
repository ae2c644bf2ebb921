"""What the answer follows from, and what an open one, a guide or an empty list of bikes says."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.stages.advice.advise import _either, advise_case
from terrain.stages.advice.bikes.measures import consumption_factor, repair_ease
from terrain.stages.advice.bikes.rank import ground_score, rank_bikes, scores, takes
from terrain.stages.advice.burden import burden_of
from terrain.stages.advice.case import AdviceCase
from terrain.stages.advice.words import advice_item
from terrain.tables.advice import BIKES, SETUP
from terrain.tables.common import PRACTICE
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.advice import Advice, RiderVerdict, SetupChoice, Tyres
from terrain.values.fleet import Fleet
from terrain.values.trip import Luggage, Rider, Riding, Trip
from tests.stages.advice.trips import (
    EITHER,
    GRAVEL,
    HARD,
    MINOR,
    SEALED,
    TRACK,
    UNTAGGED_TRACK,
    Case,
    Leg,
    hot_run,
    inputs_of,
)


def _case(*legs: tuple[float, Leg], trip: Trip | None = None, slower: float = 1.0) -> AdviceCase:
    """slower : time of this rider over the usual one's on dirt"""
    plain = inputs_of(Case(name="x", legs=legs, choice="road", top=()))
    stretches = tuple(
        replace(
            s,
            usual_s=s.time_s,
            time_s=s.time_s * (slower if s.p is not None and s.p[0] < 0.9 else 1.0),
        )
        for s in plain.stretches
    )
    return replace(plain, stretches=stretches, trip=trip or plain.trip)


def _codes(advice: Advice) -> set[str]:
    parts = (advice.setup.reasons, advice.cautions, advice.questions, advice.checks)
    return {item.code for part in parts for item in part}


# -- the setup follows the ground ----------------------------------------------------------------


@pytest.mark.parametrize("slower", [0.7, 1.4, 2.0])
@pytest.mark.parametrize(
    "legs",
    [((150, SEALED), (22, GRAVEL)), ((100, SEALED), (10, TRACK)), ((80, SEALED), (40, EITHER))],
)
def test_setup_is_the_same_for_slow_and_fast(
    legs: tuple[tuple[float, Leg], ...], slower: float
) -> None:
    usual, other = advise_case(_case(*legs)), advise_case(_case(*legs, slower=slower))
    assert other.setup.choice is usual.setup.choice
    assert other.setup.tyres is usual.setup.tyres
    assert other.setup.p_off_road == usual.setup.p_off_road
    assert [f.then for f in other.setup.flips] == [f.then for f in usual.setup.flips]
    # That the times told there are not this rider's own is said.
    assert "setup-usual" in _codes(other) and "setup-usual" not in _codes(usual)


def test_by_their_own_time_the_setup_would_have_turned() -> None:
    """The rule is felt: twice the time on the track would make this road ride an off-road one."""
    ride = _case((150, SEALED), (8, TRACK), slower=2.0)
    own = replace(ride, stretches=tuple(replace(s, usual_s=None) for s in ride.stretches))
    assert advise_case(ride).setup.choice is SetupChoice.ROAD
    assert advise_case(own).setup.choice is not SetupChoice.ROAD


# -- open ground ---------------------------------------------------------------------------------


def test_an_open_answer_names_the_bike_for_each_outcome() -> None:
    advice = advise_case(_case((80, SEALED), (40, EITHER)))
    assert advice.setup.choice is SetupChoice.ASK
    (said,) = [item for item in advice.setup.reasons if item.code == "ask-bikes"]
    told = {key: str(value) for key, value in said.numbers}
    assert told["road"] == "road tourer" and told["dirt"] in ("light trail", "dual-sport")
    assert told["either"] == advice.bikes[0].title == "dual-sport"


def test_where_ground_is_settled_no_bike_is_judged_by_the_outcome_that_is_not() -> None:
    """A short track nobody knows leaves it a road ride: a road bike is not marked down for it."""
    ride = _case((200, SEALED), (6, UNTAGGED_TRACK))
    burden = burden_of(ride, SETUP)
    bike = DEFAULT_FLEET.named("road-tourer")
    assert bike is not None
    settled, open_ = (ground_score(ride, burden, bike, BIKES, is_open=x) for x in (False, True))
    assert settled is not None and open_ is not None and settled > open_ + 0.01
    (fits, _), (unsure, _) = (
        rank_bikes(ride, burden, BIKES, choice) for choice in (SetupChoice.ROAD, SetupChoice.ASK)
    )
    as_road = next(f for f in fits if f.name == bike.name)
    as_open = next(f for f in unsure if f.name == bike.name)
    assert as_road.fit > as_open.fit


def test_one_bike_for_both_outcomes_needs_no_two_names() -> None:
    ride = _case((140, MINOR))
    one = replace(DEFAULT_FLEET, classes=DEFAULT_FLEET.classes[1:2])
    advice = advise_case(replace(ride, fleet=one))
    assert advice.setup.choice is SetupChoice.ASK
    assert "ask-bikes" not in _codes(advice) and "ask-else" in _codes(advice)


# -- a guide -------------------------------------------------------------------------------------


def _rider(guided: bool, *legs: tuple[float, Leg], **more: object) -> tuple[str, RiderVerdict]:
    trip = Trip(rider=Rider.STEADY, guided=guided)
    fit = advise_case(replace(_case(*legs, trip=trip), **more)).rider  # type: ignore[arg-type]
    return str(fit.text), fit.verdict


def test_a_guide_makes_hard_ground_possible_and_it_says_so() -> None:
    """Severity 4.0 is beyond a steady rider alone, who has somebody to pick the bike up here."""
    legs = ((60, SEALED), (8, HARD))
    assert _rider(False, *legs)[1] is RiderVerdict.BEYOND
    said, verdict = _rider(True, *legs)
    assert verdict is RiderVerdict.STRETCHING
    assert "guide's help" in said and "too much alone" in said


def test_a_guide_rides_no_hours_for_anybody() -> None:
    for guided in (False, True):
        assert _rider(guided, (20, SEALED), day_s=9 * 3600.0)[1] is RiderVerdict.STRETCHING


def test_a_guide_halves_what_a_breakdown_far_from_help_weighs() -> None:
    """repair = 1 - share of the reach x (1 - ease) alone; half of that loss with a guide."""
    ride = inputs_of(Case(name="x", legs=((60, TRACK),), choice="road", top=(), remote_h=4.0))
    bike = DEFAULT_FLEET.named("dual-sport")
    assert bike is not None
    burden = burden_of(ride, SETUP)
    alone, led = (
        scores(replace(ride, trip=Trip(guided=guided)), burden, bike, BIKES, is_open=False)
        for guided in (False, True)
    )
    lost = 1 - repair_ease(bike)
    assert alone["repair"] == pytest.approx(1 - lost)
    assert led["repair"] == pytest.approx(1 - 0.5 * lost)


def test_a_guide_moves_the_ranking_far_from_help() -> None:
    """Alone the easily mended bike goes first; with a guide's tools the abler one may."""
    legs = ((60, SEALED), (40, TRACK))
    plain = inputs_of(Case(name="x", legs=legs, choice="road", top=(), remote_h=4.0))
    gain = {}
    for guided in (False, True):
        ride = replace(plain, trip=Trip(rider=Rider.STEADY, guided=guided))
        fit = {f.name: f.fit for f in advise_case(ride).bikes}
        gain[guided] = fit["dual-sport"] - fit["small-all-rounder"]
    assert gain[True] > gain[False] + 0.05


# -- no bike -------------------------------------------------------------------------------------


def _helps(trip: Trip, *names: str) -> str:
    classes = tuple(b for b in DEFAULT_FLEET.classes if b.name in names)
    fleet: Fleet = replace(DEFAULT_FLEET, classes=classes)
    advice = advise_case(replace(_case((60, SEALED), trip=trip), fleet=fleet))
    assert not advice.bikes
    (said,) = [item for item in advice.cautions if item.code == "no-class-fits"]
    return str(said.text)


def test_where_no_bike_may_go_it_says_what_would_help() -> None:
    skill, apart, van = "more experience", "a bike each", "guide's van"
    said = _helps(Trip(rider=Rider.NOVICE), "dual-sport")
    assert skill in said and apart not in said and van not in said
    said = _helps(Trip(pillion=True), "light-trail")
    assert apart in said and skill not in said
    said = _helps(
        Trip(luggage=Luggage.BOXES), "enduro"
    )  # 115 kg on 110, and not for a steady rider
    assert skill not in said and apart not in said  # either alone is not enough
    assert van in _helps(Trip(rider=Rider.EXPERT, luggage=Luggage.BOXES), "enduro")
    assert skill in _helps(Trip(riding=Riding.NEW), "road-tourer")
    assert "another route" in said


# -- for whom ------------------------------------------------------------------------------------


def test_rates_are_for_staff_and_the_bill_for_the_rider() -> None:
    ride = _case((60, SEALED), (20, TRACK))
    advice = advise_case(replace(ride, heat=replace(ride.heat, clutch=(hot_run(60e3, 62e3),))))
    said = [i for fit in advice.bikes for i in (*fit.reasons, *fit.against)]
    said += [*advice.rests_on, *advice.cautions]
    for audience in ("rider", "guide"):
        told = " ".join(str(item.text) for item in said if item.is_for(audience))
        assert "of rentals" not in told and "Incident rates" not in told
        assert ("counts as yours" in told) is (audience == "rider")
        assert "Seldom breaks down" in told
    told = " ".join(str(item.text) for item in said if item.is_for("staff"))
    assert "2% of rentals" in told.replace("\u202f", "").replace("\u00a0", "").replace(" %", "%")
    assert "Seldom breaks down" not in told and "counts as yours" not in told


def test_an_open_answer_promises_no_mixed_tyres_that_no_bike_takes() -> None:
    """Two with boxes leave a road tourer on road tyres: the ground has to be settled first."""
    case = _case((40, SEALED), (12, EITHER), trip=Trip(luggage=Luggage.BOXES, pillion=True))
    only = replace(case, fleet=replace(DEFAULT_FLEET, classes=DEFAULT_FLEET.classes[:1]))
    said = advise_case(only)
    assert said.setup.choice is SetupChoice.ASK and len(said.bikes) == 1
    codes = {item.code for item in said.setup.reasons}
    assert "ask-none" in codes and not codes & {"ask-else", "ask-bikes"}
    every = advise_case(replace(case, trip=Trip()))
    assert "ask-none" not in {item.code for item in every.setup.reasons}


def test_a_ride_of_minutes_is_not_told_what_a_minute_more_would_change() -> None:
    for km, told in ((3, False), (60, True)):
        flips = advise_case(_case((km, SEALED))).setup.flips
        assert any(flip.said.code == "flip-more" for flip in flips) == told


@pytest.mark.parametrize("guided", [True, False])
def test_far_from_help_a_guide_brings_a_vehicle_and_who_is_alone_settles_who_comes(
    guided: bool,
) -> None:
    """No support vehicle is asked of who rents a bike (common practice, no source)."""
    case = replace(_case((60, SEALED), trip=Trip(guided=guided)), mechanic_s=8_000.0)
    codes = {item.code for item in advise_case(case).spares}
    assert ("support-vehicle" in codes) == guided
    assert ("recovery" in codes) == (not guided)


def test_tarmac_between_two_parts_off_it_is_not_counted_with_them() -> None:
    """A run is told as one, from its first metre; its length is that of what is off tarmac."""
    case = _case((20, SEALED), (2, TRACK), (1, SEALED), (2, TRACK), (1, SEALED))
    (item,) = [i for i in advise_case(case).setup.reasons if i.code.startswith("off-road-run")]
    assert dict(item.numbers)["run_m"] == pytest.approx(4_000)
    assert (item.from_m, item.to_m) == pytest.approx((20_000, 25_000))


@pytest.mark.parametrize("way", ["no bike", "no riding"])
def test_of_no_bikes_and_no_riding_an_open_answer_keeps_its_reasons(way: str) -> None:
    """Whose list of bikes is empty is not told that none of them has tyres for it."""
    case = _case((50_000.0, SEALED), (30_000.0, UNTAGGED_TRACK))
    burden = burden_of(case, SETUP)
    open_reason = advice_item("ask-else", source=PRACTICE)
    advice = advise_case(case)
    setup = replace(advice.setup, choice=SetupChoice.ASK, reasons=(open_reason,))
    fits = advice.bikes[:1]
    if way == "no bike":
        assert _either(setup, case, burden, (), BIKES) == (open_reason,)
    else:
        idle = replace(burden, time_s=np.zeros(len(burden.row)))
        assert _either(setup, case, idle, fits, BIKES) == (open_reason,)
    tarred = next(bike for bike in DEFAULT_FLEET.classes if not takes(bike, Tyres.MIXED))
    road_only = (replace(fits[0], name=tarred.name),)
    assert [r.code for r in _either(setup, case, burden, road_only, BIKES)] == ["ask-none"]


@pytest.mark.parametrize(
    ("from_m", "gap_m", "track_share"),
    [(5_000.0, 10_000.0, 0.5), (0.0, 10_000.0, 0.0), (12_000.0, 6_000.0, 1.0), (None, None, 1 / 3)],
)
def test_fuel_off_tarmac_counts_on_the_longest_way_between_pumps(
    from_m: float | None, gap_m: float | None, track_share: float
) -> None:
    """10 km of tarmac, 10 of track and 10 of tarmac; without a gap the whole ride."""
    case = replace(
        _case((10, SEALED), (10, TRACK), (10, SEALED)), fuel_gap_from_m=from_m, fuel_gap_m=gap_m
    )
    road, track = (consumption_factor(_case((10, leg))) for leg in (SEALED, TRACK))
    assert track > road
    assert consumption_factor(case) == pytest.approx(road + track_share * (track - road))
