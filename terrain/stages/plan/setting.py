"""All that a plan is told from, before it is told."""

from __future__ import annotations

from typing import NamedTuple

from terrain.calc.choose_stops import Chosen, StopProblem
from terrain.stages.plan.candidates import Asked, Candidates
from terrain.stages.plan.course import Course
from terrain.stages.plan.names import Namer
from terrain.stages.plan.nights import Clock
from terrain.values.plan import FuelRange, StopKind
from terrain.values.ride import Ride


class Setting(NamedTuple):
    """The ride with its possible stops, and those chosen.

    ranges : the shortest first; water_l_h : to drink in the heat [L/h]
    """

    ride: Ride
    course: Course
    ranges: tuple[FuelRange, ...]
    clock: Clock
    candidates: Candidates
    asked: tuple[Asked, ...]
    problem: StopProblem
    chosen: Chosen
    namer: Namer
    water_l_h: float

    def asked_at(self, row: int) -> Asked | None:
        """What was asked for at a candidate, None if nothing was."""
        i = int(self.candidates.asked[row])
        return self.asked[i] if i >= 0 else None

    def is_night(self, row: int) -> bool:
        item = self.asked_at(row)
        return item is not None and StopKind.NIGHT in item.kinds
