"""The planned line laid on mapped ways."""

from terrain.stages.matching.alternatives import other_ways
from terrain.stages.matching.lay import match_route
from terrain.stages.matching.params import DEFAULT_PARAMS, MatchParams

__all__ = ["DEFAULT_PARAMS", "MatchParams", "match_route", "other_ways"]
