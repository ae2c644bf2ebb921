"""Areas of a region in which a ride may be forbidden or limited."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

from terrain.values.arrays import FloatArray, Int8Array, Int32Array, IntArray, freeze_fields


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
