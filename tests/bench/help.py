"""What help and plan cost: share of a region's build, and time added to a 500 km report.

Run by hand: python -m tests.bench.help FOLDER, with the folder of real open data laid beside the
checkout (osm/*.osm.pbf). Times are processor time, so that a busy machine does not matter.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import NamedTuple

import numpy as np

from terrain.calc.paths import length_of, pieces_of_nodes
from terrain.calc.search import RoadNet, node_seeds, search, walk
from terrain.region.osm import MapData, read_osm
from terrain.stages.detours import find_detours
from terrain.stages.exits import find_exits
from terrain.stages.ground import fit_way_ground
from terrain.stages.help import help_fields, judge_help
from terrain.stages.plan import choose_days, make_plan
from terrain.stages.speed import BREAKDOWN_VAN, edge_speed_kph, rider_of
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.help import HelpFields
from terrain.values.trip import Trip
from terrain.values.views import WayFlag
from tests.stages.tinymap import TinyRegion, ride_of_legs

RIDE_M = 500_000.0
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


def long_ride(region: TinyRegion, fields: HelpFields, length_m: float = RIDE_M):
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


def report_s(data: MapData, way_p: np.ndarray, fields: HelpFields) -> dict[str, float]:
    """Processor time that each stage adds to a 500 km report, the best of three."""
    region = TinyRegion(roads=data.roads, places=data.places, names={})
    region.way_p = way_p
    ride = long_ride(region, fields)
    roads, places, rules = data.roads, data.places, DEFAULT_FLEET.rules
    best: dict[str, float] = {"legs": len(ride.match.edge)}
    for _ in range(3):
        marks = [time.process_time()]
        exits = find_exits(ride, roads, fields)
        marks.append(time.process_time())
        help_ = judge_help(ride, roads, places, fields, fleet=DEFAULT_FLEET, exits=exits)
        marks.append(time.process_time())
        find_detours(ride, roads, fields, way_p=way_p, remote=help_.remote)
        marks.append(time.process_time())
        days = choose_days(ride, roads, places, fields, rules=rules, trip=Trip())
        make_plan(
            ride, days, places, fields, bikes=DEFAULT_FLEET.classes, rules=rules, trip=Trip(),
            exits=exits,
        )  # fmt: skip
        marks.append(time.process_time())
        for name, spent in zip(("exits", "help", "detours", "plan"), np.diff(marks), strict=True):
            best[name] = min(best.get(name, np.inf), float(spent))
    return best


def main(folder: Path) -> None:
    build(folder / "osm" / EXTRACTS[-1])  # loads what is compiled
    for name in EXTRACTS:
        data, way_p, fields, cost = build(folder / "osm" / name)
        print(
            f"{name}: {data.roads.n_nodes} nodes; read {cost.read_s:.2f} s, ground "
            f"{cost.ground_s:.2f} s, help {cost.help_s:.2f} s = {cost.share:.0%}"
        )
        spent = report_s(data, way_p, fields)
        legs = int(spent.pop("legs"))
        told = ", ".join(f"{key} {value * 1000:.0f} ms" for key, value in spent.items())
        print(f"  500 km over {legs} legs: {told}; in all {sum(spent.values()) * 1000:.0f} ms")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
