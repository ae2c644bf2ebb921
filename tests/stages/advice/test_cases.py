"""Single rules of the advice, each against what it rests on."""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.stages.advice.advise import advise_case
from terrain.stages.advice.bikes.measures import consumption_factor, range_m
from terrain.stages.advice.burden import burden_of, ground_shift_s
from terrain.stages.advice.case import AdviceCase, AlternativeRoute, Alternatives
from terrain.tables.advice import SETUP, WEIGHTS
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.advice import LawKind, Setup, Tyres
from terrain.values.fleet import Fleet, FleetRules, IncidentRate
from terrain.values.heat import Concern, HeatCause
from terrain.values.places import RideNode
from terrain.values.trip import Rider, Trip

from .trips import COOL, GRAVEL, HARD, MOTORWAY, SEALED, TRACK, Case, Leg, inputs_of

NOVICE = Trip(rider=Rider.NOVICE)


def inputs(*legs: tuple[float, object], **more: object) -> AdviceCase:
    case = Case(name="x", legs=legs, choice="road", top=(), **more)  # type: ignore[arg-type]
    return inputs_of(case)


def codes(items: tuple[object, ...]) -> list[str]:
    return [item.code for item in items]  # type: ignore[attr-defined]


def test_nothing_known_is_an_open_question() -> None:
    advice = advise_case(AdviceCase(stretches=(), trip=Trip(), fleet=DEFAULT_FLEET))
    assert advice.setup.choice == "ask"
    assert advice.setup.p_off_road is None
    assert codes(advice.setup.reasons) == ["setup-nothing"]
    assert advice.bikes
    advice.to_dict()


def test_range_is_tank_less_reserve_over_consumption() -> None:
    """8 l, a fifth kept back, 3.8 l per 100 km: 168 km (usable range x 0.8, DOMAIN facts E)."""
    bike = DEFAULT_FLEET.named("dual-sport")
    assert bike is not None
    assert range_m(
        replace(inputs((100, SEALED)), fuel_gap_m=1.0, fuel_gap_tarmac_m=1.0), bike
    ) == pytest.approx(168_421, abs=1)


@pytest.mark.parametrize(("leg", "low", "high"), [(SEALED, 1.0, 1.02), (TRACK, 1.25, 1.5)])
def test_consumption_rises_off_road(leg: object, low: float, high: float) -> None:
    """Off-road consumption is 20 to 50 % higher (common practice, no source)."""
    assert low <= consumption_factor(inputs((100, leg))) <= high


@pytest.mark.parametrize(
    ("km_track", "tyres"),
    [(0, Tyres.ROAD), (2, Tyres.ROAD), (25, Tyres.MIXED), (120, Tyres.BLOCK)],
)
def test_tyres_by_share_off_road(km_track: float, tyres: Tyres) -> None:
    """Under a tenth road, up to 40 % mixed, most of the way block (common practice)."""
    legs = ((100, SEALED), (km_track, TRACK)) if km_track else ((100, SEALED),)
    assert advise_case(inputs(*legs)).setup.tyres is tyres


def test_pressures() -> None:
    """Loose ground 1.2 to 1.4 bar light, not below 1.5 heavy or loaded (press 2024, practice)."""
    light = advise_case(inputs((20, SEALED), (80, TRACK)))
    assert "1.2 to 1.4 bar" in light.setup.pressures[1].text
    loaded = advise_case(inputs((20, SEALED), (80, TRACK), pillion=True))
    assert "not below 1.5 bar" in loaded.setup.pressures[1].text
    assert codes(advise_case(inputs((100, SEALED))).setup.pressures) == ["pressure-road"]


def test_motorway_ban_of_small_engines() -> None:
    small = replace(DEFAULT_FLEET.classes[3], displacement_cc=110.0)
    fleet = replace(DEFAULT_FLEET, classes=(small,))
    advice = advise_case(replace(inputs((50, MOTORWAY)), fleet=fleet))
    assert codes(advice.excluded[0].reasons) == ["motorway-ban"]
    lawful = replace(fleet, rules=FleetRules(motorway_min_cc=50.0))
    assert advise_case(replace(inputs((50, MOTORWAY)), fleet=lawful)).bikes


