"""Several lines in one file: the days of one trip, or alternatives; and who decides.

Left to itself (`auto`), `terrain.inputs.lines.trip` decides, by these rules in this order: a line
that is another drawing of one already taken is the same trip; a line that begins where the last
one ended goes on as the next part of the trip; a line that leaves the ridden one and comes back
to it further on is an alternative, and the first is ridden; anything else is ridden in file
order, as days are that begin where a ferry or a transfer ends. What was decided is told with the
route. Lines that are all named by a day ("Day 1", "Tag 2") are days of the plan too. The rider may
decide: `days` rides every line in file order, each on a day of its own, `alternatives` makes each
line a route of its own.
"""

from __future__ import annotations

from enum import StrEnum

from terrain.inputs.lines.lines import Lines
from terrain.inputs.lines.trip import Ridden, lines_apart, ridden_of
from terrain.text.message import message
from terrain.values.route import Problem


class LineRule(StrEnum):
    """How several lines of one file are taken."""

    AUTO = "auto"
    DAYS = "days"
    ALTERNATIVES = "alternatives"


def days_of(lines: Lines, source: str) -> Ridden:
    """Every line ridden, in file order, as days of one trip.

    Raises RouteError if no line of two points is left.
    """
    groups, problems = lines_apart(lines, source)
    order = {id(part): n for n, part in enumerate(lines.parts)}
    groups = sorted(groups, key=lambda group: order.get(id(group[0]), 0))
    return ridden_of(groups, problems, range(1, len(groups)))


def separate(lines: Lines, source: str) -> list[Ridden]:
    """Each line as a route of its own, a second drawing of the same line left out.

    Raises RouteError if no line of two points is left.
    """
    groups, problems = lines_apart(lines, source)
    if len(groups) < 2:
        return [ridden_of(groups, problems)]
    told = Problem(
        code="one-of-several",
        what=message("the file holds {n_lines} lines", n_lines=len(groups)),
        action=message("each judged as a route of its own, as was asked"),
    )
    return [ridden_of([group], (*problems, told)) for group in groups]
