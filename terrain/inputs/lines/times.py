"""The times that points carry: a sign of a ride that was recorded, not planned."""

from __future__ import annotations

from dataclasses import dataclass

from terrain.text.message import message
from terrain.values.route import Problem


@dataclass(slots=True)
class Times:
    """The times that points carry.

    n : points with a time; first, last : as written
    """

    n: int = 0
    first: str = ""
    last: str = ""

    def note(self, text: str) -> None:
        self.n += 1
        self.first = self.first or text
        self.last = text

    def problems(self, n_points: int) -> tuple[Problem, ...]:
        """Say so if most points carry times that move on: a ride recorded, not planned."""
        if self.n < 0.5 * n_points or self.last == self.first:
            return ()
        last = max(self.first, self.last)[:10]
        what = message("the points carry times, to {last}, as in a recorded ride", last=last)
        action = message("times not used")
        return (Problem(code="recorded", where="", what=what, action=action),)
