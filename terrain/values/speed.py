"""How fast the ride goes: speed and time per stretch, with a band."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.values.arrays import FloatArray, freeze_fields


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Speeds:
    """Riding speeds of a ride cut in stretches, shape (k,); riding time only, no stops.

    from_m, to_m : metres along the ride
    speed_kph : most plausible mean moving speed; low_kph, high_kph its 90 % band
    time_s : riding time at speed_kph
    start_s : riding time from the start of the ride to the start of the stretch
    total_low_s, total_high_s : 90 % band of the whole riding time
    """

    from_m: FloatArray
    to_m: FloatArray
    speed_kph: FloatArray
    low_kph: FloatArray
    high_kph: FloatArray
    time_s: FloatArray
    start_s: FloatArray
    total_low_s: float
    total_high_s: float

    def __post_init__(self) -> None:
        names = ("from_m", "to_m", "speed_kph", "low_kph", "high_kph", "time_s", "start_s")
        freeze_fields(self, names, len(self.from_m))

    @property
    def total_s(self) -> float:
        """Riding time of the whole ride [s]."""
        return float(self.time_s.sum())

    def at_s(self, at_m: FloatArray) -> FloatArray:
        """Riding time from the start to each position of the ride [s], shape as at_m."""
        if not len(self.from_m):
            return np.zeros(np.shape(at_m))
        knots_m = np.append(self.from_m, self.to_m[-1])
        knots_s = np.append(self.start_s, self.total_s)
        out: FloatArray = np.interp(at_m, knots_m, knots_s)
        return out

    def to_dict(self) -> dict[str, float]:
        return {
            "riding_s": self.total_s,
            "riding_low_s": self.total_low_s,
            "riding_high_s": self.total_high_s,
        }
