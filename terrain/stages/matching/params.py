"""Numbers of the matcher, in one frozen place."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from terrain.values.arrays import FloatArray, Int32Array
from terrain.values.views import WayFlag, WayTable


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchParams:
    """Tuning of the matcher.

    Source: the numbers were chosen by measurement on lines of known ways
    (tests/bench/matching.py). That sigma follows from the median distance of the line from the
    nearest way is Newson and Krumm 2009, section 5; their factor is 1.4826. Ours is larger, as the
    nearest way is at times another one than the way ridden.

    shake_least_m, shake_spacing_m : a recording is smoothed from this shaking on, and up to this
        median step; smooth_width, smooth_spacings : over so many times the shaking, or the step
    sigma_factor : sigma over the median distance, kept in sigma_least_m..sigma_most_m
    off_sigmas : distance from the way at which leaving the map costs as much as staying
    thin_m, thin_sigmas : tolerance of thinning, the larger of both; longest_m : longest step left
    apart_sigmas : points nearer to each other than this are left out
    middle_m, sparse_m : gaps with nothing drawn that tell little, and that are guessed by routing
    bridge_m : longest break of the line that is bridged; farther parts are matched apart
    n_candidates : positions kept for a point; far_factor : wider search where there are none
    give_up : a position that costs so much more than the nearest is not tried
    sliver_m : positions nearer to a node than this lie on it
    slack_sigmas : riding back so far along an edge is the line's spread
    switch_cost, turn_cost : of leaving or joining the map, and of turning round, in the units of
        minus log likelihood
    beta_... : scale [m] of the difference between ridden and drawn length: a start, a share of
        the gap, and these shares for middle and sparse gaps
    weight_... : the same for the weight of the ways ridden, see class_rates
    reach_against : weighted length tried, in gaps: enough to ride against a one-way
    """

    shake_least_m: float = 3.0
    shake_spacing_m: float = 35.0
    smooth_width: float = 1.5
    smooth_spacings: float = 0.7
    sigma_factor: float = 1.9
    sigma_least_m: float = 3.0
    off_sigmas: float = 4.5
    sigma_most_m: float = 25.0
    thin_m: float = 2.0
    longest_m: float = 60.0
    sparse_m: float = 400.0
    bridge_m: float = 20_000.0
    n_candidates: int = 12
    sliver_m: float = 0.5
    give_up: float = 14.0
    far_factor: float = 2.2
    slack_sigmas: float = 3.0
    thin_sigmas: float = 0.8
    apart_sigmas: float = 2.0
    switch_cost: float = 8.0
    turn_cost: float = 12.0
    beta_m: float = 4.0
    beta_per_gap: float = 0.03
    middle_m: float = 80.0
    beta_middle: float = 0.2
    weight_middle: float = 0.07
    beta_sparse: float = 0.6
    weight_sparse: float = 0.3
    weight_beta_m: float = 5.0
    reach_against: float = 6.0


class StepMode(IntEnum):
    """How well the line shows the way between two points; the row of the weights."""

    SHOWN = 0
    GUESSED = 1
    ROUGH = 2  # a few hundred metres with nothing drawn in between


DEFAULT_PARAMS = MatchParams()

# Weight of a metre by highway class: (where the line shows the way, never below 1; where it is
# guessed). The second column is 60 / plausible speed in km/h (common practice, no source).
_RATES: dict[str, tuple[float, float]] = {
    "motorway": (1.0, 0.60), "motorway_link": (1.2, 0.9),
    "trunk": (1.0, 0.70), "trunk_link": (1.2, 1.0),
    "primary": (1.0, 0.80), "primary_link": (1.2, 1.0),
    "secondary": (1.0, 0.95), "secondary_link": (1.2, 1.1),
    "tertiary": (1.02, 1.1), "tertiary_link": (1.2, 1.2),
    "unclassified": (1.08, 1.3), "residential": (1.15, 1.6), "road": (1.15, 1.6),
    "living_street": (1.2, 2.2), "service": (1.4, 3.0), "track": (1.12, 2.2),
    "ferry": (1.0, 2.0), "path": (2.2, 7.0), "bridleway": (2.2, 7.0),
    "footway": (2.4, 8.0), "cycleway": (2.2, 7.0), "pedestrian": (1.8, 6.0),
}  # fmt: skip
_OTHER = (1.1, 2.5)
# Clicks a few hundred metres apart along a track mean the track.
_TRACK_ROUGH = 1.2


# Factors on the weight of a metre (line shows the way, way is guessed).
_FLAG_RATES = {
    WayFlag.NO_MOTORCYCLE: (1.1, 4.0),
    WayFlag.PRIVATE: (1.0, 2.0),
    WayFlag.UNDER_CONSTRUCTION: (1.1, 3.0),
    WayFlag.ICE_ROAD: (1.1, 5.0),
    WayFlag.DISUSED: (1.0, 4.0),
}
# Where only a path closed to motors is under the line, the search must still get through it (it
# goes 6 gaps far): else the line would be told as off the map. By StepMode.
_FLAGS_MOST = (3.0, 9.0, 5.0)
# Factor for riding against a one-way, by StepMode.
_AGAINST = (4.0, 20.0, 8.0)


def class_rates(values: tuple[str, ...]) -> FloatArray:
    """Weights of a metre for each highway value of a region, a row for each StepMode."""
    pairs = [_RATES.get(v, _OTHER) for v in values] or [_OTHER]
    shown = [p[0] for p in pairs]
    guessed = [p[1] for p in pairs]
    rough = [(p[0] * p[1]) ** 0.5 for p in pairs]
    if "track" in values:
        at = values.index("track")
        rough[at] = _TRACK_ROUGH
    return np.array([shown, guessed, rough])


def kind_rates(ways: WayTable, rows: Int32Array) -> FloatArray:
    """Weights of a metre of some ways, along and against each, a row for each StepMode.

    Returns: shape (modes, 2 * rows), columns 2k along and 2k + 1 against the way in rows[k].
    """
    least = class_rates(ways.highway.values)[:, ways.highway.codes[rows]]
    flags, oneway = ways.flags[rows], ways.oneway[rows]
    rates = least.copy()
    for flag, (shown, guessed) in _FLAG_RATES.items():
        factor = np.array([shown, guessed, (shown * guessed) ** 0.5])
        rates *= np.where(flags & flag, factor[:, None], 1.0)
    rates = np.maximum(least, np.minimum(rates, np.array(_FLAGS_MOST)[:, None]))
    against = np.array(_AGAINST)[:, None]
    out: FloatArray = np.empty((len(StepMode), 2 * len(rows)))
    out[:, 0::2] = rates * np.where(oneway < 0, against, 1.0)
    out[:, 1::2] = rates * np.where(oneway > 0, against, 1.0)
    return out
