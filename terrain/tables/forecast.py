"""How far a forecast is believed.

first_half_k, more_half_k : half of the 90 % band of a day's maximum on the day of asking, and what
    each later day adds, where the service gives no percentiles: errors of point forecasts grow from
    about 2 K to 3.5 K (standard deviation) over a week (from memory, no source)
near_m : a place stands for the ride within so far (common practice, no source)
soak_days : rain of so many days decides how soft ground is, and that of the last week alone, if it
    was wetter (common practice, no source)
day_m : length of a day's riding, for which day a place is passed (common practice, no source)
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastRules:
    """See the top of the module."""

    first_half_k: float = 3.0
    more_half_k: float = 0.35
    near_m: float = 40_000.0
    soak_days: tuple[int, ...] = (7, 14)
    day_m: float = 250_000.0
    month_days: float = 30.4


FORECAST = ForecastRules()
