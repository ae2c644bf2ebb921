"""Each line of the fit table decides between two bikes that are alike in all the rest."""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.stages.advice.advise import advise_case
from terrain.stages.advice.case import AdviceCase
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.advice import Advice
from terrain.values.fleet import BikeClass, Parts, Repair
from terrain.values.trip import Luggage, Rider
from tests.stages.advice.trips import (
    COOL,
    GRAVEL,
    HARD,
    MOTORWAY,
    SEALED,
    TRACK,
    Case,
    Leg,
    inputs_of,
    reach_of,
)

_DUAL = DEFAULT_FLEET.named("dual-sport")


def _ride(*legs: tuple[float, Leg], **more: object) -> AdviceCase:
    return inputs_of(Case(name="x", legs=legs, choice="road", top=(), **more))  # type: ignore[arg-type]


def _advice(ride: AdviceCase, worse: dict[str, object], better: dict[str, object]) -> Advice:
    """Advice on two classes; of two that fit alike "a", the worse, would come first."""
    assert _DUAL is not None
    plain = replace(_DUAL, minimum_rider=Rider.NOVICE)
    bikes: tuple[BikeClass, ...] = (
        replace(plain, name="a", **worse), replace(plain, name="b", **better),  # type: ignore[arg-type]
    )  # fmt: skip
    reach = tuple(replace(ride.reach[0], name=bike.name) for bike in bikes)
    fleet = replace(DEFAULT_FLEET, classes=bikes)
    return advise_case(replace(ride, fleet=fleet, reach=reach))


def _hot(ride: AdviceCase) -> AdviceCase:
    heat = replace(ride.heat, engines=(replace(COOL, fan_s=1_800.0),))
    return replace(ride, heat=heat)


