"""The straight-line diagram: everything about the ride over one axis of distance."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from terrain.report.diagram import lanes
from terrain.report.diagram.heat import HeatLane, heat_known
from terrain.report.diagram.help import HelpLane, help_known
from terrain.report.diagram.letters import letters_told
from terrain.report.diagram.plan import PlanLane
from terrain.report.drawing.scale import GUTTER, LABELS, DiagramRow, fold
from terrain.report.drawing.svg import join, num, tag, text
from terrain.report.sections import Section
from terrain.text.translator import Translator

_GAP = 14.0
_EMPTY = 22.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """One lane: its name and where that stands, what it draws, what it says without data."""

    key: str
    name: str
    height: float
    name_y: float
    draw: Callable[[DiagramRow], Markup] | None
    missing: str = ""
    scale: str = ""


def render_rows(
    facts: dict[str, Any],
    cut: list[Section],
    translator: Translator,
    rows: list[DiagramRow] | None = None,
    without: tuple[str, ...] = (),
) -> list[Markup]:
    """One SVG for the lane names and one for the ride, for every row: [names, ride, names, ...].

    rows : of one scale; the whole ride, folded for a page, if None
    without : keys of lanes that are left out
    """
    stack = [lane for lane in _lanes(facts, translator) if lane.key not in without]
    rows = rows or fold(facts["route"]["length_m"])
    width = max(row.width for row in rows) + GUTTER
    out: list[Markup] = []
    for row in rows:
        out += [_names(stack, translator), _ride(stack, row, cut, translator, width)]
    return out


def _lanes(facts: dict[str, Any], translator: Translator) -> list[Lane]:
    _ = translator._
    relief, help_ = lanes.Relief(facts, translator), HelpLane(facts, translator)
    heat, plan = HeatLane(facts, translator), PlanLane(facts, translator)
    places = lanes.Places(facts, translator)
    return [
        Lane(
            key="places",
            name=_("Places"),
            height=lanes.Places.height,
            name_y=44,
            draw=places.draw if places.places else None,
            missing=_("No named place on the way."),
        ),
        Lane(
            key="ground",
            name=_("Ground"),
            height=lanes.Ground.height,
            name_y=25,
            draw=lanes.Ground(facts).draw,
        ),
        Lane(
            key="height",
            name=_("Height"),
            height=lanes.Relief.height,
            name_y=36,
            draw=relief.draw if relief.known else None,
            missing=_("No elevation: heights and ramps are not known."),
            scale=relief.scale(),
        ),
        Lane(
            key="heat",
            name=_("Heat"),
            height=HeatLane.height,
            name_y=(HeatLane.top + HeatLane.foot) / 2 + 5,
            draw=heat.draw if heat.known else None,
            missing=_("No date of travel: heat is not judged for a day."),
            scale=heat.scale(),
        ),
        Lane(
            key="help",
            name=_("Help"),
            height=HelpLane.height,
            name_y=HelpLane.foot / 2 + 5,
            draw=help_.draw if help_.known else None,
            missing=_("Help by road is not known."),
            scale=help_.scale(),
        ),
        Lane(
            key="plan",
            name=_("Plan"),
            height=PlanLane.height,
            name_y=15,
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


def _names(stack: list[Lane], translator: Translator) -> Markup:
    tops, height = _tops(stack)
    parts = []
    for lane, top in zip(stack, tops, strict=True):
        parts.append(text(0, top + (lane.name_y if lane.draw else 15), lane.name, class_="lane"))
        if lane.draw:
            parts.append(tag("g", Markup(lane.scale), transform=f"translate(0 {top:.0f})"))
    parts.append(
        text(LABELS - 6, height - 3, translator.distance_unit, class_="tick", text_anchor="end")
    )
    return _svg("names", LABELS, height, join(parts), label=None)


def _ride(
    stack: list[Lane], row: DiagramRow, cut: list[Section], translator: Translator, width: float
) -> Markup:
    tops, height = _tops(stack)
    parts = [lanes.axis(row, height - 20, translator, last=row.to_m >= cut[-1].to_m - 1)]
    for lane, top in zip(stack, tops, strict=True):
        drawn = lane.draw(row) if lane.draw else text(0, 15, lane.missing, class_="missing")
        parts.append(tag("g", drawn, transform=f"translate(0 {top:.0f})"))
    parts.append(_hits(row, cut, height - 20, translator))
    label = translator._(
        "Diagram of {span}; the table below tells the same.",
        span=translator.km_range(row.from_m, row.to_m),
    )
    return _svg("strip", width, height, join(parts), label=label)


def _hits(row: DiagramRow, cut: list[Section], height: float, translator: Translator) -> Markup:
    """What the pointer meets: one clear column a section, on top of all lanes."""
    spans = ((s.number, row.clip(s.from_m, s.to_m)) for s in cut)
    return Markup(
        "".join(
            f'<rect class="hit" data-s="{number}" x="{num(span[0])}" y="0" '
            f'width="{num(span[1])}" height="{num(height)}"/>'
            for number, span in spans
            if span is not None
        )
    )


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


def diagram_notes(facts: dict[str, Any], translator: Translator) -> list[str]:
    """How to read the diagram, a line a lane, and by how much heights are stretched."""
    ground = translator._(
        "Ground: each column is split by how likely each ground is; the strip below it shows what "
        "that rests on."
    )
    notes = [ground]
    relief = lanes.Relief(facts, translator)
    if relief.known:
        times = relief.exaggeration(fold(facts["route"]["length_m"])[0])
        told = translator._("Heights are drawn to the scale of lengths.")
        if times >= 1.5:
            told = translator._(
                "Heights are drawn {times} times their scale.", times=translator.number(times)
            )
        notes.append(f"{told} {translator._('A thick line marks ramps over 10 %.')}")
    if heat_known(facts):
        told = translator._(
            "Heat: air temperature at the hour of passing with its 90 % band; the bar above it, "
            "darker for each level, tells where to rest often, go easy or stop to cool, in the "
            "wind of riding (standing in the sun is hotter); ticks below mark an engine on its fan."
        )
        notes.append(told)
    if help_known(facts):
        told = translator._(
            "Help: time to the nearest mechanic as an area, to the nearest town dotted; {signs}; "
            "arrows are ways out.",
            signs=letters_told(("fuel", "water", "hospital"), translator),
        )
        notes.append(told)
    if facts["stops"]:
        kinds = {stop["kind"] for stop in facts["stops"]}
        notes.append(translator._("Plan: {signs}.", signs=letters_told(kinds, translator)))
    return notes
