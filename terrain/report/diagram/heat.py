"""The heat lane: a bar for each level at which a rider should rest, go easy or stop."""

from __future__ import annotations

import numpy as np
from markupsafe import Markup

from terrain.report.diagram.lanes import SIZE
from terrain.report.drawing.scale import DiagramRow
from terrain.report.drawing.svg import boxes, join, tag, text, text_width
from terrain.tables.heat import Measure, levels_c
from terrain.text.catalogue import N_
from terrain.text.translator import Translator
from terrain.values.arrays import spans
from terrain.values.heat import AirAlong

# Wet-bulb globe temperature in the wind of riding: rest often, no hard exercise, stop.
_LEVELS_C = levels_c(Measure.RIDING)[1:]
_WORDS = (N_("rest often"), N_("go easy"), N_("stop to cool"))
HEIGHT = 18.0


def temp_range(row: DiagramRow, air: AirAlong, translator: Translator) -> str:
    """The coolest and the hottest air of a row, for the lane's head."""
    _, temp = row.sample(air.at_m, air.temp_c)
    low, high = (translator.temp_value(float(f(temp))) for f in (np.nanmin, np.nanmax))
    least, most = translator.number(low), translator.amount(high, translator.temp_unit)
    if least == translator.number(high):
        return most
    return translator._("{low} to {high}", low=least, high=most)


def draw_heat(row: DiagramRow, air: AirAlong, translator: Translator) -> Markup:
    """Levels as bars, darker for each, with the word in the bar where it fits."""
    at, wbgt = row.sample(air.at_m, air.wbgt_riding_c)
    level = np.searchsorted(_LEVELS_C, np.nan_to_num(wbgt, nan=-99.0), side="right")
    x = row.xs(at)
    parts = []
    names = []
    for n, word in enumerate(_WORDS, start=1):
        told = translator._(word)
        bars = []
        for first, end in spans(level == n):
            left, right = float(x[first]), float(x[min(end, len(x) - 1)])
            bars.append((left, 0.0, max(right - left, 2.0), HEIGHT))
            if text_width(told, SIZE) + 10 <= right - left:
                names.append(text(left + 5, 13, told, class_=f"level l-{n}"))
        if bars:
            parts.append(tag("path", class_=f"t-{n}", d=boxes(bars)))
    frame = tag("path", class_="box", d=boxes([(0, 0, row.width, HEIGHT)]))
    return join([*parts, frame, *names])
