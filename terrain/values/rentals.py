"""The operator's own rental log, and what was learnt from it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from terrain.values.fleet import Fleet
from terrain.values.trip import Rider


@dataclass(frozen=True, slots=True, kw_only=True)
class Rental:
    """One rental. Fields that the log does not give are None.

    bike : class name of the fleet; ground : "paved", "gravel", "track" or "mixed"
    incident : whether the bike broke down or fell so that help or money was needed
    setup : "road" or "off-road"; heat_c : hottest air of the ride; failed : what broke, in a word
    """

    bike: str
    incident: bool
    days: float | None = None
    km: float | None = None
    ground: str | None = None
    rider: Rider | None = None
    day: date | None = None
    setup: str | None = None
    heat_c: float | None = None
    failed: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnedRate:
    """One rate learnt from the log.

    ground, setup, heat : which part of the class's rentals it is about; all None for the whole
    used : False if there were too few rentals, so the rate believed before stands
    prior : the rate believed before
    rate, low, high : after shrinkage, with a 90 % interval
    per_1000_km, per_1000_low, per_1000_high : the same by distance; None without kilometres
    """

    bike: str
    ground: str | None
    rentals: int
    incidents: int
    used: bool
    prior: float
    rate: float
    low: float
    high: float
    km: float | None = None
    per_1000_km: float | None = None
    per_1000_low: float | None = None
    per_1000_high: float | None = None
    setup: str | None = None
    heat: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """What broke on bikes of a class, and how often; most often first."""

    bike: str
    part: str
    n: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RateUpdate:
    """All that was learnt: rates by class, and within it by ground, setup and heat; what broke; and
    the fleet with them.
    """

    fleet: Fleet
    rates: tuple[LearnedRate, ...]
    rentals: int
    unknown: tuple[str, ...]  # classes of the log that the fleet does not have
    failures: tuple[Failure, ...] = ()
