"""The operator's notes win while they are believed, age, and show."""

from __future__ import annotations

import itertools
from datetime import date

import numpy as np
import pytest

from terrain.stages.ground.judge import ground_along
from terrain.stages.ground.notes import apply_notes, belief_in, with_notes
from terrain.stages.ways.fit import fit_way_ground
from terrain.values.ground import (
    BASES,
    Alternative,
    Basis,
    Ground,
    GroundKind,
    GroundNote,
    Severity,
)
from tests.stages.ground.handmade import DEG_M, DrawnWay, places, ride, roads

_TODAY = date(2026, 6, 1)
_WAYS = [
    DrawnWay(way_id=100 + i, start=(i * 1000.0, 0), end=((i + 1) * 1000.0, 0),
             tags={"highway": "tertiary", "surface": "asphalt"})
    for i in range(3)
]  # fmt: skip


def _line(*points: tuple[float, float]) -> tuple[tuple[float, float], ...]:
    return tuple((x / DEG_M, y / DEG_M) for x, y in points)


def _judge(*notes: GroundNote, today: date | None = _TODAY) -> Ground:
    view = roads(_WAYS)
    return ground_along(
        ride(view, [0, 1, 2]), view, fit_way_ground(view, places()), notes=notes, today=today
    )


def test_a_note_about_a_way_wins_over_its_tags() -> None:
    note = GroundNote(
        way_id=101, ground=GroundKind.TRACK, severity=Severity.HARD, noted=date(2026, 5, 1),
        who="Ana", remark="washed out", source="n.csv, line 2",
    )  # fmt: skip
    ground = _judge(note)
    middle = ground.stretches[1]
    assert middle.ground is GroundKind.TRACK and middle.basis is Basis.NOTED
    assert middle.severity is Severity.HARD and middle.evidence.note == note
    assert "1 May 2026 by Ana" in middle.evidence.text and "washed out" in middle.evidence.text
    assert ground.basis_shares[Basis.NOTED] == pytest.approx(1 / 3)
    assert ground.shares is not None and ground.shares[GroundKind.TRACK].best > 0.3


def test_a_drawn_note_cuts_a_leg_where_it_begins_and_ends() -> None:
    note = GroundNote(line=_line((300, 5), (700, -5)), ground=GroundKind.GRAVEL, noted=_TODAY)
    ground = _judge(note)
    parts = [(s.from_m, s.to_m, s.ground) for s in ground.stretches]
    assert [g for _, _, g in parts[:3]] == [
        GroundKind.PAVED, GroundKind.GRAVEL, GroundKind.PAVED,
    ]  # fmt: skip
    # Holds within 30 m of the drawn line, so a little beyond its ends.
    assert parts[1][0] == pytest.approx(300, abs=41) and parts[1][1] == pytest.approx(700, abs=41)
    assert all(a[1] == b[0] for a, b in itertools.pairwise(parts))
    assert ground.p[0, 1] == pytest.approx(0.4, abs=0.1)  # the leg is the mean of its pieces


def test_a_spot_holds_a_little_way_both_sides() -> None:
    note = GroundNote(line=_line((1500, 10)), severity=Severity.EXTREME, noted=_TODAY)
    spot = next(s for s in _judge(note).stretches if s.severity is Severity.EXTREME)
    assert spot.from_m == pytest.approx(1250, abs=15) and spot.to_m == pytest.approx(1750, abs=15)
    assert spot.ground is GroundKind.PAVED and spot.basis is Basis.TAGGED


@pytest.mark.parametrize(("north_m", "holds"), [(29.0, True), (-29.0, True), (31.0, False)])
def test_a_drawn_note_holds_within_30_m(north_m: float, holds: bool) -> None:
    """Common practice, no source."""
    note = GroundNote(line=_line((300, north_m), (700, north_m)), ground=GroundKind.TRACK)
    view = roads(_WAYS)
    assert bool(apply_notes(ride(view, [0, 1, 2]), [note], _TODAY)) is holds


def test_a_line_that_only_crosses_does_not_hold() -> None:
    note = GroundNote(line=_line((500, -400), (500, 400)), ground=GroundKind.TRACK)
    view = roads(_WAYS)
    assert apply_notes(ride(view, [0, 1, 2]), [note], _TODAY) == ()


