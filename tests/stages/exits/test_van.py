"""What a van cannot use of a run, by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.exits.van import van_gaps


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
