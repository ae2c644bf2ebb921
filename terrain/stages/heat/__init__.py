"""Heat, cold and height along a ride."""

from terrain.stages.heat.inputs import HeatInputs
from terrain.stages.heat.judge import judge_heat

__all__ = ["HeatInputs", "judge_heat"]