def test_notes_age_and_at_last_no_longer_decide() -> None:
    made = [date(2026, 6, 1), date(2021, 6, 1), date(2010, 6, 1)]
    notes = [GroundNote(way_id=101, ground=GroundKind.TRACK, noted=d) for d in made]
    belief = [belief_in(n, _TODAY) for n in notes]
    assert belief[0] == pytest.approx(0.97)
    assert belief[1] == pytest.approx(0.485, abs=0.001)  # half after five years
    assert belief[2] < 0.15
    old = _judge(notes[2]).stretches[1]
    assert old.basis is Basis.TAGGED and "too old" in old.evidence.text
    undated = belief_in(GroundNote(way_id=1, ground=GroundKind.TRACK), _TODAY)
    assert belief[1] < undated < belief[0]


def test_the_newest_of_several_notes_wins() -> None:
    ground = _judge(
        GroundNote(way_id=101, ground=GroundKind.GRAVEL, noted=date(2026, 5, 30)),
        GroundNote(way_id=101, ground=GroundKind.TRACK, noted=date(2025, 5, 30)),
    )
    assert ground.stretches[1].ground is GroundKind.GRAVEL


def test_notes_elsewhere_change_nothing() -> None:
    plain, noted = _judge(), _judge(GroundNote(way_id=999, ground=GroundKind.TRACK))
    assert np.array_equal(plain.p, noted.p) and plain.to_dict() == noted.to_dict()


def test_a_note_must_say_where_and_what_can_be() -> None:
    with pytest.raises(ValueError, match="either a way or a line"):
        GroundNote(ground=GroundKind.TRACK)
    with pytest.raises(ValueError, match="cannot say"):
        GroundNote(way_id=1, ground=GroundKind.FERRY)


def test_notes_hold_for_the_ways_around_too() -> None:
    """Another way round is judged by what the operator saw there, not by its tags."""
    view = roads(_WAYS)
    ground = fit_way_ground(view, places())
    by_way = GroundNote(way_id=100, ground=GroundKind.TRACK, noted=_TODAY)
    drawn = GroundNote(line=_line((990, 3), (2010, -4)), ground=GroundKind.GRAVEL, noted=_TODAY)
    spot = GroundNote(line=_line((2500, 0)), ground=GroundKind.TRACK, noted=_TODAY)
    noted = with_notes(ground, view, (by_way, drawn, spot), _TODAY)
    assert noted.p.argmax(axis=1).tolist() == [2, 1, 0]
    assert [BASES[b] for b in noted.basis] == [Basis.NOTED, Basis.NOTED, Basis.TAGGED]
    assert noted.p.sum(axis=1) == pytest.approx(1, abs=1e-6) and noted.p.max() < 1
    # A spot says nothing of a whole way, not even of one of 20 m that lies within its reach.
    short = roads([DrawnWay(way_id=7, start=(2490.0, 0), end=(2510.0, 0))])
    plain = fit_way_ground(short, places())
    assert with_notes(plain, short, (spot,), _TODAY) is plain


def test_a_note_drawn_through_several_points_holds_to_its_last_for_a_way_around() -> None:
    view = roads(_WAYS)
    line = _line((990, 3), (1100, 2), (1200, 0), (2010, -4))
    note = GroundNote(line=line, ground=GroundKind.GRAVEL, noted=_TODAY)
    noted = with_notes(fit_way_ground(view, places()), view, (note,), _TODAY)
    assert noted.p.argmax(axis=1).tolist() == [0, 1, 0]


def test_a_note_that_only_crosses_a_way_or_grew_old_leaves_it_alone() -> None:
    view = roads(_WAYS)
    ground = fit_way_ground(view, places())
    crossing = GroundNote(line=_line((500, -400), (500, 400)), ground=GroundKind.TRACK)
    assert with_notes(ground, view, (crossing,), _TODAY) is ground
    old = GroundNote(way_id=100, ground=GroundKind.TRACK, noted=date(2006, 6, 1))
    aged = with_notes(ground, view, (old,), _TODAY)
    assert aged.basis[0] == ground.basis[0]
    assert aged.p[0].argmax() == 0 and aged.p[0, 2] > ground.p[0, 2]


def test_another_way_the_ride_may_have_gone_is_judged_by_the_note() -> None:
    view = roads(_WAYS)
    ground = fit_way_ground(view, places())
    others = [
        Alternative(from_m=1000.0, to_m=2000.0, weight=1.0, ridden=row == 1,
                 way=np.array([row], dtype=np.int32), length_m=np.array([1000.0]))
        for row in (1, 2)
    ]  # fmt: skip
    note = GroundNote(way_id=102, ground=GroundKind.TRACK, noted=_TODAY)
    judged = ground_along(
        ride(view, [0, 1]), view, ground, notes=(note,), today=_TODAY, others=others
    )
    assert max(option.track for option in judged.choices[0].options) > 0.9
