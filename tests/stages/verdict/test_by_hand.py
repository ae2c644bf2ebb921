"""First words, what to settle and what is not known, a case on each side of each limit."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from terrain.stages.verdict.gaps import list_unknown
from terrain.stages.verdict.judge import doubtful_part, judge_verdict
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.text.message import message, spaced
from terrain.values.advice import AdviceItem, BikeFit, RiderVerdict, SetupChoice
from terrain.values.answers import AnsweredPart, Outcome, PartAnswer, Reply
from terrain.values.closed import ClosedPart, Closure
from terrain.values.ground import Basis, GroundKind
from terrain.values.report import Assessed
from tests.assessed import ADVICE, RELIEF, SETUP, assessed, match_of, ridden, stretch_of


def _guess(from_m: float, to_m: float, best: float = 0.79) -> Any:
    return stretch_of(from_m, to_m, p=(best, 1 - best, 0.0), basis=Basis.INFERRED)


@pytest.mark.parametrize(
    ("length_m", "whole_m", "best", "named"),
    [
        (1_000.0, 20_000.0, 0.79, True), (999.0, 20_000.0, 0.79, False),
        (1_000.0, 20_000.0, 0.8, False), (1_200.0, 60_000.0, 0.79, True),
        (1_199.0, 60_000.0, 0.79, False),  # a fiftieth of the ride
    ],
)  # fmt: skip
def test_a_doubtful_part_is_named_from_a_kilometre_and_a_fiftieth_on(
    length_m: float, whole_m: float, best: float, named: bool
) -> None:
    """Common practice, no source."""
    ride = ridden(
        stretch_of(0.0, 5_000.0), _guess(5_000.0, 5_000.0 + length_m, best),
        stretch_of(5_000.0 + length_m, whole_m),
    )  # fmt: skip
    part = doubtful_part(ride)
    assert (part is not None) == named
    assert part is None or (part.from_m, part.to_m) == (5_000.0, 5_000.0 + length_m)


def test_of_doubtful_parts_the_longest_is_named_and_off_the_map_is_doubtful() -> None:
    ride = ridden(
        _guess(0.0, 2_000.0), stretch_of(2_000.0, 9_000.0),
        stretch_of(9_000.0, 12_000.0, ground=GroundKind.UNMAPPED, p=None, basis=Basis.UNMAPPED),
        stretch_of(12_000.0, 20_000.0),
    )  # fmt: skip
    part = doubtful_part(ride)
    assert part is not None and (part.from_m, part.to_m) == (9_000.0, 12_000.0)


def _with(ride: Assessed, choice: SetupChoice, *questions: AdviceItem, **more: Any) -> Assessed:
    p = more.pop("p", 0.01)
    setup = replace(SETUP, choice=choice, p_off_road=p)
    advice = replace(ADVICE, setup=setup, questions=questions, **more)
    return replace(ride, advice=advice)


def _fit(name: str) -> BikeFit:
    return BikeFit(name=name, title="x", fit=0.5, table=(), reasons=(), against=())


@pytest.mark.parametrize(
    ("wanted", "going", "fits"),
    [(0, (0, 1), True), (0, (1, 0), None), (0, (1,), False), (1, (0, 1), None), (None, (0,), None)],
)
def test_the_class_asked_for_is_named_by_its_title_and_fits_if_it_is_the_first(
    wanted: int | None, going: tuple[int, ...], fits: bool | None
) -> None:
    bikes = DEFAULT_FLEET.classes
    name = "on order" if wanted is None else bikes[wanted].name
    said = None if wanted is None else AdviceItem(code="wanted", text=message("So it is."))
    ride = _with(_RIDE, SetupChoice.ROAD, bikes=tuple(_fit(bikes[i].name) for i in going),
                 wanted=said)  # fmt: skip
    booked = judge_verdict(replace(ride, trip=replace(ride.trip, wanted_class=name))).booked
    if wanted is None:
        assert booked is None
    else:
        assert booked is not None and (booked.bike, booked.fits) == (name, fits)
        assert spaced(booked.title) == bikes[wanted].title != name
        assert DEFAULT_FLEET.title_of("on order") == "on order"


_RIDE = ridden(stretch_of(0.0, 5_000.0), _guess(5_000.0, 8_000.0), stretch_of(8_000.0, 20_000.0))
_QUESTION = AdviceItem(
    code="rider-below-run",
    text=message("Which way do you go? As we guessed: road setup."),
)


def _settle(ride: Assessed) -> str:
    return spaced(judge_verdict(ride).to_settle)


def test_what_is_settled_first() -> None:
    """A question that decides; a file with few points, if it is open; else the least known part."""
    assert _settle(_with(_RIDE, SetupChoice.ASK, _QUESTION)).startswith(
        "To settle first: Which way do you go?"
    )
    other = replace(_QUESTION, code="month-unknown")
    assert _settle(_with(_RIDE, SetupChoice.ASK, other)) == "To settle first: the 3 km from km 5."
    assert _settle(_with(_RIDE, SetupChoice.ROAD)) == (
        "Least known, though it does not change the answer: the 3 km from km 5."
    )
    sure = ridden(stretch_of(0.0, 20_000.0))
    assert _settle(_with(sure, SetupChoice.ROAD)) == ""


@pytest.mark.parametrize(("filled", "asked"), [(0.3, True), (0.29, False)])
def test_a_file_with_few_points_is_asked_for_where_it_is_open(filled: float, asked: bool) -> None:
    """Three tenths guessed (common practice, no source)."""
    keys = (
        "kind", "way", "way_id", "edge", "forward", "offset_m", "edge_from_m", "edge_to_m",
    )  # fmt: skip
    two: dict[str, Any] = {key: np.repeat(getattr(_RIDE.match, key), 2) for key in keys}
    border_m = filled * 20_000.0
    match = replace(
        _RIDE.match, filled=np.array([True, False]), from_m=np.array([0.0, border_m]),
        to_m=np.array([border_m, 20_000.0]), **two,
    )  # fmt: skip
    ride = replace(_RIDE, ride=replace(_RIDE.ride, match=match))
    assert ("send the plan as a track" in _settle(_with(ride, SetupChoice.ASK))) == asked
    assert "send the plan" not in _settle(_with(ride, SetupChoice.ROAD))


def _answered(outcome: Outcome, from_m: float = 1_000.0) -> AnsweredPart:
    return AnsweredPart(
        answer=PartAnswer(from_m=from_m, to_m=from_m + 2_000.0, reply=Reply.LEAVE),
        outcome=outcome, now_from_m=from_m, now_to_m=from_m, words=message("No way is mapped."),
    )  # fmt: skip


def test_an_answer_that_led_nowhere_comes_before_any_question() -> None:
    ride = replace(_with(_RIDE, SetupChoice.ASK, _QUESTION), answered=(_answered(Outcome.NO_WAY),))
    assert _settle(ride) == "No way is mapped."
    assert judge_verdict(ride).worst == judge_verdict(ride).headline


def test_an_open_answer_begins_with_its_question_unless_something_forbids() -> None:
    ride = _with(_RIDE, SetupChoice.ASK, _QUESTION)
    verdict = judge_verdict(ride)
    assert spaced(verdict.worst).startswith("One question first: Which way do you go? As")
    closed = ClosedPart(
        from_m=0.0, to_m=400.0, closure=Closure.NO_MOTORCYCLE, tag="access=no", way_ids=(1,)
    )
    barred = replace(ride, places=replace(ride.places, closed=(closed,)))
    verdict = judge_verdict(barred)
    assert spaced(verdict.worst) == (
        "Do not ride this as drawn: 400 m of its 20 km are closed to motorcycles."
    )
    assert spaced(verdict.headline).startswith("Do not ride this as drawn")
    assert "if permitted" in spaced(verdict.headline)


def test_several_parts_left_out_are_told_in_one_sentence() -> None:
    one = replace(_with(_RIDE, SetupChoice.ROAD), answered=(_answered(Outcome.ROUND),))
    assert "No way is mapped." in spaced(judge_verdict(one).aside)  # its own words
    both = replace(one, answered=(_answered(Outcome.ROUND), _answered(Outcome.ROUND, 9_000.0)))
    assert "2 km from km 1" in spaced(judge_verdict(both).aside)
    assert "2 km from km 9" in spaced(judge_verdict(both).aside)
    # What is skipped has no way round it, so it is told in its own words beside them.
    three = replace(both, answered=(*both.answered, _answered(Outcome.SKIPPED, 15_000.0)))
    told = spaced(judge_verdict(three).aside)
    assert "2 km from km 9" in told and "No way is mapped." in told and "km 15" not in told
    kept = replace(one, answered=(_answered(Outcome.KEPT),))
    assert "No way is mapped." not in spaced(judge_verdict(kept).aside)


def test_no_bike_is_named_for_a_rider_it_is_beyond() -> None:
    fit: Any = type("Fit", (), {"title": "Trail bike", "name": "trail", "fit": 0.9})()
    ride = _with(_RIDE, SetupChoice.ROAD, bikes=(fit,))
    assert spaced(judge_verdict(ride).bike_text) == "Bike: Trail bike."
    poor: Any = type("Fit", (), {"title": "Trail bike", "name": "trail", "fit": 0.49})()
    assert "least bad" in spaced(
        judge_verdict(_with(_RIDE, SetupChoice.ROAD, bikes=(poor,))).bike_text
    )
    beyond = replace(
        ADVICE.rider, verdict=RiderVerdict.BEYOND, n_beyond=1,
        reasons=(AdviceItem(code="x", text=message("Too long.")),),
    )  # fmt: skip
    verdict = judge_verdict(_with(_RIDE, SetupChoice.ROAD, bikes=(fit,), rider=beyond))
    assert (verdict.bike, verdict.bike_text) == (None, "")


def _keys(ride: Assessed) -> list[str]:
    return [item.key for item in list_unknown(ride)]


@pytest.mark.parametrize(("inferred", "told"), [(0.0025, False), (0.0026, True)])
def test_fifty_metres_without_a_tag_are_named_as_not_known(inferred: float, told: bool) -> None:
    """Of 20 km (common practice, no source)."""
    ground = replace(_RIDE.ground, basis_shares={Basis.INFERRED: inferred})
    assert ("ground.basis.inferred" in _keys(replace(_RIDE, ground=ground))) == told


@pytest.mark.parametrize(("length_m", "told"), [(50.0, False), (51.0, True)])
def test_fifty_metres_off_the_map_are_named_as_not_known(length_m: float, told: bool) -> None:
    ride = assessed(match_of(length_m))  # all of it off the map
    assert ("match.unmapped_m" in _keys(ride)) == told


@pytest.mark.parametrize(
    ("source", "ascent_m", "keys"),
    [
        (None, None, ["relief"]), (None, 10.0, ["relief"]), ("tiles", None, ["relief.ascent_m"]),
        ("tiles", 10.0, []),
    ],
)  # fmt: skip
def test_what_is_not_known_of_heights(
    source: str | None, ascent_m: float | None, keys: list[str]
) -> None:
    ride = replace(_RIDE, relief=replace(RELIEF, source=source, ascent_m=ascent_m))
    assert [key for key in _keys(ride) if key.startswith("relief")] == keys
