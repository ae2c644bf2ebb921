"""Figures that several stages share: each stands here once, with its source."""

from __future__ import annotations

import math

PRACTICE = "common practice, no source"

EARTH_M = 6_371_008.8  # mean radius of the GRS 80 ellipsoid, R1 (from memory)

# Probabilities of paved, gravel and track where no way is mapped: what is missing from a map is
# more often a track than a road (common practice, no source).
Ground3 = tuple[float, float, float]
UNMAPPED_P: Ground3 = (0.2, 0.3, 0.5)

# People with riding gear [kg]: the driver of 75 kg of the EU's rules on masses of motorcycles
# (Regulation (EU) 168/2013; from memory) and 10 kg of gear; a lighter person behind, and luggage
# by kind, of which tools and rain wear always go along (common practice, no source).
RIDER_KG = 85.0
PILLION_KG = 70.0
LUGGAGE_KG: dict[str, float] = {"none": 5.0, "soft": 15.0, "boxes": 30.0}

# On lines drawn with a point each 2 and 5 km the way ridden was none of those that other_ways finds
# about so often: a rate a kilometre of the gap, and so much more where its ends lie off tarmac;
# _LOST_ALIKE of such a way is as at its ends, and a little as the ride; the rest is as where no way
# is mapped (chosen by measurement, tests/bench/sparse.py).
_LOST_PER_KM, _LOST_OFF_PER_KM = 0.025, 0.02
_LOST_ALIKE, _LOST_BY_ENDS = 0.9, 0.75


def lost_way(gap_m: float, usual: Ground3, ends: Ground3) -> tuple[float, Ground3]:
    """Chance that between two points so far apart a way was ridden that nobody thinks of, and the
    probabilities of its ground.

    usual, ends : shares of paved, gravel and track of the ride, and at both points
    """
    off = 1.0 - (usual[0] + ends[0]) / 2
    chance = 1.0 - math.exp(-(_LOST_PER_KM + _LOST_OFF_PER_KM * off) * gap_m / 1000.0)
    paved, gravel, track = (
        _LOST_ALIKE * (u + _LOST_BY_ENDS * (e - u)) + (1.0 - _LOST_ALIKE) * bare
        for u, e, bare in zip(usual, ends, UNMAPPED_P, strict=True)
    )
    return chance, (paved, gravel, track)
