"""What lies around a ride: the roads to draw it on, and the named places it passes."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from terrain.values.arrays import FloatArray, Int8Array, Int32Array, IntArray, freeze_fields
from terrain.values.closed import ClosedPart
from terrain.values.plain import Plain


@dataclass(frozen=True, slots=True, kw_only=True)
class PassedPlace(Plain):
    """A named place on the ride or close to it.

    at_m : metres along the ride of the nearest point; away_m : distance from it as the crow flies
    kind : city, town, village, hamlet, locality, pass or ford
    population : None if not tagged
    """

    at_m: float
    away_m: float
    name: str
    kind: str
    lon: float
    lat: float
    population: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surroundings:
    """Roads around a ride as simple lines, and the places it passes.

    rank : how important each line is, shape (l,): 0 motorway and trunk, 1 primary,
        2 secondary, 3 tertiary, 4 minor road, 5 track, 6 ferry
    start : line i owns points start[i] .. start[i + 1] - 1; lon, lat [deg]
    places : in riding order; a place passed twice stands twice
    towns : settlements in the same box that the ride does not pass
    """

    rank: Int8Array
    start: Int32Array
    lon: FloatArray
    lat: FloatArray
    places: tuple[PassedPlace, ...]
    towns: tuple[PassedPlace, ...] = ()

    def __post_init__(self) -> None:
        freeze_fields(self, ("rank",))
        freeze_fields(self, ("start",), len(self.rank) + 1)
        freeze_fields(self, ("lon", "lat"), int(self.start[-1]))


class AreaKind(IntEnum):
    """What an area is for; the numbers are stored in regions."""

    MILITARY = 0
    PROTECTED = 1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AreasView:
    """Areas drawn as rings; any array may be a memory map.

    Areas, shape (a,): kind (AreaKind); name, "" if it has none.
    Rings, shape (r,): ring_area, the area each belongs to; ring_start, shape (r + 1,), its first
        point. A point lies in an area if it lies within an odd number of its rings.
    lon, lat : points of the rings [deg], WGS 84; the last point of a ring is its first
    """

    kind: Int8Array
    name: tuple[str, ...]
    ring_area: Int32Array
    ring_start: IntArray
    lon: FloatArray
    lat: FloatArray

    def __post_init__(self) -> None:
        freeze_fields(self, ("kind",), len(self.name))
        freeze_fields(self, ("ring_area",), len(self.ring_start) - 1)
        freeze_fields(self, ("lon",), len(self.lat))
        freeze_fields(self, ("lat", "ring_start"))


@dataclass(frozen=True, slots=True, kw_only=True)
class AreaRun:
    """A part of the ride that lies in an area, metres along the ride."""

    kind: AreaKind
    name: str
    from_m: float
    to_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RideNode:
    """A ford, border post or barrier that is a node of a ridden way.

    shut : whether tags say that it keeps a motorcycle out
    """

    at_m: float
    kind: str
    name: str | None = None
    shut: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlacesAlong:
    """What lies along a ride.

    surroundings : roads to draw it on, places passed
    nodes : fords, border posts and barriers on it, in riding order
    areas : its parts within military and protected areas; None if the region holds no areas
    near_from_m, near_names : the nearest named place from each of these positions on, as the crow
        flies within 5 km; "" where there is none
    closed : its parts that the map tags as closed to motorcycles, in riding order
    at_times : its parts that the map tags as closed on a condition; once the clock is known only
        those of which it cannot be told whether they are closed when the ride passes
    against : its parts, from and to [m], against one-way roads
    no_cars : its ferries, from and to [m], that the map tags as taking no cars
    outside : its parts, from and to [m], beyond the region's roads: nothing is known there
    """

    surroundings: Surroundings
    nodes: tuple[RideNode, ...]
    areas: tuple[AreaRun, ...] | None
    near_from_m: FloatArray
    near_names: tuple[str, ...]
    closed: tuple[ClosedPart, ...] = ()
    at_times: tuple[ClosedPart, ...] = ()
    against: tuple[tuple[float, float], ...] = ()
    no_cars: tuple[tuple[float, float], ...] = ()
    outside: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        freeze_fields(self, ("near_from_m",), len(self.near_names))

    def near(self, at_m: float) -> str:
        """The named place nearest to a position of the ride; "" if none is within 5 km."""
        i = int(np.searchsorted(self.near_from_m, at_m, side="right")) - 1
        return self.near_names[i] if i >= 0 else ""
