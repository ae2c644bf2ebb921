"""Heat, cold and height along a ride."""

from terrain.stages.heat.judge import judge_heat

__all__ = ["judge_heat"]
