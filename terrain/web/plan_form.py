"""The plan as a table in which a guide changes stops in place, and what is made of the changes.

What a form sends are changes to the wishes that are kept: a row of the plan that was altered is a
wish of the guide's own from then on, one that is struck out is left out of the plan.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from terrain.report.desk.strip import draw_day
from terrain.report.diagram.plan import day_light
from terrain.text.figures import THIN
from terrain.text.plain import one_line
from terrain.text.terms import STOP_TERMS
from terrain.text.translator import Translator
from terrain.values.plan import Day, Plan, PlanProblem, ProblemKind, Stop, StopKind, clock
from terrain.values.strip import Strip
from terrain.web.access import Form

KINDS = [kind.value for kind in StopKind if kind is not StopKind.NIGHT]
_MOST = 400  # rows of a plan
_ADDED = 24
_NEAR_M = 400.0  # a wish and the stop made of it

Wishes = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class StopRow:
    """A stop as it stands in the table. key : ends the names of its fields; wish : index of the
    guide's own wish that made it, -1 for the plan's own; night : number of the day it ends
    """

    key: str
    km: str
    minutes: str
    name: str
    here: str
    arrive: str
    kinds: str
    kind: str
    van: str
    why: str
    wish: int = -1
    night: int = 0
    gone: bool = False
    was_km: str = ""
    was_minutes: str = ""
    was_name: str = ""

    @property
    def mine(self) -> bool:
        return self.wish >= 0

    @property
    def classes(self) -> str:
        """What the row's look goes by."""
        return f"{'night' if self.night else 'stop'} {'mine' if self.mine else 'planned'}"

    @property
    def before(self) -> str:
        """What stood in the row, for the form to be compared with."""
        if self.night:
            return f"{self.was_km}/{'mine' if self.mine else ''}"
        return f"{self.was_km}/{self.was_minutes}/{self.kind}/{self.wish if self.mine else '-'}"


