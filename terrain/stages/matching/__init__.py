"""The planned line laid on mapped ways."""

from terrain.stages.matching.alternatives import other_ways
from terrain.stages.matching.lay import lay_route
from terrain.stages.matching.params import DEFAULT_PARAMS, MatchParams

__all__ = ["DEFAULT_PARAMS", "MatchParams", "lay_route", "other_ways"]
