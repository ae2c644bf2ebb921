"""A made-up ride with everything in it, for looking at the writers. Nothing here is measured."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np

from terrain.text.message import message
from terrain.values.closed import ClosedPart, Closure
from terrain.values.ground import Basis, GroundKind, Share
from terrain.values.match import Match
from terrain.values.places import PassedPlace, Surroundings
from terrain.values.report import Report
from tests.assessed import report_of, ridden, stretch_of

# (length in km, highway, surface, name, ground, (paved, gravel, track), basis, km/h, grade)
_PARTS: tuple[tuple[Any, ...], ...] = (
    (12.4, "primary", "asphalt", "Harbour Road", "paved", (0.99, 0.01, 0.0), "tagged", 58, 0.4),
    (21.0, "secondary", "asphalt", "Coast Road", "paved", (0.98, 0.02, 0.0), "tagged", 55, 1.1),
    (3.2, "tertiary", None, "Mill Lane", "paved", (0.74, 0.21, 0.05), "inferred", 42, 3.9),
    (26.3, "secondary", "asphalt", "Pass Road", "paved", (0.97, 0.03, 0.0), "tagged", 44, 6.2),
    (4.1, "unclassified", "compacted", None, "gravel", (0.03, 0.91, 0.06), "tagged", 36, -4.0),
    (9.7, "unclassified", None, None, "gravel", (0.22, 0.55, 0.23), "inferred", 33, -2.2),
    (14.6, "track", None, "Old Salt Way", "track", (0.01, 0.24, 0.75), "graded", 19, 8.4),
    (0.4, "track", None, "Sandel Ford", "track", (0.0, 0.10, 0.90), "graded", 11, 0.2),
    (6.9, "track", "ground", None, "track", (0.0, 0.06, 0.94), "tagged", 17, 11.6),
    (2.8, None, None, None, "unmapped", None, "unmapped", 15, 3.0),
    (7.3, "track", "gravel", "Forestry Line 7", "gravel", (0.02, 0.80, 0.18), "noted", 28, -5.5),
    (18.8, "tertiary", None, None, "paved", (0.66, 0.28, 0.06), "inferred", 45, -1.5),
    (5.2, "ferry", None, "Narrow Water Ferry", "ferry", None, None, 12, 0.0),
    (44.0, "primary", "asphalt", "North Road", "paved", (0.99, 0.01, 0.0), "tagged", 62, 0.2),
    (35.6, "secondary", "asphalt", None, "paved", (0.98, 0.02, 0.0), "tagged", 57, -0.3),
)
_CUT_M = 2400.0


def facts() -> dict[str, Any]:
    """A report as its JSON."""
    stretches = _stretches()
    length = stretches[-1]["to_m"]
    at = np.linspace(0, length, 600)
    ele = (
        40 + 700 * np.exp(-(((at - 62e3) / 16e3) ** 2)) + 420 * np.exp(-(((at - 101e3) / 9e3) ** 2))
    )
    return {
        "schema": "terrain-report/1",
        "terrain_version": "0.1.0",
        "made_at": "2027-02-01T09:00:00+00:00",
        "region": {
            "name": "sample",
            "map_date": "2026-11-02",
            "bbox": [-20.2, -40.6, -18.0, -39.4],
            "attribution": ["Invented map for tests, no rights reserved."],
        },
        "route": {
            "name": "Harbour to the north by the old salt way",
            "length_m": length,
            "points": 2210,
            "kind": "track",
            "problems": [
                {
                    "code": "duplicate-points",
                    "where": "part 1",
                    "what": "14 points stood twice",
                    "action": "kept one of each",
                }
            ],
        },
        "trip": {
            "depart": "2027-03-14T07:30:00",
            "rider": "steady",
            "pillion": False,
            "guided": False,
            "luggage": "soft",
            "wanted_class": "road-tourer",
        },
        "match": {
            "matched_m": length - 8000.0,
            "unmapped_m": 2800.0,
            "filled_m": 0.0,
            "ferry_m": 5200.0,
            "mean_offset_m": 6.2,
        },
        "ground": {
            "shares": {
                "paved": {"best": 0.771, "low": 0.731, "high": 0.802},
                "gravel": {"best": 0.119, "low": 0.088, "high": 0.155},
                "track": {"best": 0.11, "low": 0.087, "high": 0.136},
            },
            "basis": {
                "tagged": 0.742,
                "graded": 0.073,
                "inferred": 0.152,
                "noted": 0.035,
                "unmapped": 0.0,
            },
        },
        "stretches": stretches,
        "relief": {
            "source": "SRTM 3 arc-second",
            "ascent_m": 1930.0,
            "descent_m": 1925.0,
            "min_ele_m": 2.0,
            "max_ele_m": float(ele.max().round(1)),
            "steepest": [{"from_m": 95200.0, "to_m": 95600.0, "grade_pct": 14.2}],
            "profile": {
                "at_m": [float(x) for x in at.round(1)],
                "ele_m": [float(x) for x in ele.round(1)],
            },
        },
        "heat": None,
        "help": None,
        "advice": None,
        "days": [],
        "stops": [],
        "places": _places(),
        "not_known": [],
    }


def _stretches() -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = []
    start = 0.0
    for n, (km, highway, surface, name, ground, p, basis, kph, grade) in enumerate(_PARTS):
        end = start + km * 1000
        while start < end - 1:
            to = end if end - start < 1.5 * _CUT_M else start + _CUT_M
            keys = ("paved", "gravel", "track")
            rows.append(
                {
                    "from_m": round(start, 1),
                    "to_m": round(to, 1),
                    "way_id": None if ground == "unmapped" else 1000 + n,
                    "highway": highway,
                    "surface": surface,
                    "name": name,
                    "ground": ground,
                    "p": None if p is None else dict(zip(keys, p, strict=True)),
                    "basis": basis,
                    "season_risk": None,
                    "severity": None,
                    "grade_pct": grade,
                    "speed_kph": float(kph),
                }
            )
            start = to
    return rows


def line(n: int = 2000) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """lon, lat, at_m of a winding invented ride as long as `facts()`."""
    length = _stretches()[-1]["to_m"]
    at = np.linspace(0, length, n)
    t = at / length * 2 * np.pi
    lon = -19.1 + 0.75 * np.cos(t) + 0.04 * np.sin(9 * t) + 0.006 * np.sin(71 * t)
    lat = -40.0 + 0.38 * np.sin(t) + 0.05 * np.sin(4 * t) + 0.006 * np.cos(83 * t)
    return lon, lat, at


class SampleReport:
    """What the writers ask of a report, filled with the made-up ride."""

    def __init__(self, told: dict[str, Any] | None = None) -> None:
        self.told = told or facts()
        self.match = _match()
        self.surroundings = _surroundings(self.told)
        self.assessed = self.places = self
        known = {"closure": Closure.NO_MOTORCYCLE, "way_ids": (1,)}
        self.closed = (
            ClosedPart(from_m=500.0, to_m=1500.0, tag="access=no", **known),
            ClosedPart(from_m=1500.0, to_m=2500.0, tag="motorcycle=no", **known),
        )
        self.verdict = SimpleNamespace(headline=message("Road setup."), forbidden=())

    def to_dict(self) -> dict[str, Any]:
        return self.told


def _match() -> Match:
    lon, lat, at_m = line()
    rows = _stretches()
    k = len(rows)
    kind = [{"ferry": 2, "unmapped": 1}.get(r["ground"], 0) for r in rows]
    way_id = np.array([-1 if r["way_id"] is None else r["way_id"] for r in rows], dtype=np.int64)
    from_m, to_m = np.array([r["from_m"] for r in rows]), np.array([r["to_m"] for r in rows])
    return Match(
        kind=np.array(kind, dtype=np.int8),
        filled=np.zeros(k, dtype=bool),
        edge=np.arange(k, dtype=np.int32),
        way=np.where(way_id >= 0, np.arange(k), -1).astype(np.int32),
        way_id=way_id,
        forward=np.ones(k, dtype=bool),
        edge_from_m=np.zeros(k),
        edge_to_m=to_m - from_m,
        from_m=from_m,
        to_m=to_m,
        offset_m=np.full(k, 5.0),
        lon=lon,
        lat=lat,
        at_m=at_m,
        point_at_m=at_m,
    )


def _surroundings(told: dict[str, Any]) -> Surroundings:
    lon, lat, _ = line(400)
    shifted = [(lon * 0.98 - 0.38, lat), (lon, lat * 0.9 - 4.0), (lon[::3] + 0.1, lat[::3] - 0.06)]
    start = np.cumsum([0, *(len(x) for x, _ in shifted)]).astype(np.int32)
    return Surroundings(
        rank=np.array([2, 3, 5], dtype=np.int8),
        start=start,
        lon=np.concatenate([x for x, _ in shifted]),
        lat=np.concatenate([y for _, y in shifted]),
        places=tuple(PassedPlace(**p) for p in told["places"]),
    )


def _places() -> list[dict[str, Any]]:
    lon, lat, at_m = line()
    rows = []
    for km, name, kind, population in _NAMES:
        x, y = float(np.interp(km * 1e3, at_m, lon)), float(np.interp(km * 1e3, at_m, lat))
        rows.append(
            {
                "at_m": km * 1e3, "away_m": 40.0, "name": name, "kind": kind,
                "lon": round(x, 6), "lat": round(y, 6), "population": population,
            }
        )  # fmt: skip
    return rows


_NAMES: tuple[tuple[float, str, str, float | None], ...] = (
    (0.3, "Aldmouth", "town", 14200.0), (12.1, "Sill", "village", 900.0),
    (24.0, "Marrow Bay", "village", 1300.0), (36.2, "Upper Mill", "hamlet", None),
    (58.8, "Windgate Pass", "pass", None), (66.9, "Sandel", "village", 410.0),
    (70.2, "Sandel Green", "hamlet", None), (91.4, "Sandel Ford", "ford", None),
    (101.2, "Old Salt House", "locality", None), (128.0, "Narrow Water", "village", 700.0),
    (133.5, "Northferry", "village", 650.0), (150.2, "Brae", "town", 11000.0),
    (176.0, "Long Strand with a very long name indeed", "village", 500.0),
    (211.0, "Northend", "town", 10400.0),
)  # fmt: skip


def typed(name: str = "") -> Report:
    """The same ride as a report of typed values; `name` in place of every name of it."""
    rows = _stretches()
    keys = ("paved", "gravel", "track")
    ride = ridden(*(
        stretch_of(
            row["from_m"], row["to_m"], way=-1 if row["way_id"] is None else 0,
            way_id=row["way_id"], highway=row["highway"], surface=row["surface"],
            name=name or row["name"], ground=GroundKind(row["ground"]),
            p=row["p"] and tuple(row["p"][key] for key in keys),
            basis=row["basis"] and Basis(row["basis"]),
            severity=4 if row["ground"] == "track" else 0,
        )
        for row in rows
    ))  # fmt: skip
    shares = {
        GroundKind.PAVED: Share(best=0.771, low=0.731, high=0.802),
        GroundKind.GRAVEL: Share(best=0.119, low=0.088, high=0.155),
        GroundKind.TRACK: Share(best=0.11, low=0.087, high=0.136),
    }
    ride = replace(
        ride,
        ground=replace(ride.ground, shares=shares),
        route=replace(ride.route, name=name or facts()["route"]["name"]),
        places=replace(ride.places, near_names=(name or "Sandel",)),
    )
    if name:
        note = replace(ride.region, name=name, attribution=(name,), notes=(name,))
        ride = replace(ride, region=note)
    return report_of(ride)
