"""The report as GeoJSON: a line per stretch, a point per stop.

Source: RFC 7946: WGS 84 lon, lat; lines cut at the antimeridian (3.1.9); bbox (5).
"""

from __future__ import annotations

from typing import Any

import numpy as np

from terrain.report.data.jsonfile import json_bytes
from terrain.report.said import finding_fact
from terrain.text.translator import Translator
from terrain.values.arrays import FloatArray
from terrain.values.closed import closed_m, closed_on
from terrain.values.match import ride_coords
from terrain.values.report import Report

_DIGITS = 6  # 0.1 m
_KEYS = (
    "from_m", "to_m", "way_id", "highway", "surface", "name", "ground", "basis", "season_risk",
    "severity", "grade_pct", "speed_kph",
)  # fmt: skip


def render_geojson(
    report: Report, facts: dict[str, Any] | None = None, translator: Translator | None = None
) -> bytes:
    """A FeatureCollection, one line of text a feature; foreign members hold the attribution and the
    verdict with all that forbids the ride.

    translator : language and units of names and sentences; the rest is codes and metres
    """
    facts = facts or report.to_dict()
    translator = translator or Translator()
    features = [_stretch(report, row) for row in facts["stretches"]]
    features += [_stop(stop, translator) for stop in facts["stops"] if stop["lon"] is not None]
    lon, lat = report.assessed.match.lon, report.assessed.match.lat
    head = {
        "type": "FeatureCollection",
        "bbox": _bbox(lon, lat),
        "name": facts["route"]["name"],
        "attribution": facts["region"]["attribution"],
        "map_date": facts["region"]["map_date"],
        "made_at": facts["made_at"],
        "verdict": translator.translate(report.verdict.headline),
        "forbidden": [f"{finding_fact(item, translator)}." for item in report.verdict.forbidden],
    }
    opening = json_bytes(head, indented=False).rstrip(b"}\n")
    body = b",\n".join(json_bytes(f, indented=False).rstrip(b"\n") for f in features)
    return opening + b',"features":[\n' + body + b"\n]}\n"


def _stretch(report: Report, row: dict[str, Any]) -> dict[str, Any]:
    p = row["p"] or {}
    properties = {key: row[key] for key in _KEYS}
    properties |= {f"p_{kind}": p.get(kind) for kind in ("paved", "gravel", "track")}
    barred = report.assessed.places.closed
    properties["closed_m"] = round(closed_m(closed_on(barred, row["from_m"], row["to_m"])), 1)
    coords = ride_coords(report.assessed.match, row["from_m"], row["to_m"])
    return {"type": "Feature", "geometry": _line(coords), "properties": properties}


def _stop(stop: dict[str, Any], translator: Translator) -> dict[str, Any]:
    point = [_into_range(stop["lon"]), stop["lat"]]
    properties = {
        k: translator.translate(v) if k in ("name", "why") and v is not None else v
        for k, v in stop.items()
        if k not in ("lon", "lat")
    }
    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": point},
        "properties": properties,
    }


def _line(coords: FloatArray) -> dict[str, Any]:
    parts = _cut(coords)
    told = [[[round(x, _DIGITS), round(y, _DIGITS)] for x, y in part.tolist()] for part in parts]
    if len(told) == 1:
        return {"type": "LineString", "coordinates": told[0]}
    return {"type": "MultiLineString", "coordinates": told}


def _cut(coords: FloatArray) -> list[FloatArray]:
    """The line in parts that do not cross the antimeridian, longitudes within -180..180.

    A ride's longitudes run on beyond 180 so that it stays one line.
    """
    lap = np.floor((coords[:, 0] + 180.0) / 360.0)
    parts: list[FloatArray] = []
    start: list[FloatArray] = []
    begin = 0
    for i in range(1, len(coords)):
        if lap[i] == lap[i - 1]:
            continue
        edge = 360.0 * max(lap[i], lap[i - 1]) - 180.0
        share = (edge - coords[i - 1, 0]) / (coords[i, 0] - coords[i - 1, 0])
        lat = coords[i - 1, 1] + share * (coords[i, 1] - coords[i - 1, 1])
        crossing = np.array([[edge, lat]])
        parts.append(_shifted([*start, coords[begin:i], crossing], lap[i - 1]))
        start, begin = [crossing], i
    parts.append(_shifted([*start, coords[begin:]], lap[-1]))
    return parts


def _shifted(pieces: list[FloatArray], lap: float) -> FloatArray:
    line = np.concatenate(pieces)
    moved: FloatArray = line - np.array([360.0 * lap, 0.0])
    return moved


def _into_range(lon: float) -> float:
    return round((lon + 180.0) % 360.0 - 180.0, _DIGITS)


def _bbox(lon: FloatArray, lat: FloatArray) -> list[float]:
    """West, south, east, north; west > east where the ride crosses the antimeridian."""
    west, east = float(lon.min()), float(lon.max())
    inside = west >= -180.0 and east <= 180.0
    return [
        round(west, _DIGITS) if inside else _into_range(west),
        round(float(lat.min()), _DIGITS),
        round(east, _DIGITS) if inside else _into_range(east),
        round(float(lat.max()), _DIGITS),
    ]