_CASES: dict[str, tuple[str, AdviceCase, dict[str, object], dict[str, object]]] = {
    "ability on tracks": ("ground", _ride((80, TRACK)), {"off_road": 0.5}, {"off_road": 0.6}),
    "ability on gravel": ("ground", _ride((80, GRAVEL)), {"off_road": 0.1}, {"off_road": 0.3}),
    "weight on hard ground": ("ground", _ride((40, HARD)), {"mass_kg": 180}, {"mass_kg": 150}),
    "manners on tarmac": ("ground", _ride((80, SEALED)), {"off_road": 0.8}, {"off_road": 0.2}),
    "power on tarmac": ("ground", _ride((80, SEALED)), {"power_kw": 8}, {"power_kw": 12}),
    "speed on a motorway": (
        "ground", _ride((90, MOTORWAY)), {"motorway": 0.4}, {"motorway": 0.9},
    ),
    "an easier bike": (
        "rider", _ride((80, SEALED)), {"minimum_rider": Rider.STEADY}, {},
    ),
    "payload": (
        "load", _ride((80, SEALED), pillion=True), {"payload_kg": 175}, {"payload_kg": 215},
    ),
    "racks for the luggage": (
        "load", _ride((80, SEALED), luggage="boxes"), {"payload_kg": 200},
        {"payload_kg": 200, "luggage": tuple(Luggage)},
    ),
    "parts far from help": (
        "repair", _ride((80, SEALED), remote_h=3), {"parts": Parts.RARE}, {"parts": Parts.FAIR},
    ),
    "repair far from help": (
        "repair", _ride((80, SEALED), remote_h=3), {"repair": Repair.HARD},
        {"repair": Repair.EASY},
    ),
    "incidents": (
        "reliability", _ride((80, SEALED)), {"incident_rate": 0.06}, {"incident_rate": 0.03},
    ),
    "a fan in the heat": ("heat", _hot(_ride((80, SEALED))), {"fan": False}, {"fan": True}),
    "a larger tank": (
        "range", _ride((200, SEALED), fuel_gap_km=130), {"tank_l": 8}, {"tank_l": 12},
    ),
    "less thirst": (
        "range", _ride((200, SEALED), fuel_gap_km=130), {"consumption_l_100km": 4.2},
        {"consumption_l_100km": 3.2},
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", _CASES.values(), ids=_CASES.keys())
def test_it_decides(
    case: tuple[str, AdviceCase, dict[str, object], dict[str, object]],
) -> None:
    line, ride, worse, better = case
    advice = _advice(ride, worse, better)
    assert [fit.name for fit in advice.bikes] == ["b", "a"]
    first, second = ({row.what: row.score for row in fit.table} for fit in advice.bikes)
    assert (first[line] or 0.0) > (second[line] or 0.0)
    # What gives a bike its ability off tarmac makes it harder to ride, too.
    apart = {what for what in first if first[what] != second[what]} - {line}
    assert apart <= {"rider"} if line == "ground" else not apart


@pytest.mark.parametrize(
    ("line", "ride", "change", "score"),
    [
        # 100 kg of 125 carried: four fifths, from where on the score falls.
        ("load", _ride((80, SEALED)), {"payload_kg": 125}, 1.0),
        # All of the payload: half way down to the half that a load can cost.
        ("load", _ride((80, SEALED)), {"payload_kg": 100}, 0.75),
        # 0.10 incidents a rental: half of what counts as full.
        ("reliability", _ride((80, SEALED)), {"incident_rate": 0.10}, 0.5),
        # Half an hour on the fan: half of what an hour costs, 0.3 with one and 0.6 without.
        ("heat", _hot(_ride((80, SEALED))), {"fan": True}, 0.85),
        ("heat", _hot(_ride((80, SEALED))), {"fan": False}, 0.70),
        # 8 l less a fifth over 4 l a 100 km: 160 km, of which 128 are eight tenths.
        ("range", replace(_ride((200, SEALED)), fuel_gap_m=128e3, fuel_gap_tarmac_m=128e3),
         {"consumption_l_100km": 4.0}, 0.5),
        ("range", replace(_ride((200, SEALED)), fuel_gap_m=80e3, fuel_gap_tarmac_m=80e3),
         {"consumption_l_100km": 4.0}, 1.0),
    ],
)  # fmt: skip
def test_scores_worked_by_hand(
    line: str, ride: AdviceCase, change: dict[str, object], score: float
) -> None:
    advice = _advice(ride, change, change)
    (found,) = {row.score for fit in advice.bikes for row in fit.table if row.what == line}
    assert found == pytest.approx(score)


@pytest.mark.parametrize(
    ("hours", "parts", "repair", "kick", "score"),
    [
        # Twice the two hours of a support vehicle is as far as counts; rare parts and a hard
        # repair leave a fifth of the ease of mending.
        (4.0, Parts.RARE, Repair.HARD, True, 0.2),
        (2.0, Parts.RARE, Repair.HARD, True, 0.6),
        (8.0, Parts.RARE, Repair.HARD, True, 0.2),
        (4.0, Parts.COMMON, Repair.HARD, True, 0.6),
        (4.0, Parts.COMMON, Repair.EASY, True, 1.0),
        (0.0, Parts.RARE, Repair.HARD, True, 1.0),
        # Without a kick start a fifth of the ease of mending is lost, far from help only.
        (4.0, Parts.COMMON, Repair.EASY, False, 0.8),
        (0.0, Parts.COMMON, Repair.EASY, False, 1.0),
    ],
)
def test_mending_by_hand(
    hours: float, parts: Parts, repair: Repair, kick: bool, score: float
) -> None:
    ride = _ride((80, SEALED))
    reach = reach_of("a", known=True, farthest_s=3600 * hours, farthest_m=0.0)
    same: dict[str, object] = {"parts": parts, "repair": repair, "kick_start": kick}
    advice = _advice(replace(ride, reach=(reach,)), same, same)
    (found,) = {row.score for fit in advice.bikes for row in fit.table if row.what == "repair"}
    assert found == pytest.approx(score)


@pytest.mark.parametrize(
    ("rider", "meant_for", "score"),
    [
        # A bike of ability 0.75 asks four tenths of that, and six tenths by whom it is for.
        (Rider.NOVICE, Rider.NOVICE, 1 - 0.6 * 0.30),
        (Rider.STEADY, Rider.NOVICE, 1 - 0.25 * 0.30),
        (Rider.STEADY, Rider.STEADY, 1 - 0.25 * 0.60),
        (Rider.EXPERT, Rider.EXPERT, 1.0),
    ],
)
def test_what_a_bike_asks_of_its_rider_by_hand(
    rider: Rider, meant_for: Rider, score: float
) -> None:
    ride = _ride((80, SEALED))
    bike: dict[str, object] = {"minimum_rider": meant_for}
    advice = _advice(replace(ride, trip=replace(ride.trip, rider=rider)), bike, bike)
    (found,) = {row.score for fit in advice.bikes for row in fit.table if row.what == "rider"}
    assert found == pytest.approx(score)


@pytest.mark.parametrize(
    ("hours", "share_kept"),
    # Wholly out of its depth below ease 0, half way at 0.15; an hour of it costs 0.6 of all.
    [(2.0, 0.4), (1.2, 0.4), (0.5, 1 - 0.6 * 0.5 * (0.3 - 0.0111) / 0.3)],
)
def test_out_of_its_depth_by_hand(hours: float, share_kept: float) -> None:
    """A light bike of no ability off tarmac: at ease on a slow road, at exp(-4.5) on the worst."""
    ride = _ride((60, SEALED), (10, TRACK))
    road, track = ride.stretches
    ride = replace(ride, stretches=(
        replace(road, p=(1.0, 0.0, 0.0), severity=0.0, time_s=3 * 3600.0),
        replace(track, p=(0.0, 0.0, 1.0), severity=5.0, time_s=3600 * hours),
    ))  # fmt: skip
    bike: dict[str, object] = {"off_road": 0.0, "mass_kg": 110, "power_kw": 20}
    advice = _advice(ride, bike, bike)
    (found,) = {row.score for fit in advice.bikes for row in fit.table if row.what == "ground"}
    mean = (3 + hours * 0.0111) / (3 + hours)
    assert found == pytest.approx(mean * share_kept, abs=2e-4)


@pytest.mark.parametrize(
    ("kph", "motorway", "ease"),
    # Below 70 km/h manners count alone, from 105 on the motorway alone; half of each between.
    [(60, 0.4, 0.55), (70, 0.4, 0.55), (87.5, 0.4, 0.475), (105, 0.4, 0.4), (130, 0.9, 0.9)],
)
def test_tarmac_by_hand(kph: float, motorway: float, ease: float) -> None:
    """A full off-road bike gives up 0.45 of comfort on slow tarmac."""
    ride = _ride((60, SEALED))
    road = replace(ride.stretches[0], p=(1.0, 0.0, 0.0), severity=0.0, speed_kph=kph)
    bike: dict[str, object] = {"off_road": 1.0, "motorway": motorway, "power_kw": 20}
    advice = _advice(replace(ride, stretches=(road,)), bike, bike)
    (found,) = {row.score for fit in advice.bikes for row in fit.table if row.what == "ground"}
    assert found == pytest.approx(ease)


@pytest.mark.parametrize(
    ("severity", "off_road", "mass_kg", "ease"),
    [
        (2.0, 0.40, 120, 1.0), (2.0, 0.20, 120, 0.4066), (2.7, 0.70, 120, 1.0),
        (3.5, 0.72, 120, 0.6376), (5.0, 0.90, 120, 0.6376),
        # 0.4 of ease for each 100 kg above 120, at severity 3.
        (2.7, 1.00, 220, 1 - 0.4 * 0.9), (2.7, 1.00, 170, 1 - 0.2 * 0.9),
    ],
)  # fmt: skip
def test_dirt_by_hand(severity: float, off_road: float, mass_kg: float, ease: float) -> None:
    """exp(-4.5 x the ability that is lacking); a track is never easier than 2."""
    ride = _ride((10, TRACK))
    track = replace(ride.stretches[0], p=(0.0, 0.0, 1.0), severity=severity)
    bike: dict[str, object] = {"off_road": off_road, "mass_kg": mass_kg}
    advice = _advice(replace(ride, stretches=(track,)), bike, bike)
    (found,) = {row.score for fit in advice.bikes for row in fit.table if row.what == "ground"}
    assert found == pytest.approx(ease, abs=2e-4)


def test_a_bike_that_cannot_take_the_advised_tyres_is_not_first() -> None:
    ride = _ride((20, SEALED), (80, TRACK))
    road = {"tyres": ("road",)}
    able: dict[str, object] = {"off_road": 0.9, "mass_kg": 120, "clearance_mm": 260} | road
    weak: dict[str, object] = {"off_road": 0.3, "mass_kg": 200} | road
    advice = _advice(ride, able, weak | {"tyres": ("road", "mixed", "block")})
    assert [fit.name for fit in advice.bikes] == ["b", "a"]
    # Where neither can, the better bike is first, and both are told of.
    advice = _advice(ride, able, weak)
    assert [fit.name for fit in advice.bikes] == ["a", "b"]
    assert all("no-tyres" in {said.code for said in fit.against} for fit in advice.bikes)


def test_without_a_kick_start_it_says_so_far_from_help_only() -> None:
    far, near = (
        replace(_ride((80, SEALED)), reach=tuple(
            reach_of(name, known=True, farthest_s=3600 * hours, farthest_m=0.0) for name in "ab"
        ))
        for hours in (2, 0.5)
    )  # fmt: skip
    codes = []
    for ride in (far, near):
        advice = _advice(ride, {"kick_start": True}, {"kick_start": False})
        codes.append(
            {f.name: {s.code for s in f.against} & {"no-kick-start"} for f in advice.bikes}
        )
    assert codes == [{"a": set(), "b": {"no-kick-start"}}, {"a": set(), "b": set()}]


def test_a_bike_that_cannot_take_the_tyres_is_four_fifths_at_ease() -> None:
    """Common practice, no source; on a road any tyre does."""
    for leg, share in ((TRACK, 0.8), (SEALED, 1.0)):
        advice = _advice(_ride((80, leg)), {"tyres": ("road",)}, {"tyres": ("mixed", "block")})
        ease = {
            fit.name: row.score for fit in advice.bikes for row in fit.table if row.what == "ground"
        }
        assert ease["b"] is not None
        assert ease["a"] == pytest.approx(share * ease["b"])
