"""Which parts of a ride to ask its rider about."""

from terrain.stages.asking.parts import list_asked

__all__ = ["list_asked"]