@dataclass(frozen=True, slots=True, kw_only=True)
class DayTable:
    """A day: its head, its strip, its rows in riding order with what is missing among them."""

    day: Day
    start: str
    end: str
    light: str
    strip: Markup
    rows: tuple[StopRow | PlanProblem, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanTable:
    """The whole plan. left_out : kilometres where the guide wants no stop; lost : wishes that the
    plan has no stop for, with their index; changes : told in words
    """

    days: tuple[DayTable, ...]
    left_out: tuple[str, ...]
    lost: tuple[tuple[int, str], ...]
    changes: tuple[str, ...]


def plan_table(
    plan: Plan, strip: Strip | None, kept: Wishes, form: Form, translator: Translator
) -> PlanTable:
    """The plan as a table. kept : the wishes it was asked for with; form : what was just typed"""
    stops: list[Wishes] = kept.get("stops", [])
    wish_of = _matched(plan.stops, stops)
    longest_m = max((day.to_m - day.from_m for day in plan.days), default=1.0)
    nights = {int(item["number"]): item for item in kept.get("nights", [])}
    tables = []
    for day in plan.days:
        own = [(n, x) for n, x in enumerate(plan.stops) if x.day == day.number]
        rows: list[tuple[float, int, StopRow | PlanProblem]] = []
        for n, stop in own:
            night = day.number if StopKind.NIGHT in stop.kinds else 0
            wish = (0 if night in nights else -1) if night else wish_of.get(n, -1)
            rows.append((stop.at_m, 0, _row(n, stop, wish, night, form, translator)))
        last = day.number == plan.days[-1].number
        for item in plan.problems:
            at_m = item.to_m if item.kind is ProblemKind.LODGING else item.from_m
            inside = day.from_m <= at_m < day.to_m or (last and at_m >= day.to_m)
            if item.kind is ProblemKind.LODGING:  # it stands below the night that has no bed
                inside = day.from_m < at_m <= day.to_m
            if inside:
                rows.append((at_m, 1, item))
        rows.sort(key=lambda item: item[:2])
        tables.append(
            DayTable(
                day=day, start=clock(day.start_s), end=clock(day.end_s),
                light=day_light(day, translator),
                strip=Markup("") if strip is None else draw_day(
                    strip, (day.from_m, day.to_m), longest_m, [x.at_m for _, x in own], translator
                ),
                rows=tuple(row for _, _, row in rows),
            )
        )  # fmt: skip
    found = set(wish_of.values())
    lost = tuple((n, _told_wish(w, translator)) for n, w in enumerate(stops) if n not in found)
    return PlanTable(
        days=tuple(tables), lost=lost,
        left_out=tuple(_mark(km, translator) for km in kept.get("without", [])),
        changes=tuple(_changes(plan, kept, translator)),
    )  # fmt: skip


def km_of(at_m: float, translator: Translator) -> str:
    """A position as the form holds it: to a tenth, in the reader's unit and mark."""
    return translator.number(at_m / translator.distance_unit_m, 1).replace(THIN, "")


def _matched(stops: Sequence[Stop], wishes: Sequence[Wishes]) -> dict[int, int]:
    """Index of the wish that made each of the guide's own stops."""
    pairs = []
    for n, stop in enumerate(stops):
        for w, wish in enumerate(wishes):
            at_m = _float(wish["km"])
            if stop.pinned and StopKind.NIGHT not in stop.kinds and at_m is not None:
                off_m = abs(1000.0 * at_m - stop.at_m)
                if off_m <= _NEAR_M:
                    pairs.append((off_m, n, w))
    found: dict[int, int] = {}
    for _, n, w in sorted(pairs):
        if n not in found and w not in found.values():
            found[n] = w
    return found


def _float(text: str) -> float | None:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return None


def _row(
    n: int, stop: Stop, wish: int, night: int, form: Form, translator: Translator
) -> StopRow:  # fmt: skip
    _ = translator._
    key = f"night.{night}" if night else str(n)
    km, minutes = km_of(stop.at_m, translator), "" if night else f"{stop.stay_s / 60:.0f}"
    here = translator.translate(stop.name) if stop.name else ""
    name = here if wish >= 0 else ""
    kinds: list[StopKind] = [kind for kind in stop.kinds if kind is not StopKind.PINNED]
    kinds = kinds or [StopKind.PINNED]
    van = {None: _("not known"), True: _("yes"), False: _("no")}[stop.van_access]
    return StopRow(
        key=key,
        km=form.get(f"km.{key}", km),
        minutes=form.get(f"min.{key}", minutes),
        name=form.get(f"name.{key}", name),
        here=here or _("by the road"),
        arrive=clock(stop.arrive_s),
        kinds=", ".join(_(STOP_TERMS[kind.value]) for kind in kinds),
        kind=kinds[0].value,
        van=van,
        why=translator.translate(stop.why),
        wish=wish,
        night=night,
        gone=bool(form.get(f"gone.{key}")),
        was_km=km,
        was_minutes=minutes,
        was_name=name,
    )


def _told_wish(wish: Wishes, translator: Translator) -> str:
    kind = next((k for k in StopKind if k.value == wish["kind"]), StopKind.PINNED)
    told = translator._(STOP_TERMS[kind.value])
    name = f" “{wish['name']}”" if wish["name"] else ""
    return f"{_mark(wish['km'], translator)}: {told}{name}"


def _mark(km: str, translator: Translator) -> str:
    """A kilometre as it is kept, in the reader's unit; what is no number as it was typed."""
    at_km = _float(km)
    return km if at_km is None else translator.km_mark(1000.0 * at_km)


def _changes(plan: Plan, kept: Wishes, translator: Translator) -> Iterable[str]:
    """What the guide has changed so far, and what it does to the days."""
    _ = translator._
    yield from (_told_wish(wish, translator) for wish in kept.get("stops", []))
    for night in kept.get("nights", []):
        yield _("day {n} ends at {km}", n=night["number"], km=_mark(night["km"], translator))
    for km in kept.get("without", []):
        yield _("no stop at {km}", km=_mark(km, translator))
    ends = kept.get("ends", [])
    for day, was in zip(plan.days, ends, strict=False):
        now = clock(day.end_s)
        if now != was:
            yield _("day {n} ends {now} instead of {was}", n=day.number, now=now, was=was)


def typed_wishes(form: Form, kept: Wishes, plan: Plan | None, unit_m: float = 1000.0) -> Wishes:
    """The wishes after the changes of a form. unit_m : of the positions typed; kept are km"""

    def kilometres(key: str) -> str:
        return _in_km(_line(form, key), unit_m)

    stops = list(kept.get("stops", []))
    without = [km for n, km in enumerate(kept.get("without", [])) if not form.get(f"back.{n}")]
    gone = {n for n in range(len(stops)) if form.get(f"drop.{n}")}
    for n in range(_MOST):
        was = form.get(f"is.{n}").split("/")
        if len(was) != 4:
            continue
        was_km, was_min, kind, wish = was
        was_km = _in_km(was_km, unit_m)
        typed = {"km": kilometres(f"km.{n}"), "kind": kind, "name": _line(form, f"name.{n}"),
                 "min": _line(form, f"min.{n}")}  # fmt: skip
        before = {"km": was_km, "kind": kind, "name": _line(form, f"was_name.{n}"), "min": was_min}
        mine = int(wish) if wish.isdigit() and int(wish) < len(stops) else -1
        removed = bool(form.get(f"gone.{n}")) or not typed["km"]
        if mine >= 0 and removed:
            gone.add(mine)
        elif mine >= 0 and typed != before:
            stops[mine] = typed
        elif mine < 0 and removed:
            without.append(was_km)
        elif mine < 0 and typed != before:
            stops.append(typed)
            if typed["km"] != was_km:
                without.append(was_km)
    stops = [wish for n, wish in enumerate(stops) if n not in gone]
    for n in range(_ADDED):
        if km := kilometres(f"stop_km.{n}"):
            stops.append({"km": km, "kind": _line(form, f"stop_kind.{n}"),
                          "name": _line(form, f"stop_name.{n}"),
                          "min": _line(form, f"stop_min.{n}")})  # fmt: skip
    ends = kept.get("ends") or ([] if plan is None else [clock(day.end_s) for day in plan.days])
    return {
        "start": one_line(form.get("start") or kept.get("start", ""), 5),
        "nights": _typed_nights(form, unit_m), "stops": stops, "without": without, "ends": ends,
    }  # fmt: skip


def added_beside(form: Form, plan: Plan | None) -> list[int]:
    """Numbers of stops just typed that belong to no day of the plan: they are shown as well."""
    days = {0} if plan is None or not plan.days else {day.number for day in plan.days}
    return [n for n in range(_ADDED) if n not in days and _line(form, f"stop_km.{n}")]


def _typed_nights(form: Form, unit_m: float) -> list[dict[str, str]]:
    """Nights that the guide has moved or named."""
    nights = []
    for n in range(_ADDED * 4):
        number = _line(form, f"night_number.{n}") or str(n)
        km, name = _line(form, f"night_km.{n}"), _line(form, f"night_name.{n}")
        if f"km.night.{n}" in form.texts:
            km, name = _line(form, f"km.night.{n}"), _line(form, f"name.night.{n}")
            was = [*form.get(f"is.night.{n}").split("/"), ""]
            same = km == was[0] and name == _line(form, f"was_name.night.{n}")
            if form.get(f"gone.night.{n}") or (same and was[1] != "mine"):
                km = ""
        if km:
            nights.append({"number": number, "km": _in_km(km, unit_m), "name": name})
    return nights


def _in_km(text: str, unit_m: float) -> str:
    """A position typed in the reader's unit and mark, in kilometres with a point; what is no
    number as it was typed."""
    value = _float(text)
    if value is None:
        return text
    return text.replace(",", ".") if unit_m == 1000.0 else f"{value * unit_m / 1000.0:.2f}"


def _line(form: Form, key: str) -> str:
    return one_line(form.get(key), 120)
