"""Ground from witnesses who are known to err."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from terrain.stages.ground.notes import AppliedNote, with_note
from terrain.stages.ridden.learning.ground import learn_ground
from terrain.values.ground import LAND_GROUNDS, GroundKind
from terrain.values.learned import Learned, Statement
from terrain.values.trip import Three

_DAY = date(2027, 3, 14)
Case = tuple[dict[int, Three], dict[int, int], list[int]]


def _region(rng: np.random.Generator, n: int = 200) -> Case:
    """Ways with a map's chances, their truth drawn from these, and which of them are doubtful."""
    map_p: dict[int, Three] = {}
    truth: dict[int, int] = {}
    for way in range(1, n + 1):
        p = np.eye(3)[rng.integers(3)] * 0.94 + 0.02 if way % 2 else rng.dirichlet([1.2, 1.2, 1.2])
        map_p[way] = (float(p[0]), float(p[1]), float(p[2]))
        truth[way] = int(rng.choice(3, p=p / p.sum()))
    return map_p, truth, [w for w in map_p if max(map_p[w]) < 0.9]


def _said(
    rng: np.random.Generator, truth: dict[int, int], who: str, errs: float, share: float
) -> list[Statement]:
    found = []
    for way, g in truth.items():
        if rng.random() > share:
            continue
        wrong = (g + rng.integers(1, 3)) % 3
        kind = LAND_GROUNDS[int(wrong) if rng.random() < errs else g]
        found.append(Statement(way_id=way, who=who, day=_DAY, ground=kind))
    return found


def _log_loss(p: dict[int, Three], truth: dict[int, int], ways: list[int]) -> float:
    return float(np.mean([-np.log(max(p[w][truth[w]], 1e-6)) for w in ways]))


def _after(map_p: dict[int, Three], statements: list[Statement]) -> dict[int, Three]:
    ways, _ = learn_ground(statements, map_p)
    return map_p | {way.way_id: way.p for way in ways if way.p is not None}


def test_honest_witnesses_settle_what_is_doubtful() -> None:
    rng = np.random.default_rng(4)
    map_p, truth, doubtful = _region(rng)
    statements = [s for i in range(6) for s in _said(rng, truth, f"rider {i}", 0.10, 0.5)]
    asked = [w for w in doubtful if any(s.way_id == w for s in statements)]
    before = _log_loss(map_p, truth, asked)
    assert _log_loss(_after(map_p, statements), truth, asked) <= 0.35 * before


@pytest.mark.parametrize("seed", range(5))
def test_a_malicious_witness_makes_nothing_worse(seed: int) -> None:
    rng = np.random.default_rng(seed)
    map_p, truth, doubtful = _region(rng)
    honest = [s for i in range(6) for s in _said(rng, truth, f"rider {i}", 0.10, 0.5)]
    liar = _said(rng, truth, "liar", 1.0, 0.6)
    alone = _after(map_p, liar)
    assert _log_loss(alone, truth, doubtful) <= 1.05 * _log_loss(map_p, truth, doubtful)
    clean, spoiled = _after(map_p, honest), _after(map_p, [*honest, *liar])
    assert _log_loss(spoiled, truth, doubtful) <= 1.05 * _log_loss(clean, truth, doubtful)
    _, witnesses = learn_ground([*honest, *liar], map_p)
    by_name = {w.who: w for w in witnesses}
    assert not by_name["liar"].heard
    assert by_name["liar"].errs > 0.6
    assert all(by_name[f"rider {i}"].heard for i in range(6))


def test_who_was_never_checked_is_not_believed() -> None:
    map_p: dict[int, Three] = {1: (0.4, 0.3, 0.3), 2: (0.96, 0.02, 0.02)}
    told = [Statement(way_id=1, who="new", day=_DAY, ground=GroundKind.TRACK)]
    ways, witnesses = learn_ground(told, map_p)
    assert ways == ()
    assert not witnesses[0].heard


