"""What lies along the ride."""

from terrain.stages.places.along import places_along

__all__ = ["places_along"]
