"""What the ground is along a ride."""

from terrain.stages.ground.judge import judge_ground
from terrain.stages.ground.notes import with_notes

__all__ = ["judge_ground", "with_notes"]
