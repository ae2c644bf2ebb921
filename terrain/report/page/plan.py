"""The plan's days and stops, and other ways round, in words and tables."""

from __future__ import annotations

from collections.abc import Callable

from terrain.report.diagram.plan import day_light, stop_name
from terrain.report.page.blocks import Block, Part
from terrain.report.page.help import place_text
from terrain.text.catalogue import N_
from terrain.text.figures import whole_percents
from terrain.text.message import road_called
from terrain.text.terms import GROUND_TERMS, STOP_TERMS
from terrain.text.translator import Translator
from terrain.values.detours import Detour
from terrain.values.ground import LAND_GROUNDS
from terrain.values.plan import Day, PlanProblem, clock
from terrain.values.report import Report

_DAY_HEADS = (
    N_("Day"), N_("Where"), N_("Riding"), N_("From, to"), N_("Light"), N_("Overnight"),
    N_("Hard because"),
)  # fmt: skip
_STOP_HEADS = (N_("At"), N_("When"), N_("For"), N_("Place"), N_("Why"), N_("Van"))


def plan_part(report: Report, translator: Translator) -> Part | None:
    """Days, stops, and what the plan cannot do."""
    plan, _ = report.assessed.plan, translator._
    if not plan.days:
        return None
    blocks = [_days_table(plan.days, translator)]
    if plan.stops:
        blocks.append(_stops_table(report, translator))
    if plan.problems:
        blocks.append(Block(kind="heading", text=_("What the plan cannot do")))
        lines = tuple(
            _("{where}: {text}", where=_where(p, translator), text=translator.after_colon(p.text))
            for p in plan.problems
        )
        blocks.append(Block(kind="list", lines=lines))
    blocks.append(Block(kind="text", text=_plan_note(report, translator)))
    return Part(key="plan", title=_("Plan"), blocks=tuple(blocks))


def _where(item: PlanProblem, translator: Translator) -> str:
    if item.to_m - item.from_m < 1:
        return translator.km_mark(item.from_m)
    return translator.km_range(item.from_m, item.to_m)


def _plan_note(report: Report, translator: Translator) -> str:
    parts, plan = [], report.assessed.plan
    own = report.assessed.trip.own_pace
    if own is not None:
        parts.append(
            translator.say(
                "Times from one recorded ride of the operator, {first_day} to {last_day}.",
                "Times from {n} recorded rides of the operator, {first_day} to {last_day}.",
                n=own.n_rides, first_day=own.first_day.isoformat(),
                last_day=own.last_day.isoformat(),
            )
        )  # fmt: skip
    parts += translator.translate_all(plan.words)
    return " ".join(parts)


def _days_table(days: tuple[Day, ...], translator: Translator) -> Block:
    rows = tuple(
        (
            str(day.number),
            translator.km_range(day.from_m, day.to_m),
            translator.duration(day.riding_s),
            f"{translator.hour(clock(day.start_s))}–{translator.hour(clock(day.end_s))}",
            day_light(day, translator),
            place_text(day.lodging, translator),
            translator.in_a_row(translator.translate_all(day.hard)),
        )
        for day in days
    )
    return Block(kind="table", head=tuple(translator._(h) for h in _DAY_HEADS), rows=rows)


def _stops_table(report: Report, translator: Translator) -> Block:
    rows = tuple(
        (
            translator.km_mark(stop.at_m),
            translator.hour(clock(stop.arrive_s)),
            ", ".join(translator._(STOP_TERMS[kind]) for kind in stop.kinds),
            stop_name(stop, translator),
            translator.translate(stop.why or ""),
            translator.yes(stop.van_access),
        )
        for stop in report.assessed.plan.stops
    )
    return Block(kind="table", head=tuple(translator._(h) for h in _STOP_HEADS), rows=rows)


def detours_part(report: Report, translator: Translator) -> Part | None:
    """Ways round what is hard, and dirt in place of tarmac."""
    detours, _ = report.assessed.plan.detours, translator._
    if not detours:
        return None
    names = {"road": _("round a hard part"), "dirt": _("more dirt")}
    rows = tuple(
        (
            translator.km_range(way.from_m, way.to_m),
            names[way.kind.value],
            _more(translator.distance, way.added_m),
            _more(translator.duration, way.added_s),
            _ground(way, translator),
            ", ".join(translator.translate(road_called(road)) for road in way.roads),
        )
        for way in detours
    )
    head = (_("Where"), _("For"), _("Length"), _("Time"), _("Ground"), _("Road"))
    text = _("Suggestions only; the ride itself is not changed.")
    blocks = (Block(kind="table", head=head, rows=rows), Block(kind="text", text=text))
    return Part(key="detours", title=_("Other ways round"), blocks=blocks)


def _ground(way: Detour, translator: Translator) -> str:
    if way.shares is None:
        return ""
    whole = whole_percents([way.shares[kind].best for kind in LAND_GROUNDS])
    return ", ".join(
        f"{translator._(GROUND_TERMS[kind])} {translator.amount(percent, '%')}"
        for kind, percent in zip(LAND_GROUNDS, whole, strict=True)
        if percent >= 5
    )


def _more(told: Callable[[float], str], added: float) -> str:
    """A change with its sign."""
    return f"{'−' if added < 0 else '+'}{told(abs(added))}"
