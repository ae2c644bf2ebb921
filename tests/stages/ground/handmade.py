"""Small maps and rides drawn by hand for the ground tests."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from terrain.region.graph import arc_columns, kind_columns
from terrain.values.match import LegKind, Match
from terrain.values.views import Category, PlacesView, RoadsView, Texts, WayTable

DEG_M = 111_195.0  # metres in a degree of latitude on a sphere of 6 371 km


@dataclass(frozen=True, kw_only=True)
class DrawnWay:
    """A straight way from (x, y) to (x, y) in metres near 0 N 0 E."""

    way_id: int
    start: tuple[float, float]
    end: tuple[float, float]
    tags: Mapping[str, str] = field(default_factory=dict)
    edited_day: int = 19000
    flags: int = 0


def category(values: Sequence[str | None]) -> Category:
    known = sorted({v for v in values if v is not None})
    codes = [-1 if v is None else known.index(v) for v in values]
    return Category(codes=np.asarray(codes, dtype=np.int16), values=tuple(known))


def texts(values: Sequence[str | None]) -> Texts:
    known = sorted({v for v in values if v is not None})
    raw = [v.encode() for v in known]
    start = np.r_[0, np.cumsum([len(r) for r in raw])].astype(np.int64)
    return Texts(
        codes=np.asarray([-1 if v is None else known.index(v) for v in values], dtype=np.int32),
        start=start,
        blob=np.frombuffer(b"".join(raw) or b"\0", dtype=np.uint8),
    )


def way_table(drawn: Sequence[DrawnWay]) -> WayTable:
    n = len(drawn)

    def tag(key: str) -> list[str | None]:
        return [w.tags.get(key) for w in drawn]

    def number(key: str) -> np.ndarray:
        return np.asarray([float(w.tags.get(key, "nan")) for w in drawn], dtype=np.float32)

    return WayTable(
        way_id=np.asarray([w.way_id for w in drawn], dtype=np.int64),
        flags=np.asarray([w.flags for w in drawn], dtype=np.int32),
        highway=category(tag("highway")),
        surface=category(tag("surface")),
        tracktype=category(tag("tracktype")),
        smoothness=category(tag("smoothness")),
        access=category(tag("access")),
        closed_by=category(tag("closed_by")),
        service=category(tag("service")),
        seasonal=category(tag("seasonal")),
        width_m=number("width"),
        lanes=number("lanes"),
        incline_pct=number("incline"),
        maxspeed_kph=number("maxspeed"),
        oneway=np.zeros(n, dtype=np.int8),
        mtb_scale=np.asarray([int(w.tags.get("mtb:scale", -1)) for w in drawn], dtype=np.int8),
        edited_day=np.asarray([w.edited_day for w in drawn], dtype=np.int32),
        ferry_s=np.full(n, np.nan, dtype=np.float32),
        name=texts(tag("name")),
        ref=texts(tag("ref")),
        conditional=texts(tag("conditional")),
    )


def roads(drawn: Sequence[DrawnWay]) -> RoadsView:
    """Each way one edge; ends at the same spot are one node. No grid index."""
    ends = [w.start for w in drawn] + [w.end for w in drawn]
    spots = sorted(set(ends))
    node = {spot: i for i, spot in enumerate(spots)}
    u = np.asarray([node[w.start] for w in drawn], dtype=np.int32)
    v = np.asarray([node[w.end] for w in drawn], dtype=np.int32)
    lon = np.asarray([x / DEG_M for x, _ in spots])
    lat = np.asarray([y / DEG_M for _, y in spots])
    n = len(drawn)
    length = np.asarray([np.hypot(w.end[0] - w.start[0], w.end[1] - w.start[1]) for w in drawn])
    ways, edge_way = way_table(drawn), np.arange(n, dtype=np.int32)
    arcs = arc_columns(np.concatenate([u, v]), len(spots), length)
    return RoadsView(
        ways=ways,
        node_lon=lon,
        node_lat=lat,
        node_id=np.arange(len(spots), dtype=np.int64),
        edge_way=edge_way,
        edge_length_m=length,
        edge_start=np.arange(0, 2 * n + 1, 2, dtype=np.int32),
        pt_lon=np.stack([lon[u], lon[v]], axis=1).ravel(),
        pt_lat=np.stack([lat[u], lat[v]], axis=1).ravel(),
        pt_edge=np.repeat(np.arange(n, dtype=np.int32), 2),
        pt_at_m=np.stack([np.zeros(n), length], axis=1).ravel(),
        **arcs,
        **kind_columns(ways, arcs["out_arc"], edge_way),
        cell_start=np.zeros(2, dtype=np.int32),
        cell_pt=np.zeros(0, dtype=np.int32),
        grid_west=0.0,
        grid_south=0.0,
        grid_step_lon=1.0,
        grid_step_lat=1.0,
        grid_cols=1,
        grid_rows=1,
    )


def places(spots: Sequence[tuple[int, float, float]] = ()) -> PlacesView:
    """(kind code, x, y) in metres."""
    n = len(spots)
    nothing: list[str | None] = [None] * n
    return PlacesView(
        kind=np.asarray([s[0] for s in spots], dtype=np.int8),
        osm_type=np.zeros(n, dtype=np.int8),
        osm_id=np.arange(n, dtype=np.int64),
        lon=np.asarray([s[1] / DEG_M for s in spots], dtype=np.float64),
        lat=np.asarray([s[2] / DEG_M for s in spots], dtype=np.float64),
        population=np.full(n, np.nan),
        edge=np.full(n, -1, dtype=np.int32),
        edge_at_m=np.full(n, np.nan),
        name=texts(nothing),
        tags=texts(nothing),
    )


def ride(view: RoadsView, legs: Sequence[int | tuple[LegKind, float]]) -> Match:
    """A ride over whole edges (by number), or off them: (kind, metres)."""
    kind, edge, way, length = [], [], [], []
    for leg in legs:
        if isinstance(leg, tuple):
            kind.append(int(leg[0]))
            edge.append(-1)
            way.append(-1)
            length.append(leg[1])
        else:
            kind.append(int(LegKind.MATCHED))
            edge.append(leg)
            way.append(int(view.edge_way[leg]))
            length.append(float(view.edge_length_m[leg]))
    k = len(legs)
    to_m = np.cumsum(np.asarray(length, dtype=np.float64))
    from_m = np.r_[0.0, to_m[:-1]]
    rows = np.asarray(way, dtype=np.int32)
    ids = np.where(rows >= 0, view.ways.way_id[np.maximum(rows, 0)], -1)
    lon, lat = _line(view, edge)
    return Match(
        kind=np.asarray(kind, dtype=np.int8),
        filled=np.zeros(k, dtype=np.bool_),
        edge=np.asarray(edge, dtype=np.int32),
        way=rows,
        way_id=ids.astype(np.int64),
        forward=np.ones(k, dtype=np.bool_),
        edge_from_m=np.where(rows >= 0, 0.0, np.nan),
        edge_to_m=np.where(rows >= 0, np.asarray(length), np.nan),
        from_m=from_m,
        to_m=to_m,
        offset_m=np.where(rows >= 0, 2.0, np.nan),
        lon=lon,
        lat=lat,
        at_m=np.r_[0.0, to_m],
        point_at_m=np.r_[0.0, to_m],
    )


def _line(view: RoadsView, edges: Sequence[int]) -> tuple[np.ndarray, np.ndarray]:
    """Leg ends; off the map the line stays where it was."""
    lon, lat = [0.0], [0.0]
    for i, edge in enumerate(edges):
        if edge >= 0:
            if i == 0:
                lon[0] = float(view.node_lon[view.edge_u[edge]])
                lat[0] = float(view.node_lat[view.edge_u[edge]])
            lon.append(float(view.node_lon[view.edge_v[edge]]))
            lat.append(float(view.node_lat[view.edge_v[edge]]))
        else:
            lon.append(lon[-1])
            lat.append(lat[-1])
    return np.asarray(lon), np.asarray(lat)
