"""Figures that several stages share: each stands here once, with its source."""

from __future__ import annotations

import math

PRACTICE = "common practice, no source"

# Probabilities of paved, gravel and track where no way is mapped: what is missing from a map is
# more often a track than a road (common practice, no source).
UNMAPPED_P = (0.2, 0.3, 0.5)

# People with riding gear [kg]: the driver of 75 kg of the EU's rules on masses of motorcycles
# (Regulation (EU) 168/2013; from memory) and 10 kg of gear; a lighter person behind, and luggage
# by kind, of which tools and rain wear always go along (common practice, no source).
RIDER_KG = 85.0
PILLION_KG = 70.0
LUGGAGE_KG: dict[str, float] = {"none": 5.0, "soft": 15.0, "boxes": 30.0}

# On lines of known ways drawn with a point each 2 and 5 km the way ridden was none of those that
# other_ways finds about so often (tests/bench/README.md).
_LOST_PER_KM = 0.025


#: Share of the ride's own ground in such a way; the rest is as where no way is mapped.
LOST_ALIKE = 0.75


def lost_chance(gap_m: float) -> float:
    """Chance that between two points so far apart a way was ridden that nobody thinks of."""
    return 1.0 - math.exp(-_LOST_PER_KM * gap_m / 1000.0)
