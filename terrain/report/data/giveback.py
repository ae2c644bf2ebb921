"""Ways ridden and confirmed whose surface the map does not tell, for a person to check and enter.

Nothing is entered by itself: OpenStreetMap wants edits by people, each checked and with its source
(its wiki on automated edits and on mechanical edits).
"""

from __future__ import annotations

import json
from collections.abc import Sequence

from terrain.values.learned import LearnedWay
from terrain.values.views import RoadsView

_MOST_ERR = 0.1  # chance of error up to which a way is proposed
_LEAST_WITNESSES = 2
_LICENCE = (
    "Lines: © OpenStreetMap contributors, Open Database License 1.0. Check each way yourself, "
    "enter it by hand under your own account, and name your survey as the source. No automated "
    "or bulk edits."
)


def ways_to_give_back(ways: Sequence[LearnedWay], roads: RoadsView) -> list[tuple[int, LearnedWay]]:
    """(row, way) of ways that two or more believed riders confirm and whose surface tag is missing.

    Ways on which they do not agree are left out.
    """
    row_of = {int(way_id): row for row, way_id in enumerate(roads.ways.way_id.tolist())}
    return [
        (row_of[way.way_id], way)
        for way in ways
        if way.p is not None
        and max(way.p) >= 1.0 - _MOST_ERR
        and way.witnesses >= _LEAST_WITNESSES
        and way.against == 0
        and way.shut == 0
        and way.way_id in row_of
        and roads.ways.surface.codes[row_of[way.way_id]] < 0
    ]


def give_back_geojson(ways: Sequence[LearnedWay], roads: RoadsView) -> bytes:
    """GeoJSON (RFC 7946) of the ways to check, one MultiLineString each."""
    features = [_feature(row, way, roads) for row, way in ways_to_give_back(ways, roads)]
    tree = {"type": "FeatureCollection", "note": _LICENCE, "features": features}
    return json.dumps(tree, ensure_ascii=False, indent=1).encode("utf-8") + b"\n"


def _feature(row: int, way: LearnedWay, roads: RoadsView) -> dict[str, object]:
    edges = [int(e) for e in (roads.edge_way == row).nonzero()[0]]
    lines = []
    for edge in edges:
        pts = slice(int(roads.edge_start[edge]), int(roads.edge_start[edge + 1]))
        pairs = zip(roads.pt_lon[pts].tolist(), roads.pt_lat[pts].tolist(), strict=True)
        lines.append([[round(x, 7), round(y, 7)] for x, y in pairs])
    return {
        "type": "Feature",
        "geometry": {"type": "MultiLineString", "coordinates": lines},
        "properties": {
            "way_id": way.way_id,
            "highway": roads.ways.highway.text(row),
            "name": roads.ways.name.text(row),
            "ridden_as": None if way.ground is None else way.ground.value,
            "missing_tag": "surface",
            "riders": way.witnesses,
            "last_seen": way.last_day.isoformat(),
            "source": "survey by riders, not yet checked by you",
        },
    }
