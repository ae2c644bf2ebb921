"""Help by road: fields made once per region, and what a ride finds."""

from terrain.stages.help.fields import help_fields, usable_roads

__all__ = ["help_fields", "usable_roads"]
