"""The light of one day at one place."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Any


class SunKind(StrEnum):
    """Whether the sun rises and sets."""

    USUAL = "usual"
    POLAR_DAY = "polar day"  # the sun does not set
    POLAR_NIGHT = "polar night"  # the sun does not rise


@dataclass(frozen=True, slots=True, kw_only=True)
class SunDay:
    """Sun and twilight of one day, local times with zone.

    dawn, dusk : sun 6 degrees below the horizon; None where it does not come to that
    sunrise, sunset : None in polar day and polar night
    zone : IANA name of the time zone
    """

    day: date
    zone: str
    kind: SunKind
    dawn: datetime | None
    sunrise: datetime | None
    sunset: datetime | None
    dusk: datetime | None

    @property
    def daylight_s(self) -> float:
        """From sunrise to sunset [s]."""
        if self.sunrise is None or self.sunset is None:
            return 86_400.0 if self.kind is SunKind.POLAR_DAY else 0.0
        return (self.sunset - self.sunrise).total_seconds()

    def to_dict(self) -> dict[str, Any]:
        def told(moment: datetime | None) -> str | None:
            return None if moment is None else moment.isoformat(timespec="minutes")

        return {
            "date": self.day.isoformat(),
            "zone": self.zone,
            "kind": self.kind.value,
            "dawn": told(self.dawn),
            "sunrise": told(self.sunrise),
            "sunset": told(self.sunset),
            "dusk": told(self.dusk),
            "daylight_s": self.daylight_s,
        }
