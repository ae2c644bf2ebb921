"""Answers about parts of a route, on maps drawn by hand: lengths are measured off the drawing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.stages.detours import TakenAnswers, take_answers
from terrain.stages.matching import match_route
from terrain.text.message import spaced
from terrain.values.answers import Outcome, PartAnswer, Reply, as_sent
from terrain.values.ground import GroundKind
from terrain.values.route import Route, RouteKind
from tests.stages.detours.test_find import _ring
from tests.stages.tinymap import PAVED, TRACK, TinyMap, TinyRegion


def _route(region: TinyRegion, *names: str, step_m: float = 200.0) -> Route:
    """A drawn line along the ride over these nodes."""
    match = region.ride(*names).match
    at_m = np.append(np.arange(0.0, match.length_m, step_m), match.length_m)
    lon, lat = match.lonlat(at_m)
    n = len(lon)
    return Route(
        name="drawn", kind=RouteKind.TRACK, lon=lon, lat=lat, ele_m=np.full(n, np.nan),
        piece=np.zeros(n, np.int32), shaping=np.zeros(n, bool), planned=np.zeros(n, bool),
    )  # fmt: skip


def _taken(
    tiny: TinyMap, tmp_path, names: str, *answers: tuple[float, float, str]
) -> tuple[TinyRegion, Route, TakenAnswers]:
    region = tiny.read(tmp_path)
    route = _route(region, *names)
    match = match_route(route, region.roads)
    ride = replace(region.ride(*names), match=match)
    told = [PartAnswer(from_m=a, to_m=b, reply=Reply(word)) for a, b, word in answers]
    taken = take_answers(
        route, ride, region.roads, region.fields(), told, way_p=region.way_p
    )  # fmt: skip
    return region, route, taken


def test_a_part_left_out_is_ridden_round_and_the_rest_stays(tmp_path) -> None:
    """A to D is 28 km; the hill road round 8 km of track is 20 km: 12 km more."""
    region, _, taken = _taken(
        _ring(TRACK, PAVED), tmp_path, "ABCD", (10_000, 18_000, "leave"), (20_000, 25_000, "keep")
    )
    again = match_route(taken.route, region.roads)
    assert again.length_m == pytest.approx(40_000, abs=60)
    ridden = [way_id for way_id, _ in again.ways]
    names = [region.roads.ways.name.text(int(np.flatnonzero(region.roads.ways.way_id == i)[0]))
             for i in ridden]  # fmt: skip
    assert "Hill Road" in names and len(ridden) == 3
    left, kept = taken.parts
    assert (left.outcome, kept.outcome) == (Outcome.ROUND, Outcome.KEPT)
    assert left.added_m == pytest.approx(12_000, abs=40)
    assert left.roads == ("Hill Road",)
    assert (left.now_from_m, left.now_to_m) == pytest.approx((10_000, 30_000), abs=40)
    # What is kept moved by what the way round added; and back again.
    assert (kept.now_from_m, kept.now_to_m) == pytest.approx((32_000, 37_000), abs=40)
    assert as_sent(taken.parts, kept.now_from_m) == pytest.approx(20_000, abs=1)
    assert as_sent(taken.parts, 5_000) == 5_000
    assert [part.reply for part in taken.on_ride] == [Reply.KEEP]


def test_what_lies_behind_a_way_round_is_found_where_that_was_laid_longer(tmp_path) -> None:
    """The ride was matched 800 m longer than the way that was found: the same closed road was asked
    about once more, and leaving it out left out what lies 800 m farther on."""
    region, _, taken = _taken(
        _ring(TRACK, PAVED), tmp_path, "ABCD", (10_000, 18_000, "leave"), (20_000, 25_000, "keep")
    )
    again = match_route(taken.route, region.roads)
    own = ~np.isnan(taken.sent_at_m)
    longer = np.where(own & (taken.sent_at_m > 14_000), 800.0, 0.0)
    before = taken.parts
    left, kept = taken.laid(replace(again, point_at_m=again.point_at_m + longer)).parts
    assert left.added_m == pytest.approx(12_800, abs=40)
    assert "round it by Hill Road: 21 km from" in spaced(left.words)
    assert kept.now_from_m == pytest.approx(before[1].now_from_m + 800, abs=20)
    assert as_sent((left, kept), 33_800) == pytest.approx(21_000, abs=30)
    assert as_sent((left, kept), 5_000) == 5_000


def test_a_way_there_and_back_is_skipped(tmp_path) -> None:
    tiny = _ring(PAVED, PAVED)
    tiny.nodes["V"] = (10_000, -5_000)
    tiny.way("BV", TRACK)
    region, _, taken = _taken(tiny, tmp_path, "ABVBCD", (10_500, 19_500, "leave"))
    (left,) = taken.parts
    assert (left.outcome, left.roads) == (Outcome.SKIPPED, ())
    assert left.added_m == pytest.approx(-10_000, abs=40)
    assert str(left.words).endswith("of the route as sent.")
    assert match_route(taken.route, region.roads).length_m == pytest.approx(28_000, abs=60)


def test_before_a_closed_road_there_and_back_the_ride_turns_round(tmp_path) -> None:
    """B to V and back is 30 km, of which 1 km on the way out is left out: all beyond it goes too.

    A corner of 200 m at home was taken for a way round, and the ride was 58 m long.
    """
    tiny = _ring(PAVED, PAVED)
    tiny.nodes |= {"V": (10_000, -5_000), "W": (10_000, -6_000), "X": (10_000, -15_000),
                   "H": (100, 100)}  # fmt: skip
    tiny.way("BV", PAVED).way("VW", TRACK).way("WX", PAVED).way("AHB", PAVED)
    # Asked about once, it is answered at both passes; what goes with them is told once.
    region, _, taken = _taken(
        tiny, tmp_path, "ABVWXWVBA", (15_000, 16_000, "leave"), (34_000, 35_000, "leave")
    )
    left, again = taken.parts
    assert (again.outcome, again.gone_m) == (Outcome.SKIPPED, left.gone_m)
    assert "beyond" not in again.words and "1 km from km 34" in spaced(again.words)
    assert left.outcome is Outcome.SKIPPED
    assert left.added_m == pytest.approx(-20_000, abs=60)
    assert "and with it all beyond it there and back: 20 km in all." in spaced(left.words)
    assert match_route(taken.route, region.roads).length_m == pytest.approx(30_000, abs=60)


def test_a_way_that_takes_nearly_all_of_the_ride_is_no_way_round(tmp_path) -> None:
    """A ride of 39.8 km round a one-way ring ends 200 m from where it began; 1 km is left out."""
    tiny = TinyMap(nodes={"A": (0, 0), "B": (10_000, 0), "C": (10_000, 10_000), "D": (0, 10_000),
                          "E": (0, 200), "K": (10_000, 5_000), "L": (10_000, 6_000)})  # fmt: skip
    tiny.way("ABK", PAVED, oneway="yes").way("KL", TRACK).way("LCDE", PAVED).way("EA", PAVED)
    _, _, taken = _taken(tiny, tmp_path, "AKLE", (15_000, 16_000, "leave"))
    assert [part.outcome for part in taken.parts] == [Outcome.NO_WAY]


def test_the_last_part_is_left_out_without_a_way_round(tmp_path) -> None:
    region, _, taken = _taken(_ring(TRACK, TRACK), tmp_path, "ABCD", (18_000, 28_000, "leave"))
    assert [part.outcome for part in taken.parts] == [Outcome.SKIPPED]
    assert str(taken.parts[0].words).endswith("of the route as sent. The ride ends before it.")
    (tmp_path / "b").mkdir()
    _, _, first = _taken(_ring(TRACK, TRACK), tmp_path / "b", "ABCD", (100, 9_000, "leave"))
    assert str(first.parts[0].words).endswith("of the route as sent. The ride begins after it.")
    assert match_route(taken.route, region.roads).length_m == pytest.approx(18_000, abs=60)


def test_where_no_way_round_is_mapped_the_part_stays_and_it_is_said(tmp_path) -> None:
    """The only other way is closed to motorcycles."""
    tiny = _ring(TRACK, {**PAVED, "motor_vehicle": "no"})
    _, route, taken = _taken(tiny, tmp_path, "ABCD", (10_000, 18_000, "leave"))
    (left,) = taken.parts
    assert left.outcome is Outcome.NO_WAY
    assert "another route is needed" in str(left.words)
    assert taken.route is route
    assert [part.reply for part in taken.on_ride] == [Reply.LEAVE]


def test_ground_that_is_told_becomes_a_note_along_the_part(tmp_path) -> None:
    _, route, taken = _taken(_ring(TRACK, PAVED), tmp_path, "ABCD", (10_000, 18_000, "gravel"))
    assert taken.route is route
    (note,) = taken.notes
    assert note.ground is GroundKind.GRAVEL
    assert note.trust is not None and 0.5 < note.trust < 0.97
    assert len(note.line) >= 2


@pytest.mark.parametrize(("from_m", "to_m"), [(-1, 5), (5, 5), (9, 3)])
def test_a_part_has_to_be_one(from_m: float, to_m: float) -> None:
    with pytest.raises(ValueError, match="no part"):
        PartAnswer(from_m=from_m, to_m=to_m, reply=Reply.KEEP)


def test_a_part_beyond_the_ride_is_no_part_of_it(tmp_path) -> None:
    _, route, taken = _taken(_ring(TRACK, PAVED), tmp_path, "ABCD", (90_000, 95_000, "leave"))
    assert taken.parts == () and taken.route is route
