"""Heat as JSON: the contract's `heat` object."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from terrain.values.heat import AirAlong, EngineHeat, Heat, StretchAir, told

_MOST_RUNS = 20
_NO_RIDER = (
    "max_air_temp_c", "max_air_temp_low_c", "max_air_temp_high_c", "max_air_temp_at_m",
    "min_air_temp_c", "min_air_temp_at_m", "max_heat_index_c", "max_wbgt_c", "max_wbgt_gear_c",
    "max_wbgt_riding_c", "min_wind_chill_c", "min_wind_chill_at_m", "hours_above",
    "over_limit_h", "worst", "water_l_per_h", "water_most_l_per_h", "water_l", "water_source",
)  # fmt: skip


def heat_to_dict(heat: Heat) -> dict[str, Any]:
    """Every key is there always; null where not known."""
    rider = dict.fromkeys(_NO_RIDER) if heat.rider is None else heat.rider.to_dict()
    zone = ZoneInfo(str(heat.basis.get("zone", "UTC")))
    return {
        "basis": dict(heat.basis),
        "rider": rider,
        "engine": _engine(heat),
        "stretches": [] if heat.stretches is None else _stretches(heat.stretches, zone),
        "profile": None if heat.air is None else _profile(heat.air, zone),
        "months": [month.to_dict() for month in heat.months],
        "sun": None if heat.sun is None else heat.sun.to_dict(),
        "cautions": [caution.to_dict() for caution in heat.cautions],
        "asks": list(heat.asks),
        "words": list(heat.words),
    }


def _engine(heat: Heat) -> dict[str, Any]:
    hardest = heat.hardest
    runs = [] if hardest is None else sorted(hardest.runs, key=_weight)[:_MOST_RUNS]
    clutch = sorted(heat.clutch, key=lambda run: -run.time_s)[:_MOST_RUNS]
    fanned: list[EngineHeat] = [e for e in heat.engines if e.cooling == "liquid"]
    return {
        "fan_dependent_min": round(max(e.fan_s for e in fanned) / 60.0, 1) if fanned else None,
        "longest_run_min": round(max(e.longest_s for e in fanned) / 60.0, 1) if fanned else None,
        "concern": None if hardest is None else hardest.concern.value,
        "hardest_class": None if hardest is None else hardest.bike,
        "classes": [engine.to_dict() for engine in heat.engines],
        "stretches": [run.to_dict() for run in runs],
        "clutch_hot": [run.to_dict() for run in clutch],
    }


def _weight(run: Any) -> tuple[float, float]:
    return (-(run.ratio or 0.0), -run.time_s)


def _stretches(rows: StretchAir, zone: ZoneInfo) -> list[dict[str, Any]]:
    return [
        {
            "from_m": float(rows.from_m[i]),
            "to_m": float(rows.to_m[i]),
            "at": _clock(rows.unix_s[i], zone),
            "temp_c": told(rows.temp_c[i]),
            "heat_index_c": told(rows.heat_index_c[i]),
            "wbgt_c": told(rows.wbgt_c[i]),
        }
        for i in range(len(rows.from_m))
    ]


def _profile(air: AirAlong, zone: ZoneInfo) -> dict[str, Any]:
    def column(values: Any) -> list[float | None]:
        return [told(v) for v in values]

    return {
        "at_m": [float(v) for v in np.round(air.at_m, 1)],
        "at": [_clock(v, zone) for v in air.unix_s],
        "temp_c": column(air.temp_c),
        "low_c": column(air.low_c),
        "high_c": column(air.high_c),
        "heat_index_c": column(air.heat_index_c),
        "wbgt_c": column(air.wbgt_still_c),
        "wbgt_riding_c": column(air.wbgt_riding_c),
        "wind_chill_c": column(air.wind_chill_c),
    }


def _clock(unix_s: float, zone: ZoneInfo) -> str:
    moment = datetime.fromtimestamp(float(unix_s), UTC).astimezone(zone)
    return moment.isoformat(timespec="minutes")
