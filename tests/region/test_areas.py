"""Areas of an extract: rings put together from ways, against the map reader's own."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import osmium
import pytest
import shapely

from terrain.region.build import no_progress
from terrain.region.osm import read_osm
from terrain.region.place_tags import READ_TAGS, area_kind
from terrain.values.places import AreaKind, AreasView
from tests.region.osm_xml import OsmXml, crossing


def read(*paths: Path) -> AreasView:
    return read_osm(paths, no_progress).areas


def shapes(areas: AreasView) -> list[tuple[str, int, shapely.Geometry]]:
    """Name, kind and shape; a point lies within if it lies within an odd number of rings."""
    out = []
    for i, name in enumerate(areas.name):
        shape: Any = shapely.Polygon()
        for ring in np.flatnonzero(areas.ring_area == i):
            part = slice(areas.ring_start[ring], areas.ring_start[ring + 1])
            drawn = shapely.Polygon(np.column_stack([areas.lon[part], areas.lat[part]]))
            shape = shapely.symmetric_difference(shape, drawn)
        out.append((name, int(areas.kind[i]), shape))
    return out


def peers_shapes(path: Path) -> list[tuple[str, int, shapely.Geometry]]:
    """The same as the map reader itself puts areas together."""
    wanted, factory = osmium.filter.TagFilter(*READ_TAGS), osmium.geom.WKBFactory()
    out = []
    for item in osmium.FileProcessor(path).with_areas(wanted).with_filter(wanted):
        kind = area_kind(dict(item.tags)) if isinstance(item, osmium.osm.Area) else None
        if kind is not None:
            drawn = shapely.from_wkb(factory.create_multipolygon(item))
            out.append((item.tags.get("name", ""), int(kind), drawn))
    return out


@pytest.mark.parametrize(
    "name",
    ["malta-2018-08-27.osm.pbf", "andorra-2021-10-28.osm.pbf", "andorra-2023-05-02.osm.pbf",
     "porto-2020-07-19.osm.pbf", "krems-2013-12-16.osm.gz"],
)  # fmt: skip
def test_real_areas_are_those_of_the_map_reader(shared_data: Path, name: str) -> None:
    path = shared_data / "osm" / name
    ours, theirs = shapes(read(path, path)), peers_shapes(path)  # a file given twice counts once
    assert len(ours) == len(theirs) > 0
    for said, kind, shape in theirs:
        alike = [own for own in ours if own[:2] == (said, kind)]
        apart = min(shapely.hausdorff_distance(shape, own[2]) for own in alike)
        assert apart < 1.5e-4  # corners of 1e-4 degrees are left out


def square(osm: OsmXml, first: int, west: float, south: float, side: float) -> list[int]:
    """Four corners; their ids."""
    corners = ((0, 0), (side, 0), (side, side), (0, side))
    for i, (dx, dy) in enumerate(corners):
        osm.node(first + i, west + dx, south + dy)
    return list(range(first, first + 4))


def test_rings_of_several_ways_and_a_hole(tmp_path: Path) -> None:
    """Worked by hand: a square of .04 degrees in two halves, a hole of .02, is .0012 square."""
    osm = crossing()
    a, b, c, d = square(osm, 900, 10.0, 45.0, 0.04)
    hole = square(osm, 910, 10.01, 45.01, 0.02)
    osm.way(90, [a, b, c], {"highway": "track"})  # a part with tags of its own is a part still
    osm.way(91, [a, d, c], {})
    osm.way(92, [*hole, hole[0]], {"landuse": "grass"})
    members = [("way", 90, "outer"), ("way", 91, "outer"), ("way", 92, "inner")]
    osm.relation(9, members, {"type": "multipolygon", "landuse": "military", "name": "Range"})
    osm.relation(8, members, {"type": "collection", "landuse": "military"})
    ((name, kind, shape),) = shapes(read(osm.write(tmp_path / "a.osm")))
    assert (name, kind, shapely.area(shape)) == ("Range", AreaKind.MILITARY, pytest.approx(0.0012))


def test_what_does_not_close_is_left_out(tmp_path: Path) -> None:
    osm = crossing()
    a, b, c, d = square(osm, 900, 10.0, 45.0, 0.04)
    military = {"landuse": "military"}
    osm.way(90, [a, b, c], military)
    osm.way(91, [a, b, c, a], military | {"area": "no"})
    osm.way(92, [a, b, c, 999, a], military)  # a corner that the extract lacks
    osm.way(93, [c, d, a], {})
    cut = [("way", 90, ""), ("way", 93, ""), ("way", 998, "")]  # a way that the extract lacks
    osm.relation(9, cut, military | {"type": "boundary"})
    osm.relation(8, cut[:2], military | {"type": "boundary", "name": "whole"})
    assert read(osm.write(tmp_path / "a.osm")).name == ("whole",)


def test_a_ring_with_a_spike_or_a_loop_is_an_area_still(tmp_path: Path) -> None:
    """By hand: a square of .04 degrees with a line out and back; two triangles that meet."""
    osm = crossing()
    a, b, c, d = square(osm, 900, 10.0, 45.0, 0.04)
    out = osm.node(950, 10.08, 45.0)
    osm.way(90, [a, b, out, b, c, d, a], {"landuse": "military", "name": "spike"})
    osm.way(91, [a, c, b, d, a], {"landuse": "military", "name": "bow"})
    told = {
        name: shapely.area(shape) for name, _, shape in shapes(read(osm.write(tmp_path / "a.osm")))
    }
    assert told == pytest.approx({"spike": 0.0016, "bow": 0.0008})


def test_a_file_out_of_order_tells_its_areas(tmp_path: Path) -> None:
    osm = crossing()
    corners = square(osm, 900, 10.0, 45.0, 0.04)
    osm.way(99, [*corners, 900], {"leisure": "nature_reserve", "name": "late"})
    osm.way(98, [*corners, 900], {"military": "range", "name": "early"})
    assert read(osm.write(tmp_path / "a.osm")).name == ("late", "early")


def test_tags() -> None:
    """Sources: the OSM wiki pages of the tags; a bunker keeps no road closed."""
    assert area_kind({"landuse": "military"}) is AreaKind.MILITARY
    assert area_kind({"military": "danger_area"}) is AreaKind.MILITARY
    assert area_kind({"military": "bunker", "building": "yes"}) is None
    assert area_kind({"boundary": "national_park"}) is AreaKind.PROTECTED
    assert area_kind({"leisure": "nature_reserve"}) is AreaKind.PROTECTED
    assert area_kind({"boundary": "administrative"}) is None
