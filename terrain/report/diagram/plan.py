"""The plan's lane: days as bars, stops as letters under them."""

from __future__ import annotations

from typing import Any

from markupsafe import Markup

from terrain.report.diagram.letters import letter
from terrain.report.drawing.scale import DiagramRow
from terrain.report.drawing.svg import boxes, join, num, tag, text, text_width
from terrain.text.plain import shortened
from terrain.text.translator import Translator


def stop_name(stop: dict[str, Any], translator: Translator) -> str:
    """Where a stop is: its place, or the place it lies near."""
    return (
        shortened(translator.translate(stop["name"]), 60)
        if stop["name"]
        else translator._("by the road")
    )


class PlanLane:
    """Days end to end, and the stops between."""

    height = 37.0

    def __init__(self, facts: dict[str, Any], translator: Translator) -> None:
        self.translator = translator
        self.days = facts["days"]
        self.stops = facts["stops"]
        self.known = bool(self.days)

    def draw(self, row: DiagramRow) -> Markup:
        parts: list[Markup] = []
        for day in self.days:
            span = row.clip(day["from_m"], day["to_m"])
            if span is not None:
                parts += self._day(day, *span)
        parts += self._stops(row)
        return join(parts)

    def _day(self, day: dict[str, Any], x: float, width: float) -> list[Markup]:
        bar = tag("path", class_="day", d=boxes([(x, 0.0, width, 20.0)]))
        cut = tag("path", class_="daycut", d=f"M{num(x)} 0v20")
        full = self.translator._(
            "Day {n}, {start} to {end}",
            n=day["number"],
            start=self.translator.hour(day["start"]),
            end=self.translator.hour(day["end"]),
        )
        for label in (full, self.translator._("Day {n}", n=day["number"]), str(day["number"])):
            if text_width(label, 12.0) + 10 <= width:
                return [bar, cut, text(x + 6, 14, label)]
        return [bar, cut]

    def _stops(self, row: DiagramRow) -> list[Markup]:
        parts: list[Markup] = []
        taken = -20.0
        marks = ""
        for stop in self.stops:
            if not (row.holds(stop["at_m"]) or (stop["at_m"] == row.to_m)):
                continue
            exact = row.x(stop["at_m"])
            marks += f"M{num(exact)} 20v4"
            x = max(min(max(exact, 6.0), row.width - 6.0), taken + 11.0)
            if x - exact < 30:
                taken = x
                sign = letter(stop["kind"], self.translator)
                parts.append(text(x, 35, sign, class_="sign", text_anchor="middle"))
        if marks:
            parts.append(tag("path", class_="axis", d=marks))
        return parts