def test_operator_weights_change_the_order() -> None:
    plain = advise_case(inputs((150, SEALED)))
    assert plain.bikes[0].name == "road-tourer"
    thrifty = replace(DEFAULT_FLEET, weights=(("ground", 0.0), ("range", 50.0)))
    changed = advise_case(replace(inputs((150, SEALED)), fleet=thrifty))
    assert changed.bikes[0].name == "small-all-rounder"
    assert changed.weights["range"] == 50.0
    assert "rests-weights" in codes(changed.rests_on)


def test_whose_weights_they_are_is_told() -> None:
    """A fleet file that spells out the usual weights is no choice of the operator's."""
    same = replace(DEFAULT_FLEET, weights=tuple((n, r.weight) for n, r in WEIGHTS.items()))
    other = replace(DEFAULT_FLEET, weights=(("range", 3.0),))
    told = {"our own": (DEFAULT_FLEET, same), "the operator's": (other,)}
    for whose, fleet in ((whose, fleet) for whose, fleets in told.items() for fleet in fleets):
        said = advise_case(replace(inputs((50, SEALED)), fleet=fleet)).rests_on[-1]
        assert said.text == f"Weights of the fit table: {whose}."


def test_rates_of_the_operators_log_are_used_by_ground() -> None:
    rate = IncidentRate(ground="paved", rate=0.01, low=0.0, high=0.03, rentals=120, incidents=1)
    dual = DEFAULT_FLEET.named("dual-sport")
    assert dual is not None
    fleet = Fleet(
        name="own", classes=(replace(dual, incidents=(rate,)),), rentals=214,
        rentals_span="2025-03-01 to 2027-01-31",
    )  # fmt: skip
    advice = advise_case(replace(inputs((100, SEALED)), fleet=fleet))
    (said,) = [r for r in advice.bikes[0].reasons if r.code == "reliable-rate"]
    assert "1 in 120 of your rentals on paved" in said.text
    assert advice.rests_on[0].text == (
        "Incident rates from 214 of your rentals, 2025-03-01 to 2027-01-31."
    )
    on_track = advise_case(replace(inputs((100, TRACK)), fleet=fleet))
    assert "unreliable" in codes(on_track.bikes[0].against)


def test_law_is_listed_with_where() -> None:
    ride = inputs((100, SEALED), (5, TRACK), laws=(LawKind.PRIVATE, LawKind.TOLL))
    ride = replace(ride, nodes=(RideNode(at_m=42_000.0, kind="border", name="Sandel Gate"),))
    law = advise_case(ride).law
    assert codes(law) == ["private", "toll", "border"]
    assert law[0].text == "Private, or by permit only: 5 km from km 100."
    assert (law[0].from_m, law[0].to_m) == (100_000, 105_000)
    assert law[2].text.startswith("Border at km 42 (Sandel Gate)")


def test_barriers_are_told_in_one_sentence_each_place_once() -> None:
    ride = inputs((100, SEALED))
    at = (4_500.0, 4_510.0, 4_530.0, 21_000.0)
    ride = replace(ride, nodes=tuple(RideNode(at_m=x, kind="barrier") for x in at))
    (said,) = advise_case(ride).law
    assert said.text == "2 barriers may stop a motorcycle: at km 4.5 and km 21."
    near = tuple(RideNode(at_m=x, kind="barrier") for x in (25_700.0, 26_100.0, 27_000.0))
    (said,) = advise_case(replace(ride, nodes=near)).law
    assert said.text == "3 barriers may stop a motorcycle: at km 26 and km 27."


def test_ford_on_a_way_and_its_node_count_once() -> None:
    ride = inputs((100, SEALED))
    way = replace(ride.stretches[0], ford=True, to_m=20.0)
    rest = replace(ride.stretches[0], from_m=20.0)
    ride = replace(
        ride, stretches=(way, rest),
        nodes=(RideNode(at_m=10.0, kind="ford"), RideNode(at_m=5_000.0, kind="ford")),
    )  # fmt: skip
    (said,) = [r for r in advise_case(ride).rider.reasons if r.code == "fords"]
    assert dict(said.numbers)["n_fords"] == 2


