"""Advice moves the right way: more track, a worse rider, less certainty."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from terrain.stages.advice.advise import advise_case
from terrain.stages.advice.bikes.rank import hardness
from terrain.stages.advice.burden import OffRoadTime, burden_of
from terrain.stages.advice.case import (
    AdviceCase,
    AdviceStretch,
    AlternativeRoute,
    Alternatives,
)
from terrain.stages.advice.setup.decide import bounds_of, decide, may_turn
from terrain.stages.advice.setup.judge import judge_setup
from terrain.tables.advice import SETUP
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.tables.ground_errors import ESTIMATED
from terrain.values.advice import Advice, SetupChoice
from terrain.values.ground import LAND_GROUNDS, Basis, Errors, SeasonRisk
from terrain.values.heat import Heat
from terrain.values.trip import Luggage, Rider, Trip
from tests.stages.advice.reach import reach_of
from tests.stages.advice.trips import COOL

#: As the real one, with fewer imagined worlds: what holds in each holds in all.
MODEL = replace(SETUP, draws=300)
#: One group in each grouping of the ground's own error model.
SHARED = Errors(
    shared=tuple((number, part) for number, part in enumerate(ESTIMATED.parts)), split=(1, 0.5)
)


def _alone(number: int) -> Errors:
    """A stretch's own groups, all of one number."""
    return Errors(shared=tuple((number, part) for _, part in SHARED.shared), split=(number, 1.0))


def _engines(fan_s: float) -> Heat:
    return Heat(engines=(replace(COOL, fan_s=fan_s),))


def _advise(inputs: AdviceCase) -> Advice:
    return advise_case(inputs, setup_model=MODEL)


@st.composite
def probabilities(draw: st.DrawFn) -> tuple[float, float, float]:
    """Sure, doubtful and undecided ground alike."""
    sharp = draw(st.sampled_from([0.15, 0.6, 3.0]))
    raw = [draw(st.floats(0.01, 1.0)) ** (1 / sharp) for _ in range(3)]
    total = sum(raw)
    return raw[0] / total, raw[1] / total, raw[2] / total


@st.composite
def rides(draw: st.DrawFn) -> AdviceCase:
    at, stretches = 0.0, []
    for number in range(draw(st.integers(1, 6))):
        length = draw(st.floats(500, 60_000))
        p = draw(probabilities())
        kph = draw(st.floats(10, 110))
        stretches.append(
            AdviceStretch(
                from_m=at,
                to_m=at + length,
                ground=LAND_GROUNDS[int(np.argmax(p))],
                p=p,
                time_s=3.6 * length / kph,
                speed_kph=kph,
                severity=draw(st.one_of(st.none(), st.floats(0, 5))),
                season_risk=draw(st.sampled_from([None, *SeasonRisk])),
                grade_pct=draw(st.one_of(st.none(), st.floats(-25, 25))),
                basis=draw(st.sampled_from([Basis.TAGGED, Basis.GRADED, Basis.INFERRED])),
                highway=draw(st.sampled_from(["secondary", "track", "motorway"])),
                way=draw(st.sampled_from([number, 0])),
                errors=draw(st.sampled_from([Errors(), SHARED, _alone(number)])),
                ford=draw(st.booleans()),
            )
        )
        at += length
    hours = draw(st.floats(0, 6))
    gaps = draw(gaps_in(at))
    return AdviceCase(
        gaps=gaps,
        other_ways=tuple(draw(other_ways(gap)) for gap in gaps[: draw(st.integers(0, 1))]),
        stretches=tuple(stretches),
        trip=Trip(
            rider=Rider.STEADY,
            pillion=draw(st.booleans()),
            luggage=draw(st.sampled_from(list(Luggage))),
        ),
        fleet=DEFAULT_FLEET,
        month=draw(st.one_of(st.none(), st.integers(1, 12))),
        mechanic_s=3600 * hours,
        mechanic_m=40_000 * hours,
        reach=tuple(
            reach_of(b.name, known=draw(st.booleans()), farthest_s=3600 * hours,
                       farthest_m=40_000 * hours)
            for b in DEFAULT_FLEET.classes
        ),
        fuel_gap_m=draw(st.one_of(st.none(), st.floats(1_000, 350_000))),
        heat=draw(st.just(Heat()) | st.floats(0, 9_000).map(_engines)),
    )  # fmt: skip


@st.composite
def gaps_in(draw: st.DrawFn, end_m: float) -> tuple[tuple[float, float], ...]:
    """Mostly none, else parts between far-apart points that do not overlap."""
    if draw(st.booleans()):
        return ()
    cuts = sorted(draw(st.lists(st.floats(0, end_m), min_size=2, max_size=6, unique=True)))
    return tuple(zip(cuts[::2], cuts[1::2], strict=False))


