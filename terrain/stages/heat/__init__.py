"""Heat, cold and height along a ride."""

from terrain.stages.heat.judge import judge_heat
from terrain.stages.heat.passage import HeatInputs

__all__ = ["HeatInputs", "judge_heat"]
