"""What a van cannot use of a run, and where it meets the ride, by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.exits.van import meeting_points, van_gaps


@pytest.mark.parametrize(
    ("there", "at_m", "gaps"),
    [
        ("TFTTFT", (0, 500, 1_000, 2_000, 2_500, 3_000), [(0, 3_000)]),  # a kilometre apart: one
        ("TFTTFT", (0, 500, 1_000, 2_001, 2_500, 3_000), [(0, 1_000), (2_001, 3_000)]),
        ("FFTTTT", (0, 1, 2, 3, 4, 5), [(0, 2)]),
        ("TTTTFF", (0, 1, 2, 3, 4, 5), [(3, 5)]),
        ("TTTTTT", (0, 1, 2, 3, 4, 5), []),
    ],
)
def test_gaps_of_a_van(
    there: str, at_m: tuple[float, ...], gaps: list[tuple[float, float]]
) -> None:
    """From the last place it reaches to the next; samples around the run count for nothing."""
    samples: Any = SimpleNamespace(at_m=np.array([-9.0, *at_m, 1e6]))
    ways: Any = SimpleNamespace(there=np.array([False, *(word == "T" for word in there), False]))
    run: Any = SimpleNamespace(first=1, last=6)
    assert list(van_gaps(samples, ways, run)) == gaps


@pytest.mark.parametrize(
    ("there", "before", "after", "whole"),
    [
        ("TT TTT TT", 2.1, 4.9, True),  # its own ends
        ("TT TFT TT", 2, 4, False), ("TT FTF TT", 1, 5, False), ("TF FTT FT", 0, 3, False),
        ("FF FTT TT", None, 3, False), ("TT TTF FF", 3, None, False),
        ("FF FFF FF", None, None, False),
    ],
)  # fmt: skip
def test_a_van_meets_before_the_first_part_it_cannot_use_and_after_the_last(
    there: str, before: float | None, after: float | None, whole: bool
) -> None:
    """A sample each kilometre; the run holds those from km 2 to km 4."""
    here = np.array([word == "T" for word in there.replace(" ", "")])
    samples: Any = SimpleNamespace(at_m=np.arange(7.0))
    ride: Any = SimpleNamespace(
        lonlat=lambda at: (at + 100.0, at + 50.0), road_name=lambda at: f"road at {at:g}"
    )
    run: Any = SimpleNamespace(first=2, last=4, from_m=2.1, to_m=4.9)
    ways: Any = SimpleNamespace(there=here)
    *points, all_of_it = meeting_points(ride, samples, ways, run)
    assert all_of_it == whole
    assert [None if spot is None else spot.at_m for spot in points] == [before, after]
    for spot in points:
        if spot is not None:
            at = spot.at_m
            assert (spot.lon, spot.lat, spot.name) == (at + 100, at + 50, f"road at {at:g}")
