"""How months and hours of setting off are told from each other.

All of it is common practice, no source, but for the levels it asks for: those of tables/heat.py.
"""

from __future__ import annotations

from dataclasses import dataclass

from terrain.tables.heat import COLD_LEVELS, ICE_C


@dataclass(frozen=True, slots=True, kw_only=True)
class WhenRules:
    """All common practice, no source, but the levels that have a table of their own.

    hours : of setting off, local time
    rest_c, hard_c : WBGT in the wind of riding from which to rest often, and not to exert oneself
    cold_c : wind chill from which down hands grow cold; ice_c : air in which ice may lie
    light_s : light that should be left on arrival, and that leaves a puncture time
    shut_step : share of the ride by which two months differ in what is shut before it counts
    near : how much worse than the best cell a cell may be and still be called one of the best
    """

    hours: tuple[int, ...] = (5, 6, 7, 8, 9, 10, 11, 12, 13, 14)
    rest_c: float = 25.0
    hard_c: float = 28.0
    cold_c: float = COLD_LEVELS[0].below
    ice_c: float = ICE_C
    light_s: float = 3_600.0
    shut_step: float = 0.02
    near: float = 0.15


WHEN = WhenRules()
