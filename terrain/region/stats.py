"""How much road a region holds, on what ground and evidence, and how much help."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.values.arrays import BoolArray
from terrain.values.ground import BASES, LAND_GROUNDS, WayGround
from terrain.values.views import NOT_OPEN, PLACE_KINDS, PlacesView, RoadsView, WayFlag

_FERRY, _PATH = int(WayFlag.FERRY), int(WayFlag.PATH)


@dataclass(frozen=True, slots=True, kw_only=True)
class RegionStats:
    """Figures of a region. Roads are motor roads and tracks, open or not; paths stand apart.

    ground_m : (name of the ground, expected length [m]) in the order paved, gravel, track
    basis_m : (what the ground rests on, length of road [m])
    highway_m : (highway, length [m]), longest first, paths and ferries included
    closed_m : part of road_m that a motorcycle may not use, or only with permission
    places : (kind, how many), those that are there
    """

    road_m: float
    path_m: float
    ferry_m: float
    closed_m: float
    ground_m: tuple[tuple[str, float], ...]
    basis_m: tuple[tuple[str, float], ...]
    highway_m: tuple[tuple[str, float], ...]
    places: tuple[tuple[str, int], ...]


def region_stats(roads: RoadsView, places: PlacesView, ground: WayGround) -> RegionStats:
    """Lengths and counts of a whole region."""
    ways = roads.ways
    way_m = np.bincount(roads.edge_way, weights=roads.edge_length_m, minlength=len(ways))
    road = (ways.flags & (_FERRY | _PATH)) == 0

    def length(mask: BoolArray) -> float:
        return float(way_m[mask].sum())

    expected = (ground.p[road] * way_m[road, np.newaxis]).sum(axis=0)
    codes = ways.highway.codes
    by_class = np.bincount(codes[codes >= 0], way_m[codes >= 0], len(ways.highway.values))
    counts = np.bincount(places.kind, minlength=len(PLACE_KINDS))
    return RegionStats(
        road_m=length(road),
        path_m=length((ways.flags & _PATH) != 0),
        ferry_m=length((ways.flags & _FERRY) != 0),
        closed_m=length(road & ((ways.flags & int(NOT_OPEN)) != 0)),
        ground_m=tuple(
            (LAND_GROUNDS[i].value, float(expected[i])) for i in range(len(LAND_GROUNDS))
        ),
        basis_m=tuple(
            (basis.value, length(road & (ground.basis == code)))
            for code, basis in enumerate(BASES)
            if (ground.basis == code).any()
        ),
        highway_m=tuple(
            (ways.highway.values[k], float(by_class[k])) for k in np.argsort(-by_class)
        ),
        places=tuple(
            (kind.value, int(n)) for kind, n in zip(PLACE_KINDS, counts, strict=True) if n
        ),
    )
