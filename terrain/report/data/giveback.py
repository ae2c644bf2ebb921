"""Ways ridden and confirmed whose surface the map does not tell, for a person to check and enter.

Nothing is entered by itself: OpenStreetMap wants edits by people, each checked and with its source
(its wiki on automated edits and on mechanical edits).
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from terrain.values.learned import LearnedWay
from terrain.values.views import RoadsView

_MOST_ERR = 0.1  # chance of error up to which a way is proposed
_LEAST_WITNESSES = 2
_LICENCE = (
    "Lines: © OpenStreetMap contributors, Open Database License 1.0. Check each way yourself, "
    "enter it by hand under your own account, and name your survey as the source. No automated "
    "or bulk edits."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenBack:
    """A way to check. lines : (lon, lat) [deg] of each of its edges; highway, name : by the map"""

    way: LearnedWay
    highway: str | None
    name: str | None
    lines: tuple[tuple[tuple[float, float], ...], ...]


def ways_to_give_back(ways: Sequence[LearnedWay], roads: RoadsView) -> tuple[GivenBack, ...]:
    """The ways that two or more believed riders confirm and whose surface tag is missing.

    Ways on which they do not agree are left out.
    """
    sure = {
        way.way_id: way
        for way in ways
        if way.p is not None
        and max(way.p) >= 1.0 - _MOST_ERR
        and way.witnesses >= _LEAST_WITNESSES
        and way.against == 0
        and way.shut == 0
    }
    table = roads.ways
    there = np.isin(table.way_id, list(sure)) & (table.surface.codes < 0)
    return tuple(
        GivenBack(
            way=sure[int(table.way_id[row])], highway=table.highway.text(row),
            name=table.name.text(row), lines=_lines(row, roads),
        )
        for row in np.flatnonzero(there).tolist()
    )  # fmt: skip


def _lines(row: int, roads: RoadsView) -> tuple[tuple[tuple[float, float], ...], ...]:
    lines = []
    for edge in np.flatnonzero(roads.edge_way == row).tolist():
        pts = slice(int(roads.edge_start[edge]), int(roads.edge_start[edge + 1]))
        pairs = zip(roads.pt_lon[pts].tolist(), roads.pt_lat[pts].tolist(), strict=True)
        lines.append(tuple((round(x, 7), round(y, 7)) for x, y in pairs))
    return tuple(lines)


def give_back_geojson(found: Sequence[GivenBack]) -> bytes:
    """GeoJSON (RFC 7946) of the ways to check, one MultiLineString each."""
    tree = {
        "type": "FeatureCollection", "note": _LICENCE, "features": [_feature(f) for f in found]
    }  # fmt: skip
    return json.dumps(tree, ensure_ascii=False, indent=1).encode("utf-8") + b"\n"


def _feature(found: GivenBack) -> dict[str, object]:
    way = found.way
    return {
        "type": "Feature",
        "geometry": {"type": "MultiLineString", "coordinates": found.lines},
        "properties": {
            "way_id": way.way_id,
            "highway": found.highway,
            "name": found.name,
            "ridden_as": None if way.ground is None else way.ground.value,
            "missing_tag": "surface",
            "riders": way.witnesses,
            "last_seen": way.last_day.isoformat(),
            "source": "survey by riders, not yet checked by you",
        },
    }
