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
    any_road : where the way is guessed, every road is as likely and the shortest way is taken, for
        lines that no planner drew
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
    beta_sparse: float = 0.45
    weight_sparse: float = 0.45
    weight_beta_m: float = 5.0
    reach_against: float = 6.0
    any_road: bool = False


class StepMode(IntEnum):
    """How well the line shows the way between two points; the row of the weights."""

    SHOWN = 0
    GUESSED = 1
    ROUGH = 2  # a few hundred metres with nothing drawn in between
    OFF_ROAD = 3  # guessed between two points that lie on tracks
    ANY_ROAD = 4  # guessed with no taste for main roads


DEFAULT_PARAMS = MatchParams()

# Weight of a metre by highway class, a number for each StepMode: where the line shows the way
# (never below 1), where it is guessed, and where it is drawn roughly (clicks a few hundred metres
# apart along a track mean the track). Where it is guessed, the way that planning by time takes is
# looked for: 45 / plausible speed in km/h, with main roads preferred beyond their speed (common
# practice, no source; chosen on lines of known ways, tests/bench/matching.py).
_RATES: dict[str, tuple[float, float, float]] = {
    "motorway": (1.0, 0.2, 0.775), "motorway_link": (1.2, 0.23, 1.04),
    "trunk": (1.0, 0.35, 0.837), "trunk_link": (1.2, 0.402, 1.1),
    "primary": (1.0, 0.5, 0.894), "primary_link": (1.2, 0.575, 1.1),
    "secondary": (1.0, 0.85, 0.975), "secondary_link": (1.2, 0.977, 1.15),
    "tertiary": (1.02, 0.85, 1.06), "tertiary_link": (1.2, 0.977, 1.2),
    "unclassified": (1.08, 0.95, 1.18), "residential": (1.15, 1.5, 1.36),
    "road": (1.15, 1.5, 1.36), "living_street": (1.2, 2.6, 1.62),
    "service": (1.4, 3.75, 2.05), "track": (1.12, 2.55, 1.2),
    "ferry": (1.0, 2.25, 1.41), "path": (2.2, 9.75, 3.92),
    "bridleway": (2.2, 9.75, 3.92), "footway": (2.4, 11.2, 4.38),
    "cycleway": (2.2, 9.75, 3.92), "pedestrian": (1.8, 8.25, 3.29),
    "steps": (2.4, 60.0, 8.0),
}  # fmt: skip
_OTHER = (1.1, 3.0, 1.66)


# Factors on the weight of a metre, a number for each StepMode. A closed road under a line of few
# points must not be told as the open track beside it: 1.25 for 2.1 halves that.
_FLAG_RATES = {
    WayFlag.NO_MOTORCYCLE: (1.1, 5.6, 1.25),
    WayFlag.PRIVATE: (1.0, 2.8, 1.41),
    WayFlag.UNDER_CONSTRUCTION: (1.1, 4.2, 1.82),
    WayFlag.PROPOSED: (1.2, 7.0, 2.35),
    WayFlag.ICE_ROAD: (1.1, 7.0, 2.35),
    WayFlag.DISUSED: (1.0, 5.6, 2.0),
}
# Where only a path closed to motors is under the line, the search must still get through it (it
# goes 6 to 8 gaps far): else the line would be told as off the map. By StepMode.
_FLAGS_MOST = (3.0, 12.0, 5.0)
# Factor for riding against a one-way, by StepMode. Where the line is drawn roughly the search
# (four gaps and 800 m) has to find the way against it: with 8 a line of a point each 250 m was told
# as off the map; of the open lines none changes.
_AGAINST = (4.0, 20.0, 5.0)


# Who drew points on tracks looks for tracks: between two such points a metre of one weighs so
# much less (chosen on lines of known ways and of rides fond of tracks, tests/bench).
_FOND = 0.3

# No roads for motors: who takes any road takes none of these.
_NO_ROAD = frozenset({"path", "bridleway", "footway", "cycleway", "pedestrian", "steps"})


def class_rates(values: tuple[str, ...]) -> FloatArray:
    """Weights of a metre for each highway value of a region, a row for each StepMode."""
    drawn = np.array([_RATES.get(v, _OTHER) for v in values] or [_OTHER]).T
    fond = np.array([_FOND if v == "track" else 1.0 for v in values] or [1.0])
    road = np.array([v not in _NO_ROAD for v in values] or [True])
    guessed = drawn[StepMode.GUESSED]
    return np.vstack([drawn, guessed * fond, np.where(road, 1.0, guessed)])


def kind_rates(ways: WayTable, rows: Int32Array) -> FloatArray:
    """Weights of a metre of some ways, along and against each, a row for each StepMode.

    Returns: shape (modes, 2 * rows), columns 2k along and 2k + 1 against the way in rows[k].
    """
    least = class_rates(ways.highway.values)[:, ways.highway.codes[rows]]
    flags, oneway = ways.flags[rows], ways.oneway[rows]
    rates = least.copy()
    for flag, factors in _FLAG_RATES.items():
        rates *= np.where(flags & flag, _by_mode(factors), 1.0)
    rates = np.maximum(least, np.minimum(rates, _by_mode(_FLAGS_MOST)))
    against = _by_mode(_AGAINST)
    out: FloatArray = np.empty((len(StepMode), 2 * len(rows)))
    out[:, 0::2] = rates * np.where(oneway < 0, against, 1.0)
    out[:, 1::2] = rates * np.where(oneway > 0, against, 1.0)
    return out


def _by_mode(factors: tuple[float, float, float]) -> FloatArray:
    """A factor for each StepMode, a column; it is the same for every kind of guess."""
    guessed = factors[StepMode.GUESSED]
    return np.array([*factors, guessed, guessed])[:, None]
