"""Other ways round parts of a ride: suggestions, never applied."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, ClassVar

from terrain.values.arrays import Columns, FloatArray
from terrain.values.ground import GroundKind, Share
from terrain.values.plain import Plain


class DetourKind(StrEnum):
    """What a detour is for."""

    ROAD = "road"  # round a hard or remote part, for road tyres
    DIRT = "dirt"  # off the tarmac, for riders who want it


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Detour(Columns, Plain):
    """One other way between two points of the ride.

    from_m, to_m : where it leaves the ride and comes back to it
    around_from_m, around_to_m : the part of the ride it is meant to avoid (ROAD) or replace
    length_m, time_s : of the detour; added_m, added_s : over the part of the ride it replaces,
        negative if it is shorter or quicker
    shares : of its length by ground, each with its 90 % interval; None where a there-and-back
        part is merely left out, which has no length
    lon, lat : its line [deg], shape (n,)
    roads : names of its longest roads
    """

    _untold: ClassVar = ("lon", "lat")
    kind: DetourKind
    from_m: float
    to_m: float
    around_from_m: float
    around_to_m: float
    length_m: float
    time_s: float
    added_m: float
    added_s: float
    shares: Mapping[GroundKind, Share] | None
    lon: FloatArray
    lat: FloatArray
    roads: tuple[str, ...]
    words: str

    def to_dict(self) -> dict[str, Any]:
        pairs = zip(self.lon.tolist(), self.lat.tolist(), strict=True)
        line = [[round(lon, 6), round(lat, 6)] for lon, lat in pairs]
        return {**Plain.to_dict(self), "line": line}
