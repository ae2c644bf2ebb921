"""Road, off-road, or open: firm only where doubt could not well change it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.stages.advice.burden import OffRoadTime, ground_shift_s
from terrain.stages.advice.setup.gaps import way_shift_s
from terrain.tables.advice import SetupModel
from terrain.text.catalogue import N_
from terrain.values.advice import SetupChoice
from terrain.values.arrays import BoolArray, FloatArray

GROUND_WORDS = (N_("paved"), N_("gravel"), N_("track"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """Weighted and hard riding time if doubt turns out for the better, and for the worse.

    Monotone in doubt: every ground or way that becomes plausible only widens them, and the most
    probable ground stays where it is when all probabilities draw nearer to one another.
    """

    ride_s: float
    off_low_s: float
    off_high_s: float
    hard_low_s: float
    hard_high_s: float


def bounds_of(burden: OffRoadTime, model: SetupModel) -> Bounds:
    off, hard = burden.likely_s()
    down, up = (
        ground_shift_s(burden, worse=worse).and_also(way_shift_s(burden, model, worse=worse))
        for worse in (False, True)
    )
    return Bounds(
        ride_s=burden.ride_s,
        off_low_s=max(0.0, off - down.off_s),
        off_high_s=off + up.off_s,
        hard_low_s=max(0.0, hard - down.hard_s),
        hard_high_s=hard + up.hard_s,
    )


def decide(burden: OffRoadTime, model: SetupModel) -> SetupChoice:
    """Firm only if doubt could not well change it; less certainty is never firmer."""
    if not burden.ride_s > 0:
        return SetupChoice.ASK
    b = bounds_of(burden, model)
    if _is_off_road(b.off_low_s, b.hard_low_s, b.ride_s, model, 1 + model.margin):
        return SetupChoice.OFF_ROAD
    if not _is_off_road(b.off_high_s, b.hard_high_s, b.ride_s, model, 1 - model.margin):
        return SetupChoice.ROAD
    return SetupChoice.ASK


def may_turn(
    burden: OffRoadTime, part: BoolArray, choice: SetupChoice, b: Bounds, model: SetupModel
) -> bool:
    """False only where neither to leave out a part of the ride nor to know its ground can give
    another firm answer than `choice`.

    part : stretches, shape (k,); b : bounds of the burden as it is
    A long ride has many parts too short to matter, and `decide` looks at all of it each time. No
    stretch counts for more than its time, and the sum of errors grows by no more than what moves:
    a part of t seconds moves each bound by 3 t at most, t each for the likely world, the expected
    move, and the errors that hang together.
    """
    t = float(burden.time_s[part].sum())
    open_parts = [fork.inside for fork in burden.forks] + [gap.inside for gap in burden.gaps]
    if any(inside[part].any() for inside in open_parts):
        return True
    if burden.forks and model.limit_share(b.ride_s) != model.limit_share(b.ride_s - t):
        return True
    most = 3 * t + 1.0  # a second for rounding
    low, high = (
        (b.off_low_s + most, b.hard_low_s + most),
        (b.off_high_s - most, b.hard_high_s - most),
    )
    off_road = _is_off_road(*low, b.ride_s - t, model, 1 + model.margin)
    road = not _is_off_road(*high, b.ride_s, model, 1 - model.margin)
    firm = ((SetupChoice.OFF_ROAD, off_road), (SetupChoice.ROAD, road))
    return any(able and then is not choice for then, able in firm)


def _is_off_road(
    off_s: float, hard_s: float, ride_s: float, model: SetupModel, factor: float
) -> bool:
    return bool(off_s >= factor * limit_s(ride_s, model) or hard_s >= factor * model.hard_limit_s)


def limit_s(ride_s: float, model: SetupModel) -> float:
    """Weighted off-road riding time from which a ride is one for off-road setup [s]."""
    return float(limits_s(np.asarray(ride_s), model))


def limits_s(ride_s: FloatArray, model: SetupModel) -> FloatArray:
    """The same of rides of many lengths."""
    least_s = np.minimum(model.least_share * ride_s, model.least_limit_s)
    by_share_s = np.minimum(model.share_limit * ride_s, model.hours_limit_s)
    return np.maximum(least_s, by_share_s)
