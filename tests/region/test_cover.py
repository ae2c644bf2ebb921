"""Which region holds a route: boxes either side of 180, and roads before ferries."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import terrain
from terrain import flow
from terrain.region.cover import holds, meets, road_share
from terrain.region.region import Region
from terrain.values.views import WayFlag


@pytest.fixture
def region(island_home: Path) -> Region:
    return terrain.open_region("island", island_home)


@pytest.fixture
def route(island_home: Path) -> terrain.Route:
    return terrain.read_route(sorted((island_home / "demo" / "routes").glob("*.gpx"))[0])


@pytest.mark.parametrize(
    ("box", "lon", "inside"),
    [
        ((177.0, -19.0, 181.5, -16.0), (-179.9, -179.5), True),  # the box runs past 180
        ((177.0, -19.0, 181.5, -16.0), (179.5, 180.4), True),
        ((-181.5, -19.0, -178.0, -16.0), (178.9, 179.9), True),  # the box runs past -180
        ((-180.0, -19.0, -178.0, -16.0), (180.5, 181.0), True),  # the route does
        ((-180.0, -19.0, 180.0, -16.0), (179.5, 179.9), True),  # the whole turn
        ((177.0, -19.0, 181.5, -16.0), (-178.0, -177.5), False),
        ((177.0, -19.0, 181.5, -16.0), (-3.0, -2.0), False),
        ((10.0, -19.0, 11.0, -16.0), (-170.0, -169.0), False),
    ],
)
def test_boxes_either_side_of_180(
    box: tuple[float, ...], lon: tuple[float, float], inside: bool, route: terrain.Route
) -> None:
    n = route.n_points
    line = replace(route, lon=np.linspace(*lon, n), lat=np.linspace(-18.0, -17.0, n))
    assert holds(box, line) is inside  # type: ignore[arg-type]
    assert meets(box, line) is inside  # type: ignore[arg-type]


def _turned(region: Region, turns: int) -> Region:
    """The region told a full turn further east or west."""
    roads, shift = region.roads, 360.0 * turns
    west, south, east, north = region.info.bbox
    moved = replace(
        roads, node_lon=roads.node_lon + shift, pt_lon=roads.pt_lon + shift,
        grid_west=roads.grid_west + shift,
    )  # fmt: skip
    info = replace(region.info, bbox=(west + shift, south, east + shift, north))
    return replace(region, info=info, roads=moved)


@pytest.mark.parametrize("turns", [-1, 1])
def test_a_route_is_matched_whatever_side_its_longitudes_are_told_from(
    turns: int, region: Region, route: terrain.Route
) -> None:
    plain = flow.match(route, region)
    turned = flow.match(route, _turned(region, turns))
    assert turned.matched_m == pytest.approx(plain.matched_m, rel=1e-6)


def test_roads_decide_between_boxes_and_a_ferry_is_no_road(
    region: Region, route: terrain.Route, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert road_share(region, route) > 0.9
    assert road_share(region, replace(route, lat=route.lat + 20.0)) == 0.0
    ferries = replace(
        region.roads.ways, flags=np.full_like(region.roads.ways.flags, int(WayFlag.FERRY))
    )
    only_ferry = replace(region, roads=replace(region.roads, ways=ferries))
    assert road_share(only_ferry, route) == 0.0
    # Smaller by its box, yet without a road near the route.
    west, south, east, north = region.info.bbox
    wide = replace(
        region, info=replace(region.info, bbox=(west - 1, south - 1, east + 1, north + 1))
    )
    for pair, wanted in (((only_ferry, wide), wide), ((wide, region), region)):
        monkeypatch.setattr(flow, "region_folders", lambda home: [Path("a"), Path("b")])
        monkeypatch.setattr(flow, "_opened", lambda folders, found=pair: (list(found), []))
        assert flow.find_region(route, Path("home")) is wanted


def test_a_point_without_position_does_not_hide_the_region(
    region: Region, route: terrain.Route
) -> None:
    lon = route.lon.copy()
    lon[1] = np.nan
    assert holds(region.info.bbox, replace(route, lon=lon))