@st.composite
def other_ways(draw: st.DrawFn, gap: tuple[float, float]) -> Alternatives:
    length = (gap[1] - gap[0]) * draw(st.floats(0.8, 1.6)) + 10.0
    p = draw(probabilities())
    there = AdviceStretch(
        from_m=0.0, to_m=length, ground=LAND_GROUNDS[int(np.argmax(p))], p=p,
        time_s=3.6 * length / draw(st.floats(10, 110)), severity=draw(st.floats(0, 5)),
        basis=Basis.INFERRED, way=77, errors=SHARED,
    )  # fmt: skip
    weight = draw(st.floats(0.01, 1.0))
    way = AlternativeRoute(weight=weight, stretches=(there,))
    return Alternatives(from_m=gap[0], to_m=gap[1], weight=1.0, ways=(way,))


def with_p(inputs: AdviceCase, change: dict[int, tuple[float, float, float]]) -> AdviceCase:
    """Other probabilities for some stretches; all else as it was."""
    return replace(
        inputs,
        stretches=tuple(
            replace(s, p=change[i]) if i in change else s for i, s in enumerate(inputs.stretches)
        ),
    )


def p_off_road(inputs: AdviceCase) -> float:
    p = judge_setup(inputs, burden_of(inputs, MODEL), MODEL).p_off_road
    assert p is not None
    return p


@settings(max_examples=40, deadline=None)
@given(rides(), st.data())
def test_more_track_never_lowers_p_off_road(inputs: AdviceCase, data: st.DataObject) -> None:
    i = data.draw(st.integers(0, len(inputs.stretches) - 1))
    share = data.draw(st.floats(0, 1))
    paved, gravel, track = inputs.stretches[i].p or (0, 0, 0)
    moved = data.draw(st.sampled_from([(share, 0.0), (0.0, share), (share, share)]))
    more = (
        paved * (1 - moved[0]),
        gravel * (1 - moved[1]),
        track + paved * moved[0] + gravel * moved[1],
    )
    # In a gap, a way that nobody thinks of is of the ground that is likely here: gravel that is
    # split in two by the move must not leave paved as the likeliest of the three.
    assume(not inputs.gaps or max(more[1:]) >= more[0] or paved >= max(gravel, track))
    assert p_off_road(with_p(inputs, {i: more})) >= p_off_road(inputs)


@settings(max_examples=40, deadline=None)
@given(rides(), st.floats(500, 60_000), st.floats(2.0, 5.0))
def test_a_track_added_never_lowers_p_off_road(
    inputs: AdviceCase, length: float, severity: float
) -> None:
    end = inputs.length_m
    track = AdviceStretch(
        from_m=end, to_m=end + length, ground=LAND_GROUNDS[2], p=(0.0, 0.0, 1.0), time_s=length / 6,
        severity=severity, basis=Basis.TAGGED, way=99, errors=SHARED,
    )  # fmt: skip
    longer = replace(inputs, stretches=(*inputs.stretches, track))
    assert p_off_road(longer) >= p_off_road(inputs)


@settings(max_examples=80, deadline=None)
@given(rides(), st.floats(0, 0.97))
def test_less_certainty_never_gives_a_firmer_answer(inputs: AdviceCase, less: float) -> None:
    """Every stretch's probabilities drawn towards one another, by the same share."""
    vaguer = {
        i: tuple((1 - less) * x + less / 3 for x in s.p or ())
        for i, s in enumerate(inputs.stretches)
    }
    vague = burden_of(with_p(inputs, vaguer), MODEL)  # type: ignore[arg-type]
    _assert_no_firmer(burden_of(inputs, MODEL), vague)


@settings(max_examples=150, deadline=None)
@given(rides(), st.data())
def test_a_part_said_not_to_matter_turns_nothing(inputs: AdviceCase, data: st.DataObject) -> None:
    """Left out, or on any known ground; most of the ride's parts are such parts."""
    short = data.draw(st.floats(0.001, 1.0))
    i = data.draw(st.integers(0, len(inputs.stretches) - 1))
    stretches = tuple(
        replace(s, time_s=s.time_s * short) if n == i else s for n, s in enumerate(inputs.stretches)
    )
    burden = burden_of(replace(inputs, stretches=stretches), MODEL)
    choice, part = decide(burden, MODEL), burden.row == i
    if not may_turn(burden, part, choice, bounds_of(burden, MODEL), MODEL):
        others = [burden.without(part)] if not part.all() else []
        others += [burden.fixed(part, ground) for ground in range(3)]
        assert {decide(other, MODEL) for other in others} <= {choice, SetupChoice.ASK}


def test_the_shortest_of_many_parts_does_not_matter() -> None:
    p = ((1.0, 0.0, 0.0), (0.0, 0.5, 0.5))
    stretches = tuple(
        AdviceStretch(from_m=n, to_m=n + 1, ground=LAND_GROUNDS[2 * (n % 2)], p=p[n % 2],
                      time_s=10.0 if n == 1 else 3_000.0, basis=Basis.INFERRED, way=n)
        for n in range(8)
    )  # fmt: skip
    burden = burden_of(AdviceCase(stretches=stretches, fleet=DEFAULT_FLEET, trip=Trip()), MODEL)
    choice, b = decide(burden, MODEL), bounds_of(burden, MODEL)
    assert not may_turn(burden, burden.row == 1, choice, b, MODEL)
    assert may_turn(burden, burden.row % 2 == 1, choice, b, MODEL)


