"""The stretches as a table for spreadsheets.

RFC 4180 with a UTF-8 mark, which spreadsheets need to read names right. The attribution stands
in the last column of the first row, so that every row is a stretch.
"""

from __future__ import annotations

from typing import Any

from terrain.text.plain import csv_table
from terrain.values.closed import closed_m, closed_on
from terrain.values.report import Report

_COLUMNS = (
    "from_m", "to_m", "ground", "p_paved", "p_gravel", "p_track", "basis", "highway", "surface",
    "name", "way_id", "season_risk", "severity", "grade_pct", "speed_kph",
    "closed_m",
)  # fmt: skip


def render_csv(report: Report) -> bytes:
    """One row per stretch; empty cells are not known. No cell is taken for a formula."""
    facts, barred = report.to_dict(), report.assessed.places.closed
    rows = []
    for row in facts["stretches"]:
        shut_m = closed_m(closed_on(barred, row["from_m"], row["to_m"]))
        flat = {**_flat(row), "closed_m": round(shut_m, 1)}
        rows.append([*(flat[key] for key in _COLUMNS), None])
    if rows:
        rows[0][-1] = " ".join(facts["region"]["attribution"])
    return csv_table([[*_COLUMNS, "attribution"], *rows]).encode("utf-8-sig")


def _flat(row: dict[str, Any]) -> dict[str, Any]:
    p = row["p"] or {}
    return {**row, **{f"p_{kind}": p.get(kind) for kind in ("paved", "gravel", "track")}}
