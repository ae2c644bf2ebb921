"""How the ride goes up and down."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import Any, ClassVar

import numpy as np

from terrain.values.arrays import FloatArray, Int8Array, IntArray, even_rows, freeze_fields
from terrain.values.plain import Plain

PROFILE_POINTS = 2000  # most points of the profile that is handed out
MOSTLY = 0.5  # share of filled heights beyond which a part has no grade
SHORT_M = 10.0  # a part shorter than this has no grade of its own
NEAR_M = 1e-6  # beside a break of the line, to be on one side of it
KNOWN_ENOUGH = 0.99  # share of the ride whose height must be known for totals to be given


class EleBasis(IntEnum):
    """What a height on the ride rests on."""

    MEASURED = 0  # the region's elevation tiles
    FILLED = 1  # a void in them, filled from its surroundings
    SPANNED = 2  # a straight line between the ends of a bridge, tunnel or ferry
    FILE = 3  # the route file's own heights
    UNKNOWN = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Ramp(Plain):
    """A steep part; grade_pct its mean grade, + is up.

    doubtful : the elevation model is likely at fault: steeper than any public road is built
        (the grade of such a road was cut to what is believable), or in a void that was filled
    void : it is doubtful because heights are missing there
    """

    from_m: float
    to_m: float
    grade_pct: float
    doubtful: bool = False
    void: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Relief(Plain):
    """Heights at equal steps along the ride, and what they add up to.

    at_m : positions from 0 to the ride's end, shape (n,), the same one twice where the line
        breaks; ele_m smoothed heights [m], grade_pct
        grade over 100 m around [%], + is up, NaN where unknown or mostly filled
    basis : EleBasis of each
    turns : indices of the tops and bottoms the ascent was counted between
    ascent_m, descent_m : climbed and lost, both positive; None unless KNOWN_ENOUGH of the ride
        has a height. climbed_known_m : climbed where the height is known, None if nowhere
    steepest : the steepest 100 m that do not overlap, steepest first
    ramps : every part of 10 % or more, up or down, in riding order
    hairpins_m : positions of the hairpins
    source : what the heights rest on, for people; None if no height is known
    method : how they were treated, for people
    """

    _untold: ClassVar = ("at_m", "ele_m", "grade_pct", "basis", "turns", "hairpins_m")
    _also: ClassVar = ("known_share", "min_ele_m", "max_ele_m")
    at_m: FloatArray
    ele_m: FloatArray
    grade_pct: FloatArray
    basis: Int8Array
    turns: IntArray
    ascent_m: float | None
    descent_m: float | None
    climbed_known_m: float | None
    steepest: tuple[Ramp, ...]
    ramps: tuple[Ramp, ...]
    hairpins_m: FloatArray
    source: str | None
    method: str

    def __post_init__(self) -> None:
        freeze_fields(self, ("at_m", "ele_m", "grade_pct", "basis"), len(self.at_m))
        freeze_fields(self, ("turns", "hairpins_m"))

    @property
    def known_share(self) -> float:
        """Share of the ride with a height, 0..1."""
        return float(np.mean(self.basis != EleBasis.UNKNOWN)) if len(self.basis) else 0.0

    @property
    def min_ele_m(self) -> float | None:
        return None if self.source is None else float(np.nanmin(self.ele_m))

    @property
    def max_ele_m(self) -> float | None:
        return None if self.source is None else float(np.nanmax(self.ele_m))

    @property
    def highest(self) -> tuple[float, float, float | None] | None:
        """The highest point: height, where it lies, and how far above the start [m]."""
        known = np.flatnonzero(~np.isnan(self.ele_m))
        if not len(known):
            return None
        top = known[int(np.argmax(self.ele_m[known]))]
        start = self.ele_m[0]
        rise_m = None if np.isnan(start) else float(self.ele_m[top] - start)
        return float(self.ele_m[top]), float(self.at_m[top]), rise_m

    @property
    def sure_ramps(self) -> tuple[tuple[float, float, float], ...] | None:
        """Ramps to be trusted, (from_m, to_m, grade_pct); None without heights."""
        if self.source is None:
            return None
        return tuple((r.from_m, r.to_m, r.grade_pct) for r in self.ramps if not r.doubtful)

    def share_of(self, basis: EleBasis) -> float:
        """Share of the ride whose height rests on this, 0..1."""
        return float(np.mean(self.basis == basis)) if len(self.basis) else 0.0

    def ele_at(self, at_m: FloatArray) -> FloatArray:
        """Heights at positions along the ride [m], NaN where unknown."""
        return np.asarray(np.interp(at_m, self.at_m, self.ele_m), dtype=np.float64)

    def grade_at(self, at_m: FloatArray) -> FloatArray:
        """Grades at positions along the ride [%], + is up, NaN where unknown."""
        return np.asarray(np.interp(at_m, self.at_m, self.grade_pct), dtype=np.float64)

    def grade_between(self, from_m: FloatArray, to_m: FloatArray) -> FloatArray:
        """Mean grade of each part of the ride [%], + is up, NaN where unknown.

        Parts shorter than SHORT_M get the grade around their middle. Where MOSTLY filled heights
        lie in a part, its grade is that of the filling, not of the ground: unknown.
        """
        from_m, to_m = np.asarray(from_m, dtype=float), np.asarray(to_m, dtype=float)
        length = to_m - from_m
        rise = self.ele_at(to_m - NEAR_M) - self.ele_at(from_m + NEAR_M)
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = 100 * rise / length
        mean[self.filled_between(from_m, to_m) > MOSTLY] = np.nan
        return np.where(length >= SHORT_M, mean, self.grade_at((from_m + to_m) / 2))

    def filled_between(self, from_m: FloatArray, to_m: FloatArray) -> FloatArray:
        """Share of each part's heights that were filled in, 0..1; of its middle if it has none."""
        filled = np.append(0, np.cumsum(self.basis == EleBasis.FILLED))
        first = np.searchsorted(self.at_m, from_m, side="left")
        end = np.searchsorted(self.at_m, to_m, side="right")
        near = np.searchsorted(self.at_m, (np.asarray(from_m) + np.asarray(to_m)) / 2)
        near = np.clip(near, 0, max(len(self.at_m) - 1, 0))
        first, end = np.where(end > first, first, near), np.where(end > first, end, near + 1)
        end = np.minimum(end, len(self.at_m))
        return np.asarray((filled[end] - filled[first]) / np.maximum(end - first, 1))

    @property
    def void_m(self) -> float:
        """Length of the ride whose heights are known but whose grade is not: filled voids."""
        lost = np.isnan(self.grade_pct) & (self.basis == EleBasis.FILLED)
        whole = float(self.at_m[-1]) if len(self.at_m) else 0.0
        return float(np.mean(lost)) * whole if len(lost) else 0.0

    def profile(self) -> tuple[FloatArray, FloatArray]:
        """Positions and heights of a light profile: even steps, with every top and bottom."""
        n = len(self.at_m)
        if n <= PROFILE_POINTS:
            return self.at_m, self.ele_m
        turns = self.turns
        if len(turns) > PROFILE_POINTS // 2:
            # More tops than can be shown: keep those that stand out most.
            height = np.abs(np.diff(self.ele_m[turns]))
            weight = np.maximum(np.append(height, 0), np.insert(height, 0, 0))
            turns = turns[np.argsort(-weight, kind="stable")[: PROFILE_POINTS // 2]]
        edges = np.flatnonzero(np.diff(np.isnan(self.ele_m).astype(np.int8)))
        even = even_rows(n, PROFILE_POINTS - len(turns) - 2 * min(len(edges), 200))
        keep = np.unique(np.concatenate([even, turns, edges[:200], edges[:200] + 1]))
        return self.at_m[keep], self.ele_m[keep]

    def to_dict(self) -> dict[str, Any]:
        """The `relief` of the report; None where not known."""
        at_m, ele_m = self.profile()
        length_km = float(self.at_m[-1]) / 1000 if len(self.at_m) else 0.0
        per_km = len(self.hairpins_m) / length_km if length_km > 0 else None
        return {
            **Plain.to_dict(self),
            "basis": {kind.name.lower(): self.share_of(kind) for kind in EleBasis},
            "hairpins": len(self.hairpins_m),
            "hairpins_per_km": per_km,
            "profile": {
                "at_m": at_m.tolist(),
                "ele_m": [None if np.isnan(ele) else float(ele) for ele in ele_m],
            },
        }
