"""The days of a ride: nights, daylight, and the clock all later stages go by."""

from terrain.stages.days.choose import RideDays, choose_days
from terrain.stages.days.pins import with_days

__all__ = ["RideDays", "choose_days", "with_days"]
