"""The true ground of every way: what lies there, whether or not a mapper noted it.

Sealed roads spread from the towns, whole districts have none, gravel runs up the valleys, and
steep or high tracks fall apart. Neighbouring ways are alike, as on real ground.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy import ndimage

from terrain.values.arrays import FloatArray, Int8Array, IntArray
from terrain.values.ground import GroundKind
from tests.island.frame import STEP_M
from tests.island.land import Land
from tests.island.noise import smooth_field, stream
from tests.island.roads import ele_at, field_at
from tests.island.ways import Way

PAVED, GRAVEL, TRACK = range(3)
GROUNDS: Final = (GroundKind.PAVED, GroundKind.GRAVEL, GroundKind.TRACK)

# How ready each kind of road is to be sealed, and to be kept up if it is not.
_SEALED: Final[Mapping[str, float]] = {
    "trunk": 9.0, "trunk_link": 9.0, "primary": 3.6, "secondary": 1.5, "tertiary": 0.4,
    "unclassified": -0.35, "residential": 0.35, "living_street": 1.5, "service": -0.25,
    "track": -2.75, "path": -9.0,
}  # fmt: skip
_KEPT: Final[Mapping[str, float]] = {
    "trunk": 9.0, "trunk_link": 9.0, "primary": 4.0, "secondary": 3.0, "tertiary": 2.2,
    "unclassified": 1.0, "residential": 1.1, "living_street": 2.0, "service": 0.7,
    "track": 0.55, "path": -2.6,
}  # fmt: skip

# Districts: name slot, middle [km east, km north] and how much money they have for roads.
DISTRICTS: Final = (
    (0.0, -12.0, 1.3), (-18.0, -9.0, 0.3), (-32.0, -8.0, -0.4), (-30.0, 6.0, -2.4),
    (-10.0, 14.0, -0.5), (4.0, 13.0, 0.7), (8.0, 2.0, 0.0), (25.0, 9.0, -0.8),
    (33.0, 1.0, 0.5), (20.0, -9.0, -2.0), (-12.0, 2.0, -1.0), (37.0, -18.0, -0.6),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrueGround:
    """What lies on each way, in the order of the ways.

    ground : PAVED, GRAVEL or TRACK; -1 on ferries
    surface : the surface value an expert standing there would write
    district : number of the district in DISTRICTS
    steep_pct : mean slope of the land beside it
    """

    ground: Int8Array
    surface: tuple[str, ...]
    district: IntArray
    steep_pct: FloatArray


def lay_ground(land: Land, ways: tuple[Way, ...], towns: FloatArray) -> TrueGround:
    """The true ground of all ways; `towns` are their places on the board, shape (t, 2)."""
    middle = np.array([w.xy[len(w.xy) // 2] for w in ways])
    kinds = [w.kind for w in ways]
    district = _district(middle)
    town_m = np.hypot(*(middle[:, None] - towns[None]).transpose(2, 0, 1)).min(axis=1)
    steep = field_at(_steepness(land), middle)
    ele = ele_at(land, middle)
    money = np.array([d[2] for d in DISTRICTS])[district]
    rough = stream("ground").random(len(ways)) - 0.5
    sealed = np.array([_SEALED.get(k, 9.0) for k in kinds]) + money
    sealed += 1.9 * np.exp(-town_m / 2200) - 0.4 - ele / 1800 - steep / 60
    sealed += 1.25 * field_at(smooth_field("sealed", 7000, 2), middle) + 0.9 * rough
    kept = np.array([_KEPT.get(k, 9.0) for k in kinds]) + 0.35 * money
    kept += 0.9 * np.exp(-town_m / 4000) - ele / 1100 - steep / 28
    kept += 1.3 * field_at(smooth_field("kept", 5000, 2), middle) + 0.8 * rough
    works = np.array([w.part == "works" and w.kind != "service" for w in ways])
    plantation = np.array([w.part == "plantation" for w in ways])
    ground = np.where(sealed > 0, PAVED, np.where(kept + 0.9 * plantation > 0, GRAVEL, TRACK))
    ground = np.where(works, PAVED, ground)
    ground = np.where([k == "ferry" for k in kinds], -1, ground).astype(np.int8)
    return TrueGround(
        ground=ground,
        surface=_surfaces(land, ground, kinds, middle, steep, ele),
        district=district,
        steep_pct=steep,
    )


def _steepness(land: Land) -> FloatArray:
    north, east = np.gradient(land.ele_m, STEP_M)
    steep: FloatArray = ndimage.uniform_filter(100 * np.hypot(north, east), 3)
    return steep


def _district(xy: FloatArray) -> IntArray:
    """The nearest district middle, with borders bent a little."""
    bend = 2500 * np.column_stack(
        [field_at(smooth_field(f"border {axis}", 8000, 2), xy) for axis in "xy"]
    )
    seats = np.array([d[:2] for d in DISTRICTS]) * 1000
    gap = (xy + bend)[:, None] - seats[None]
    nearest: IntArray = np.hypot(*gap.transpose(2, 0, 1)).argmin(axis=1)
    return nearest


def _surfaces(
    land: Land,
    ground: Int8Array,
    kinds: list[str],
    xy: FloatArray,
    steep: FloatArray,
    ele: FloatArray,
) -> tuple[str, ...]:
    luck = stream("surfaces").random(len(kinds))
    stone = field_at(smooth_field("stone", 6000, 2), xy)
    sea_m = field_at(land.sea_m, xy)
    found = []
    for k in range(len(kinds)):
        if ground[k] < 0:
            found.append("")
        elif ground[k] == PAVED:
            found.append(_paved(kinds[k], luck[k], steep[k]))
        elif ground[k] == GRAVEL:
            firm = luck[k] + 0.35 * stone[k]
            found.append("compacted" if firm < 0.35 else "gravel" if firm < 0.9 else "fine_gravel")
        elif sea_m[k] < 900 and luck[k] < 0.55:
            found.append("sand")
        elif ele[k] > 1300 or stone[k] > 0.55:
            found.append("rock" if luck[k] < 0.5 else "ground")
        elif ele[k] < 120 and stone[k] < -0.1:
            found.append("mud" if luck[k] < 0.25 else "earth" if luck[k] < 0.6 else "grass")
        else:
            found.append("dirt" if luck[k] < 0.55 else "ground")
    return tuple(found)


def _paved(kind: str, luck: float, steep_pct: float) -> str:
    if kind in ("track", "service") and luck < 0.5:
        return "concrete:lanes" if luck < 0.22 and kind == "track" else "concrete"
    if kind in ("residential", "living_street") and luck < 0.16:
        return "paving_stones" if luck < 0.08 else "concrete"
    if steep_pct > 25 and luck < 0.3:
        return "concrete"
    return "chipseal" if luck > 0.93 else "asphalt"
