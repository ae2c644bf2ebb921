"""The straight-line diagram: everything about the ride over one axis of distance."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from terrain.report import lanes
from terrain.report.frame import LABELS, Row, fold
from terrain.report.lanes_heat import HeatLane
from terrain.report.lanes_help import HelpLane
from terrain.report.lanes_plan import PlanLane
from terrain.report.sections import Section
from terrain.report.svg import join, tag, text
from terrain.report.words import Words

_GAP = 10.0
_EMPTY = 22.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """One lane: its name, its height, what it draws, and what it says without data."""

    name: str
    height: float
    draw: Callable[[Row], Markup] | None
    missing: str = ""
    scale: str = ""


def render_rows(
    facts: dict[str, Any], cut: list[Section], words: Words, rows: list[Row] | None = None
) -> list[Markup]:
    """One SVG for the lane names and one for the ride, for every row: [names, ride, names, ...].

    rows : of one scale; the whole ride, folded for a page, if None
    """
    stack = _lanes(facts, cut, words)
    rows = rows or fold(facts["route"]["length_m"])
    width = max(row.width for row in rows)
    out: list[Markup] = []
    for row in rows:
        out += [_names(stack, words), _ride(stack, row, cut, words, width)]
    return out


def _lanes(facts: dict[str, Any], cut: list[Section], words: Words) -> list[Lane]:
    _ = words._
    relief, help_ = lanes.Relief(facts, words), HelpLane(facts, words)
    heat, plan = HeatLane(facts, words), PlanLane(facts, words)
    return [
        Lane(name=_("Places"), height=50, draw=lanes.Places(facts, words).draw),
        Lane(name=_("Ground"), height=60, draw=lanes.Ground(facts).draw),
        Lane(
            name=_("Height"),
            height=72,
            draw=relief.draw if relief.known else None,
            missing=_("No elevation: heights and ramps are not known."),
            scale=relief.scale(),
        ),
        Lane(
            name=_("Heat"),
            height=HeatLane.height,
            draw=heat.draw if heat.known else None,
            missing=_("No date of travel: heat is not judged for a day."),
            scale=heat.scale(),
        ),
        Lane(
            name=_("Help"),
            height=HelpLane.height,
            draw=help_.draw if help_.known else None,
            missing=_("Help by road is not known."),
            scale=help_.scale(),
        ),
        Lane(
            name=_("Plan"),
            height=PlanLane.height,
            draw=plan.draw if plan.known else None,
            missing=_("No plan of days and stops."),
        ),
    ]


def _tops(stack: list[Lane]) -> tuple[list[float], float]:
    tops, y = [], 2.0
    for lane in stack:
        tops.append(y)
        y += (lane.height if lane.draw else _EMPTY) + _GAP
    return tops, y + 20.0


def _names(stack: list[Lane], words: Words) -> Markup:
    tops, height = _tops(stack)
    parts = []
    for lane, top in zip(stack, tops, strict=True):
        middle = top + (lane.height if lane.draw else _EMPTY) / 2 + 4
        parts.append(text(0, middle, lane.name, class_="lane"))
        if lane.draw:
            parts.append(tag("g", Markup(lane.scale), transform=f"translate(0 {top:.0f})"))
    parts.append(text(0, height - 6, words.far_unit, class_="lane"))
    return _svg("names", LABELS, height, join(parts), label=None)


def _ride(stack: list[Lane], row: Row, cut: list[Section], words: Words, width: float) -> Markup:
    tops, height = _tops(stack)
    parts = [lanes.axis(row, height - 20, words)]
    for lane, top in zip(stack, tops, strict=True):
        if lane.draw:
            drawn = lane.draw(row)
        else:
            drawn = text(4, _EMPTY / 2 + 4, lane.missing, class_="missing")
        parts.append(tag("g", drawn, transform=f"translate(0 {top:.0f})"))
    parts.append(_hits(row, cut, height - 20, words))
    label = words._(
        "Diagram of {span}; the table below tells the same.", span=words.span(row.from_m, row.to_m)
    )
    return _svg("strip", width, height, join(parts), label=label)


def _hits(row: Row, cut: list[Section], height: float, words: Words) -> Markup:
    """What the pointer meets: one clear column a section, on top of all lanes."""
    parts = []
    for section in cut:
        span = row.clip(section.from_m, section.to_m)
        if span is not None:
            parts.append(
                tag("rect", class_="hit", data_s=section.number, x=span[0], y=0, width=span[1],
                    height=float(height))
            )  # fmt: skip
    return join(parts)


def _svg(kind: str, width: float, height: float, content: Markup, *, label: str | None) -> Markup:
    accessible: dict[str, object] = (
        {"aria_hidden": "true"} if label is None else {"role": "img", "aria_label": label}
    )
    return tag(
        "svg",
        content,
        class_=kind,
        viewBox=f"0 0 {width:.0f} {height:.0f}",
        width=f"{width:.0f}",
        height=f"{height:.0f}",
        **accessible,
    )


def diagram_note(facts: dict[str, Any], words: Words) -> str:
    """How to read the diagram, and by how much heights are stretched."""
    note = words._(
        "Ground: each column is split by how likely each ground is; the strip below it shows what "
        "that rests on."
    )
    relief = lanes.Relief(facts, words)
    if relief.known:
        times = relief.exaggeration(fold(facts["route"]["length_m"])[0])
        note += " " + words._(
            "Heights are drawn {times} times their scale; a thick line marks ramps over 10 %.",
            times=words.number(times),
        )
    if HeatLane(facts, words).known:
        note += " " + words._(
            "Heat: air temperature at the hour of passing with its 90 % band; the bar above it "
            "tells where to rest often, where to go easy and, at its thickest, where to stop; "
            "ticks below mark an engine on its fan."
        )
    if HelpLane(facts, words).known:
        note += " " + words._(
            "Help: time to the nearest mechanic as an area, to the nearest town dotted; F fuel, W "
            "water, H hospital; arrows are ways out."
        )
    if facts["stops"]:
        note += " " + words._(
            "Plan: F fuel, L lunch, R rest, W water, C check, V van, N night, P your stop."
        )
    return note
