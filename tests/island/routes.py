"""Sample routes on the island, drawn as a rider would plan them on another map.

Each line follows real ways of the island but lies some metres off, as lines drawn on another map
do, and is thinned as planners thin them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Final
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from scipy import sparse
from scipy.sparse import csgraph

from terrain.values.arrays import FloatArray, IntArray
from tests.island.frame import to_lat, to_lon
from tests.island.island import Island
from tests.island.lines import lengths_m, thin_lines
from tests.island.noise import stream

_OFFSET_M: Final = 4.5
_OFFSET_LENGTH_M: Final = 600.0
_THIN_M: Final = 5.0
_STEP_M: Final = 25.0
_SHUT: Final = frozenset({"no", "private", "agricultural", "forestry", "permit"})

# Cost of a metre by highway for riders who look for sealed roads, for a mix, for tracks.
_SEALED: Final[Mapping[str, float]] = {
    "trunk": 1.0, "trunk_link": 1.0, "primary": 1.0, "secondary": 1.1, "tertiary": 2.0,
    "unclassified": 3.0, "residential": 2.5, "living_street": 4.0, "service": 4.0, "ferry": 1.0,
}  # fmt: skip
_MIXED: Final[Mapping[str, float]] = {
    "trunk": 2.5, "trunk_link": 2.5, "primary": 2.2, "secondary": 1.3, "tertiary": 1.0,
    "unclassified": 1.0, "residential": 2.0, "living_street": 4.0, "service": 4.0,
    "track": 1.8, "ferry": 3.0,
}  # fmt: skip
_TRACKS: Final[Mapping[str, float]] = {
    "trunk": 4.0, "trunk_link": 4.0, "primary": 4.0, "secondary": 2.6, "tertiary": 1.7,
    "unclassified": 1.2, "residential": 2.5, "living_street": 4.0, "service": 4.0,
    "track": 1.0, "ferry": 6.0,
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A route to draw: stops as town numbers (see names.TOWNS) or places [km east, north]."""

    file: str
    title: str
    about: str
    stops: tuple[int | tuple[float, float], ...]
    taste: Mapping[str, float]
    sparse_every_m: float | None = None


