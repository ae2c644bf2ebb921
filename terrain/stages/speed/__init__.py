"""How fast a ride goes, and how fast each edge of a region is."""

from terrain.stages.speed.judge import judge_speed

__all__ = ["judge_speed"]
