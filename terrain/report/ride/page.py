"""A recorded ride as one self-contained page: no request leaves it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import cache

import jinja2
from markupsafe import Markup

from terrain.report.drawing.ink import root_css
from terrain.report.files import asset
from terrain.report.ride.drawing import PHONE, draw_ride
from terrain.report.ride.text import say_problem
from terrain.text.plain import plain_line
from terrain.text.terms import GROUND_TERMS
from terrain.text.translator import Translator
from terrain.values.ground import LAND_GROUNDS
from terrain.values.ridden import TRIMMED_M, Ridden, TimeOn

_TELLING = 0.1  # share of the expected time from which a ground may stand in the headline
_AS_EXPECTED = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeLine:
    """A line of the table, ready to be shown."""

    kind: str
    name: str
    length: str
    expected: str
    ridden: str
    more: str


def render_ride(ride: Ridden, translator: Translator) -> str:
    """The page. Names from files come out as text, whatever they hold."""
    say = translator
    return _template().render(
        lang=say.lang, _=say._, inks=Markup(root_css()),
        name=plain_line(ride.name), trip=_trip(ride, say),
        headline=_headline(ride, say), lead=_lead(ride, say), drawing=draw_ride(ride, say),
        phone=draw_ride(ride, say, PHONE), rows=_rows(ride, say), lines=_lines(ride, say),
        note=say.say(
            "The first and last {trimmed_m} are left out: homes and hotels lie there. Expected are "
            "the tables' times for this rider, and times from own rides where these are given.",
            trimmed_m=TRIMMED_M,
        ),
    )  # fmt: skip


@cache
def _template() -> jinja2.Template:
    environment = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined)
    return environment.from_string(asset("ride.html"))


def _trip(ride: Ridden, say: Translator) -> str:
    parts = [plain_line(ride.name), say.day(date.fromisoformat(ride.day.isoformat()))]
    parts += [say.translate_term(ride.rider.value), plain_line(ride.region)]
    if ride.bike_class:
        parts.append(plain_line(ride.bike_class))
    return ", ".join(parts)


def _headline(ride: Ridden, say: Translator) -> str:
    """How much longer or shorter than expected, and the ground it comes from."""
    late_s = ride.moving_s - ride.expected_s
    if abs(late_s) <= _AS_EXPECTED * ride.expected_s:
        return say._("Ridden in the time that was expected.")
    grounds = [
        time for time in ride.times
        if time.by == "ground" and time.what in LAND_GROUNDS
        and time.expected_s >= _TELLING * ride.expected_s
    ]  # fmt: skip
    sign = 1.0 if late_s > 0.0 else -1.0
    telling = [time for time in grounds if sign * (time.moving_s - time.expected_s) > 0.0]
    worst = max(telling, key=lambda time: abs(time.moving_s - time.expected_s), default=None)
    if worst is None:
        if late_s > 0.0:
            return say.say("{late_s} longer than expected.", late_s=late_s)
        return say.say("{early_s} less than expected.", early_s=-late_s)
    share = 100.0 * abs(worst.moving_s / worst.expected_s - 1.0)
    ground = say._(GROUND_TERMS[worst.what])
    if late_s > 0.0:
        return say.say(
            "{late_s} longer than expected: {ground} took {more_pct} more.",
            late_s=late_s, ground=ground, more_pct=share,
        )  # fmt: skip
    return say.say(
        "{early_s} less than expected: {ground} took {less_pct} less.",
        early_s=-late_s, ground=ground, less_pct=share,
    )  # fmt: skip


def _lead(ride: Ridden, say: Translator) -> str:
    told = [
        say.say(
            "{length_m} in {moving_s} of riding and {standing_s} of standing.",
            length_m=ride.length_m, moving_s=ride.moving_s, standing_s=ride.standing_s,
        )
    ]  # fmt: skip
    plan = ride.plan
    if plan is not None and (plan.off_plan_m > 0.0 or plan.missed_m > 0.0):
        told.append(
            say.say(
                "{off_m} were not planned; {missed_m} of the plan were not ridden.",
                off_m=plan.off_plan_m, missed_m=plan.missed_m,
            )
        )  # fmt: skip
    elif plan is not None:
        told.append(say._("The plan was kept."))
    return " ".join(told)


def _rows(ride: Ridden, say: Translator) -> list[TimeLine]:
    order = ["paved", "gravel", "track", "ferry", "unmapped"]
    by_ground = [time for time in ride.times if time.by == "ground"]
    by_ground.sort(key=lambda time: order.index(time.what))
    rows = [_row(time, say) for time in by_ground]
    rows.append(
        TimeLine(
            kind="", name=say._("standing"), length="", expected="",
            ridden=say.duration(ride.standing_s), more="",
        )
    )  # fmt: skip
    return rows


def _row(time: TimeOn, say: Translator) -> TimeLine:
    ratio = time.moving_s / max(time.expected_s, 1.0) - 1.0
    sign = "+" if ratio >= 0.0 else "−"
    return TimeLine(
        kind=time.what if time.what in ("paved", "gravel", "track") else "",
        name=say._(GROUND_TERMS[time.what]), length=say.distance(time.length_m),
        expected=say.duration(time.expected_s), ridden=say.duration(time.moving_s),
        more=f"{sign}{say.percent(abs(ratio))}",
    )  # fmt: skip


def _lines(ride: Ridden, say: Translator) -> list[str]:
    lines = []
    if ride.night_s >= 60.0:
        lines.append(say.say("{night_s} of it in the dark.", night_s=ride.night_s))
    if ride.far_s:
        lines.append(
            say.say("Longest time far from a mechanic without a break: {far_s}.", far_s=ride.far_s)
        )
    guessed = [
        part for part in ride.parts
        if part.p is not None and max(part.p) < 0.8 and part.speed_kph is not None
    ]  # fmt: skip
    if guessed:
        length = sum(part.length_m for part in guessed)
        moving = sum(part.moving_s or 0.0 for part in guessed)
        lines.append(
            say.say(
                "{guessed_m} whose ground the map does not tell were ridden at {mean_kph}.",
                guessed_m=length, mean_kph=3.6 * length / max(moving, 1.0),
            )
        )  # fmt: skip
    return lines + [say_problem(problem, say) for problem in ride.problems]
