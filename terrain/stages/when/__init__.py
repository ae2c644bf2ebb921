"""When to go: twelve months by start hour, the ground judged once."""

from terrain.stages.when.judge import judge_when

__all__ = ["judge_when"]
