"""Ways out of the off-road stretches of a ride, and where a van can meet it."""

from terrain.stages.exits.find import find_exits

__all__ = ["find_exits"]
