"""What a rider is asked of a part: how much of it is what it is asked for."""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.stages.asking import list_asked
from terrain.text.message import spaced
from terrain.values.advice import SetupChoice
from terrain.values.closed import ClosedPart, Closure
from terrain.values.ground import GroundKind
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
