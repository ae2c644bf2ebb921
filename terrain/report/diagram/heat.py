"""The heat lane: air temperature at the hour of passing, with its band and the engine's ticks."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from markupsafe import Markup

from terrain.report.drawing.scale import LABELS, DiagramRow, nice_step
from terrain.report.drawing.svg import boxes, join, num, polyline, tag, text, text_width
from terrain.tables.heat import Measure, levels_c
from terrain.text.catalogue import N_
from terrain.text.translator import Translator
from terrain.values.arrays import FloatArray

# Wet-bulb globe temperature in the wind of riding: rest often, no hard exercise, stop.
_LEVELS_C = levels_c(Measure.RIDING)[1:]
_LEVEL_WORDS = (N_("rest often"), N_("go easy"), N_("stop to cool"))


class HeatLane:
    """Temperature as a line within its 90 % band; a bar above where a caution level is passed."""

    height = 70.0
    top = 22.0
    foot = 58.0
    bar = 14.0

    def __init__(self, facts: dict[str, Any], translator: Translator) -> None:
        self.translator = translator
        self.known = heat_known(facts)
        if not self.known:
            return
        heat: dict[str, Any] = facts["heat"]
        profile: dict[str, Any] = heat["profile"]
        self.at_m = _array(profile["at_m"])
        self.temp, self.low, self.high = (
            _array(profile[key]) for key in ("temp_c", "low_c", "high_c")
        )
        self.wbgt = _array(profile["wbgt_riding_c"])
        self.low_c, self.high_c = heat_scale(self.low, self.high, translator)
        self.engine = [(run["from_m"], run["to_m"]) for run in heat["engine"]["stretches"]]

    def y(self, temp_c: FloatArray) -> FloatArray:
        share = (temp_c - self.low_c) / (self.high_c - self.low_c)
        return np.asarray(self.foot - share * (self.foot - self.top))

    def scale(self) -> Markup:
        if not self.known:
            return Markup("")
        right, translator = LABELS - 6, self.translator
        low = translator.number(translator.temp_value(self.low_c))
        return join(
            [
                text(
                    right,
                    self.top + 4,
                    translator.temp(self.high_c),
                    class_="tick",
                    text_anchor="end",
                ),
                text(right, self.foot, low, class_="tick", text_anchor="end"),
            ]
        )

    def draw(self, row: DiagramRow) -> Markup:
        at, low = row.sample(self.at_m, self.low)
        _, high = row.sample(self.at_m, self.high)
        _, temp = row.sample(self.at_m, self.temp)
        x = row.xs(at)
        known = np.isfinite(low) & np.isfinite(high)
        parts = []
        if known.sum() > 1:
            band_x = np.concatenate([x[known], x[known][::-1]])
            band_y = np.concatenate([self.y(high[known]), self.y(low[known])[::-1]])
            parts.append(tag("path", class_="t-band", d=polyline(band_x, band_y) + "z"))
        parts.append(tag("path", class_="t-line", d=polyline(x, self.y(temp))))
        parts += self._levels(row)
        parts += self._ticks(row)
        return join(parts)

    def _levels(self, row: DiagramRow) -> list[Markup]:
        """A bar over the parts past a caution level, darker for each, told where it fits."""
        at, wbgt = row.sample(self.at_m, self.wbgt)
        level = np.searchsorted(_LEVELS_C, np.nan_to_num(wbgt, nan=-99.0), side="right")
        x = row.xs(at)
        bars: dict[int, list[tuple[float, float, float, float]]] = {}
        names = []
        for n, word in enumerate(_LEVEL_WORDS, start=1):
            told = self.translator._(word)
            for run in _runs(level == n):
                # A level lasts until the next one is measured.
                end = float(x[min(run[-1] + 1, len(x) - 1)])
                left, wide = float(x[run[0]]), max(end - float(x[run[0]]), 1.0)
                bars.setdefault(n, []).append((left, 0.0, wide, self.bar))
                if text_width(told, 11.0) + 8 <= wide:
                    names.append(text(left + 4, 11, told, class_=f"level l-{n}"))
        return [tag("path", class_=f"t-{n}", d=boxes(rows)) for n, rows in bars.items()] + names

    def _ticks(self, row: DiagramRow) -> list[Markup]:
        """Ticks below where an engine leans on its fan."""
        d = ""
        for from_m, to_m in self.engine:
            span = row.clip(from_m, to_m)
            if span is not None:
                d += "".join(
                    f"M{num(x)} 62v6" for x in np.arange(span[0], span[0] + max(span[1], 1.0), 3.0)
                )
        return [tag("path", class_="t-engine", d=d)] if d else []


def heat_scale(
    low_c: FloatArray, high_c: FloatArray, translator: Translator
) -> tuple[float, float]:
    """The foot and the top of the scale [deg C], round in the reader's degrees."""
    zero = translator.temp_value(0.0)
    degree = translator.temp_value(1.0) - zero
    least, most = float(np.nanmin(low_c)), float(np.nanmax(high_c))
    step = nice_step(max(most - least, 4.0) * degree, 6)
    low = math.floor((least * degree + zero) / step) * step
    high = max(math.ceil((most * degree + zero) / step) * step, low + step)
    return (low - zero) / degree, (high - zero) / degree


def heat_known(facts: dict[str, Any]) -> bool:
    """Whether there is anything for the lane to draw."""
    profile: dict[str, Any] = (facts["heat"] or {}).get("profile") or {}
    return bool(profile.get("at_m"))


def _array(values: list[float | None]) -> FloatArray:
    return np.array([np.nan if v is None else v for v in values], dtype=float)


def _runs(mask: np.ndarray) -> list[np.ndarray]:
    """Indices of each run of True."""
    where = np.flatnonzero(mask)
    if not len(where):
        return []
    return list(np.split(where, np.flatnonzero(np.diff(where) > 1) + 1))
