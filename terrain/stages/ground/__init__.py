"""What the ground is along a ride."""

from terrain.stages.ground.judge import judge_ground

__all__ = ["judge_ground"]
