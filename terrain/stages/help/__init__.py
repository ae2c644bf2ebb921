"""Help by road: fields made once per region, and what a ride finds."""

from terrain.stages.help.fields import help_fields, usable_roads
from terrain.stages.help.judge import judge_help

__all__ = ["help_fields", "judge_help", "usable_roads"]
