"""The lanes of help and of no way out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from markupsafe import Markup

from terrain.report.diagram.lanes import SIZE, known_runs
from terrain.report.drawing.scale import DiagramRow
from terrain.report.drawing.svg import join, num, tag, text, text_width, trace
from terrain.text.translator import Translator
from terrain.values.arrays import FloatArray
from terrain.values.exits import Exit
from terrain.values.help import Help

_HOUR_S = 3600.0
_LEAST_COMMIT_M = 1_000.0  # a shorter part without a way out needs no decision


def help_curve(help_: Help) -> tuple[FloatArray, bool] | None:
    """Time to a mechanic along the ride [s], or to a town if none is mapped; whether the former."""
    along = help_.along
    for values, mechanic in ((along.mechanic_s, True), (along.town_s, False)):
        if np.isfinite(values).any():
            return values, mechanic
    return None


def draw_help(
    row: DiagramRow, at_m: FloatArray, time_s: FloatArray, top_s: float, height: float,
    translator: Translator,
) -> Markup:  # fmt: skip
    """Time to help as an area, its peak labelled, with a dotted line at one hour."""
    foot = height
    at, time = row.sample(at_m, time_s)
    x, y = row.xs(at), foot - np.minimum(time / top_s, 1.0) * (foot - 12.0)
    parts = []
    for run in known_runs(y):
        line = trace(x[run], y[run])
        close = f"V{num(foot)}H{num(float(x[run[0]]))}z"
        parts += [
            tag("path", class_="h-area", d=line + close), tag("path", class_="h-line", d=line),
        ]  # fmt: skip
    if top_s >= _HOUR_S:
        level = foot - _HOUR_S / top_s * (foot - 12.0)
        parts.append(tag("path", class_="h-limit", d=f"M0 {num(level)}h{num(row.width)}"))
        late = np.isfinite(time).any() and x[int(np.nanargmax(time))] < row.width / 2
        at_end = {"text_anchor": "end"} if late else {}
        parts.append(
            text(row.width if late else 0, level - 3, translator.duration(_HOUR_S),
                 class_="note over", **at_end)
        )  # fmt: skip
    parts.append(tag("path", class_="base", d=f"M0 {num(foot)}h{num(row.width)}"))
    if np.isfinite(time).any():
        k = int(np.nanargmax(time))
        told = translator.duration(float(time[k]))
        end = x[k] > row.width - text_width(told, SIZE) - 10
        parts += [
            tag("circle", class_="h-spot", cx=float(x[k]), cy=float(y[k]), r=2.5),
            text(float(x[k]) + (-6 if end else 6), max(float(y[k]) - 3, 10.0), told,
                 class_="over peak", text_anchor="end" if end else "start"),
        ]  # fmt: skip
    return join(parts)


def commits(exits: Sequence[Exit]) -> list[tuple[float, Exit]]:
    """Parts where the only ways are on or back, long enough to decide about: from where [m]."""
    return [
        (way.from_m if way.last_decision.at_m is None else way.last_decision.at_m, way)
        for way in exits
        if not way.is_short and way.commit_m >= _LEAST_COMMIT_M
    ]


def draw_no_way_out(row: DiagramRow, exits: Sequence[Exit], translator: Translator) -> Markup:
    """Bars with ends over the parts where the only ways are on or back, and where to decide."""
    found = [(start, start + way.commit_m, way) for start, way in commits(exits)]
    parts, free, before = [], 0.0, 0.0  # where the last words end, and the last bar
    for number, (start, end, way) in enumerate(found):
        span = row.clip(start, end)
        if span is None:
            continue
        x, wide = span
        said = translator._(
            "decide at {where}: {length}, {time}", where=translator.km_mark(start),
            length=translator.distance(way.commit_m), time=translator.duration(way.commit_s),
        )  # fmt: skip
        room = text_width(said, SIZE) + 8
        following = [row.x(a) for a, _, _ in found[number + 1 :] if row.holds(a)]
        ends = f"M{num(x)} 1v12M{num(x + wide)} 1v12"
        if wide >= room + 24 and x + 12 > free:  # in the bar
            bar = f"M{num(x)} 7h10M{num(x + 12 + room)} 7H{num(x + wide)}"
            parts.append(text(x + 16, 11, said))
            free = x + 12 + room
        else:
            bar = f"M{num(x)} 7h{num(wide)}"
            after = x + wide + 6
            limit = min(following, default=row.width)
            if after > free and after + room <= limit:
                parts.append(text(after, 11, said))
                free = after + room
            elif x - 6 - room > max(free, before):
                parts.append(text(x - 6, 11, said, text_anchor="end"))
                free = x
        before = x + wide
        parts.append(tag("path", class_="commit", d=bar))
        parts.append(tag("path", class_="cut", d=ends))
    return join(parts)
