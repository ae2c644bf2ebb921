"""Prints how well the climate tables meet station normals: python -m tests.bench.climate CSV

Every station is predicted by coefficients fitted without it (and, second table, without all
stations of its block of 15 degrees).
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

from terrain.stages.heat.climate import climate_year
from terrain.tables.climate.sites import site_of
from terrain.values.arrays import FloatArray, IntArray
from tests.bench.climate_fit import left_out_errors, parse_stations, spatial_groups

_CLASSES = ((-500, 100), (100, 500), (500, 1000), (1000, 1500), (1500, 2500), (2500, 9000))


def table(path: Path) -> str:
    """The two tables as text."""
    stations = parse_stations(path.read_text(encoding="utf-8"))
    site = site_of(stations.lon, stations.lat, stations.ele_m)
    year = climate_year(stations.lon, stations.lat, stations.ele_m)
    half = (year.tmax_high_c - year.tmax_low_c) / 2
    parts = []
    singly: IntArray = np.arange(len(stations.lat))
    for title, groups in (
        ("each station left out", singly),
        ("each block of 15 degrees left out", spatial_groups(stations)),
    ):
        tmax, tmin = left_out_errors(site, stations, groups)
        parts.append(f"{title}\n{_rows(tmax, tmin, half, stations.ele_m)}")
    return "\n\n".join(parts)


def _rows(tmax: FloatArray, tmin: FloatArray, half: FloatArray, ele_m: FloatArray) -> str:
    head = "height m        n   bias   RMSE    P90  band+-  held |  minimum: bias  RMSE"
    lines = [head]
    everything = (-500.0, 9000.0)
    for low, high in (*_CLASSES, (-500, 500), (500, 1500), (1500, 9000), everything):
        here = (ele_m >= low) & (ele_m < high)
        a, b, h = tmax[here], tmin[here], half[here]
        lines.append(
            f"{low:6.0f} to {high:5.0f} {here.sum():3d} {a.mean():6.2f} "
            f"{np.sqrt(np.mean(a**2)):6.2f} {np.quantile(np.abs(a), 0.9):6.2f} "
            f"{np.median(h):6.2f} {100 * np.mean(np.abs(a) <= h):5.1f}% | "
            f"{b.mean():14.2f} {np.sqrt(np.mean(b**2)):5.2f}"
        )
    return "\n".join(lines)


if __name__ == "__main__":
    print(table(Path(sys.argv[1])))
