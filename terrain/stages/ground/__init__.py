"""What the ground is: fitted to a region's tags at build, read along a ride afterwards."""

from __future__ import annotations

from terrain.stages.ground.fit import fit_way_ground
from terrain.stages.ground.judge import judge_ground
from terrain.stages.ground.notes import with_notes

__all__ = ["fit_way_ground", "judge_ground", "with_notes"]
