"""What becomes of each answer, by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.detours import answered as module
from terrain.stages.detours.answered import _Cut, _cuts, _laid, _left, _outcome, _without
from terrain.text.message import spaced
from terrain.values.answers import Outcome, PartAnswer, Reply
from terrain.values.route import Route, RouteKind

_NOTHING = np.zeros(0)


def _cut(from_m: float, to_m: float, length_m: float = 0.0, *roads: str) -> _Cut:
    return _Cut(
        from_m=from_m, to_m=to_m, lon=_NOTHING, lat=_NOTHING, length_m=length_m,
        way=length_m > 0, roads=roads,
    )  # fmt: skip


def _answer(from_m: float, to_m: float, reply: Reply = Reply.LEAVE) -> PartAnswer:
    return PartAnswer(from_m=from_m, to_m=to_m, reply=reply)


@pytest.mark.parametrize(
    ("reply", "outcome"),
    [
        (Reply.KEEP, Outcome.KEPT), (Reply.UNSURE, Outcome.OPEN), (Reply.TRACK, Outcome.TOLD),
        (Reply.PAVED, Outcome.TOLD), (Reply.LEAVE, Outcome.NO_WAY),
    ],
)  # fmt: skip
def test_an_answer_behind_a_cut_moves_with_the_ride(reply: Reply, outcome: Outcome) -> None:
    """Km 2 to 5 are ridden round in 1 km, km 20 and on are skipped: 10 km on lie at 8 km."""
    cuts = [_cut(2_000.0, 5_000.0, 1_000.0), _cut(20_000.0, 22_000.0)]
    part = _outcome(_answer(10_000.0, 11_000.0, reply), cuts)
    assert (part.outcome, part.now_from_m, part.now_to_m) == (outcome, 8_000.0, 9_000.0)
    assert (part.added_m, part.gone_m) == (None, None)
    assert bool(part.words) == (outcome is Outcome.NO_WAY)


@pytest.mark.parametrize(
    ("cut", "outcome"),
    [
        ((2_000.0, 5_000.0), Outcome.SKIPPED), ((2_001.0, 4_999.0), Outcome.SKIPPED),
        ((2_001.5, 5_000.0), Outcome.NO_WAY), ((2_000.0, 4_998.5), Outcome.NO_WAY),
    ],
)  # fmt: skip
def test_left_out_is_what_a_cut_holds_to_a_metre(
    cut: tuple[float, float], outcome: Outcome
) -> None:
    assert _outcome(_answer(2_000.0, 5_000.0), [_cut(*cut)]).outcome is outcome


@pytest.mark.parametrize(
    ("length_m", "roads", "outcome", "words"),
    [
        (0.0, (), Outcome.SKIPPED, "km 2 of the route as sent."),
        (0.5, (), Outcome.ROUND, "The ride goes round it: "),
        (4_000.0, ("High Road",), Outcome.ROUND, "goes round it by High Road: 4 km from km 2."),
    ],
)
def test_what_is_told_of_a_part_left_out(
    length_m: float, roads: tuple[str, ...], outcome: Outcome, words: str
) -> None:
    part = _left(_answer(2_000.0, 5_000.0), _cut(1_500.0, 5_500.0, length_m, *roads), 2_000.0)
    assert part.outcome is outcome
    assert words in spaced(part.words)
    assert spaced(part.words).startswith("Left out as asked: 3 km from km 2")
    assert part.added_m == length_m - 4_000.0
    assert (part.now_from_m, part.now_to_m) == (2_000.0, 2_000.0 + length_m)
    assert (part.gone_m, part.roads) == ((1_500.0, 5_500.0), roads)


@pytest.mark.parametrize(("to_m", "more"), [(6_000.0, False), (6_010.0, True)])
def test_what_is_left_out_beyond_a_part_is_told(to_m: float, more: bool) -> None:
    """From half as much again on (common practice, no source)."""
    words = spaced(_left(_answer(2_000.0, 5_000.0), _cut(1_500.0, to_m), 2_000.0).words)
    assert words.endswith(
        "and with it all beyond it there and back: 4.5 km in all."
        if more
        else "km 2 of the route as sent."
    )


def test_what_lay_in_a_part_left_out_for_another_answer_is_left_out_too() -> None:
    around = [_cut(1_000.0, 6_000.0)]
    for span in ((1_000.0, 6_000.0), (2_000.0, 3_000.0)):
        part = _outcome(_answer(*span, Reply.KEEP), around)
        assert (part.outcome, part.now_from_m, part.now_to_m) == (Outcome.SKIPPED, 1e3, 1e3)
    # Half of it still is ridden, or hardly any of it was there.
    half = _outcome(_answer(5_000.0, 7_000.0, Reply.KEEP), around)
    assert (half.outcome, half.now_from_m, half.now_to_m) == (Outcome.KEPT, 1_000.0, 2_000.0)
    short = _outcome(_answer(8_000.0, 8_000.5, Reply.KEEP), around)
    assert (short.outcome, short.now_to_m - short.now_from_m) == (Outcome.KEPT, 1.0)


def _route(n: int) -> Route:
    """Points a hundredth of a degree apart, the middle one a break of the file."""
    at = np.arange(n)
    return Route(
        name="r", kind=RouteKind.TRACK, lon=at / 100.0, lat=np.zeros(n), ele_m=np.zeros(n),
        piece=(at >= n // 2).astype(np.int32), shaping=np.zeros(n, bool),
        planned=np.ones(n, bool),
    )  # fmt: skip


def test_a_line_of_its_own_stands_for_each_cut() -> None:
    """Points each 100 m; 200 to 400 m go, and two points of the way round come in."""
    match: Any = SimpleNamespace(point_at_m=np.arange(8) * 100.0)
    way = _Cut(
        from_m=200.0, to_m=400.0, lon=np.array([0.5, 0.6]), lat=np.array([0.1, 0.2]), length_m=9.0
    )
    route, sent_at_m = _without(_route(8), match, [way])
    np.testing.assert_array_equal(sent_at_m, [0, 100, np.nan, np.nan, 500, 600, 700])
    assert route.lon.tolist() == pytest.approx([0.0, 0.01, 0.5, 0.6, 0.05, 0.06, 0.07])
    assert route.lat.tolist() == [0.0, 0.0, 0.1, 0.2, 0.0, 0.0, 0.0]
    assert np.isnan(route.ele_m).tolist() == [False, False, True, True, False, False, False]
    assert route.shaping.tolist() == [False, False, True, True, False, False, False]
    assert route.planned.tolist() == [True, True, False, False, True, True, True]
    assert route.piece.tolist() == [0, 0, 0, 0, 1, 1, 1]
    # To a metre either side, and at the end of the ride.
    near: Any = SimpleNamespace(point_at_m=np.array([0.0, 199.5, 300.0, 400.9, 402.0]))
    assert len(_without(_route(5), near, [_cut(200.0, 400.0)])[0].lon) == 2
    last = _Cut(from_m=700.0, to_m=800.0, lon=np.array([0.5]), lat=np.zeros(1), length_m=0.0)
    assert _without(_route(8), match, [last])[0].lon.tolist()[-2:] == pytest.approx([0.06, 0.5])


def test_a_cut_is_as_long_as_what_is_ridden_in_its_place() -> None:
    """Way of 250 m round 200 to 400 that was laid 800 m longer, 500 to 600 skipped, and a last part
    behind which no point lies; one point strays."""
    cuts = [_cut(200.0, 400.0, 250.0), _cut(500.0, 600.0), _cut(900.0, 1_000.0)]
    sent = np.array([0.0, 100.0, np.nan, 420.0, 450.0, 480.0, 650.0, 700.0, 850.0])
    now = np.array([0.0, 100.0, 700.0, 1_270.0, 1_300.0, 1_375.0, 1_400.0, np.nan, 1_600.0])
    assert [cut.length_m for cut in _laid(cuts, sent, now)] == [1_050.0, 0.0, 0.0]
    # Without a point between two cuts the first stays as it was found.
    few = np.array([0.0, 650.0, 850.0])
    laid = _laid(cuts, few, np.array([0.0, 1_400.0, 1_600.0]))
    assert [cut.length_m for cut in laid] == [250.0, 800.0, 0.0]
    # The ground was told, and nothing left out.
    assert _laid([], sent, now) == ()


def test_two_ways_round_that_run_into_each_other_are_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """Round 10 to 11 km by 9 to 13, round 12 to 14 by 11.5 to 16: together 10 to 14; the part at
    30 km stays its own, and one with no way is not cut."""
    asked: list[list[tuple[float, float]]] = []
    spans = {
        (10e3, 11e3): (9e3, 13e3), (12e3, 14e3): (11.5e3, 16e3), (30e3, 31e3): (29e3, 32e3),
        (10e3, 14e3): (8e3, 17e3),
    }  # fmt: skip

    def ways_round(layout: Any, parts: list[tuple[float, float]]) -> list[Any]:
        asked.append(list(parts))
        return [
            None if part not in spans else SimpleNamespace(
                from_m=spans[part][0], to_m=spans[part][1], lon=np.zeros(2), lat=np.zeros(2),
                length_m=5e3, roads=(),
            )
            for part in parts
        ]  # fmt: skip

    layout = SimpleNamespace(passed=SimpleNamespace(node=np.arange(5)))
    monkeypatch.setattr(module, "detour_inputs", lambda *_: layout)
    monkeypatch.setattr(module, "ways_round", ways_round)
    ride: Any = SimpleNamespace(length_m=99e3, match=None)
    nothing: Any = None
    parts = [(10e3, 11e3), (12e3, 14e3), (30e3, 31e3), (50e3, 51e3)]
    cuts = _cuts(ride, nothing, nothing, np.zeros(0), parts)
    assert [(cut.from_m, cut.to_m) for cut in cuts] == [(8e3, 17e3), (29e3, 32e3)]
    assert asked == [parts, [(10e3, 14e3), *parts[2:]]]
    assert _cuts(ride, nothing, nothing, np.zeros(0), []) == ()
