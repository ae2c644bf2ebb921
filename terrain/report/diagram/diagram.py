"""The straight-line diagram: everything about the ride over one axis of distance, a row a day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup

from terrain.report.diagram import heat, lanes, plan
from terrain.report.diagram import help as ways
from terrain.report.drawing.scale import LABELS, WIDTH, DiagramRow, day_rows
from terrain.report.drawing.svg import join, num, tag, text
from terrain.text.translator import Translator
from terrain.values.plan import Day, clock
from terrain.values.report import Report
from terrain.values.verdict import FindingKind, RidePart, Section

_GAP = 10.0
_GROUND, _HEIGHT, _HELP = 56.0, 52.0, 40.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DayDrawing:
    """One row drawn, with the words over it.

    title : "Day 1", "" if the ride is no days; span : its kilometres; about : its hours
    """

    title: str
    span: str
    about: str
    svg: Markup
    height: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """One lane: its name and two quiet lines under it, its height, and what it draws."""

    name: str
    drawn: Markup
    height: float
    notes: tuple[str, ...] = ()
    strong: bool = True
    name_y: float = 12.0


def render_days(
    report: Report, translator: Translator, *, width: float = WIDTH,
    rows: Sequence[DiagramRow] | None = None,
) -> list[DayDrawing]:  # fmt: skip
    """A drawing for each row; `rows` in place of the whole ride's own."""
    assessed = report.assessed
    days = assessed.plan.days
    rows = rows or day_rows(
        days, assessed.match.length_m, dated=assessed.trip.depart is not None, width=width
    )
    whole = max(row.width for row in rows)
    return [_day(report, row, translator, whole, len(days) > 1) for row in rows]


def _day(
    report: Report, row: DiagramRow, translator: Translator, whole: float, several: bool
) -> DayDrawing:
    stack = _lanes(report, row, translator)
    y, parts = 0.0, []
    for lane in stack:
        parts.append(_named(lane, y))
        moved = f"translate({LABELS:.0f} {num(y)})"
        parts.append(tag("g", lane.drawn, transform=moved))
        y += lane.height + _GAP
    foot = y - _GAP + 6
    span = translator.km_range(row.from_m, row.to_m)
    drawn = [
        tag("g", lanes.axis(row, foot, translator), transform=f"translate({LABELS:.0f} 0)"),
        text(0, foot + 18, translator.distance_unit, class_="lane"),
        *parts,
        _hits(row, report.verdict.sections, foot),
    ]
    height = foot + 24
    label = translator._("Diagram of {span}; the table below tells the same.", span=span)
    svg = tag(
        "svg", join(drawn), class_="strip", viewBox=f"0 0 {LABELS + whole + 30:.0f} {height:.0f}",
        width=f"{LABELS + whole + 30:.0f}", height=f"{height:.0f}", role="img", aria_label=label,
    )  # fmt: skip
    title = ""
    if several and row.day is not None:
        title = translator._("Day {n}", n=row.day.number)
    about = "" if row.day is None else day_about(row.day, translator)
    return DayDrawing(title=title, span=span, about=about, svg=svg, height=height)


def day_about(day: Day, translator: Translator) -> str:
    """ "08:00 to 14:57, 5 h 15 min in the saddle, 3 h 40 min before dark"."""
    parts = [
        translator._(
            "{start} to {end}", start=translator.hour(clock(day.start_s)),
            end=translator.hour(clock(day.end_s)),
        ),
        translator._("{time} in the saddle", time=translator.duration(day.riding_s)),
    ]  # fmt: skip
    return ", ".join(filter(None, (*parts, plan.day_light(day, translator))))


def closed_parts(report: Report) -> tuple[RidePart, ...]:
    """What is closed to motorcycles, in riding order."""
    parts = [
        part
        for item in report.verdict.findings
        if item.kind is FindingKind.CLOSED
        for part in item.parts
    ]
    return tuple(sorted(parts, key=lambda part: part.from_m))


