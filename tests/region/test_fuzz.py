"""Spoilt and odd extracts: a map or one clear message, never anything else."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import pytest

from terrain.errors import MapDataError
from terrain.region.build import no_progress
from terrain.region.osm import MapData, read_osm
from tests.region.osm_xml import OsmXml, crossing

_KEYS = (
    "highway", "surface", "name", "route", "access", "motor_vehicle", "oneway", "width", "incline",
    "maxspeed", "layer", "mtb:scale", "duration", "population", "amenity", "shop", "place",
    "barrier", "ford", "ele", "junction", "lanes", "motor_vehicle:conditional", "area", "natural",
)  # fmt: skip
_VALUES = (
    "yes", "no", "track", "ferry", "-1", "1e309", "nan", "inf", "-0", "٣٤", "𝟙", "9" * 400, "a;b;;",
    "", " ", "fuel", "motorcycle", "village", "gate", "10%", "-90°", "59.9°", "PT", "99:99:99",
    "0x10", "1,5", "7'", "12'11\"", "roundabout", "construction", "x" * 250, "\u202e", "²",
)  # fmt: skip
_IDS = (*range(1, 25), -3, -8, 2**40 + 3, 2**62)


def read_or_refuse(path: Path) -> MapData | None:
    try:
        return read_osm((path,), no_progress)
    except MapDataError as exc:
        assert exc.what
        assert exc.fix
        return None


def odd_map(chance: random.Random) -> OsmXml:
    """Made of parts that are each allowed, or nearly."""
    osm = OsmXml(timestamp=chance.choice([None, "2023-05-02T10:00:00Z", "2200-01-01T00:00:00Z"]))

    def tags(most: int) -> dict[str, str]:
        return {chance.choice(_KEYS): chance.choice(_VALUES) for _ in range(chance.randrange(most))}

    for ref in sorted(set(chance.sample(_IDS, 20))):
        lon = chance.choice([10, 10.001, 10.01, 180, -180, 179.999, 0])
        lat = chance.choice([45, 45.001, 90, -90, 0, 89.9999])
        osm.node(ref, lon, lat, tags(4))
    for ref in range(1, chance.randrange(2, 9)):
        nodes = [chance.choice(_IDS) for _ in range(chance.randrange(9))]
        osm.way(ref, nodes, tags(6) | {"highway": chance.choice(["track", "path", "motorway"])})
    members = [(kind, chance.choice(_IDS), "outer") for kind in ("node", "way", "relation")]
    osm.relation(1, members, {"amenity": "fuel"} | tags(3))
    return osm


def test_odd_maps_are_read(tmp_path: Path) -> None:
    chance, n_read = random.Random(3), 0
    for _ in range(60):
        data = read_or_refuse(odd_map(chance).write(tmp_path / "odd.osm"))
        if data is not None:
            n_read += 1
            assert np.isfinite(data.roads.edge_length_m).all()
            assert (data.roads.edge_length_m >= 0).all()
            assert not np.isinf(data.roads.ways.width_m).any()
            assert not np.isinf(data.roads.ways.maxspeed_kph).any()
            assert not np.isinf(data.places.population).any()
    assert n_read > 30


@pytest.mark.parametrize("kind", ["osm", "osm.pbf"])
def test_spoilt_files_are_refused_or_read(tmp_path: Path, small_pbf: Path, kind: str) -> None:
    whole = small_pbf.read_bytes() if kind == "osm.pbf" else crossing().text().encode()
    chance, n_refused, path = random.Random(5), 0, tmp_path / f"spoilt.{kind}"
    for _ in range(60):
        data = bytearray(whole)
        for _ in range(chance.choice([1, 1, 3, 20])):
            at = chance.randrange(len(data))
            if chance.random() < 0.6:
                data[at] = chance.randrange(256)
            else:
                del data[at : at + chance.randrange(1, 40)]
        path.write_bytes(data)
        n_refused += read_or_refuse(path) is None
    assert n_refused > 20
