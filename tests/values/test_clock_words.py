"""The clock names the day past midnight; no day has more than 24 hours."""

from __future__ import annotations

import pytest

from terrain.text.translator import Translator
from terrain.values.plan import clock


@pytest.mark.parametrize(
    ("hours", "stored", "told"),
    [
        (8.5, "08:30", "08:30"),
        (23.99, "23:59", "00:00 the next day"),
        (28 + 2 / 3, "04:40+1", "04:40 the next day"),
        (53.0, "05:00+2", "05:00, 2 days later"),
    ],
)
def test_past_midnight_the_day_is_told(hours: float, stored: str, told: str) -> None:
    assert clock(3600 * hours) == stored
    assert Translator().hour(stored) == told
