"""What a rider is asked of a part: how much of it is what it is asked for."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from terrain.stages.asking import has_boxes, list_asked
from terrain.stages.asking.again import same_road
from terrain.stages.asking.parts import _alike
from terrain.text.message import message, spaced
from terrain.values.advice import AdviceItem, RiderVerdict, SetupChoice
from terrain.values.answers import PARTS_TICKED, AnsweredPart, Outcome, PartAnswer, Reply
from terrain.values.closed import ClosedPart, Closure
from terrain.values.detours import Detour, DetourKind
from terrain.values.ground import GroundKind
from terrain.values.report import Assessed
from tests.assessed import ADVICE, SETUP, ridden, stretch_of


@pytest.mark.parametrize(
    ("tarmac_m", "asked"),
    [
        (0, "Do you mean to ride the 3 km of track from km 0?"),
        (1_000, "Do you mean to ride the 4 km from km 0, 3 km of it off tarmac?"),
    ],
)
def test_no_tarmac_between_two_tracks_is_called_track(tarmac_m: int, asked: str) -> None:
    track = {"ground": GroundKind.TRACK, "p": (0.0, 0.0, 1.0), "surface": "ground"}
    ride = ridden(
        stretch_of(0, 2_000, **track), stretch_of(2_000, 2_000 + tarmac_m),
        stretch_of(2_000 + tarmac_m, 3_000 + tarmac_m, **track),
        stretch_of(3_000 + tarmac_m, 9_000),
    )  # fmt: skip
    setup = replace(SETUP, choice=SetupChoice.OFF_ROAD)
    (part,) = list_asked(replace(ride, advice=replace(ADVICE, setup=setup)))
    assert spaced(part.text) == asked


@pytest.mark.parametrize(("open_m", "told"), [(0, "has them closed"), (800, "has 400 m of them")])
def test_no_open_road_between_two_gates_is_called_closed(open_m: int, told: str) -> None:
    ride = ridden(stretch_of(0, 10_000))
    parts = tuple(
        ClosedPart(
            from_m=a, to_m=a + 200, closure=Closure.NO_MOTORCYCLE, tag="access=no", way_ids=(1,)
        )
        for a in (1_000, 1_200 + open_m)
    )  # fmt: skip
    (part,) = list_asked(replace(ride, places=replace(ride.places, closed=parts)))
    assert told in spaced(part.text)


@pytest.mark.parametrize(("to_m", "asked"), [(1_299, 0), (1_300, 1)])
def test_300_m_closed_are_asked_about(to_m: int, asked: int) -> None:
    """As long as what forbids a ride (common practice, no source)."""
    part = ClosedPart(
        from_m=1_000, to_m=to_m, closure=Closure.NO_MOTORCYCLE, tag="access=no", way_ids=(1,)
    )
    ride = ridden(stretch_of(0, 10_000))
    assert len(list_asked(replace(ride, places=replace(ride.places, closed=(part,))))) == asked


_TRACK: dict[str, Any] = {"ground": GroundKind.TRACK, "p": (0.0, 0.0, 1.0), "surface": "ground"}
_GRAVEL: dict[str, Any] = {"ground": GroundKind.GRAVEL, "p": (0.0, 1.0, 0.0), "surface": "gravel"}
_Span = tuple[float, float]


def _closed(*spans: _Span) -> tuple[ClosedPart, ...]:
    return tuple(
        ClosedPart(
            from_m=a, to_m=b, closure=Closure.NO_MOTORCYCLE, tag="access=no", way_ids=(1,)
        )
        for a, b in spans
    )  # fmt: skip


def _ride(*closed: _Span, tracks: tuple[_Span, ...] = (), **advice: Any) -> Assessed:
    """100 km of tarmac but for some tracks; off-road setup unless advice says other."""
    at, stretches = 0.0, []
    for a, b in tracks:
        stretches += [stretch_of(at, a)] if a > at else []
        stretches.append(stretch_of(a, b, **_TRACK))
        at = b
    ride = ridden(*stretches, stretch_of(at, 100_000.0))
    setup = replace(SETUP, choice=advice.pop("choice", SetupChoice.OFF_ROAD))
    return replace(
        ride, places=replace(ride.places, closed=_closed(*closed)),
        advice=replace(ADVICE, setup=setup, **advice),
    )  # fmt: skip


def _question(code: str, from_m: float | None, to_m: float | None) -> AdviceItem:
    return AdviceItem(code=code, text=message("What is it?"), from_m=from_m, to_m=to_m)


def _asked(ride: Assessed) -> list[tuple[str, float, float]]:
    return [(part.code, part.from_m, part.to_m) for part in list_asked(ride)]


def test_closed_parts_come_first_then_what_decides_then_hard_parts() -> None:
    """Of closed and of hard parts the longest first, and four at most."""
    question = _question("which-ground", 70_000.0, 72_000.0)
    ride = _ride(
        (10_000.0, 10_500.0), (50_000.0, 51_000.0),
        tracks=((20_000.0, 23_000.0), (30_000.0, 35_000.0)), questions=(question,),
    )  # fmt: skip
    closed = [("closed", 50_000.0, 51_000.0), ("closed", 10_000.0, 10_500.0)]
    decides, hard = ("which-ground", 70_000.0, 72_000.0), ("hard", 30_000.0, 35_000.0)
    assert _asked(ride) == [*closed, decides, hard]
    assert [part.about_ground for part in list_asked(ride)] == [False, False, True, False]


@pytest.mark.parametrize(("apart_m", "runs"), [(1_500.0, 1), (1_501.0, 2)])
def test_parts_less_than_a_mile_apart_are_asked_about_as_one(apart_m: float, runs: int) -> None:
    """Common practice, no source: 1.5 km, of closed parts as of hard ones."""
    spans = ((10_000.0, 13_000.0), (13_000.0 + apart_m, 16_000.0 + apart_m))
    assert len(_asked(_ride(*spans, choice=SetupChoice.ROAD, bikes=(1,)))) == runs
    assert len(_asked(_ride(tracks=spans))) == runs


@pytest.mark.parametrize(("closed_m", "all_of_it"), [(9_500.0, True), (9_400.0, False)])
def test_closed_almost_everywhere_is_told_as_all_closed(closed_m: float, all_of_it: bool) -> None:
    """From 95 hundredths on (common practice, no source); 10 km with one gap, and a kilometre that
    is closed elsewhere."""
    ride = _ride(
        (20_000.0, 20_000.0 + closed_m - 4_000.0), (26_000.0, 30_000.0), (50_000.0, 51_000.0)
    )
    text = spaced(list_asked(ride)[0].text)
    assert text.startswith("Do you mean to ride the 10 km from km 20?")
    assert ("has them closed" if all_of_it else "has 9.4 km of them closed") in text


@pytest.mark.parametrize(
    ("code", "from_m", "to_m", "asked"),
    [
        ("skip-this-run", 1_000.0, 4_000.0, True), ("which-one", 1_000.0, 4_000.0, True),
        ("rider-below-run", None, None, False), ("rider-below-run", 1_000.0, None, False),
    ],
)  # fmt: skip
def test_questions_of_the_advice_about_one_part_are_asked(
    code: str, from_m: float | None, to_m: float | None, asked: bool
) -> None:
    ride = _ride(questions=(_question(code, from_m, to_m),))
    assert _asked(ride) == [(code, from_m, to_m)] * asked
    said = [spaced(part.text) for part in list_asked(ride)]
    ground = "What is it?" if code == "which-one" else "Do you mean to ride the 3 km from km 1?"
    assert said == [ground] * asked


@pytest.mark.parametrize("code", sorted(PARTS_TICKED))
def test_of_a_question_about_several_parts_each_is_answered_by_itself(code: str) -> None:
    """No box was there to tick for it, neither on the page nor on paper; the longest first."""
    question = replace(
        _question(code, 1_000.0, 9_000.0), spans=((1_000.0, 2_000.0), (5_000.0, 9_000.0))
    )
    asked = list_asked(_ride(questions=(question,), choice=SetupChoice.ASK))
    assert [(x.code, x.from_m, x.to_m, x.about_ground) for x in asked] == [
        (code, 5_000.0, 9_000.0, True), (code, 1_000.0, 2_000.0, True)
    ]  # fmt: skip
    assert spaced(asked[1].text) == "Does anyone know the 1 km from km 1?"


@pytest.mark.parametrize(("to_m", "boxes"), [(4_200.0, True), (4_100.0, False)])
def test_a_question_all_of_whose_parts_have_boxes_is_not_asked_in_words_too(
    to_m: float, boxes: bool
) -> None:
    """It stood above its own boxes; a closed part that covers four fifths of one has its own."""
    question = replace(
        _question("which-any", 1_000.0, 9_000.0), spans=((1_000.0, 5_000.0), (8_000.0, 9_000.0))
    )
    (part,) = list_asked(_ride((0.0, to_m)))[:1]
    last = replace(part, from_m=20_000.0, to_m=21_000.0, again=((8_000.0, 9_000.0),))
    assert has_boxes(question, (part, last)) is boxes
    assert not has_boxes(question, (part,))


# Edge 7 is 3 km long and ridden from km 10 as drawn, backwards from km 30, and 2 km of it again.
_TWICE = ((10_000.0, 13_000.0), (30_000.0, 33_000.0), (50_000.0, 52_000.0))


def _again(ride: Assessed, back_m: float = 3_000.0) -> Assessed:
    """Where the closed parts and tracks of a ride lie, edge 7 is ridden; edge 1 elsewhere."""
    at = (0.0, *(at_m for span in _TWICE for at_m in span), 100_000.0)
    from_m, to_m = np.array(at[:-1]), np.array(at[1:])
    edge = np.array([1, 7, 1, 7, 1, 7, 1], np.int32)
    length = to_m - from_m
    forward = np.array([True, True, True, False, True, True, True])
    start = np.where((edge == 7) & ~forward, back_m, 0.0)
    match = replace(
        ride.match, kind=np.zeros(7, np.int8), filled=np.zeros(7, bool), edge=edge, way=edge,
        way_id=edge.astype(np.int64), forward=forward, edge_from_m=start,
        edge_to_m=np.where(forward, length, start - length), from_m=from_m, to_m=to_m,
        offset_m=np.zeros(7),
    )  # fmt: skip
    return replace(ride, ride=replace(ride.ride, match=match))


def test_a_road_ridden_several_times_is_asked_about_once_with_all_its_places() -> None:
    """It was asked about three times, and whoever answered one left the others in."""
    (part,) = list_asked(_again(_ride(tracks=_TWICE)))
    assert (part.from_m, part.to_m) == _TWICE[0]
    assert part.again == part.sent_again == _TWICE[1:]
    assert spaced(part.text) == (
        "Do you mean to ride the 3 km of track from km 10? The same road is ridden again: 3 km "
        "from km 30 and 2 km from km 50. The answer counts there too."
    )
    closed = list_asked(_again(_ride(*_TWICE, choice=SetupChoice.ROAD, bikes=(1,))))
    assert [x.again for x in closed] == [_TWICE[1:]]


def test_another_piece_of_a_road_is_another_part() -> None:
    """Of an edge of 33 km the last 3 are ridden first, then its first 3: a question each."""
    ride = _again(_ride(tracks=_TWICE[:2]), back_m=33_000.0)
    assert [x.again for x in list_asked(ride)] == [(), ()]


@pytest.mark.parametrize(("closed_m", "asked"), [(8_000.0, 1), (7_900.0, 2)])
def test_what_decides_is_asked_though_a_piece_of_it_is_closed(closed_m: float, asked: int) -> None:
    """Of 10 km whose ground decides the setup 5 km were closed: only they were asked about, and the
    question that the headline told stood in no mail and on no form."""
    question = _question("which-ground", 60_000.0, 70_000.0)
    ride = _ride((61_000.0, 61_000.0 + closed_m), questions=(question,), choice=SetupChoice.ASK)
    assert [part.code for part in list_asked(ride)] == ["closed", "which-ground"][:asked]


def test_a_short_piece_of_a_long_road_is_asked_about_by_itself() -> None:
    """Who leaves out 52 km of track there and back may well ride 8 km of it."""
    spans = ((10_000.0, 13_000.0), (30_000.0, 33_000.0), (50_000.0, 52_000.0))
    edges = _again(_ride(tracks=spans)).match
    assert same_road(edges, spans[0], (50_000.0, 51_500.0))
    assert not same_road(edges, spans[0], (50_000.0, 51_490.0))
    assert not same_road(edges, (0.0, 2_000.0), (50_000.0, 52_000.0))
    # Two thirds of the shorter in common: 1.5 km of it lie on another road.
    assert not same_road(edges, (9_000.0, 12_000.0), (50_000.0, 52_600.0))


def test_whether_a_road_is_meant_to_be_ridden_tells_nothing_of_its_ground() -> None:
    """So who is asked the one is asked the other; who knows the ground is asked once."""
    question = _question("which-ground", *_TWICE[1])
    ride = _again(_ride(_TWICE[0], questions=(question,), choice=SetupChoice.ASK))
    assert [x.again for x in list_asked(ride)] == [(), ()]
    ride = _again(_ride(tracks=_TWICE[:1], questions=(question,)))
    assert [(x.code, x.again) for x in list_asked(ride)] == [("which-ground", _TWICE[:1])]


@pytest.mark.parametrize(
    ("choice", "rider", "bikes", "asked"),
    [
        (SetupChoice.ROAD, RiderVerdict.WITHIN, (1,), False),
        (SetupChoice.OFF_ROAD, RiderVerdict.WITHIN, (1,), True),
        (SetupChoice.ASK, RiderVerdict.WITHIN, (1,), True),
        (SetupChoice.ROAD, RiderVerdict.STRETCHING, (1,), True),
        (SetupChoice.ROAD, RiderVerdict.WITHIN, (), True),
    ],
)
def test_hard_parts_are_asked_about_where_something_stands_against_the_ride(
    choice: SetupChoice, rider: RiderVerdict, bikes: tuple[int, ...], asked: bool
) -> None:
    fit = replace(ADVICE.rider, verdict=rider)
    ride = _ride(tracks=((20_000.0, 24_000.0),), choice=choice, rider=fit, bikes=bikes)
    assert _asked(ride) == [("hard", 20_000.0, 24_000.0)] * asked


@pytest.mark.parametrize(("to_m", "asked"), [(21_999.0, 0), (22_000.0, 1)])
def test_two_kilometres_off_tarmac_are_asked_about(to_m: float, asked: int) -> None:
    """Common practice, no source."""
    assert len(_asked(_ride(tracks=((20_000.0, to_m),)))) == asked


@pytest.mark.parametrize(
    ("b", "alike"),
    [
        ((500.0, 1_500.0), False), ((499.0, 1_499.0), True),  # half of a kilometre, and more
        ((950.0, 1_050.0), False), ((940.0, 1_040.0), True),  # of the shorter one
        ((0.0, 9_000.0), True), ((1_000.0, 2_000.0), False), ((2_000.0, 2_001.0), False),
    ],
)  # fmt: skip
def test_parts_that_overlap_by_more_than_half_of_the_shorter_are_one_question(
    b: _Span, alike: bool
) -> None:
    parts: list[Any] = []
    (part,) = list_asked(_ride((0.0, 1_000.0), choice=SetupChoice.ROAD, bikes=(1,)))
    for from_m, to_m in ((0.0, 1_000.0), b):
        parts.append(replace(part, from_m=from_m, to_m=to_m))
    assert _alike(*parts) == _alike(*parts[::-1]) == alike


@pytest.mark.parametrize(
    ("replies", "asked"),
    [
        ((), True), ((Reply.KEEP,), False), ((Reply.TRACK,), False), ((Reply.UNSURE,), True),
        ((Reply.UNSURE, Reply.KEEP), False), ((Reply.KEEP, Reply.UNSURE), True),
    ],
)  # fmt: skip
def test_the_last_answer_about_a_part_counts(replies: tuple[Reply, ...], asked: bool) -> None:
    answered = tuple(
        AnsweredPart(
            answer=PartAnswer(from_m=10_000.0, to_m=11_000.0, reply=reply),
            outcome=Outcome.KEPT, now_from_m=10_000.0, now_to_m=11_000.0,
        )
        for reply in replies
    )  # fmt: skip
    ride = replace(_ride((10_000.0, 11_000.0), (50_000.0, 51_000.0)), answered=answered)
    assert (("closed", 10_000.0, 11_000.0) in _asked(ride)) == asked
    assert ("closed", 50_000.0, 51_000.0) in _asked(ride)


def test_parts_behind_one_left_out_are_asked_by_the_route_as_sent() -> None:
    """Km 10 to 14 were sent and a way round of 1 km is ridden: what is at km 47 was at km 50."""
    left = AnsweredPart(
        answer=PartAnswer(from_m=10_000.0, to_m=14_000.0, reply=Reply.LEAVE),
        outcome=Outcome.ROUND, now_from_m=10_000.0, now_to_m=11_000.0, added_m=-3_000.0,
        gone_m=(10_000.0, 14_000.0),
    )  # fmt: skip
    (part,) = list_asked(replace(_ride((47_000.0, 48_000.0)), answered=(left,)))
    assert (part.from_m, part.to_m) == (47_000.0, 48_000.0)
    assert (part.sent_from_m, part.sent_to_m) == (50_000.0, 51_000.0)


def _way(around: _Span, span: _Span, length_m: float, added_m: float, **more: Any) -> Detour:
    usual: dict[str, Any] = {
        "kind": DetourKind.ROAD, "time_s": 0.0, "added_s": 0.0, "shares": None,
        "lon": np.zeros(0), "lat": np.zeros(0), "roads": (), "words": "",
    }  # fmt: skip
    return Detour(
        around_from_m=around[0], around_to_m=around[1], from_m=span[0], to_m=span[1],
        length_m=length_m, added_m=added_m, **{**usual, **more},
    )  # fmt: skip


def _with_ways(ride: Assessed, *ways: Detour) -> Assessed:
    return replace(ride, plan=replace(ride.plan, detours=ways))


@pytest.mark.parametrize(
    ("span", "length_m", "added_m", "told"),
    [
        ((20_000.0, 23_000.0), 5_000.0, 2_000.0, "A way round is mapped: 2 km more."),
        ((20_000.0, 23_000.0), 3_000.0, 0.0, "A way round is mapped: 0 km more."),
        ((20_000.0, 23_000.0), 1_000.0, -2_000.0, "A way round is mapped: 2 km less."),
        ((20_000.0, 23_000.0), 0.0, -3_000.0, "A way there and back: 3 km less."),
        ((20_001.0, 22_999.0), 5_000.0, 2_000.0, "A way round is mapped: 2 km more."),
        ((20_001.1, 23_000.0), 5_000.0, 2_000.0, ""),  # it comes too late, or back too early
        ((20_000.0, 22_998.9), 5_000.0, 2_000.0, ""),
    ],
)
def test_what_leaving_a_part_out_would_mean(
    span: _Span, length_m: float, added_m: float, told: str
) -> None:
    ride = _with_ways(
        _ride((20_000.0, 23_000.0)), _way((20_000.0, 23_000.0), span, length_m, added_m)
    )
    part = next(part for part in list_asked(ride) if part.code == "closed")
    assert spaced(part.if_left) == told


def test_a_hard_part_with_a_known_way_round_is_asked_about_before_longer_ones() -> None:
    """The longest of those first; ways of another kind than a road round a part do not count."""
    ways = (
        _way((40_000.0, 41_000.0), (39_000.0, 42_000.0), 5_000.0, 2_000.0),
        _way((60_000.0, 62_000.0), (59_000.0, 63_000.0), 5_000.0, 1_000.0),
        _way((70_000.0, 79_000.0), (70_000.0, 79_000.0), 5_000.0, 1_000.0, kind=DetourKind.DIRT),
    )
    ride = _with_ways(_ride(tracks=((10_000.0, 15_000.0),)), *ways)
    want = [(60_000.0, 62_000.0), (40_000.0, 41_000.0), (10_000.0, 15_000.0)]
    assert _asked(ride) == [("hard", *span) for span in want]


def test_a_part_is_called_by_most_of_what_is_off_tarmac() -> None:
    """2 km of gravel and 1.5 km of track; below 95 hundredths off tarmac, how much of it is so."""
    track = stretch_of(0.0, 1_500.0, **_TRACK)
    gravel = stretch_of(1_500.0, 3_500.0, **_GRAVEL)
    tail = stretch_of(3_500.0, 9_000.0)
    setup = replace(SETUP, choice=SetupChoice.OFF_ROAD)
    ride = replace(ridden(track, gravel, tail), advice=replace(ADVICE, setup=setup))
    (part,) = list_asked(ride)
    assert spaced(part.text) == "Do you mean to ride the 3.5 km of gravel from km 0?"
    for to_m, off in ((3_680.0, "of gravel"), (3_690.0, "off tarmac")):  # 3.5 km of 3.684
        asked = _question("skip-this-run", 0.0, to_m)
        with_it = replace(ride, advice=replace(ride.advice, questions=(asked,)))
        assert off in spaced(list_asked(with_it)[0].text)


def test_the_nearest_place_is_told() -> None:
    ride = _ride((20_000.0, 23_000.0), tracks=((50_000.0, 55_000.0),))
    places = replace(
        ride.places, near_from_m=np.array([0.0, 40_000.0]), near_names=("Alder", "Birch")
    )
    said = [spaced(part.text) for part in list_asked(replace(ride, places=places))]
    assert "from km 20 (near Alder)?" in said[0]
    assert "from km 50 (near Birch)?" in said[1]
