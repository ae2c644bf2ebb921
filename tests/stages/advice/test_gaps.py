"""Which gap between far points tells most: by the time its other way may add, by hand."""

from __future__ import annotations

from dataclasses import replace

from terrain.stages.advice.case import AlternativeRoute, Alternatives
from terrain.stages.advice.setup.gaps import telling_gaps
from terrain.tables.advice import SETUP
from tests.stages.advice.test_burden import _burden, _stretch

_PAVED, _TRACK = (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)


def _other(from_m: float, hours: float, severity: float) -> Alternatives:
    """Instead of an hour of tarmac from there on, one time in two so many hours of track."""
    track = replace(_stretch(_TRACK, hours, severity=severity), way=9)
    return Alternatives(
        from_m=from_m, to_m=from_m + 10_000.0, weight=1.0,
        ways=(AlternativeRoute(weight=1.0, stretches=(track,)),),
    )  # fmt: skip


def test_a_way_that_may_be_hard_tells_more_than_a_longer_easy_one() -> None:
    """0.9 h off tarmac, all of it hard, against 1 h with nothing hard: 1.8 against 1."""
    hours = [_stretch(_PAVED, 20.0, severity=0) for _ in range(2)]
    burden = _burden(*hours, other_ways=(_other(0.0, 1.0, 3.0), _other(10_000.0, 0.9, 4.0)))
    assert telling_gaps(burden, SETUP, worse=True) == [10_000, 0]
    easy = _burden(*hours, other_ways=(_other(0.0, 1.0, 3.0), _other(10_000.0, 0.9, 3.0)))
    assert telling_gaps(easy, SETUP, worse=True) == [0, 10_000]
