"""What is given back to the map: confirmed, untagged, agreed, and for a person to enter."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np

import terrain
from terrain.report.data.giveback import give_back_geojson, ways_to_give_back
from terrain.values.ground import GroundKind
from terrain.values.learned import LearnedWay, Said


def test_only_what_is_confirmed_and_missing(island_home: Path) -> None:
    roads = terrain.open_region("island", island_home).roads
    untagged = np.flatnonzero(roads.ways.surface.codes < 0)[:6]
    tagged = np.flatnonzero(roads.ways.surface.codes >= 0)[:1]
    sure = LearnedWay(
        way_id=int(roads.ways.way_id[untagged[0]]), ground=GroundKind.GRAVEL, p=(0.01, 0.97, 0.02),
        trust=0.9, said=(Said(ground=GroundKind.GRAVEL, n=3),), shut=0, witnesses=3, against=0,
        last_day=date(2027, 3, 14), against_map=False,
    )  # fmt: skip
    ids = [int(roads.ways.way_id[row]) for row in (*untagged, *tagged)]
    ways = [
        sure,
        replace(sure, way_id=ids[1], p=(0.3, 0.6, 0.1)),
        replace(sure, way_id=ids[2], witnesses=1),
        replace(sure, way_id=ids[3], against=1),
        replace(sure, way_id=ids[4], shut=1),
        replace(sure, way_id=ids[6]),  # tagged already
        replace(sure, way_id=1),  # of another region
    ]
    tree = json.loads(give_back_geojson(ways_to_give_back(ways, roads)))
    assert "by hand" in tree["note"]
    assert "OpenStreetMap" in tree["note"]
    (feature,) = tree["features"]
    assert feature["properties"]["way_id"] == ids[0]
    assert feature["properties"]["missing_tag"] == "surface"
    lines = feature["geometry"]["coordinates"]
    edges = np.flatnonzero(roads.edge_way == untagged[0])
    assert len(lines) == len(edges)
    first = roads.edge_start[edges[0]]
    assert lines[0][0] == [
        round(float(roads.pt_lon[first]), 7),
        round(float(roads.pt_lat[first]), 7),
    ]