def test_contradictions_and_shut_ways_are_shown() -> None:
    known: dict[int, Three] = dict.fromkeys(range(1, 9), (0.96, 0.02, 0.02))
    map_p = known | {50: (0.3, 0.4, 0.3), 51: (0.3, 0.4, 0.3), 52: (0.1, 0.8, 0.1)}
    statements = [
        Statement(way_id=w, who=who, day=_DAY, ground=GroundKind.PAVED)
        for w in known
        for who in ("ana", "ben", "cy")
    ]
    statements += [
        Statement(way_id=50, who="ana", day=_DAY, ground=GroundKind.GRAVEL),
        Statement(way_id=50, who="ben", day=_DAY, ground=GroundKind.GRAVEL),
        Statement(way_id=50, who="cy", day=_DAY, ground=GroundKind.TRACK),
        Statement(way_id=51, who="ana", day=_DAY, shut=True),
        Statement(way_id=52, who="ana", day=_DAY, ground=GroundKind.TRACK),
        Statement(way_id=52, who="ben", day=_DAY, ground=GroundKind.TRACK),
        Statement(way_id=99, who="ana", day=_DAY, ground=GroundKind.TRACK),
    ]
    ways, _ = learn_ground(statements, map_p)
    found = {way.way_id: way for way in ways}
    assert found[50].ground is GroundKind.GRAVEL
    assert found[50].against == 1
    assert [(item.ground.value, item.n) for item in found[50].said] == [("gravel", 2), ("track", 1)]
    assert (found[51].ground, found[51].shut) == (None, 1)
    assert found[52].against_map
    assert 99 not in found


def test_as_a_note_it_has_the_learned_chance() -> None:
    known: dict[int, Three] = dict.fromkeys(range(1, 9), (0.96, 0.02, 0.02))
    map_p = known | {50: (0.3, 0.4, 0.3)}
    statements = [
        Statement(way_id=w, who=who, day=_DAY, ground=GroundKind.PAVED)
        for w in known
        for who in ("ana", "ben")
    ]
    statements += [
        Statement(way_id=50, who=who, day=_DAY, ground=GroundKind.TRACK) for who in ("ana", "ben")
    ]
    ways, _ = learn_ground(statements, map_p)
    way = next(way for way in ways if way.way_id == 50)
    note = next(n for n in Learned(ways=ways).notes() if n.way_id == 50)
    assert note.trust is not None
    assert way.p is not None
    held = AppliedNote(note=note, from_m=0.0, to_m=1.0, belief=note.trust)
    p = with_note(np.array([map_p[50]]), held)
    assert p[0, 2] == pytest.approx(min(way.p[2], 0.97), abs=0.02)


def test_who_says_a_thing_twice_counts_once_by_the_last_word() -> None:
    """The same eyes are no second witness; what they saw last is what they say."""
    map_p = {1: (0.4, 0.3, 0.3), **dict.fromkeys(range(10, 20), (0.99, 0.005, 0.005))}

    def says(way_id: int, day: int, ground: GroundKind) -> Statement:
        return Statement(way_id=way_id, who="Ana", day=date(2027, 5, day), ground=ground)

    checked = [says(way, 1, GroundKind.PAVED) for way in range(10, 20)]
    once = [*checked, says(1, 9, GroundKind.TRACK)]
    often = [*checked, says(1, 9, GroundKind.TRACK), says(1, 2, GroundKind.TRACK),
             says(1, 3, GroundKind.GRAVEL)]  # fmt: skip
    assert learn_ground(often, map_p) == learn_ground(once, map_p)
    other = [*once, replace(once[-1], who="Bea"), *(replace(s, who="Bea") for s in checked)]
    (alone,), (both,) = ([w for w in learn_ground(told, map_p)[0] if w.way_id == 1]
                         for told in (once, other))  # fmt: skip
    assert alone.p is not None and both.p is not None and both.p[2] > alone.p[2] > 0.3
