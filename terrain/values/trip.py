"""Who rides, when, and with what load."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from terrain.values.answers import PartAnswer

Three = tuple[float, float, float]  # paved, gravel, track


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
class OwnPace:
    """Riding times of one kind of rider and bike, as a share of the tables', by ground.

    factor : time over the tables' time on paved, gravel, track; low, high : 90 % interval of the
        mean; spread : of the logarithm of one ride about it, with what is not known of the mean
    ten_min_sd : of the logarithm of ten minutes' riding about that of its ride
    n_rides : rides that it rests on, of any rider; first_day, last_day : when they were
    n_alike : of them by this kind of rider
    """

    factor: Three
    low: Three
    high: Three
    spread: Three
    ten_min_sd: float
    n_rides: int
    n_alike: int
    first_day: date
    last_day: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Trip:
    """The trip a route is judged for.

    depart : local time at the start, without or with a zone; None if not known
    guided : whether a guide goes along
    wanted_class : the bike class the customer asked for, if any
    own_pace : how fast such riders were on the operator's own rides; None without any
    answers : what was said of parts of the route that were asked about
    """

    depart: datetime | None = None
    rider: Rider = Rider.STEADY
    pillion: bool = False
    luggage: Luggage = Luggage.SOFT
    guided: bool = False
    wanted_class: str | None = None
    own_pace: OwnPace | None = None
    answers: tuple[PartAnswer, ...] = ()

    def __post_init__(self) -> None:
        # Callers may pass the plain words.
        object.__setattr__(self, "rider", Rider(self.rider))
        object.__setattr__(self, "luggage", Luggage(self.luggage))
