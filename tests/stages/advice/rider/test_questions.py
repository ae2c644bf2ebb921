"""What is asked, and that what was answered is not asked again."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.advice.advise import advise_case
from terrain.stages.advice.burden import burden_of
from terrain.stages.advice.case import AdviceCase, AdviceStretch
from terrain.stages.advice.rider import questions
from terrain.stages.advice.rider.questions import _about_ground, _beyond, _month, _track, ask
from terrain.stages.advice.runs import StretchRun
from terrain.stages.advice.setup.decide import GROUND_WORDS, decide
from terrain.tables.advice import SETUP
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.text.message import message
from terrain.values.advice import AdviceItem, RiderFit, RiderVerdict, SetupChoice
from terrain.values.answers import PartAnswer, Reply
from terrain.values.ground import Basis, GroundKind, SeasonRisk
from terrain.values.trip import Trip
from tests.stages.advice.trips import HARD, SEALED, Case, inputs_of

_RIDE = Case(name="x", legs=((150, SEALED), (6, HARD)), choice="off-road", top=())


@pytest.mark.parametrize(
    ("reply", "from_m", "asked"),
    [
        (Reply.KEEP, 149_000.0, False),
        (Reply.LEAVE, 149_000.0, False),
        (Reply.UNSURE, 149_000.0, True),
        (Reply.KEEP, 1_000.0, True),  # another part
    ],
)
def test_a_part_that_is_meant_or_left_out_is_not_asked_about(
    reply: Reply, from_m: float, asked: bool
) -> None:
    ride = inputs_of(_RIDE)
    answer = PartAnswer(from_m=from_m, to_m=from_m + 7_000.0, reply=reply)
    said = advise_case(replace(ride, trip=replace(ride.trip, answers=(answer,)))).questions
    assert ("skip-this-run" in {item.code for item in said}) is asked
    assert "skip-this-run" in {item.code for item in advise_case(ride).questions}


def _ride(*legs: tuple[float, tuple[float, float, float]]) -> AdviceCase:
    """Hours and chances of each leg, 10 km each; how hard it is is not known."""
    stretches = tuple(
        AdviceStretch(
            from_m=10_000.0 * i, to_m=10_000.0 * (i + 1), p=p, time_s=3_600.0 * hours, way=i,
            ground=GroundKind.PAVED if p == _PAVED else GroundKind.TRACK, basis=Basis.TAGGED,
        )
        for i, (hours, p) in enumerate(legs)
    )  # fmt: skip
    return AdviceCase(stretches=stretches, trip=Trip(), fleet=DEFAULT_FLEET, month=9)


_PAVED, _TRACK, _EITHER = (1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.5, 0.0, 0.5)


def test_parts_of_which_any_decides_are_asked_about_from_the_first_to_the_last() -> None:
    """A fifth of ten hours is the limit, and two hours are track: more, and it is off-road.

    Two more hours may be track, each alone enough; if both are tarmac it stays open.
    """
    ride = _ride(
        (2.0, _PAVED), (1.0, _EITHER), (2.0, _PAVED), (2.0, _TRACK), (2.0, _PAVED), (1.0, _EITHER),
    )  # fmt: skip
    (asked,) = [item for item in advise_case(ride).questions if item.code == "which-any"]
    assert (asked.from_m, asked.to_m) == (10_000.0, 60_000.0)


def test_no_more_than_three_questions_are_asked() -> None:
    """Four parts of .55 h are 2.2 of ten hours; without any one of them the ride is for the road:
    1.65 h where 1.89 are the limit."""
    tarmac, track = (1.56, _PAVED), (0.55, _TRACK)
    advice = advise_case(_ride(tarmac, track, tarmac, track, tarmac, track, tarmac, track, tarmac))
    assert advice.setup.choice == "off-road"
    assert [item.code for item in advice.questions] == ["skip-this-run"] * 3


@pytest.mark.parametrize(
    ("ground", "risk", "length_m", "month", "asked"),
    [
        (GroundKind.TRACK, None, 1_000.0, None, 1), (GroundKind.TRACK, None, 999.0, None, 0),
        (GroundKind.TRACK, None, 9_000.0, 7, 0), (GroundKind.GRAVEL, None, 9_000.0, None, 0),
        (GroundKind.GRAVEL, SeasonRisk.NONE, 9_000.0, None, 0),
        (GroundKind.GRAVEL, SeasonRisk.DAMP, 1_000.0, None, 1),
    ],
)  # fmt: skip
def test_the_month_is_asked_for_a_kilometre_of_soft_ground(
    ground: GroundKind, risk: SeasonRisk | None, length_m: float, month: int | None, asked: int
) -> None:
    """Common practice, no source."""
    paved = SimpleNamespace(
        ground=GroundKind.PAVED, season_risk=None, from_m=0.0, to_m=500.0, length_m=500.0
    )
    soft = SimpleNamespace(
        ground=ground, season_risk=risk, from_m=500.0, to_m=500.0 + length_m, length_m=length_m
    )
    case: Any = SimpleNamespace(month=month, stretches=(paved, soft))
    assert [item.from_m for item in _month(case)] == [500.0] * asked


# An hour of track counts in full, so of ten hours less than 1.9 are for the road and 2.1 for
# off-road: a fifth, with five hundredths of it left open. Where the ground is as likely tarmac as
# track, the hours may turn out either way.


def _questions(ride: AdviceCase) -> list[tuple[str, dict[str, Any]]]:
    burden = burden_of(ride, SETUP)
    asked = ask(ride, burden, decide(burden, SETUP), _WITHIN, SETUP)
    return [(item.code, dict(item.numbers)) for item in asked]


def _grounds(ride: AdviceCase) -> list[tuple[str, dict[str, Any]]]:
    """What is asked of doubtful ground, before three of all questions are taken."""
    asked = _about_ground(ride, burden_of(ride, SETUP).as_laid(), SETUP)
    return [(item.code, dict(item.numbers)) for item in asked]


_WITHIN = RiderFit(rider="steady", verdict=RiderVerdict.WITHIN, text="", reasons=())


def _codes(ride: AdviceCase) -> list[str]:
    return [code for code, _ in _questions(ride)]


def _to_ten_hours(*legs: tuple[float, tuple[float, float, float]]) -> AdviceCase:
    """The legs with tarmac between them, before and after, ten hours in all."""
    left_h = (10.0 - sum(hours for hours, _ in legs)) / (len(legs) + 1)
    rest = (left_h, _PAVED)
    return _ride(rest, *(leg for one in legs for leg in (one, rest)))


def test_one_part_that_decides_it_is_asked_about_by_its_ground() -> None:
    """Three hours: tarmac makes it a road ride and track an off-road one; without it, road."""
    asked = _questions(_to_ten_hours((3.0, _EITHER)))
    assert [code for code, _ in asked] == ["ride-this-run", "which-ground"]
    assert str(asked[0][1]["without"]) == "road setup"
    ground = asked[1][1]
    assert (str(ground["better"]), str(ground["worse"])) == ("paved", "track")
    assert (str(ground["if_better"]), str(ground["if_worse"])) == ("road setup", "off-road setup")
    assert (ground["run_m"], ground["from_at_m"]) == (10_000.0, 10_000.0)


@pytest.mark.parametrize(("run_m", "asked"), [(190_000.0, False), (189_000.0, True)])
def test_a_part_that_is_nearly_the_whole_ride_is_not_left_out(run_m: float, asked: bool) -> None:
    """Of 200 km less than 95 hundredths (common practice, no source)."""
    ride = _ride((7.0, _PAVED), (3.0, _EITHER))
    cut_m = 200_000.0 - run_m
    paved, doubtful = ride.stretches
    ride = replace(
        ride,
        stretches=(
            replace(paved, to_m=cut_m), replace(doubtful, from_m=cut_m, to_m=200_000.0),
        ),
    )  # fmt: skip
    assert ("ride-this-run" in _codes(ride)) == asked


def test_of_half_the_ride_it_is_asked_first_what_it_is_and_last_if_it_is_meant() -> None:
    """Who leaves out more than two fifths of a ride rides another (common practice, no source)."""
    asked = advise_case(_ride((7.0, _PAVED), (3.0, _EITHER))).questions
    assert [item.code for item in asked] == ["which-ground", "ride-this-run"]


def test_a_part_without_which_it_stays_open_is_not_asked_to_be_left_out() -> None:
    """1.8 hours of track are a fifth of the nine hours without the hour that may be track."""
    assert "ride-this-run" not in _codes(_to_ten_hours((1.8, _TRACK), (1.0, _EITHER)))


def test_a_part_without_which_less_is_tarmac_is_not_asked_to_be_left_out() -> None:
    """1.95 hours of track are over a fifth of nine hours, and less of ten with the way round:
    "if not: off-road setup" was said of a part that is most likely tarmac."""
    assert "ride-this-run" not in _codes(_to_ten_hours((1.95, _TRACK), (1.0, _EITHER)))


@pytest.mark.parametrize(
    ("hours", "n", "code"), [(1.2, 2, "which-parts"), (0.36, 6, "which-parts-many")]
)
def test_the_fewest_parts_that_decide_it_together(hours: float, n: int, code: str) -> None:
    """Two of 1.2 hours: both track are 2.4, both tarmac nothing; one alone leaves it open.
    Six of .36 are 2.16, five 1.8: all six; of more than five the five weightiest are named."""
    (asked,) = [
        numbers for found, numbers in _grounds(_to_ten_hours(*((hours, _EITHER),) * n))
        if found == code
    ]  # fmt: skip
    assert (asked["n_parts"], asked["run_m"]) == (n, 10_000.0 * n)
    assert len(asked["parts"]) == min(n, 5)
    assert (str(asked["if_better"]), str(asked["if_worse"])) == ("road setup", "off-road setup")


def test_one_part_that_decides_it_in_one_direction_only() -> None:
    """1.95 hours of track are open whatever else; with a doubtful .3 hours 2.25: off-road."""
    asked = _questions(_to_ten_hours((1.95, _TRACK), (0.3, _EITHER)))
    (one,) = [numbers for code, numbers in asked if code == "which-one"]
    assert (str(one["ground"]), str(one["then"])) == ("track", "off-road setup")


def test_parts_of_which_any_makes_it_a_road_ride() -> None:
    """An hour of track and three doubtful parts of .35: 2.05 in all is open, 1.7 a road ride."""
    asked = _grounds(_to_ten_hours((1.0, _TRACK), *((0.35, _EITHER),) * 3))
    (any_of,) = [numbers for code, numbers in asked if code == "which-any"]
    assert (any_of["n_parts"], str(any_of["ground"])) == (3, "paved")
    assert str(any_of["then"]) == "road setup"


def test_the_ground_is_asked_about_though_three_parts_could_be_left_out() -> None:
    """Who means to ride all of them can only tell what they are."""
    asked = advise_case(_to_ten_hours((1.0, _TRACK), *((0.35, _EITHER),) * 3)).questions
    assert [item.code for item in asked] == ["ride-this-run", "ride-this-run", "which-any"]


@pytest.mark.parametrize(
    ("track_h", "each_h", "code", "then"),
    [
        # 2.07 in all; one of them tarmac leaves 1.98, two 1.89.
        (1.8, 0.09, "which-parts-good", "road setup"),
        # One of them track makes 2.03, two 2.11.
        (1.95, 0.08, "which-parts-bad", "off-road setup"),
    ],
)
def test_the_fewest_parts_that_decide_it_if_all_turn_out_alike(
    track_h: float, each_h: float, code: str, then: str
) -> None:
    ride = _to_ten_hours((track_h, _TRACK), *((each_h, _EITHER),) * 3)
    (asked,) = [numbers for found, numbers in _questions(ride) if found == code]
    assert (asked["n_parts"], asked["run_m"], str(asked["then"])) == (2, 20_000.0, then)
    assert len(asked["parts"]) == 2


@pytest.mark.parametrize(("run_m", "asked"), [(40_000.0, True), (41_000.0, False)])
def test_two_fifths_of_a_ride_are_not_skipped(run_m: float, asked: bool) -> None:
    """Of 100 km (common practice, no source): a longer part is another ride."""
    paved, track = _ride((7.0, _PAVED), (3.0, _TRACK)).stretches
    cut_m = 100_000.0 - run_m
    ride = replace(
        _ride((7.0, _PAVED)),
        stretches=(replace(paved, to_m=cut_m), replace(track, from_m=cut_m, to_m=100_000.0)),
    )
    assert ("skip-this-run" in _codes(ride)) == asked


def test_a_part_is_skipped_only_for_a_road_ride_and_never_the_whole_ride() -> None:
    """Two parts of 2.1 hours each: without either, as much is left."""
    assert "skip-this-run" not in _codes(_to_ten_hours((2.2, _TRACK), (2.2, _TRACK)))
    assert "skip-this-run" not in _codes(_ride((3.0, _TRACK)))


def test_of_parts_to_skip_those_that_take_longest_come_first() -> None:
    asked = _questions(_to_ten_hours((1.0, _TRACK), (1.2, _TRACK)))
    assert [(code, numbers["from_at_m"]) for code, numbers in asked] == [
        ("skip-this-run", 30_000.0), ("skip-this-run", 10_000.0),
    ]  # fmt: skip


def test_a_part_is_asked_about_once() -> None:
    """Without an hour that may be track it is a road ride; it is not also told to be skipped."""
    ride = _to_ten_hours((3.0, (0.45, 0.0, 0.55)))  # likely track, as far as is known
    assert _codes(ride).count("skip-this-run") + _codes(ride).count("ride-this-run") == 1


@pytest.mark.parametrize(("edge_m", "alone"), [(1_000.0, True), (9_000.0, False)])
def test_two_parts_that_are_one_to_a_person_are_asked_about_once(
    edge_m: float, alone: bool
) -> None:
    """20 km may be track; with an edge that is likelier tarmac, all of it is in doubt."""
    legs = ((5.0, _PAVED), (0.1, (0.6, 0.0, 0.4)), (3.0, (0.45, 0.0, 0.55)), (5.0, _PAVED))
    ends_m = (0.0, 50_000.0, 50_000.0 + edge_m, 70_000.0 + edge_m, 150_000.0)
    ride = _ride(*legs)
    ride = replace(ride, stretches=tuple(
        replace(s, from_m=a, to_m=b, ground=GroundKind.PAVED if i != 2 else GroundKind.TRACK)
        for i, (s, a, b) in enumerate(zip(ride.stretches, ends_m, ends_m[1:], strict=False))
    ))  # fmt: skip
    advice = advise_case(ride)
    riding = [q for q in advice.questions if q.code in ("ride-this-run", "skip-this-run")]
    skips = [flip for flip in advice.setup.flips if flip.said.code == "flip-skip"]
    assert len(riding) == len(skips) == (1 if alone else 2)


def _gaps(*pairs: tuple[float, float]) -> AdviceCase:
    return replace(_ride((10.0, _PAVED)), gaps=pairs)


def test_the_whole_track_is_asked_for_by_the_longest_gap() -> None:
    track = _track(_gaps((0.0, 1_000.0), (2_000.0, 5_000.0), (6_000.0, 8_000.0)), SetupChoice.ROAD)
    assert (track.from_m, track.to_m) == (2_000.0, 5_000.0)
    numbers = dict(track.numbers)
    assert [numbers[k] for k in ("guessed_m", "n_gaps", "longest_m", "from_at_m")] == [
        6_000.0, 3, 3_000.0, 2_000.0,
    ]  # fmt: skip


def test_where_the_ground_is_open_too_both_are_asked() -> None:
    """What is open as laid is asked by its ground, and then for the track between the points."""
    ride = replace(_to_ten_hours((3.0, _EITHER)), gaps=((20_000.0, 30_000.0),))
    assert _codes(ride) == ["ride-this-run", "which-ground", "send-track"]


def _fit(*places: list[tuple[float, float]], code: str = "beyond-ground") -> RiderFit:
    """Beyond the rider for as many reasons, each with its places."""
    reasons = tuple(
        AdviceItem(code=code, text=message("x")) if not spans
        else AdviceItem(code=code, text=message("x")).over(spans)
        for spans in places
    )  # fmt: skip
    return RiderFit(rider="steady", verdict=RiderVerdict.BEYOND, text="", reasons=reasons,
                    n_beyond=len(reasons))  # fmt: skip


_HARD = [(12_000.0, 16_000.0)]


@pytest.mark.parametrize(
    ("fit", "asked"),
    [
        (_fit(_HARD), True), (_fit(), False), (_fit([]), False),
        # Nearly all of it: 4 of 5 km in the run off tarmac, and less.
        (_fit([*_HARD, (30_000.0, 31_000.0)]), True), (_fit([*_HARD, (30_000.0, 31_010.0)]), False),
        (_fit([(4_000.0, 24_000.0)]), False),
        # Each of several reasons must be over with it; fords count by their number.
        (_fit(_HARD, [(13_000.0, 13_300.0)]), True), (_fit(_HARD, [(30_000.0, 30_300.0)]), False),
        (_fit(_HARD, [(15_000.0,) * 2] * 4 + [(30_000.0,) * 2]), True),
        (_fit(_HARD, [(15_000.0,) * 2] * 3 + [(30_000.0,) * 2]), False),
        # A day too long off tarmac, or the whole ride with a pillion: by what is off tarmac.
        (_fit([(0.0, 50_000.0)], code="beyond-off-road"), True),
        (_fit([], code="pillion-off-road"), True),
        (replace(_fit(_HARD), n_beyond=0), False),
    ],
)  # fmt: skip
def test_the_one_part_beyond_the_rider_is_asked_about(fit: RiderFit, asked: bool) -> None:
    ride = _ride((2.0, _PAVED), (1.0, _TRACK), (2.0, _PAVED))
    found = _beyond(ride, fit, [])
    assert [(item.from_m, item.to_m) for item in found] == [(10_000.0, 20_000.0)] * asked
    assert _beyond(ride, fit, list(found)) == []  # not twice
    elsewhere = [replace(item, from_m=0.0) for item in found]
    assert len(_beyond(ride, fit, elsewhere)) == asked


@pytest.mark.parametrize(
    ("rows", "best", "worst"),
    [((0, 1), 0, 2), ((0,), 0, 1), ((1,), 1, 2), ((2,), 0, 0), ((0, 1, 2), 0, 2)],
)
def test_a_run_is_told_at_the_best_of_its_parts_and_at_the_worst(
    rows: tuple[int, ...], best: int, worst: int
) -> None:
    """Tarmac or gravel, gravel or track, and tarmac for sure."""
    burden: Any = SimpleNamespace(
        row=np.arange(3), better=lambda: np.array([0, 1, 0]), worse=lambda: np.array([1, 2, 0])
    )
    run = StretchRun(from_m=0.0, to_m=1.0, rows=rows)
    assert questions._grounds(burden, run) == (GROUND_WORDS[best], GROUND_WORDS[worst])
