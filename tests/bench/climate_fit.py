"""Fits model.json to station normals: python -m tests.bench.climate_fit STATIONS.csv

STATIONS.csv has the columns lat, lon, elevation_m, tmax_01 .. tmax_12, tmin_01 .. tmin_12: mean
daily maximum and minimum of each month [deg C]. The coefficients that ship were fitted to 171
stations of 69 countries (WMO climate normals 1991-2020, NCEI accession 0253808, and CLIMAT
long-term averages collected by Deutscher Wetterdienst).
"""

from __future__ import annotations

import csv
import json
import sys
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import minimize

from terrain.calc.climate import (
    RANGE_LIMITS_K,
    Site,
    band_predictors,
    mean_predictors,
    range_predictors,
    sea_tempered_c,
    weighted_sum,
)
from terrain.tables.climate.model import MODEL_FILE
from terrain.tables.climate.sites import site_of
from terrain.values.arrays import FloatArray, IntArray

RIDGE = 0.5  # per hundred station-months, on predictors of unit spread; common practice, no source
SOURCE = (
    "fitted to {n} stations: WMO climate normals 1991-2020 (NCEI accession 0253808) and CLIMAT "
    "long-term averages (Deutscher Wetterdienst)"
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stations:
    """Normals of n stations; tmax_c, tmin_c (n, 12)."""

    lon: FloatArray
    lat: FloatArray
    ele_m: FloatArray
    tmax_c: FloatArray
    tmin_c: FloatArray


def parse_stations(text: str) -> Stations:
    """Stations from the text of a CSV file."""
    rows = list(csv.DictReader(text.splitlines()))

    def column(name: str) -> FloatArray:
        return np.array([float(row[name]) for row in rows])

    def months(name: str) -> FloatArray:
        return np.array([[float(r[f"{name}_{m:02d}"]) for m in range(1, 13)] for r in rows])

    return Stations(
        lon=column("lon"),
        lat=column("lat"),
        ele_m=column("elevation_m"),
        tmax_c=months("tmax"),
        tmin_c=months("tmin"),
    )


def ridge(predictors: dict[str, FloatArray], target: FloatArray) -> dict[str, Any]:
    """Constant and coefficients of a ridge regression on standardised predictors."""
    x = np.stack([p.ravel() for p in predictors.values()], axis=1)
    mean, spread = x.mean(axis=0), x.std(axis=0)
    z = (x - mean) / spread
    y = target.ravel()
    penalty = RIDGE * len(y) / 100.0 * np.eye(z.shape[1])
    slope = np.linalg.solve(z.T @ z + penalty, z.T @ (y - y.mean())) / spread
    return {
        "constant": float(y.mean() - mean @ slope),
        "coefficients": {k: float(b) for k, b in zip(predictors, slope, strict=True)},
    }


def apply_fit(fitted: dict[str, Any], predictors: dict[str, FloatArray]) -> FloatArray:
    """The fitted sum, shape as the predictors."""
    return weighted_sum(predictors, fitted["coefficients"], fitted["constant"])


def fit_and_predict(
    site: Site, stations: Stations, train: IntArray, test: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Mean and range at the test stations, from the train stations alone."""
    temp = sea_tempered_c(site)
    mean = (stations.tmax_c + stations.tmin_c) / 2.0
    spread = stations.tmax_c - stations.tmin_c
    m, r = mean_predictors(site), range_predictors(site)
    offset = ridge(_rows(m, train), (mean - temp)[train])
    daily = ridge(_rows(r, train), spread[train])
    return (
        temp[test] + apply_fit(offset, _rows(m, test)),
        np.clip(apply_fit(daily, _rows(r, test)), *RANGE_LIMITS_K),
    )


def _rows(predictors: dict[str, FloatArray], rows: IntArray) -> dict[str, FloatArray]:
    return {name: values[rows] for name, values in predictors.items()}


def left_out_errors(
    site: Site, stations: Stations, groups: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Errors of maximum and minimum, each group of stations predicted from the others."""
    tmax, tmin = np.empty_like(stations.tmax_c), np.empty_like(stations.tmax_c)
    for group in np.unique(groups):
        test, train = np.flatnonzero(groups == group), np.flatnonzero(groups != group)
        mean, spread = fit_and_predict(site, stations, train, test)
        tmax[test], tmin[test] = mean + spread / 2.0, mean - spread / 2.0
    return tmax - stations.tmax_c, tmin - stations.tmin_c


def spatial_groups(stations: Stations, step_deg: float = 15.0) -> IntArray:
    """Stations in blocks of step_deg by 1.3 step_deg, numbered."""
    rows = np.floor(stations.lat / step_deg)
    columns = np.floor(stations.lon / step_deg / 1.3)
    out: IntArray = np.unique(np.c_[rows, columns], axis=0, return_inverse=True)[1].ravel()
    return out


def fit_band(site: Site, errors: FloatArray, share: float = 0.91) -> dict[str, Any]:
    """Half-width that holds `share` of the errors, by quantile regression, no weight below 0."""
    predictors = band_predictors(site)
    x = np.stack([np.ones(errors.size)] + [p.ravel() for p in predictors.values()], axis=1)
    size = np.abs(errors).ravel()

    def loss(weights: FloatArray) -> float:
        left = size - x @ weights
        return float(np.mean(np.where(left > 0, share * left, (share - 1.0) * left)))

    start = np.r_[np.quantile(size, share), np.full(len(predictors), 0.1)]
    best = minimize(
        loss, start, method="Powell", bounds=[(0.5, 10.0)] + [(0.0, 5.0)] * len(predictors)
    )
    coefficients = dict(zip(predictors, (float(w) for w in best.x[1:]), strict=True))
    return {"constant": float(best.x[0]), "coefficients": coefficients}


def fit_model(site: Site, stations: Stations) -> dict[str, Any]:
    """All that model.json holds."""
    temp = sea_tempered_c(site)
    mean = (stations.tmax_c + stations.tmin_c) / 2.0
    tmax_error, _ = left_out_errors(site, stations, spatial_groups(stations))
    return {
        "source": SOURCE.format(n=len(stations.lat)),
        "mean": ridge(mean_predictors(site), mean - temp),
        "range": ridge(range_predictors(site), stations.tmax_c - stations.tmin_c),
        "band": fit_band(site, tmax_error),
    }


def main(arguments: list[str]) -> None:
    stations = parse_stations(Path(arguments[0]).read_text(encoding="utf-8"))
    model = fit_model(site_of(stations.lon, stations.lat, stations.ele_m), stations)
    target = Path(str(files("terrain.tables.climate").joinpath(MODEL_FILE)))
    target.write_text(json.dumps(model, indent=1) + "\n", encoding="utf-8")
    sys.stdout.write(f"{target.name} written\n")


if __name__ == "__main__":
    main(sys.argv[1:])