def test_ramps_on_tarmac_are_no_loose_climbs() -> None:
    ride = replace(inputs((50, SEALED), (20, GRAVEL)), ramps=((10_000.0, 10_400.0, 18.0),))
    assert not {"loose-climb", "loose-climb-one"} & set(codes(advise_case(ride).rider.reasons))
    ride = replace(ride, ramps=((55_000.0, 55_400.0, -18.0),))
    (said,) = [r for r in advise_case(ride).rider.reasons if r.code == "loose-climb-one"]
    assert said.text.startswith("A loose climb or descent of 18 % over 400 m, from km 55")


def test_heat_of_a_class_is_its_own() -> None:
    ride = inputs((20, SEALED), (60, TRACK), hot_c=38)
    hot = replace(
        COOL, bike="dual-sport", fan_s=5_000.0, concern=Concern.HIGH, causes=(HeatCause.CLIMB,)
    )
    heat = replace(ride.heat, engines=(replace(COOL, bike="light-trail"), hot))
    advice = advise_case(replace(ride, heat=heat))
    against = {b.name: codes(b.against) for b in advice.bikes}
    assert "no-fan" not in against["light-trail"]
    assert "fan-works" in against["dual-sport"]


def test_hard_ground_decides_even_if_short() -> None:
    """Half an hour of rock in three hours of tarmac cannot be done on road tyres."""
    advice = advise_case(inputs((150, SEALED), (6, HARD)))
    assert advice.setup.choice == "off-road"
    assert "skip-this-run" in codes(advice.questions)
    (flip,) = [f for f in advice.setup.flips if f.said.code == "flip-skip"]
    assert flip.then == "road"


def test_leaving_out_nearly_all_of_a_ride_is_no_answer() -> None:
    """200 m of tarmac and 12 km of hard ground: without the 12 km there is no ride."""
    advice = advise_case(inputs((0.2, SEALED), (12, HARD)))
    assert advice.setup.choice == "off-road"
    assert "flip-skip" not in [f.said.code for f in advice.setup.flips]


_GAPS = tuple((5e3 * i, 5e3 * (i + 1)) for i in range(20))


def test_one_doubtful_road_counts_in_full_and_twenty_do_not() -> None:
    """Independent guesses do not all turn out the same way, beyond what is to be expected."""

    def leeway(n: int) -> float:
        from .trips import EITHER

        ride = inputs(*(((200 / n, EITHER),) * n))
        return ground_shift_s(burden_of(ride, SETUP), worse=True).off_s

    expected = 0.55  # the chance that the road is not paved
    assert leeway(1) == pytest.approx(3600 * 200 / 35)
    assert leeway(20) < (expected + 0.3) * leeway(1)


@pytest.mark.parametrize("leg", [SEALED, TRACK])
def test_a_way_guessed_throughout_is_firm_where_no_known_way_turns_it(leg: Leg) -> None:
    """Nothing else is near: what is left is the chance of a way that nobody thinks of."""
    ride = inputs(*(((5, leg),) * 20))
    sure = advise_case(ride).setup
    guessed = advise_case(replace(ride, gaps=_GAPS)).setup
    assert guessed.choice == sure.choice != "ask"
    assert sure.p_off_road is not None and guessed.p_off_road is not None
    assert abs(guessed.p_off_road - 0.5) <= abs(sure.p_off_road - 0.5)
    assert guessed.off_road_s[2] - guessed.off_road_s[1] > sure.off_road_s[2] - sure.off_road_s[1]
    (said,) = [r for r in guessed.reasons if r.code == "any-way"]
    assert "whichever way you go between the points" in said.text
    assert "unless by one that is unlikely" in said.text  # beyond way_level of the draws
    assert not any(r.code == "any-way" for r in sure.reasons)


def test_points_off_tarmac_with_a_road_between_open_the_answer() -> None:
    """Every drawn point lies on a track, and the way that was guessed leaves it at once."""
    leg = ((0.05, TRACK), (4.9, SEALED), (0.05, TRACK))
    ride = inputs(*(leg * 20))
    assert advise_case(ride).setup.choice == "road"
    assert advise_case(replace(ride, gaps=_GAPS)).setup.choice == "ask"


