"""The ride cut where notes begin and end, and the ground of each piece, by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.ground.cuts import KINDS, Grounds, cut_ride
from terrain.stages.ground.notes import AppliedNote
from terrain.values.ground import BASES, Basis, GroundKind, GroundNote, Severity, WayGround
from terrain.values.match import LegKind


def _held(
    from_m: float, to_m: float, ground: GroundKind | None, belief: float = 0.5
) -> AppliedNote:
    return AppliedNote(
        note=GroundNote(way_id=1, ground=ground, severity=None if ground else Severity.HARD),
        from_m=from_m, to_m=to_m, belief=belief,
    )  # fmt: skip


def _ride() -> Any:
    """100 m of way 7, 200 m of way 0, 100 m of a ferry, 100 m off the map."""
    return SimpleNamespace(
        kind=np.array([LegKind.MATCHED, LegKind.MATCHED, LegKind.FERRY, LegKind.UNMAPPED]),
        way=np.array([7, 0, 3, -1]),
        from_m=np.array([0.0, 100.0, 300.0, 400.0]), to_m=np.array([100.0, 300.0, 400.0, 500.0]),
    )  # fmt: skip


def test_a_leg_is_cut_at_each_end_of_a_note_inside_it_and_once() -> None:
    """One from 50 to 200 m, one from 200 to 300, where a leg ends anyway, one from 0 to 700."""
    notes = [_held(0, 700, None), _held(50, 200, None), _held(200, 300, None)]
    got = cut_ride(_ride(), notes)
    assert got.from_m.tolist() == [0, 50, 100, 200, 300, 400]
    assert got.to_m.tolist() == [50, 100, 200, 300, 400, 500]
    assert got.leg.tolist() == [0, 0, 1, 1, 2, 3]
    assert got.way.tolist() == [7, 7, 0, 0, 3, -1]
    assert got.land.tolist() == [True] * 4 + [False] * 2
    assert got.ferry.tolist() == [False] * 4 + [True, False]
    # The last that holds wins; none does off land.
    assert got.note.tolist() == [0, 1, 1, 2, -1, -1]
    assert got.length_m.tolist() == [50, 50, 100, 100, 100, 100]
    plain = cut_ride(_ride(), [])
    assert (plain.from_m.tolist(), plain.note.tolist()) == ([0, 100, 300, 400], [-1] * 4)


def test_ground_of_pieces() -> None:
    """Way 0 gravel by its tag, way 7 paved by an estimate; a note of track on 50 m of each. One
    that is believed by half decides, one by less is mixed in only, one of severity says nothing."""
    inferred, tagged = BASES.index(Basis.INFERRED), BASES.index(Basis.TAGGED)
    way_ground = WayGround(
        p=np.array([[0.1, 0.8, 0.1], *[[0.7, 0.2, 0.1]] * 7], np.float32),
        basis=np.array([tagged, *[inferred] * 7], np.int8), clash=np.zeros(8, np.int8),
        evidence=None,  # type: ignore[arg-type]
    )  # fmt: skip
    notes = [_held(50, 100, GroundKind.TRACK, 0.49), _held(100, 150, GroundKind.TRACK),
             _held(150, 200, None)]  # fmt: skip
    pieces = cut_ride(_ride(), notes)
    got = Grounds.of(pieces, way_ground, notes, None)
    paved, gravel, track = (KINDS.index(k) for k in (GroundKind.PAVED, GroundKind.GRAVEL,
                                                     GroundKind.TRACK))  # fmt: skip
    off = [KINDS.index(GroundKind.FERRY), KINDS.index(GroundKind.UNMAPPED)]
    assert got.kind.tolist() == [paved, track, track, gravel, gravel, *off]
    noted, unmapped = BASES.index(Basis.NOTED), BASES.index(Basis.UNMAPPED)
    assert got.basis.tolist() == [inferred, inferred, noted, tagged, tagged, -1, unmapped]
    # .49 x (.01, .01, .98) and .51 of what was thought; half of each.
    want = [[0.7, 0.2, 0.1], [0.3619, 0.1069, 0.5312], [0.055, 0.405, 0.54], *[[0.1, 0.8, 0.1]] * 2]
    assert got.p[:5] == pytest.approx(np.array(want), abs=2e-4)
    assert np.isnan(got.p[5:]).all()
