"""The whole invented island, drawn in memory: the order of the work."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.values.arrays import FloatArray, Int8Array, IntArray
from terrain.values.ground import GroundKind
from tests.island.areas import limited_areas
from tests.island.benches import cut_benches
from tests.island.ground import GROUNDS, TrueGround, lay_ground
from tests.island.land import Land, make_land
from tests.island.names import ISLAND, first_names, words
from tests.island.naming import name_roads
from tests.island.network import Network, make_network
from tests.island.osm_file import FIRST_WAY_ID, Drawing
from tests.island.paths import make_board
from tests.island.places import Places, make_places
from tests.island.roads import Line, connected, join_crossings, through_roads, without_curls
from tests.island.streets import streets
from tests.island.tagging import Tagged, tag_ways
from tests.island.water import RIVER_M2, Water, make_water, water_crossings
from tests.island.ways import CutRoads, Way, cut_roads
from tests.island.works import Place, build_works, close_zone, gates, over_or_under


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Island:
    """Everything that was drawn.

    place : where the network's nodes came to lie [m], shape (nodes, 2)
    """

    land: Land
    network: Network
    place: FloatArray
    ways: tuple[Way, ...]
    ground: TrueGround
    tagged: Tagged
    places: Places
    drawing: Drawing


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class IslandTruth:
    """What really lies on each way: for tests that score an estimate, never for the program.

    way_id : OSM way ids, shape (w,); ground : row in `kinds`, -1 on ferries
    """

    way_id: IntArray
    ground: Int8Array
    surface: tuple[str, ...]
    kinds: tuple[GroundKind, ...] = GROUNDS


def draw_island() -> Island:
    """The island, the same each time."""
    land = make_land()
    board = make_board(land)
    network = make_network(land, board)
    roads, place = through_roads(network)
    roads = build_works(land, network, place, without_curls(roads))
    land = cut_benches(land, roads)
    roads = close_zone(roads + streets(land, network, place, roads))
    roads = join_crossings(roads, {k for k, road in enumerate(roads) if over_or_under(road)})
    roads, barriers = gates(_reachable(roads))
    water = make_water(land)
    cut = cut_roads(roads, water_crossings(roads, water))
    towns = place[[spot.node for spot in network.towns]]
    ground = lay_ground(land, cut.ways, towns)
    tagged = tag_ways(cut.ways, ground)
    places = make_places(land, network, place, roads)
    settlements = place[[s.node for s in (*network.towns, *network.hamlets)]]
    tags = [dict(t) for t in tagged.tags]
    name_roads(cut.ways, tags, ground, settlements, places.names)
    return Island(
        land=land,
        network=network,
        place=place,
        ways=cut.ways,
        ground=ground,
        tagged=tagged,
        places=places,
        drawing=_drawing(cut, tags, tagged, places, water, barriers, limited_areas(land)),
    )


def island_truth(island: Island) -> IslandTruth:
    """The true ground of the island's ways by their ids in the file."""
    return IslandTruth(
        way_id=FIRST_WAY_ID + np.arange(len(island.ways)),
        ground=island.ground.ground,
        surface=island.ground.surface,
    )


def _reachable(roads: list[Line]) -> list[Line]:
    """Without the scraps that hang on nothing; the larger ones stay, as in real maps."""
    part = connected(roads)
    size = np.bincount(part, weights=[road.length_m for road in roads])
    return [road for road, p in zip(roads, part, strict=True) if size[p] > 1200]


def _river_tags(water: Water) -> list[dict[str, str]]:
    """River lines with a name where they are large enough to have one."""
    names = words("rivers", len(water.lines), first_names())
    tags = []
    for line, area, name in zip(water.lines, water.area_m2, names, strict=True):
        tags.append({"waterway": line.kind})
        if area >= RIVER_M2:
            tags[-1]["name"] = f"{name} River"
    return tags


def _drawing(
    cut: CutRoads,
    tags: list[dict[str, str]],
    tagged: Tagged,
    places: Places,
    water: Water,
    barriers: dict[Place, dict[str, str]],
    areas: list[tuple[FloatArray, dict[str, str]]],
) -> Drawing:
    rivers = _river_tags(water)
    coast = [{"natural": "coastline"} for _ in water.coast]
    extra = [*[w.xy for w in water.lines], *[c.xy for c in water.coast], *places.buildings]
    extra += [ring for ring, _ in areas]
    extra_tags = [*rivers, *coast, *[dict(t) for t in places.building_tags]]
    extra_tags += [area_tags for _, area_tags in areas]
    day = np.concatenate((tagged.edited_day, np.full(len(extra), 18_900)))
    points = {**cut.points, **barriers}
    spots = np.concatenate((np.array(list(points)).reshape(-1, 2), places.spots))
    first_building = len(cut.ways) + len(rivers) + len(coast)
    hospital = first_building + len(places.buildings) - 1
    ring_road = [k for k, t in enumerate(tags) if t.get("ref") == "R1"]
    return Drawing(
        lines=(*[w.xy for w in cut.ways], *extra),
        way_tags=(*tags, *extra_tags),
        edited_day=day,
        version=np.concatenate((tagged.version, np.full(len(extra), 2))),
        spots=spots,
        spot_tags=(*points.values(), *places.spot_tags),
        relations=(
            (
                tuple(("w", k, "") for k in ring_road),
                {"type": "route", "route": "road", "ref": "R1", "name": "Coast Road"},
            ),
            (
                (("w", hospital, "outer"),),
                {"type": "multipolygon", "amenity": "clinic", "name": f"{ISLAND} North Clinic"},
            ),
        ),
    )
