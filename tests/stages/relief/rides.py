"""Rides for the relief tests: drawn by hand, or along the shortest road between two places."""

from __future__ import annotations

from itertools import pairwise

import networkx as nx
import numpy as np

from terrain.calc.geodesy import along_m
from terrain.values.match import LegKind, Match
from terrain.values.route import Route, RouteKind
from terrain.values.views import Category, RoadsView, Texts, WayFlag, WayTable

Place = tuple[float, float]


def ride_along(
    lon: np.ndarray,
    lat: np.ndarray,
    *,
    at_m: np.ndarray | None = None,
    legs: list[tuple[float, LegKind, int]] | None = None,
    breaks_m: tuple[float, ...] = (),
) -> Match:
    """A ride over the points; legs are (end [m], kind, way row), the whole off the map if none."""
    at = along_m(lon, lat) if at_m is None else at_m
    legs = legs or [(float(at[-1]), LegKind.UNMAPPED, -1)]
    n = len(legs)
    to_m = np.array([end for end, _, _ in legs])
    way = np.array([row for _, _, row in legs], dtype=np.int32)
    return Match(
        kind=np.array([kind for _, kind, _ in legs], dtype=np.int8),
        filled=np.zeros(n, dtype=bool),
        edge=way.copy(),
        way=way,
        way_id=way.astype(np.int64),
        forward=np.ones(n, dtype=bool),
        edge_from_m=np.full(n, np.nan),
        edge_to_m=np.full(n, np.nan),
        from_m=np.r_[0.0, to_m[:-1]],
        to_m=to_m,
        offset_m=np.full(n, np.nan),
        lon=lon,
        lat=lat,
        at_m=at,
        point_at_m=at.copy(),
        breaks_m=breaks_m,
    )


def roads_of(ways: list[tuple[str, WayFlag]]) -> RoadsView:
    """Ways with a class and flags, and no graph: relief asks no more."""
    n = len(ways)
    names = tuple(dict.fromkeys(highway for highway, _ in ways))
    none = Category(codes=np.full(n, -1, np.int16), values=())
    text = Texts(
        codes=np.full(n, -1, np.int32), start=np.zeros(1, np.int64), blob=np.zeros(0, np.uint8)
    )
    nan = np.full(n, np.nan, np.float32)
    table = WayTable(
        way_id=np.arange(n, dtype=np.int64),
        flags=np.array([int(flags) for _, flags in ways], dtype=np.int32),
        highway=Category(
            codes=np.array([names.index(h) for h, _ in ways], dtype=np.int16), values=names
        ),
        surface=none, tracktype=none, smoothness=none, access=none, closed_by=none, service=none,
        seasonal=none,
        width_m=nan, lanes=nan, incline_pct=nan, maxspeed_kph=nan, oneway=np.zeros(n, np.int8),
        mtb_scale=np.full(n, -1, np.int8),
        edited_day=np.full(n, -1, np.int32), ferry_s=nan, name=text, ref=text, conditional=text,
    )  # fmt: skip
    i32, f64 = np.zeros(0, np.int32), np.zeros(0)
    return RoadsView(
        ways=table, node_lon=f64, node_lat=f64, node_id=np.zeros(0, np.int64), edge_u=i32,
        edge_v=i32, edge_way=i32, edge_length_m=f64, edge_start=np.zeros(1, np.int32), pt_lon=f64,
        pt_lat=f64, pt_edge=i32, pt_at_m=f64, out_start=np.zeros(1, np.int32), out_arc=i32,
        arc_head=i32, arc_length_m=f64, arc_kind=i32, way_kind=i32, kind_way=i32,
        cell_start=np.zeros(1, np.int32), cell_pt=i32, grid_west=0.0, grid_south=0.0,
        grid_step_lon=1.0, grid_step_lat=1.0, grid_cols=0, grid_rows=0,
    )  # fmt: skip


NO_ROADS = roads_of([])


class ShortestRoads:
    """Shortest ways by road between places, by networkx."""

    def __init__(self, roads: RoadsView) -> None:
        self.roads = roads
        self.graph = nx.MultiGraph()
        ways = roads.ways
        for edge in range(roads.n_edges):
            way = int(roads.edge_way[edge])
            if ways.flags[way] & int(WayFlag.PATH | WayFlag.FERRY):
                continue
            if ways.highway.text(way) == "track":
                continue
            u, v = int(roads.edge_u[edge]), int(roads.edge_v[edge])
            self.graph.add_edge(u, v, key=edge, length=float(roads.edge_length_m[edge]))
        self.nodes = np.array(sorted(self.graph.nodes))

    def nearest(self, place: Place) -> int:
        lon, lat = place
        east = (self.roads.node_lon[self.nodes] - lon) * np.cos(np.radians(lat))
        north = self.roads.node_lat[self.nodes] - lat
        return int(self.nodes[np.argmin(east**2 + north**2)])

    def ride(self, *places: Place) -> Match:
        """The ride through the places by the shortest roads."""
        nodes = [self.nearest(place) for place in places]
        steps: list[tuple[int, int]] = []
        for start, end in pairwise(nodes):
            path = nx.shortest_path(self.graph, start, end, weight="length")
            for u, v in pairwise(path):
                between = self.graph[u][v]
                steps.append((min(between, key=lambda e: between[e]["length"]), u))
        return self._laid(steps)

    def _laid(self, steps: list[tuple[int, int]]) -> Match:
        roads = self.roads
        lon, lat, at, legs, length = [], [], [], [], 0.0
        for edge, start in steps:
            points = slice(roads.edge_start[edge], roads.edge_start[edge + 1])
            x, y, m = roads.pt_lon[points], roads.pt_lat[points], roads.pt_at_m[points]
            whole = float(roads.edge_length_m[edge])
            if int(roads.edge_u[edge]) != start:
                x, y, m = x[::-1], y[::-1], whole - m[::-1]
            lon.append(x)
            lat.append(y)
            at.append(m + length)
            length += whole
            at[-1] = np.r_[at[-1][:-1], length]
            legs.append((length, LegKind.MATCHED, int(roads.edge_way[edge])))
        return ride_along(
            np.concatenate(lon), np.concatenate(lat), at_m=np.concatenate(at), legs=legs
        )


def route_each(match: Match, spacing_m: float) -> Route:
    """The ride as a planner would hand it over, a point each spacing_m."""
    at = np.append(np.arange(0, match.length_m, spacing_m), match.length_m)
    n = len(at)
    return Route(
        name="thinned",
        kind=RouteKind.TRACK,
        lon=np.interp(at, match.at_m, match.lon),
        lat=np.interp(at, match.at_m, match.lat),
        ele_m=np.full(n, np.nan),
        piece=np.zeros(n, dtype=np.int32),
        shaping=np.zeros(n, dtype=bool),
        planned=np.zeros(n, dtype=bool),
    )