@pytest.mark.parametrize("n_open", [1, 3, 8])
def test_the_question_names_the_gaps_that_leave_it_open(n_open: int) -> None:
    """In some of twenty gaps a track is as likely as the road that was taken for the way.

    Gaps that meet at a drawn point are one part: a headline counted four where three were listed.
    """
    apart = _GAPS[2 : 2 + 2 * n_open : 2]
    ride = inputs(*(((5, SEALED),) * 20))
    dirt = replace(inputs((40 / n_open, TRACK)).stretches[0], way=500)
    parts = tuple(
        Alternatives(from_m=a, to_m=b, weight=1.0,
                     ways=(AlternativeRoute(weight=1.0, stretches=(dirt,)),))
        for a, b in apart
    )  # fmt: skip
    advice = advise_case(replace(ride, gaps=_GAPS, other_ways=parts))
    assert advice.setup.choice == "ask" and advice.setup.tyres is None
    asked = advice.questions[0]
    assert asked.text.endswith("as we guessed: road setup.")
    assert advice.setup.flips[0].then == "road"
    if n_open == 8:  # nobody answers for so many one by one
        assert asked.code == "send-track"
    else:
        assert asked.code == ("which-way" if n_open == 1 else "which-ways")
        assert (asked.from_m, asked.to_m) == (10e3, apart[-1][1])
        assert asked.spans == (() if n_open == 1 else apart)
        assert dict(asked.numbers).get("n_gaps", 1) == n_open
    meet = [replace(part, from_m=a, to_m=b) for part, (a, b) in zip(parts, _GAPS[2:], strict=False)]
    asked = advise_case(replace(ride, gaps=_GAPS, other_ways=tuple(meet))).questions[0]
    if n_open < 8:
        assert (asked.code, asked.from_m, asked.to_m) == ("which-way", 10e3, 10e3 + 5e3 * n_open)


def test_a_short_gap_does_not_open_the_answer() -> None:
    ride = replace(inputs((100, SEALED)), gaps=((40_000.0, 45_000.0),))
    assert advise_case(ride).setup.choice == "road"


def test_another_way_on_dirt_opens_the_answer_by_how_likely_it_is() -> None:
    ride = inputs((60, SEALED), (10, SEALED))
    dirt = replace(inputs((12, TRACK)).stretches[0], way=500)

    def setup(weight: float) -> Setup:
        way = AlternativeRoute(weight=weight, stretches=(dirt,))
        part = Alternatives(from_m=60_000.0, to_m=70_000.0, weight=1.0, ways=(way,))
        gaps = ((60_000.0, 70_000.0),)
        return advise_case(replace(ride, gaps=gaps, other_ways=(part,))).setup

    rare, even = setup(0.01), setup(1.0)
    assert rare.choice == "road" and even.choice == "ask"
    assert even.p_off_road is not None and rare.p_off_road is not None
    assert even.p_off_road == pytest.approx(0.5, abs=0.1) and rare.p_off_road < 0.15


def test_many_fairly_sure_roads_are_not_sure_together() -> None:
    """A little doubt on each of thirty roads adds up: p_off_road is high, so no firm "road"."""
    from .trips import LIKELY_SEALED

    ride = inputs((7, TRACK), *(((3, LIKELY_SEALED),) * 30))
    stretches = (
        ride.stretches[0],
        *(replace(s, p=(0.885, 0.0, 0.115)) for s in ride.stretches[1:]),
    )
    setup = advise_case(replace(ride, stretches=stretches)).setup
    assert setup.p_off_road is not None and setup.p_off_road > 0.5
    assert setup.choice != "road"


def test_a_hard_day_is_not_thinned_by_an_easy_one() -> None:
    """One off-road day out of two: the rider's limit is held against that day, not the mean."""
    ride = inputs((100, TRACK), (150, SEALED), n_days=2)
    split = replace(ride, days=((0.0, 100_000.0), (100_000.0, 250_000.0)))

    def off_s(case: AdviceCase) -> float:
        fit = advise_case(case).rider
        return max(
            float(dict(said.numbers)["off_s"])
            for said in fit.reasons
            if "off_s" in dict(said.numbers)
        )

    even = replace(split, days=((0.0, 50_000.0), (50_000.0, 250_000.0)), trip=NOVICE)
    hard = replace(split, trip=NOVICE)
    assert off_s(hard) > 1.8 * off_s(even)
    assert off_s(hard) == pytest.approx(burden_of(hard, SETUP).expected_s()[0], rel=0.05)
