"""The ride running down a phone's page: ground, no way out and help beside clock and stops."""

from __future__ import annotations

from collections.abc import Sequence

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


def render_down(report: Report, translator: Translator) -> Markup:
    """One drawing of the whole ride, its start on top."""
    assessed = report.assessed
    length_m = max(assessed.match.length_m, 1.0)
    height = min(max(length_m / 1000.0 * _PX_PER_KM, _LEAST), _MOST_PX)
    scale = height / length_m
    parts = [
        *_marks(length_m, scale, translator),
        *_ground(assessed.ground.stretches, scale),
        tag("path", class_="closed", d=boxes([
            (_KM + _GROUND + 2, p.from_m * scale, 5.0, max(p.length_m * scale, 2.0))
            for p in closed_parts(report)
        ])),
        *_commits(report, scale),
        *_help(report, length_m, scale, translator),
        *_words(report, scale, height, translator),
        *_hits(report, scale),
    ]  # fmt: skip
    inner = tag("g", join(parts), transform="translate(0 12)")
    return tag(
        "svg", inner, class_="downward", viewBox=f"0 0 {WIDTH:.0f} {height + 40:.0f}",
        width=f"{WIDTH:.0f}", height=f"{height + 40:.0f}",
    )  # fmt: skip


def _marks(length_m: float, scale: float, translator: Translator) -> list[Markup]:
    unit = translator.distance_unit_m
    step = nice_step(length_m / unit, max(int(length_m * scale / 60), 2))
    ticks, parts = "", []
    for k in range(int(length_m / unit / step + 1e-9) + 1):
        y = k * step * unit * scale
        ticks += f"M{num(_KM - 5)} {num(y)}h5"
        label = translator.number(k * step, 0 if step >= 1 or not k else 1)
        parts.append(text(_KM - 8, y + 4, label, class_="d", text_anchor="end"))
    return [tag("path", class_="axis", d=ticks), *parts]


def _ground(stretches: Sequence[Stretch], scale: float) -> list[Markup]:
    rows: dict[str, list[tuple[float, float, float, float]]] = {}
    end = 0.0
    for s in stretches:
        top, tall = end, s.to_m * scale - end
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


def _commits(report: Report, scale: float) -> list[Markup]:
    x = _KM + _GROUND + _CLOSED + 8
    bars = cuts = ""
    for way in report.assessed.help.exits:
        if way.is_short or way.commit_m < 1_000.0:
            continue
        start = way.from_m if way.last_decision.at_m is None else way.last_decision.at_m
        a, b = start * scale, (start + way.commit_m) * scale
        bars += f"M{num(x)} {num(a)}V{num(b)}"
        cuts += f"M{num(x - 5)} {num(a)}h10M{num(x - 5)} {num(b)}h10"
    if not bars:
        return []
    return [tag("path", class_="commit", d=bars), tag("path", class_="cut", d=cuts)]


def _help(report: Report, length_m: float, scale: float, translator: Translator) -> list[Markup]:
    curve = ways.help_curve(report.assessed.help)
    if curve is None:
        return []
    x0 = _KM + _GROUND + _CLOSED + _COMMIT + 8
    time_s, at_m = curve[0], report.assessed.help.along.at_m
    top_s = max(float(np.nanmax(time_s)), 4_500.0)
    known = np.isfinite(time_s)
    y = at_m[known] * scale
    x = x0 + time_s[known] / top_s * _HELP
    line = polyline(x, y)
    area = line + f"H{num(x0)}V{num(float(y[0]))}z"
    k = int(np.argmax(time_s[known]))
    return [
        tag("path", class_="h-area", d=area),
        tag("path", class_="h-line", d=line),
        tag("path", class_="base", d=f"M{num(x0)} 0V{num(length_m * scale)}"),
        tag("circle", class_="h-spot", cx=float(x[k]), cy=float(y[k]), r=2.5),
    ]


def _words(report: Report, scale: float, height: float, translator: Translator) -> list[Markup]:
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
    for at_m, _, words, kind in sorted(said, key=lambda item: (item[1], item[0])):
        y = at_m * scale
        spot = next(
            (
                place
                for step in range(5)
                for place in (y + step * _LINE / 2, y - step * _LINE / 2)
                if 0 <= place <= height + 8 and all(abs(place - t) >= _LINE for t in taken)
            ),
            None,
        )
        if spot is None:
            continue
        taken.append(spot)
        shown = words
        while text_width(shown, 13.0) > WIDTH - _SAID and " " in shown:
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


def _hits(report: Report, scale: float) -> list[Markup]:
    """What the finger meets: one clear band a section."""
    return [
        tag("rect", class_="hit", data_s=s.number, x=0, y=s.from_m * scale, width=WIDTH,
            height=s.length_m * scale)
        for s in report.verdict.sections
    ]  # fmt: skip
