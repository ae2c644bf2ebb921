"""A recorded ride on a terminal."""

from __future__ import annotations

from terrain.text.plain import plain_line
from terrain.text.terms import GROUND_TERMS
from terrain.text.translator import Translator, translator_for
from terrain.values.ridden import Ridden, TimeOn
from terrain.values.route import Problem

_MOST_LEAVINGS = 8
_MOST_STOPS = 8


def ridden_text(ride: Ridden, translator: Translator | None = None) -> str:
    """The ride in some twenty lines, without a final line break."""
    translator = translator or translator_for()
    lines = [
        translator.say(
            "{name}: {length_m}, {moving_s} riding, {standing_s} standing",
            name=plain_line(ride.name), length_m=ride.length_m, moving_s=ride.moving_s,
            standing_s=ride.standing_s,
        ),
        translator.say(
            "The tables expect {expected_s} of riding for a {rider} rider; this ride took "
            "{pace_pct} of that.",
            expected_s=ride.expected_s, rider=ride.rider.value,
            pace_pct=100.0 * ride.moving_s / max(ride.expected_s, 1.0),
        ),
    ]  # fmt: skip
    lines += [f"  {_time_line(time, translator)}" for time in ride.times if time.by == "ground"]
    lines += _plan_lines(ride, translator)
    if ride.night_s >= 60.0:
        lines.append(translator.say("{night_s} of it in the dark.", night_s=ride.night_s))
    if ride.far_s:
        lines.append(
            translator.say(
                "Longest time far from a mechanic without a break: {far_s}.", far_s=ride.far_s
            )
        )
    for stop in ride.stops[:_MOST_STOPS]:
        lines.append(
            translator.say(
                "Stop at {at_m}: {clock}, {standing_s}",
                at_m=stop.at_m, clock=stop.from_time[11:16], standing_s=stop.standing_s,
            )
        )  # fmt: skip
    if len(ride.stops) > _MOST_STOPS:
        lines.append(
            translator.say("and {n_more} more stops", n_more=len(ride.stops) - _MOST_STOPS)
        )
    lines += [say_problem(problem, translator) for problem in ride.problems]
    return "\n".join(lines).replace("\u00a0", " ").replace("\u202f", " ")


def say_problem(problem: Problem, translator: Translator) -> str:
    """What was odd in a recording, and what was done."""
    what, action = translator.translate(problem.what), translator.translate(problem.action)
    return translator._("{what} ({action})", what=what, action=action) + "."


def _time_line(time: TimeOn, translator: Translator) -> str:
    return translator.say(
        "{ground}: {length_m} in {moving_s}, expected {expected_s}",
        ground=translator._(GROUND_TERMS[time.what]), length_m=time.length_m,
        moving_s=time.moving_s, expected_s=time.expected_s,
    )  # fmt: skip


def _plan_lines(ride: Ridden, translator: Translator) -> list[str]:
    plan = ride.plan
    if plan is None:
        return []
    lines = [
        translator.say(
            "Against the plan of {plan_m}: {off_m} ridden that were not planned, {missed_m} "
            "planned that were not ridden.",
            plan_m=plan.length_m, off_m=plan.off_plan_m, missed_m=plan.missed_m,
        )
    ]  # fmt: skip
    for item in plan.leavings[:_MOST_LEAVINGS]:
        lines.append(
            "  "
            + translator.say(
                "at {at_m}: rode {other_m} in place of {left_m}",
                at_m=item.from_m, other_m=item.to_m - item.from_m,
                left_m=item.plan_to_m - item.plan_from_m,
            )
        )  # fmt: skip
    if len(plan.leavings) > _MOST_LEAVINGS:
        lines.append(
            "  " + translator.say("and {n_more} more", n_more=len(plan.leavings) - _MOST_LEAVINGS)
        )
    return lines