def _lanes(report: Report, row: DiagramRow, translator: Translator) -> list[Lane]:
    assessed, _ = report.assessed, translator._
    stretches = assessed.ground.stretches
    found = [
        Lane(name=_("Places"), height=24.0, name_y=13,
             drawn=lanes.draw_places(row, assessed.places.surroundings.places)),
    ]  # fmt: skip
    closed = closed_parts(report)
    if closed:
        found.append(
            Lane(name=_("Closed"), height=14.0, drawn=lanes.draw_closed(row, closed), name_y=11)
        )
    found += [
        Lane(name=_("Ground"), notes=(_("height of colour:"), _("how likely")), height=_GROUND,
             name_y=14, drawn=lanes.draw_ground(row, stretches, _GROUND)),
        Lane(name=_("rests on"), strong=False, height=14.0, name_y=11,
             drawn=lanes.draw_basis(row, stretches, translator)),
        _height_lane(report, row, translator),
    ]  # fmt: skip
    if assessed.when is None:  # else the months stand below, for a ride on no date
        found.append(_heat_lane(report, row, translator))
    found.append(_help_lane(report, row, translator))
    no_way_out = ways.draw_no_way_out(row, assessed.help.exits, translator)
    if no_way_out:
        found.append(Lane(name=_("No way out"), height=14.0, name_y=11, drawn=no_way_out))
    if row.day is not None:
        stops = [s for s in assessed.plan.stops if s.day == row.day.number and row.holds(s.at_m)]
        placed = plan.place_stops(row, stops, translator)
        found.append(
            Lane(name=_("Clock"), height=9.0, name_y=12,
                 drawn=plan.draw_clock(row, row.day, stops, translator))
        )  # fmt: skip
        if placed:
            found.append(
                Lane(name=_("Stops"), height=plan.stops_height(placed), name_y=13,
                     drawn=plan.draw_stops(placed))
            )  # fmt: skip
    return found


def _height_lane(report: Report, row: DiagramRow, translator: Translator) -> Lane:
    _, relief = translator._, report.assessed.relief
    if relief.source is None:
        return _missing(_("Height"), _("No elevation: heights and ramps are not known."))
    top_m = lanes.height_top_m(relief, translator)
    scale = _(
        "0 to {top} {unit}", top=translator.number(translator.height_value(top_m)),
        unit=translator.height_unit,
    )  # fmt: skip
    return Lane(
        name=_("Height"), notes=(_("bar: over 10 %"), scale), height=_HEIGHT, name_y=14,
        drawn=lanes.draw_heights(row, relief, top_m, _HEIGHT, translator),
    )  # fmt: skip


def _heat_lane(report: Report, row: DiagramRow, translator: Translator) -> Lane:
    air = report.assessed.heat.air
    if air is None:
        return _missing(
            translator._("Heat"), translator._("No date of travel: heat is not judged for a day.")
        )
    return Lane(
        name=translator._("Heat"), notes=(heat.temp_range(row, air, translator),),
        height=heat.HEIGHT + 12, name_y=13, drawn=heat.draw_heat(row, air, translator),
    )  # fmt: skip


def _help_lane(report: Report, row: DiagramRow, translator: Translator) -> Lane:
    _, help_ = translator._, report.assessed.help
    curve = ways.help_curve(help_)
    if curve is None:
        return _missing(_("Help"), _("No mechanic and no town can be reached on mapped roads."))
    time_s, mechanic = curve
    top_s = max(float(np.nanmax(time_s)), 4_500.0)
    return Lane(
        name=_("Help"), notes=(_("to a mechanic") if mechanic else _("to a town"),),
        height=_HELP + 2, name_y=14,
        drawn=ways.draw_help(row, help_.along.at_m, time_s, top_s, _HELP, translator),
    )  # fmt: skip


def _missing(name: str, why: str) -> Lane:
    return Lane(name=name, height=14.0, name_y=12, drawn=text(0, 12, why, class_="missing"))


def _named(lane: Lane, y: float) -> Markup:
    parts = [text(0, y + lane.name_y, lane.name, class_="lane" if lane.strong else "note")]
    parts += [
        text(0, y + lane.name_y + 16 * k, note, class_="note")
        for k, note in enumerate(lane.notes, start=1)
    ]
    return join(parts)


def _hits(row: DiagramRow, cut: Sequence[Section], height: float) -> Markup:
    """What the pointer meets: one clear column a section, on top of all lanes."""
    found = ((s.number, row.clip(s.from_m, s.to_m)) for s in cut)
    return Markup(
        "".join(
            f'<rect class="hit" data-s="{number}" x="{num(LABELS + span[0])}" y="0" '
            f'width="{num(span[1])}" height="{num(height)}"/>'
            for number, span in found
            if span is not None
        )
    )


def diagram_note(report: Report, translator: Translator) -> str:
    """How to read the diagram, in two or three sentences."""
    _ = translator._
    said = [
        _("One row is one day; all rows have the same scale.")
        if len(report.assessed.plan.days) > 1
        else "",
        _(
            "Ground: colour stands on the base line and grows with the chance; above the half line "
            "it is more likely unsealed than paved."
        ),
        _("Heat: in the wind of riding; standing in the sun is hotter.")
        if report.assessed.heat.air is not None
        else "",
    ]
    return " ".join(text for text in said if text)
