"""The ride running down a phone's page: ground, no way out and help beside clock and stops."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup

from terrain.report.diagram import help as ways
from terrain.report.diagram.diagram import closed_parts
from terrain.report.diagram.plan import stop_words
from terrain.report.drawing.scale import nice_step
from terrain.report.drawing.svg import boxes, join, num, polyline, tag, text, text_width
from terrain.text.plain import shortened
from terrain.text.translator import Translator
from terrain.values.ground import LAND_GROUNDS, Stretch
from terrain.values.report import Report

WIDTH = 343.0
_PX_PER_KM = 6.5
_KM, _GROUND, _CLOSED, _COMMIT, _HELP, _SAID = 34.0, 52.0, 8.0, 14.0, 44.0, 176.0
_LEAST, _LINE = 160.0, 18.0
_MOST_PX = 3_200.0


def render_down(
    report: Report,
    translator: Translator,
    *,
    span: tuple[float, float] | None = None,
    width: float = WIDTH,
    most_px: float = _MOST_PX,
) -> Markup:
    """One drawing of the whole ride, its start on top.

    span : of the part to draw [m], all if None; most_px : it is not longer than that
    """
    from_m, to_m = span or (0.0, report.assessed.match.length_m)
    length_m = max(to_m - from_m, 1.0)
    height = min(max(length_m / 1000.0 * _PX_PER_KM, min(_LEAST, most_px)), most_px)
    down = _Down(from_m=from_m, to_m=from_m + length_m, scale=height / length_m, width=width)
    closed = [(_KM + _GROUND + 2, *span_y, 5.0) for p in closed_parts(report)
              if (span_y := down.clip(p.from_m, p.to_m))]  # fmt: skip
    parts = [
        *_marks(down, translator),
        *_ground(report.assessed.ground.stretches, down),
        tag("path", class_="closed",
            d=boxes([(x, y, wide, max(tall, 2.0)) for x, y, tall, wide in closed])),
        *_commits(report, down),
        *_help(report, down),
        *_words(report, down, translator),
        *_hits(report, down),
    ]  # fmt: skip
    inner = tag("g", join(parts), transform="translate(0 12)")
    return tag(
        "svg", inner, class_="downward", viewBox=f"0 0 {width:.0f} {height + 40:.0f}",
        width=f"{width:.0f}", height=f"{height + 40:.0f}",
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Down:
    """The axis: metres from_m to to_m, scale px a metre down from y = 0."""

    from_m: float
    to_m: float
    scale: float
    width: float

    @property
    def height(self) -> float:
        return (self.to_m - self.from_m) * self.scale

    def y(self, at_m: float) -> float:
        return (at_m - self.from_m) * self.scale

    def holds(self, at_m: float) -> bool:
        return self.from_m <= at_m <= self.to_m

    def clip(self, from_m: float, to_m: float) -> tuple[float, float] | None:
        """y and height of what of a span lies on the axis; None if nothing does."""
        a, b = max(from_m, self.from_m), min(to_m, self.to_m)
        return (self.y(a), (b - a) * self.scale) if b > a else None


def _marks(down: _Down, translator: Translator) -> list[Markup]:
    unit = translator.distance_unit_m
    step = nice_step((down.to_m - down.from_m) / unit, max(int(down.height / 60), 2))
    ticks, parts = "", []
    first = math.ceil(down.from_m / unit / step - 1e-9)
    for k in range(first, int(down.to_m / unit / step + 1e-9) + 1):
        y = down.y(k * step * unit)
        ticks += f"M{num(_KM - 5)} {num(y)}h5"
        label = translator.number(k * step, 0 if step >= 1 or not k else 1)
        parts.append(text(_KM - 8, y + 4, label, class_="d", text_anchor="end"))
    return [tag("path", class_="axis", d=ticks), *parts]


def _ground(stretches: Sequence[Stretch], down: _Down) -> list[Markup]:
    rows: dict[str, list[tuple[float, float, float, float]]] = {}
    end = 0.0
    for s in stretches:
        if down.clip(s.from_m, s.to_m) is None:
            continue
        top, tall = end, min(down.y(s.to_m), down.height) - end
        if tall < 1.0:  # thinner than a pixel: the next one tells
            continue
        end = top + tall
        if s.p is None:
            rows.setdefault(f"g-{s.ground.value}", []).append((_KM, top, _GROUND, tall))
            continue
        left = _KM
        for kind, share in reversed(list(zip(LAND_GROUNDS, s.p, strict=True))):
            wide = share * _GROUND
            if wide >= 0.4:
                rows.setdefault(f"g-{kind.value}", []).append((left, top, wide, tall))
            left += wide
    drawn = [tag("path", class_=kind, d=boxes(found)) for kind, found in rows.items()]
    frame = boxes([(_KM, 0.0, _GROUND, end)])
    return [*drawn, tag("path", class_="frame", d=frame)]


def _commits(report: Report, down: _Down) -> list[Markup]:
    x = _KM + _GROUND + _CLOSED + 8
    bars = cuts = ""
    for way in report.assessed.help.exits:
        if way.is_short or way.commit_m < 1_000.0:
            continue
        start = way.from_m if way.last_decision.at_m is None else way.last_decision.at_m
        span = down.clip(start, start + way.commit_m)
        if span is None:
            continue
        a, b = span[0], span[0] + span[1]
        bars += f"M{num(x)} {num(a)}V{num(b)}"
        cuts += f"M{num(x - 5)} {num(a)}h10M{num(x - 5)} {num(b)}h10"
    if not bars:
        return []
    return [tag("path", class_="commit", d=bars), tag("path", class_="cut", d=cuts)]


def _help(report: Report, down: _Down) -> list[Markup]:
    curve = ways.help_curve(report.assessed.help)
    if curve is None:
        return []
    x0 = _KM + _GROUND + _CLOSED + _COMMIT + 8
    time_s, at_m = curve[0], report.assessed.help.along.at_m
    top_s = max(float(np.nanmax(time_s)), 4_500.0)
    known = np.isfinite(time_s) & (at_m >= down.from_m) & (at_m <= down.to_m)
    if not known.any():
        return []
    y = (at_m[known] - down.from_m) * down.scale
    x = x0 + time_s[known] / top_s * _HELP
    line = polyline(x, y)
    area = line + f"H{num(x0)}V{num(float(y[0]))}z"
    k = int(np.argmax(time_s[known]))
    return [
        tag("path", class_="h-area", d=area),
        tag("path", class_="h-line", d=line),
        tag("path", class_="base", d=f"M{num(x0)} 0V{num(down.height)}"),
        tag("circle", class_="h-spot", cx=float(x[k]), cy=float(y[k]), r=2.5),
    ]


def _words(report: Report, down: _Down, translator: Translator) -> list[Markup]:
    """Places, decisions and stops in words beside the ride, apart from each other."""
    assessed, said = report.assessed, []
    for stop in assessed.plan.stops:
        said.append((stop.at_m, 0, stop_words(stop, translator), "stop13"))
    for way in assessed.help.exits:
        if not way.is_short and way.commit_m >= 1_000.0:
            start = way.from_m if way.last_decision.at_m is None else way.last_decision.at_m
            words = translator._(
                "decide: {length}, {time}", length=translator.distance(way.commit_m),
                time=translator.duration(way.commit_s),
            )  # fmt: skip
            said.append((start, 1, words, "d"))
    for place in assessed.places.surroundings.places:
        if place.kind in ("city", "town", "village", "pass"):
            said.append((place.at_m, 2, shortened(place.name, 24), "place13"))
    taken: list[float] = []
    parts = []
    inside = [item for item in said if down.holds(item[0])]
    for at_m, _, words, kind in sorted(inside, key=lambda item: (item[1], item[0])):
        y = down.y(at_m)
        spot = next(
            (
                place
                for step in range(5)
                for place in (y + step * _LINE / 2, y - step * _LINE / 2)
                if 0 <= place <= down.height + 8 and all(abs(place - t) >= _LINE for t in taken)
            ),
            None,
        )
        if spot is None:
            continue
        taken.append(spot)
        shown = words
        while text_width(shown, 13.0) > down.width - _SAID and " " in shown:
            shown = shown.removesuffix("…").rpartition(" ")[0].rstrip(",: ") + "…"
        parts.append(
            tag(
                "path",
                class_="leader",
                d=f"M{num(_SAID - 10)} {num(y)}L{num(_SAID - 3)} {num(spot)}",
            )
        )
        parts.append(text(_SAID, spot + 4, shown, class_=kind))
    return parts


def _hits(report: Report, down: _Down) -> list[Markup]:
    """What the finger meets: one clear band a section."""
    found = ((s.number, down.clip(s.from_m, s.to_m)) for s in report.verdict.sections)
    return [
        tag("rect", class_="hit", data_s=number, x=0, y=span[0], width=down.width, height=span[1])
        for number, span in found
        if span is not None
    ]