PLANS: Final = (
    Plan(
        file="coast-road.gpx",
        title="Round the island by the coast road",
        about="The sealed ring road from the main town and back, with fuel in every town.",
        stops=(0, 2, 4, 6, 8, 10, 0),
        taste=_SEALED,
    ),
    Plan(
        file="valleys-and-passes.gpx",
        title="Valleys and passes",
        about="Back roads through the inland valleys; some sealed, some gravel, a few fords.",
        stops=(0, 11, 18, 15, 14, 16, 17, 6),
        taste=_MIXED,
    ),
    Plan(
        file="high-tracks.gpx",
        title="The high crest and the mast track",
        about="Forest lanes, fords and the track to the mast, for light bikes in the dry season.",
        stops=(14, (-5, -1), 13, (-9, 6.1), (-17, 3.6), (-9, 6.1), 13, (-12, -1), 12),
        taste=_TRACKS,
    ),
    Plan(
        file="few-points.gpx",
        title="East loop, points only",
        about="A route of a few points; the road between them is left to the reader.",
        stops=(1, 0, 11, 18, 19, 9, 8, 7, 16, 14, 0),
        taste=_SEALED,
        sparse_every_m=8000.0,
    ),
    Plan(
        file="over-the-strait.gpx",
        title="Over the strait and round the small island",
        about="From the south-east coast by ferry to the small island and once round it.",
        stops=(11, 10, 20, (34.0, -17.2), (36.0, -22.0), (40.0, -20.0), 20),
        taste=_MIXED,
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Graph:
    xy: FloatArray
    tail: IntArray
    head: IntArray
    length_m: FloatArray
    kind: tuple[str, ...]
    forward_only: FloatArray


def write_routes(folder: Path, island: Island) -> tuple[Path, ...]:
    """Write every sample route as GPX 1.1; returns their paths."""
    graph = _graph(island)
    towns = island.place[[spot.node for spot in island.network.towns]]
    paths = []
    for plan in PLANS:
        line = _line(graph, plan, towns)
        path = folder / plan.file
        path.write_bytes(_gpx(plan, line, island).encode())
        paths.append(path)
    return tuple(paths)


def _graph(island: Island) -> _Graph:
    """Segments of the ways open to a motorcycle, between their points."""
    ways = [
        (way, tags)
        for way, tags in zip(island.ways, island.tagged.tags, strict=True)
        if not _shut(tags) and way.kind != "path"
    ]
    every = np.concatenate([way.xy for way, _ in ways])
    whole = np.round(every * 100).astype(np.int64)
    _, first, node = np.unique(
        (whole[:, 0] << 32) + whole[:, 1], return_index=True, return_inverse=True
    )
    sizes = np.array([len(way.xy) for way, _ in ways])
    last = np.cumsum(sizes) - 1
    inner = np.setdiff1d(np.arange(len(every)), last)
    owner = np.repeat(np.arange(len(ways)), sizes)[inner]
    xy = every[first]
    tail, head = node[inner], node[inner + 1]
    return _Graph(
        xy=xy,
        tail=tail,
        head=head,
        length_m=np.hypot(*(xy[tail] - xy[head]).T),
        kind=tuple(ways[k][0].kind for k in owner),
        forward_only=np.array([ways[k][1].get("oneway") == "yes" for k in owner]),
    )


def _shut(tags: Mapping[str, str]) -> bool:
    keys = ("motorcycle", "motor_vehicle", "access")
    return any(tags.get(key) in _SHUT for key in keys)


def _line(graph: _Graph, plan: Plan, towns: FloatArray) -> FloatArray:
    """Points of the cheapest ride through the stops of a plan."""
    weight = np.array([plan.taste.get(kind, 0.0) for kind in graph.kind])
    ok = weight > 0
    cost = np.maximum(1, np.round(100 * graph.length_m * weight))
    both = ok & ~graph.forward_only.astype(np.bool_)
    n = len(graph.xy)
    matrix = sparse.coo_matrix(
        (
            np.concatenate((cost[ok], cost[both])),
            (
                np.concatenate((graph.tail[ok], graph.head[both])),
                np.concatenate((graph.head[ok], graph.tail[both])),
            ),
        ),
        shape=(n, n),
    ).tocsr()
    _, part = csgraph.connected_components(matrix, connection="strong")
    main = np.flatnonzero(part == np.bincount(part).argmax())
    stops = []
    for stop in plan.stops:
        want = towns[stop] if isinstance(stop, int) else np.array(stop) * 1000
        stops.append(int(main[np.argmin(np.hypot(*(graph.xy[main] - want).T))]))
    ride = [stops[0]]
    for a, b in pairwise(stops):
        _, before = csgraph.dijkstra(matrix, indices=[a], return_predecessors=True)
        leg = [b]
        while leg[-1] != a:
            leg.append(int(before[0, leg[-1]]))
        ride.extend(leg[-2::-1])
    return graph.xy[ride]


def _as_planned(line: FloatArray, purpose: str) -> FloatArray:
    """The line as drawn on another map: smoothly some metres off, and thinned."""
    along = lengths_m(line)
    at = np.unique(np.concatenate((along, np.arange(0, along[-1], _STEP_M))))
    dense = np.column_stack([np.interp(at, along, line[:, c]) for c in (0, 1)])
    rng = stream(f"offset {purpose}")
    knots = np.arange(0, along[-1] + 2 * _OFFSET_LENGTH_M, _OFFSET_LENGTH_M)
    draw = rng.random((4, len(knots), 2)).sum(axis=0) - 2
    shift = 3 * (rng.random(2) - 0.5)
    off = np.column_stack([np.interp(at, knots, draw[:, c]) for c in (0, 1)])
    moved = dense + _OFFSET_M * 1.7 * off + shift
    return thin_lines([moved], _THIN_M)[0]


def _sparse(line: FloatArray, every_m: float) -> FloatArray:
    """Points on the line at about equal distances, both ends included."""
    along = lengths_m(line)
    n = max(2, round(along[-1] / every_m) + 1)
    at = np.linspace(0, along[-1], n)
    at[1:-1] += 900 * (stream("few points").random(n - 2) - 0.5)
    return np.column_stack([np.interp(at, along, line[:, c]) for c in (0, 1)])


def _gpx(plan: Plan, line: FloatArray, island: Island) -> str:
    drawn = _as_planned(line, plan.file)
    out = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<gpx version="1.1" creator="invented island" '
        'xmlns="http://www.topografix.com/GPX/1/1" '
        'xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" '
        'xsi:schemaLocation="http://www.topografix.com/GPX/1/1 '
        'http://www.topografix.com/GPX/1/1/gpx.xsd">',
        "  <metadata>",
        f"    <name>{escape(plan.title)}</name>",
        f"    <desc>{escape(plan.about)}</desc>",
        "  </metadata>",
    ]
    for name, symbol, xy in _waypoints(plan, line, island):
        out.append(f"  <wpt {_at(xy)}>")
        out.append(f"    <name>{escape(name)}</name>")
        out.append(f"    <sym>{escape(symbol)}</sym>")
        out.append("  </wpt>")
    if plan.sparse_every_m is None:
        out += ["  <trk>", f"    <name>{escape(plan.title)}</name>", "    <trkseg>"]
        out += [f"      <trkpt {_at(xy)}/>" for xy in drawn]
        out += ["    </trkseg>", "  </trk>"]
    else:
        points = _sparse(line, plan.sparse_every_m)
        out += ["  <rte>", f"    <name>{escape(plan.title)}</name>"]
        for k, xy in enumerate(points):
            out.append(f"    <rtept {_at(xy)}>")
            out.append(f"      <name>{k + 1:02d}</name>")
            out.append("    </rtept>")
        out.append("  </rte>")
    out.append("</gpx>")
    return "\n".join(out) + "\n"


def _at(xy: FloatArray) -> str:
    lat, lon = float(to_lat(xy[1])), float(to_lon(xy[0]))
    return f"lat={quoteattr(f'{lat:.6f}')} lon={quoteattr(f'{lon:.6f}')}"


def _waypoints(plan: Plan, line: FloatArray, island: Island) -> list[tuple[str, str, FloatArray]]:
    """Towns the plan stops at, and passes on its way."""
    towns = [spot.node for spot in island.network.towns]
    found = [
        (island.places.names[stop], "Town", island.place[towns[stop]])
        for stop in dict.fromkeys(plan.stops)
        if isinstance(stop, int)
    ]
    for xy, tags in zip(island.places.spots, island.places.spot_tags, strict=True):
        if "mountain_pass" in tags and np.hypot(*(line - xy).T).min() < 30:
            found.append((tags["name"], "Summit", xy))
    return found
