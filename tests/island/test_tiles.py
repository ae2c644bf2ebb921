"""Elevation tiles against the SRTM format.

Facts of the format: SRTM topography document (USGS): 3 arc-second tiles hold 1201 x 1201
big-endian signed 16-bit metres = 2 884 802 bytes, rows north to south, named by their south-west
corner, edge rows shared with the neighbours, voids -32768.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio

from tests.island import IslandFiles
from tests.island.island import Island
from tests.island.roads import ele_at


def _tile(path: Path) -> np.ndarray:
    return np.frombuffer(path.read_bytes(), dtype=">i2").reshape(1201, 1201)


@pytest.fixture(scope="module")
def tiles(files: IslandFiles) -> dict[str, np.ndarray]:
    return {path.stem: _tile(path) for path in files.tiles}


def test_names_and_sizes(files: IslandFiles) -> None:
    assert sorted(p.name for p in files.tiles) == [
        "N13E087.hgt", "N13E088.hgt", "N14E087.hgt", "N14E088.hgt",
    ]  # fmt: skip
    assert {p.stat().st_size for p in files.tiles} == {2_884_802}


def test_edges_are_shared(tiles: dict[str, np.ndarray]) -> None:
    assert np.array_equal(tiles["N13E087"][:, -1], tiles["N13E088"][:, 0])
    assert np.array_equal(tiles["N14E087"][:, -1], tiles["N14E088"][:, 0])
    assert np.array_equal(tiles["N14E087"][-1], tiles["N13E087"][0])
    assert np.array_equal(tiles["N14E088"][-1], tiles["N13E088"][0])


def test_the_island_lies_on_all_four_tiles(tiles: dict[str, np.ndarray]) -> None:
    for tile in tiles.values():
        assert np.count_nonzero(tile > 0) > 30_000


def test_sea_is_zero_and_voids_are_few(tiles: dict[str, np.ndarray]) -> None:
    every = np.stack(list(tiles.values()))
    land = np.count_nonzero(every > 0)
    voids = np.count_nonzero(every == -32_768)
    assert every[every != -32_768].min() == 0
    assert np.count_nonzero(every == 0) > 3 * land
    # Andorra's real tile has 0.53 % voids; a few are enough to exercise them.
    assert 50 < voids < 0.01 * land


def test_heights_bring_both_heat_and_altitude(tiles: dict[str, np.ndarray]) -> None:
    every = np.stack(list(tiles.values()))
    # Altitude advice starts at 2450 m (CDC travellers' health).
    assert 2450 < every.max() <= 2700
    land = every[every > 0]
    assert np.median(land) < 400


def test_rasterio_reads_the_same_heights_at_the_same_places(
    files: IslandFiles, island: Island
) -> None:
    """GDAL's SRTMHGT reader, through rasterio, against the land the roads were laid on."""
    from tests.island.frame import to_lat, to_lon

    towns = island.place[[spot.node for spot in island.network.towns]]
    drawn = ele_at(island.land, towns)
    lon, lat = to_lon(towns[:, 0]), to_lat(towns[:, 1])
    for path in files.tiles:
        with rasterio.open(path) as tile:
            assert tile.nodata == -32_768
            west, south, east, north = tile.bounds
            inside = (lon > west) & (lon < east) & (lat > south) & (lat < north)
            read = [v[0] for v in tile.sample(zip(lon[inside], lat[inside], strict=True))]
        # Nearest post, half a step of slope and canopy away at most.
        assert np.abs(np.array(read) - drawn[inside]).max(initial=0.0) < 35
