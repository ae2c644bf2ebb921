"""The limits of road and off-road setup, a case on each side of each, by hand."""

from __future__ import annotations

from typing import Any

import pytest

from terrain.stages.advice.setup import decide as module
from terrain.stages.advice.setup.decide import Bounds, decide, limit_s
from terrain.tables.advice import SETUP
from terrain.values.advice import SetupChoice

H = 3_600.0


@pytest.mark.parametrize(("ride_h", "limit_h"), [(5.0, 1.0), (20.0, 4.0), (21.0, 4.0), (0.0, 0.0)])
def test_a_fifth_of_the_time_and_four_hours_at_most(ride_h: float, limit_h: float) -> None:
    """Common practice, no source."""
    assert limit_s(ride_h * H, SETUP) == pytest.approx(limit_h * H)


@pytest.mark.parametrize(
    ("ride_min", "limit_min"), [(1.0, 0.5), (2.0, 1.0), (4.0, 1.0), (5.0, 1.0), (6.0, 1.2)]
)
def test_a_minute_off_tarmac_sets_up_no_bike_unless_it_is_half_the_ride(
    ride_min: float, limit_min: float
) -> None:
    """A path of 40 m opened the answer to a ride of 300 m. Common practice, no source."""
    assert limit_s(ride_min * 60.0, SETUP) == pytest.approx(limit_min * 60.0)


@pytest.mark.parametrize(
    ("off_low_s", "off_high_s", "hard_low_s", "hard_high_s", "choice"),
    [
        # An hour of five, and twenty minutes of hard ground; both to five hundredths.
        (0.0, 3_419.0, 0.0, 0.0, SetupChoice.ROAD),
        (0.0, 3_421.0, 0.0, 0.0, SetupChoice.ASK),
        (3_779.0, 9_000.0, 0.0, 0.0, SetupChoice.ASK),
        (3_781.0, 9_000.0, 0.0, 0.0, SetupChoice.OFF_ROAD),
        (0.0, 0.0, 0.0, 1_139.0, SetupChoice.ROAD),
        (0.0, 0.0, 0.0, 1_141.0, SetupChoice.ASK),
        (0.0, 0.0, 1_259.0, 1_300.0, SetupChoice.ASK),
        (0.0, 0.0, 1_261.0, 1_300.0, SetupChoice.OFF_ROAD),
    ],
)
def test_firm_only_beyond_the_margin_of_a_limit(
    off_low_s: float, off_high_s: float, hard_low_s: float, hard_high_s: float,
    choice: SetupChoice, monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    bounds = Bounds(
        ride_s=5 * H, off_low_s=off_low_s, off_high_s=off_high_s, hard_low_s=hard_low_s,
        hard_high_s=hard_high_s,
    )  # fmt: skip
    monkeypatch.setattr(module, "bounds_of", lambda burden, model: bounds)

    class Burden:
        ride_s = 5 * H

    burden: Any = Burden()
    assert decide(burden, SETUP) is choice
    burden.ride_s = 0.0
    assert decide(burden, SETUP) is SetupChoice.ASK
