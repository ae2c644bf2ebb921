"""What lies along the ride."""

from terrain.stages.places.along import places_along
from terrain.stages.places.areas import shut_by_clock

__all__ = ["places_along", "shut_by_clock"]
