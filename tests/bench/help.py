"""What help and plan cost: share of a region's build, and time added to a 500 km report.

Run by hand: python -m tests.bench.help FOLDER, with the folder of real open data laid beside the
checkout (osm/*.osm.pbf). Times are processor time, and beside them stands what a library's search
takes in the same run: processor time, too, is longer on a busy machine.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import NamedTuple

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra

from terrain.calc.paths import length_of, pieces_of_nodes
from terrain.calc.search import RoadNet, node_seeds, search, walk
from terrain.region.osm import MapData, read_osm
from terrain.stages.days import choose_days
from terrain.stages.detours import find_detours
from terrain.stages.exits import find_exits
from terrain.stages.help import help_fields, judge_help
from terrain.stages.plan.make import plan_stops
from terrain.stages.speed.edges import edge_speed_kph
from terrain.stages.speed.pace import rider_of
from terrain.stages.ways.fit import fit_way_ground
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.tables.speed import BREAKDOWN_VAN
from terrain.values.help import HelpFields
from terrain.values.ride import Ride
from terrain.values.trip import Trip
from terrain.values.views import WayFlag
from tests.stages.tinymap import TinyRegion, ride_of_legs

RIDE_M = 500_000.0
_GRID = 200  # nodes along a side of the grid that the library searches
EXTRACTS = (
    "andorra-2023-05-02.osm.pbf", "malta-2018-08-27.osm.pbf", "faroe-islands-2017-02-18.osm.pbf",
)  # fmt: skip


class Cost(NamedTuple):
    """Seconds of processor time by step."""

    read_s: float
    ground_s: float
    help_s: float

    @property
    def share(self) -> float:
        """What help adds to the rest of a build (writing left out, which only lowers it)."""
        return self.help_s / (self.read_s + self.ground_s)


def build(path: Path) -> tuple[MapData, np.ndarray, HelpFields, Cost]:
    """The steps of a build that matter here."""
    start = time.process_time()
    data = read_osm((path,), lambda step, share: None)
    read = time.process_time()
    way_p = fit_way_ground(data.roads, data.places).p.astype(np.float64)
    ground = time.process_time()
    kph = [
        edge_speed_kph(data.roads, way_p, traveller=who)
        for who in (rider_of(Trip()), BREAKDOWN_VAN)
    ]
    length = data.roads.edge_length_m
    fields = help_fields(
        data.roads, data.places, way_p=way_p, edge_time_s=3.6 * length / kph[0],
        edge_van_s=3.6 * length / kph[1],
    )  # fmt: skip
    cost = Cost(read - start, ground - read, time.process_time() - ground)
    return data, way_p, fields, cost


def long_ride(region: TinyRegion, fields: HelpFields, length_m: float = RIDE_M) -> Ride:
    """Shortest ways between random places, one after the other, on land."""
    roads, rng = region.roads, np.random.default_rng(5)
    ferry = (roads.ways.flags[roads.edge_way] & int(WayFlag.FERRY)) != 0
    net = RoadNet(roads, fields.edge_open & ~ferry, fields.edge_time_s.astype(float), reverse=True)
    # Places of the largest connected part, by what most goals can be reached from.
    ends = np.unique(roads.edge_u[fields.edge_paved & ~ferry])
    tries = [
        search(net.graph, roads.edge_length_m, node_seeds([goal])).cost[ends]
        for goal in rng.choice(ends, 12).tolist()
    ]
    open_ends = ends[~np.isnan(max(tries, key=lambda cost: int((~np.isnan(cost)).sum())))]
    here, legs, total = int(open_ends[0]), list[tuple[int, bool]](), 0.0
    while total < length_m:
        goal = int(rng.choice(open_ends))
        found = search(net.graph, roads.edge_length_m, node_seeds([goal]))
        if goal == here or np.isnan(found.cost[here]):
            continue
        pieces = pieces_of_nodes(
            roads, walk(found.before, here), fields.edge_open & ~ferry, roads.edge_length_m
        )
        legs += [(piece.edge, piece.to_m > piece.from_m) for piece in pieces]
        total += length_of(pieces)
        here = goal
    return ride_of_legs(region, legs)


def grid_search_s() -> float:
    """Processor time of scipy's Dijkstra from four nodes of a grid of 40,000."""
    node = np.arange(_GRID**2).reshape(_GRID, _GRID)
    tail = np.concatenate((node[:, :-1].ravel(), node[:-1].ravel()))
    head = np.concatenate((node[:, 1:].ravel(), node[1:].ravel()))
    length = np.random.default_rng(1).uniform(50.0, 500.0, len(tail))
    ends = np.concatenate((tail, head)), np.concatenate((head, tail))
    graph = coo_array((np.tile(length, 2), ends), shape=(node.size, node.size)).tocsr()
    start = time.process_time()
    dijkstra(graph, indices=np.linspace(0, node.size - 1, 4).astype(int))
    return time.process_time() - start


class Asked(NamedTuple):
    """A region and a long ride through it, to ask for help, ways out, ways round and plan."""

    data: MapData
    way_p: np.ndarray
    fields: HelpFields
    ride: Ride


def asked(data: MapData, way_p: np.ndarray, fields: HelpFields) -> Asked:
    """A ride of 500 km through the region, the same each time."""
    region = TinyRegion(roads=data.roads, places=data.places, names={})
    region.way_p = way_p
    return Asked(data, way_p, fields, long_ride(region, fields))


def stages_s(of: Asked) -> dict[str, float]:
    """Processor time that each stage adds to the report of a ride."""
    ride, fields, rules = of.ride, of.fields, DEFAULT_FLEET.rules
    roads, places = of.data.roads, of.data.places
    marks = [time.process_time()]
    exits = find_exits(ride, roads, fields)
    marks.append(time.process_time())
    help_ = judge_help(ride, roads, places, fields, fleet=DEFAULT_FLEET, exits=exits)
    marks.append(time.process_time())
    find_detours(ride, roads, fields, way_p=of.way_p, remote=help_.remote)
    marks.append(time.process_time())
    days = choose_days(ride, roads, places, fields, rules=rules, trip=Trip())
    plan_stops(
        ride, days, places, fields, bikes=DEFAULT_FLEET.classes, rules=rules, trip=Trip(),
        exits=exits,
    )  # fmt: skip
    marks.append(time.process_time())
    return dict(zip(("exits", "help", "detours", "plan"), np.diff(marks).tolist(), strict=True))


def main(folder: Path) -> None:
    build(folder / "osm" / EXTRACTS[-1])  # loads what is compiled
    for name in EXTRACTS:
        data, way_p, fields, cost = build(folder / "osm" / name)
        print(
            f"{name}: {data.roads.n_nodes} nodes; read {cost.read_s:.2f} s, ground "
            f"{cost.ground_s:.2f} s, help {cost.help_s:.2f} s = {cost.share:.0%}"
        )
        of = asked(data, way_p, fields)
        rounds = [stages_s(of) for _ in range(5)]
        spent = {key: min(found[key] for found in rounds) for key in rounds[0]}
        all_s, grid_s = sum(spent.values()), min(grid_search_s() for _ in range(5))
        told = ", ".join(f"{key} {value * 1000:.0f} ms" for key, value in spent.items())
        print(
            f"  500 km over {len(of.ride.match.edge)} legs: {told}; in all {all_s * 1000:.0f} ms, "
            f"{all_s / grid_s:.1f} times the library's four searches of {grid_s * 1000:.0f} ms"
        )


if __name__ == "__main__":
    main(Path(sys.argv[1]))
