"""The parts of the report below the map, in each reader's order."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from terrain.report.page.advice import (
    advice_part,
    cautions_part,
    checks_part,
    questions_part,
)
from terrain.report.page.blocks import Block, Part, without_empty_columns
from terrain.report.page.ground import ground_part
from terrain.report.page.heat import heat_part
from terrain.report.page.help import exits_part, help_part
from terrain.report.page.once import once, told_above
from terrain.report.page.plan import detours_part, plan_part
from terrain.text.translator import Translator
from terrain.values.report import Report
from terrain.values.route import Problem
from terrain.values.verdict import Audience

# Which parts each reader gets, in which order.
ORDER: dict[Audience, tuple[str, ...]] = {
    Audience.RIDER: (
        "cautions", "advice", "ground", "heat", "checks", "help", "plan", "detours", "exits",
        "file",
    ),
    Audience.STAFF: (
        "advice", "questions", "checks", "cautions", "ground", "heat", "help", "plan", "detours",
        "exits", "file",
    ),
    Audience.GUIDE: (
        "plan", "exits", "help", "checks", "ground", "heat", "detours", "advice", "questions",
        "cautions", "file",
    ),
}  # fmt: skip


def make_parts(report: Report, translator: Translator, audience: Audience) -> tuple[Part, ...]:
    """The parts that this reader gets and this report has, without what is told above them."""
    makers: dict[str, Callable[[Report, Translator], Part | None]] = {
        "advice": partial(advice_part, audience=audience), "checks": checks_part,
        "questions": questions_part, "cautions": partial(cautions_part, audience=audience),
        "help": help_part, "plan": plan_part, "exits": exits_part,
        "ground": ground_part, "heat": heat_part, "detours": detours_part, "file": _file_part,
    }  # fmt: skip
    told = told_above(report, translator)
    made = [makers[key](report, translator) for key in ORDER[audience]]
    parts = [once(part, told) for part in made if part is not None]
    return tuple(without_empty_columns(part) for part in parts if part is not None)


def _file_part(report: Report, translator: Translator) -> Part | None:
    assessed = report.assessed
    problems = (*assessed.route.problems, *assessed.match.problems)
    if not problems:
        return None
    lines = tuple(_oddity(problem, translator) for problem in problems)
    return Part(
        key="file", title=translator._("About the file"), blocks=(Block(kind="list", lines=lines),)
    )


def _oddity(problem: Problem, translator: Translator) -> str:
    """One oddity of the file: where, what, and what was done."""
    what, action = translator.translate(problem.what), translator.translate(problem.action)
    if not problem.where:
        return translator._("{what} ({action})", what=what, action=action)
    where = translator.translate(problem.where)
    return translator._("{where}: {what} ({action})", where=where, what=what, action=action)
