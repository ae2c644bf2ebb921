"""Who rides, when, and with what load."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import ClassVar

from terrain.values.answers import PartAnswer
from terrain.values.plain import Plain

Three = tuple[float, float, float]  # paved, gravel, track


class Rider(StrEnum):
    """How much off-road riding the rider has behind them."""

    NOVICE = "novice"
    STEADY = "steady"
    EXPERT = "expert"


class Riding(StrEnum):
    """How long the rider has ridden motorcycles at all, on any ground."""

    NEW = "new"  # less than a year
    PRACTISED = "practised"


class Wants(StrEnum):
    """What the rider came for."""

    ROAD = "road"
    OFF_ROAD = "off-road"
    OPEN = "open"  # they do not know, or like both


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
class Trip(Plain):
    """The trip a route is judged for.

    depart : local time at the start, without or with a zone; None if not known
    rider : off-road riding behind them; riding : motorcycling at all; None if not asked
    guided : whether a guide goes along
    wants : the kind of trip the rider came for; None if not asked
    wanted_class : the bike class the customer asked for, if any
    own_pace : how fast such riders were on the operator's own rides; None without any
    answers : what was said of parts of the route that were asked about
    """

    _untold: ClassVar = ("own_pace", "answers")
    depart: datetime | None = None
    rider: Rider = Rider.STEADY
    riding: Riding | None = None
    pillion: bool = False
    luggage: Luggage = Luggage.SOFT
    guided: bool = False
    wants: Wants | None = None
    wanted_class: str | None = None
    own_pace: OwnPace | None = None
    answers: tuple[PartAnswer, ...] = ()

    def __post_init__(self) -> None:
        # Callers may pass the plain words.
        object.__setattr__(self, "rider", Rider(self.rider))
        object.__setattr__(self, "luggage", Luggage(self.luggage))
        if self.riding is not None:
            object.__setattr__(self, "riding", Riding(self.riding))
        if self.wants is not None:
            object.__setattr__(self, "wants", Wants(self.wants))

    @property
    def is_new(self) -> bool:
        """New to motorcycles altogether."""
        return self.riding is Riding.NEW

    @property
    def skill(self) -> Rider:
        """Whom the ride is judged for: a person new to motorcycles is new to them off tarmac."""
        return Rider.NOVICE if self.is_new else self.rider
