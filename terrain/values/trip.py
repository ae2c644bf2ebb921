"""Who rides, when, and with what load."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class Rider(StrEnum):
    """How much off-road riding the rider has behind them."""

    NOVICE = "novice"
    STEADY = "steady"
    EXPERT = "expert"


class Luggage(StrEnum):
    """What is strapped to the bike."""

    NONE = "none"
    SOFT = "soft"
    BOXES = "boxes"


@dataclass(frozen=True, slots=True, kw_only=True)
class Trip:
    """The trip a route is judged for.

    depart : local time at the start, without or with a zone; None if not known
    guided : whether a guide goes along
    wanted_class : the bike class the customer asked for, if any
    """

    depart: datetime | None = None
    rider: Rider = Rider.STEADY
    pillion: bool = False
    luggage: Luggage = Luggage.SOFT
    guided: bool = False
    wanted_class: str | None = None

    def __post_init__(self) -> None:
        # Callers may pass the plain words.
        object.__setattr__(self, "rider", Rider(self.rider))
        object.__setattr__(self, "luggage", Luggage(self.luggage))
