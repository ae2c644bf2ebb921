"""Everything terrain has to say about one route; every output renders this one value."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, ClassVar, cast

from terrain.text.packed import messages_of
from terrain.values.advice import Advice
from terrain.values.answers import AnsweredPart
from terrain.values.closed import closed_by_tag, closed_m, closed_on
from terrain.values.fleet import Fleet
from terrain.values.forecast import Weather
from terrain.values.ground import LAND_GROUNDS, Ground, Share, by_land
from terrain.values.heat import Heat
from terrain.values.help import Help
from terrain.values.learned import FoundShut
from terrain.values.match import Match
from terrain.values.places import PlacesAlong
from terrain.values.plain import Plain
from terrain.values.plan import Plan
from terrain.values.relief import Relief
from terrain.values.ride import Ride
from terrain.values.rounding import rounded
from terrain.values.route import Route
from terrain.values.trip import Trip
from terrain.values.verdict import Verdict
from terrain.values.when import When

if TYPE_CHECKING:
    import geopandas

SCHEMA = "terrain-report/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class RegionNote(Plain):
    """Which map the report rests on.

    map_date : ISO date of the map's newest edit; None if not known; map_age_days : from then to
        the day the ride is judged for, None if either is not known
    bbox : west, south, east, north [deg]; attribution : lines to print with any copy
    notes : what its user should know of its data, one sentence each
    """

    _untold: ClassVar = ("map_age_days",)
    name: str
    map_date: str | None
    bbox: tuple[float, float, float, float] | None
    attribution: tuple[str, ...]
    notes: tuple[str, ...] = ()
    map_age_days: int | None = None

    def to_dict(self) -> dict[str, Any]:
        bbox = None if self.bbox is None else [round(x, 6) for x in self.bbox]
        return {**Plain.to_dict(self), "bbox": bbox}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Assessed:
    """All that was found out about one route for one trip, before it is judged as a whole.

    fleet : the bikes it was judged for; places : what lies along the ride
    found_shut : parts that riders found shut on earlier rides
    when : twelve months by start hour, of a ride on no date; None for a dated one
    weather : what became of a forecast; None if none was asked for
    answered : what was answered of parts of the route as sent, and what became of it
    """

    region: RegionNote
    route: Route
    trip: Trip
    fleet: Fleet
    ride: Ride
    ground: Ground
    places: PlacesAlong
    relief: Relief
    heat: Heat
    help: Help
    advice: Advice
    plan: Plan
    found_shut: tuple[FoundShut, ...] = ()
    when: When | None = None
    weather: Weather | None = None
    answered: tuple[AnsweredPart, ...] = ()

    @property
    def match(self) -> Match:
        return self.ride.match

    def to_dict(self) -> dict[str, Any]:
        """As plain data, ready for JSON."""
        return {
            "region": self.region.to_dict(),
            "route": self._route(),
            "trip": self._trip(),
            "answers": [rounded(part.to_dict()) for part in self.answered],
            "match": rounded(self._match()),
            "ground": self._ground(),
            "stretches": self.stretch_rows(),
            "speed": rounded(self.ride.speeds.to_dict()),
            "relief": rounded(self.relief.to_dict()),
            "heat": self.heat.to_dict(),
            "weather": None if self.weather is None else rounded(self.weather.to_dict()),
            "help": rounded(self.help.to_dict()),
            "advice": rounded(self.advice.to_dict()),
            **rounded(self.plan.to_dict()),
            "closed": rounded(self._closed()),
            "places": [place.to_dict() for place in self.places.surroundings.places],
        }

    def _closed(self) -> dict[str, Any]:
        """What the map tags as closed to motorcycles: in all, by tag, by day, part by part."""
        parts = self.places.closed
        days = [(day.number, closed_on(parts, day.from_m, day.to_m)) for day in self.plan.days]
        return {
            "length_m": closed_m(parts),
            "by_tag": [
                {"tag": tag, "length_m": length_m} for tag, length_m in closed_by_tag(parts)
            ],
            "parts": [part.to_dict() for part in parts],
            "days": [
                {
                    "day": number,
                    "length_m": closed_m(cut),
                    "parts": [part.to_dict() for part in cut],
                }
                for number, cut in days
            ],
        }

    def _route(self) -> dict[str, Any]:
        return {
            "name": self.route.name,
            "length_m": round(self.match.length_m, 1),
            "points": self.route.n_points,
            "kind": self.route.kind.value,
            "problems": [p.to_dict() for p in (*self.route.problems, *self.match.problems)],
        }

    def _trip(self) -> dict[str, Any]:
        depart = self.trip.depart
        return {
            **self.trip.to_dict(),
            "depart": None if depart is None else depart.isoformat(),
            "own_rides": self._own_rides(),
        }

    def _own_rides(self) -> dict[str, Any] | None:
        """Whose rides the times rest on; None if on the tables alone."""
        own = self.trip.own_pace
        if own is None:
            return None
        facts = {
            "rides": own.n_rides,
            "alike": own.n_alike,
            "first_day": own.first_day.isoformat(),
            "last_day": own.last_day.isoformat(),
            "factor": by_land(own.factor),
            "low": by_land(own.low),
            "high": by_land(own.high),
        }
        return cast(dict[str, Any], rounded(facts))

    def _match(self) -> dict[str, Any]:
        match = self.match
        return {
            "matched_m": match.matched_m,
            "unmapped_m": match.unmapped_m,
            "filled_m": match.filled_m,
            "ferry_m": match.ferry_m,
            "mean_offset_m": match.mean_offset_m,
        }

    def _ground(self) -> dict[str, Any]:
        told: dict[str, Any] = rounded(self.ground.to_dict())
        if self.ground.shares is not None:
            told["shares"] = _shares({k.value: self.ground.shares[k] for k in LAND_GROUNDS})
        basis = {key: float(value) for key, value in self.ground.to_dict()["basis"].items()}
        if basis:
            told["basis"] = _sum_to_one(basis)
        return told

    def stretch_rows(self) -> list[dict[str, Any]]:
        """The stretches as plain data, rounded."""
        rows = []
        at_m = 0.0
        grades = rounded(self.ride.grade_pct, "grade_pct")
        speeds = rounded(self.ride.speeds.speed_kph, "speed_kph")
        for stretch, grade_pct, speed_kph in zip(
            self.ground.stretches, grades, speeds, strict=True
        ):
            row = stretch.to_dict()
            # Each stretch starts where the last one ended, rounding included.
            row["from_m"], row["to_m"] = at_m, max(at_m, rounded(stretch.to_m, "to_m"))
            at_m = row["to_m"]
            if stretch.p is not None:
                row["p"] = _sum_to_one(row["p"])
            row["grade_pct"], row["speed_kph"] = grade_pct, speed_kph
            rows.append(row)
        return rows


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Report:
    """One route judged for one trip.

    made_at : when, with a zone; terrain_version : by which version
    """

    made_at: datetime
    terrain_version: str
    assessed: Assessed
    verdict: Verdict

    def to_dict(self) -> dict[str, Any]:
        """The report as plain data: `terrain-report/1` of CONTRACT, ready for JSON."""
        facts = {
            "schema": SCHEMA,
            "terrain_version": self.terrain_version,
            "made_at": self.made_at.isoformat(timespec="seconds"),
            **self.assessed.to_dict(),
            "verdict": self.verdict.to_dict(self.assessed.match.length_m),
            "sections": [section.to_dict() for section in self.verdict.sections],
            "not_known": [item.to_dict() for item in self.verdict.unknown],
        }
        # What the sentences are made from, so that a copy can be told in another language.
        return {**facts, "messages": messages_of(facts)}

    def to_geodataframe(self) -> geopandas.GeoDataFrame:
        """One row per stretch with its line, EPSG:4326; `p` as p_paved, p_gravel, p_track."""
        import geopandas

        from terrain.values.match import ride_part

        rows = [_flat(row) for row in self.assessed.stretch_rows()]
        lines = [ride_part(self.assessed.match, row["from_m"], row["to_m"]) for row in rows]
        return geopandas.GeoDataFrame(rows, geometry=lines, crs="EPSG:4326")


def _flat(row: dict[str, Any]) -> dict[str, Any]:
    """A stretch as one row of a table."""
    p = row["p"] or {}
    flat = {key: value for key, value in row.items() if key not in ("p", "evidence")}
    return {**flat, **{f"p_{kind.value}": p.get(kind.value) for kind in LAND_GROUNDS}}


def _sum_to_one(parts: dict[str, float], digits: int = 4) -> dict[str, float]:
    """Rounded shares whose sum is still 1: the largest takes what rounding lost."""
    short = {key: round(value, digits) for key, value in parts.items()}
    largest = max(short, key=short.__getitem__)
    short[largest] = round(short[largest] + 1.0 - sum(short.values()), digits)
    return short


def _shares(shares: dict[str, Share]) -> dict[str, dict[str, float]]:
    best = _sum_to_one({key: share.best for key, share in shares.items()})
    return {
        key: {
            "best": best[key],
            "low": min(round(share.low, 4), best[key]),
            "high": max(round(share.high, 4), best[key]),
        }
        for key, share in shares.items()
    }