@settings(max_examples=50, deadline=None)
@given(rides(), st.data())
def test_more_of_it_guessed_never_gives_a_firmer_answer(
    inputs: AdviceCase, data: st.DataObject
) -> None:
    """Points left out of the file: more of the way lies between far-apart ones."""
    cut = data.draw(st.integers(0, len(inputs.gaps)))
    fewer = replace(inputs, gaps=inputs.gaps[:cut], other_ways=())
    _assert_no_firmer(burden_of(fewer, MODEL), burden_of(inputs, MODEL))


@settings(max_examples=40, deadline=None)
@given(rides())
def test_a_firm_answer_about_a_guessed_way_is_that_of_the_way_as_laid(inputs: AdviceCase) -> None:
    """What is not known of the way can open an answer, never make or turn one."""
    burden = burden_of(inputs, MODEL)
    assert decide(burden, MODEL) in (decide(burden.as_laid(), MODEL), SetupChoice.ASK)


@settings(max_examples=40, deadline=None)
@given(rides(), st.floats(1.0, 50.0))
def test_a_likelier_other_way_never_gives_a_firmer_answer(inputs: AdviceCase, more: float) -> None:
    """Chance taken from the ridden way and given to the others, each in proportion."""
    likelier = tuple(
        replace(part, ways=tuple(replace(w, weight=more * w.weight) for w in part.ways))
        for part in inputs.other_ways
    )
    sure = burden_of(inputs, MODEL)
    vague = burden_of(replace(inputs, other_ways=likelier), MODEL)
    _assert_no_firmer(sure, vague)


def _assert_no_firmer(sure: OffRoadTime, vague: OffRoadTime) -> None:
    """The bounds are no narrower, so the answer is the same or open."""
    a, b = bounds_of(sure, MODEL), bounds_of(vague, MODEL)
    assert b.off_low_s <= a.off_low_s + 1e-6 and b.off_high_s >= a.off_high_s - 1e-6
    assert b.hard_low_s <= a.hard_low_s + 1e-6 and b.hard_high_s >= a.hard_high_s - 1e-6
    assert decide(vague, MODEL) in (decide(sure, MODEL), SetupChoice.ASK)


@settings(max_examples=40, deadline=None)
@given(rides())
def test_a_firm_answer_is_a_probable_one(inputs: AdviceCase) -> None:
    setup = judge_setup(inputs, burden_of(inputs, MODEL), MODEL)
    assert setup.p_off_road is not None
    if setup.choice is SetupChoice.ROAD:
        assert setup.p_off_road <= 0.35
    if setup.choice is SetupChoice.OFF_ROAD:
        assert setup.p_off_road >= 0.65


@settings(max_examples=25, deadline=None)
@given(rides())
def test_a_worse_rider_never_gets_a_harder_bike(inputs: AdviceCase) -> None:
    hard: list[float] = []
    for rider in (Rider.NOVICE, Rider.STEADY, Rider.EXPERT):
        advice = _advise(replace(inputs, trip=replace(inputs.trip, rider=rider)))
        if advice.bikes:
            bike = DEFAULT_FLEET.named(advice.bikes[0].name)
            assert bike is not None
            hard.append(hardness(bike))
    assert hard == sorted(hard)


@settings(max_examples=8, deadline=None)
@given(rides())
def test_the_rider_does_not_change_the_setup(inputs: AdviceCase) -> None:
    """Tyres are for the ground; whether the rider should go is said apart."""
    setups = [
        _advise(
            replace(inputs, trip=replace(inputs.trip, rider=rider)),
        ).setup.to_dict()
        for rider in Rider
    ]
    for setup in setups:
        setup.pop("pressures")
        setup.pop("reasons")  # they name bikes, which are for the rider
    assert setups[0] == setups[1] == setups[2]


@settings(max_examples=12, deadline=None)
@given(rides())
def test_farther_help_never_favours_the_bike_that_is_harder_to_mend(inputs: AdviceCase) -> None:
    def repair(hours: float, name: str) -> float:
        reach = tuple(
            reach_of(b.name, known=True, farthest_s=3600 * hours, farthest_m=0.0)
            for b in DEFAULT_FLEET.classes
        )
        advice = _advise(
            replace(inputs, reach=reach, trip=Trip(rider=Rider.EXPERT)),
        )
        rows = {b.name: {r.what: r.score for r in b.table} for b in advice.bikes}
        return rows[name]["repair"] if name in rows else 1.0

    near = repair(0.5, "small-all-rounder") - repair(0.5, "enduro")
    far = repair(4.0, "small-all-rounder") - repair(4.0, "enduro")
    assert far >= near


@settings(max_examples=6, deadline=None)
@given(rides())
def test_same_in_same_out(inputs: AdviceCase) -> None:
    assert _advise(inputs).to_dict() == _advise(inputs).to_dict()
