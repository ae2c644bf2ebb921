"""Which parts of a ride to ask its rider about, before it and after it."""

from terrain.stages.asking.after import ask_after
from terrain.stages.asking.parts import has_boxes, list_asked

__all__ = ["ask_after", "has_boxes", "list_asked"]
