"""How hard each piece of a ride is, 0 to 5."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from terrain.stages.ways import tags
from terrain.tables.ground_severity import RULES, SeverityRules
from terrain.values.arrays import FloatArray, Int8Array, IntArray
from terrain.values.views import Category, WayFlag, WayTable


def severity_of(
    ways: WayTable,
    way: IntArray,
    p: FloatArray,
    grade_pct: FloatArray | None = None,
    rules: SeverityRules = RULES,
) -> Int8Array:
    """Severity of each piece, shape (k,); -1 where p is not known (ferries, off the map).

    way : row of each piece's way, -1 off the map; p : its ground, shape (k, 3)
    grade_pct : mean grade of each piece [%], NaN not known
    Tags of surface, tracktype, smoothness decide; where there are none, the ground's
    probabilities do, with caution. Width, fords, 4wd_only, mtb:scale and steepness add to it.
    """
    known = ~np.isnan(p[:, 0])
    row = np.where(known, way, 0)
    p = np.where(known[:, None], p, 1 / 3)
    level = _ground_level(ways, row, p, rules)
    flags = ways.flags[row]
    unsealed = 1 - p[:, 0]
    width = np.nan_to_num(ways.width_m[row], nan=99.0)
    level = level + np.where(width < rules.narrow_m, rules.narrow * unsealed, 0.0)
    level = level + np.where((flags & WayFlag.FORD) != 0, rules.ford, 0.0)
    level = np.maximum(level, np.where(flags & WayFlag.FOUR_WD_ONLY, rules.four_wd_only, 0.0))
    scale = ways.mtb_scale[row]
    level = np.maximum(level, np.where(scale >= 1, rules.mtb + rules.mtb_step * scale, 0.0))
    if grade_pct is not None:
        steep = np.maximum(np.abs(np.nan_to_num(grade_pct)) - rules.steep_from_pct, 0.0)
        level = level + steep / rules.steep_step_pct * (p @ np.asarray(rules.steep_share))
    out = np.floor(np.clip(level, 0.0, 5.0) + 0.5)
    return np.where(known, out, -1).astype(np.int8)


def _ground_level(ways: WayTable, row: IntArray, p: FloatArray, rules: SeverityRules) -> FloatArray:
    """Severity by surface, tracktype and smoothness, else by the ground's probabilities."""
    surface = _tagged(ways.surface, tags.SURFACE_BY_VALUE, row)
    grade = _tagged(ways.tracktype, tags.TRACKTYPE_BY_VALUE, row)
    smooth = _tagged(ways.smoothness, tags.SMOOTHNESS_BY_VALUE, row)
    usual = np.asarray(rules.usual)
    mean = p @ usual
    spread = np.sqrt(np.maximum(p @ usual**2 - mean**2, 0.0))
    level = mean + rules.spread * spread
    # A surface tag beside a clashing grade stays, but the harder of the two weighs more.
    both = ~np.isnan(surface) & ~np.isnan(grade)
    high, low = np.fmax(surface, grade), np.fmin(surface, grade)
    told = np.where(both, rules.harder * high + (1 - rules.harder) * low, high)
    level = np.where(np.isnan(told), level, told)
    mixed = rules.by_smoothness * smooth + (1 - rules.by_smoothness) * level
    # Who cannot get through does not care what the surface once was.
    mixed = np.where(smooth >= rules.broken, np.maximum(mixed, smooth), mixed)
    return np.where(np.isnan(smooth), level, mixed)


def _tagged(column: Category, rows: Mapping[str, Any], way: IntArray) -> FloatArray:
    """Severity that the value of each way names, shape (k,); the hardest of several; NaN not
    tagged.

    rows : of a table with a severity, by value
    """
    severity = {value: row.severity for value, row in rows.items()}
    table = []
    for value in column.values:
        words = [tags.first_word(part) for part in value.split(";")]
        told = [severity[word] for word in words if word in severity]
        table.append(max(told) if told else np.nan)
    return np.asarray([*table, np.nan], dtype=np.float64)[column.codes[way]]
