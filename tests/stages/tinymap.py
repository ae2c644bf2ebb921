"""Small maps drawn by hand, read as OSM files are, and rides along them.

Positions are metres east and north of 0 N 0 E. Every way's ends and every crossing the ways share
become nodes of the road graph.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from xml.sax.saxutils import quoteattr

import numpy as np

from terrain.region.osm import read_osm
from terrain.stages.help import help_fields
from terrain.values.ground import Basis, Evidence, GroundKind, Severity, Stretch
from terrain.values.help import HelpFields
from terrain.values.match import LegKind, Match
from terrain.values.ride import GROUNDS, Ride
from terrain.values.views import PlacesView, RoadsView

EAST_M, NORTH_M = 111_319.49, 110_574.28  # metres in a degree at 0 N on WGS 84

PAVED = {"highway": "tertiary", "surface": "asphalt"}
GRAVEL = {"highway": "unclassified", "surface": "compacted"}
TRACK = {"highway": "track", "surface": "ground", "tracktype": "grade5"}
_P = {
    "asphalt": (0.98, 0.01, 0.01), "compacted": (0.03, 0.92, 0.05), "ground": (0.01, 0.09, 0.90),
}  # fmt: skip
_KPH = {GroundKind.PAVED: 60.0, GroundKind.GRAVEL: 36.0, GroundKind.TRACK: 18.0,
        GroundKind.UNMAPPED: 18.0, GroundKind.FERRY: 20.0}  # fmt: skip


@dataclass
class TinyMap:
    """Nodes by name, ways over named nodes, and points of interest."""

    nodes: dict[str, tuple[float, float]] = field(default_factory=dict)
    ways: list[tuple[tuple[str, ...], Mapping[str, str]]] = field(default_factory=list)
    spots: list[tuple[tuple[float, float], Mapping[str, str]]] = field(default_factory=list)

    def way(self, path: Sequence[str], tags: Mapping[str, str], **more: str) -> TinyMap:
        self.ways.append((tuple(path), {**tags, **more}))
        return self

    def spot(self, xy: tuple[float, float], **tags: str) -> TinyMap:
        self.spots.append((xy, {key.replace("__", ":"): value for key, value in tags.items()}))
        return self

    def write(self, path: Path) -> Path:
        number = {name: i for i, name in enumerate(self.nodes, start=1)}
        lines = ['<?xml version="1.0"?>', '<osm version="0.6">']
        for name, (x, y) in self.nodes.items():
            lines.append(_node(number[name], x, y, {}))
        for i, ((x, y), tags) in enumerate(self.spots, start=1001):
            lines.append(_node(i, x, y, tags))
        for i, (names, tags) in enumerate(self.ways, start=1):
            refs = "".join(f'<nd ref="{number[name]}"/>' for name in names)
            lines.append(f'<way id="{i}" version="1" timestamp="2026-01-01T00:00:00Z">'
                         f"{refs}{_tags(tags)}</way>")  # fmt: skip
        lines.append("</osm>")
        path.write_text("\n".join(lines), encoding="utf-8")
        return path

    def read(self, folder: Path) -> TinyRegion:
        data = read_osm((self.write(folder / "tiny.osm"),), lambda step, share: None)
        names = dict(enumerate(self.nodes, start=1))
        return TinyRegion(roads=data.roads, places=data.places, names=names)


def _tags(tags: Mapping[str, str]) -> str:
    return "".join(f"<tag k={quoteattr(k)} v={quoteattr(v)}/>" for k, v in tags.items())


def _node(number: int, x: float, y: float, tags: Mapping[str, str]) -> str:
    return (
        f'<node id="{number}" version="1" timestamp="2026-01-01T00:00:00Z" '
        f'lon="{x / EAST_M:.7f}" lat="{y / NORTH_M:.7f}">{_tags(tags)}</node>'
    )


@dataclass
class TinyRegion:
    """A tiny map as read, with fields of help."""

    roads: RoadsView
    places: PlacesView
    names: dict[int, str]

    def __post_init__(self) -> None:
        ways = self.roads.ways
        self.way_p = np.array([
            _P.get(ways.surface.text(i) or "", (0.5, 0.3, 0.2)) for i in range(len(ways))
        ])  # fmt: skip
        kph = np.array([_KPH[self.ground(int(k))] for k in self.roads.edge_way])
        self.edge_time_s = self.roads.edge_length_m / kph * 3.6
        ids = enumerate(self.roads.node_id.tolist())
        self.node = {self.names[i]: row for row, i in ids if i in self.names}

    def ground(self, way: int) -> GroundKind:
        if self.roads.ways.highway.text(way) == "ferry":
            return GroundKind.FERRY
        return GROUNDS[int(np.argmax(self.way_p[way]))]

    def fields(self) -> HelpFields:
        return help_fields(self.roads, self.places, way_p=self.way_p, edge_time_s=self.edge_time_s)

    def edge(self, a: str, b: str) -> tuple[int, bool]:
        """The edge between two named nodes of the graph, and whether a is its start."""
        u, v = self.node[a], self.node[b]
        for k in range(self.roads.n_edges):
            ends = int(self.roads.edge_u[k]), int(self.roads.edge_v[k])
            if ends in ((u, v), (v, u)):
                return k, ends == (u, v)
        raise AssertionError(f"no edge from {a} to {b}")

    def ride(self, *names: str, severity: Severity | None = None) -> Ride:
        """A ride over named nodes of the graph."""
        legs = [self.edge(a, b) for a, b in pairwise(names)]
        return ride_of_legs(self, legs, severity=severity)


def ride_of_legs(
    region: TinyRegion, legs: Sequence[tuple[int, bool]], *, severity: Severity | None = None
) -> Ride:
    """One stretch per leg, each leg a whole edge."""
    roads = region.roads
    edge = np.array([k for k, _ in legs], np.int32)
    ahead = np.array([f for _, f in legs])
    length = roads.edge_length_m[edge]
    to_m = np.cumsum(length)
    from_m = to_m - length
    lon, lat, at = [], [], []
    for k, f, start in zip(edge, ahead, from_m, strict=True):
        span = slice(int(roads.edge_start[k]), int(roads.edge_start[k + 1]))
        x, y, m = roads.pt_lon[span], roads.pt_lat[span], roads.pt_at_m[span]
        if not f:
            x, y, m = x[::-1], y[::-1], roads.edge_length_m[k] - m[::-1]
        lon.append(x), lat.append(y), at.append(start + m)
    way = roads.edge_way[edge]
    ground = [region.ground(int(w)) for w in way]
    match = Match(
        kind=np.array([LegKind.FERRY if g is GroundKind.FERRY else LegKind.MATCHED
                       for g in ground], np.int8),
        filled=np.zeros(len(edge), bool), edge=edge, way=way, way_id=roads.ways.way_id[way],
        forward=ahead, edge_from_m=np.where(ahead, 0.0, length),
        edge_to_m=np.where(ahead, length, 0.0), from_m=from_m, to_m=to_m,
        offset_m=np.zeros(len(edge)), lon=np.concatenate(lon), lat=np.concatenate(lat),
        at_m=np.concatenate(at), point_at_m=np.zeros(0),
    )  # fmt: skip
    return ride_on(match, ground, region.way_p, severity=severity, names=region.roads)


def ride_on(
    match: Match,
    ground: Sequence[GroundKind],
    way_p: np.ndarray,
    *,
    severity: Severity | None = None,
    names: RoadsView | None = None,
) -> Ride:
    """A ride with one stretch per leg of a match."""
    from terrain.values.ground import Ground
    from terrain.values.ride import Speeds, ride_of

    stretches = tuple(
        Stretch(
            from_m=float(match.from_m[i]), to_m=float(match.to_m[i]),
            way=int(match.way[i]), way_id=int(match.way_id[i]), highway="track", surface=None,
            name=names.ways.name.text(int(match.way[i])) if names and match.way[i] >= 0 else None,
            ground=kind,
            p=tuple(way_p[match.way[i]].tolist()) if kind in GROUNDS[:3] else None,
            basis=Basis.TAGGED, season_risk=None,
            severity=severity if kind is GroundKind.TRACK else Severity.SMOOTH,
            evidence=Evidence(text=""),
        )
        for i, kind in enumerate(ground)
    )  # fmt: skip
    kph = np.array([_KPH[kind] for kind in ground])
    time_s = (match.to_m - match.from_m) / kph * 3.6
    speeds = Speeds(
        from_m=match.from_m, to_m=match.to_m, speed_kph=kph, low_kph=kph, high_kph=kph,
        time_s=time_s, usual_s=time_s, ground_s=np.repeat(time_s[:, None], 3, axis=1),
        start_s=np.cumsum(time_s) - time_s,
        total_low_s=float(time_s.sum()),
        total_high_s=float(time_s.sum()),
    )  # fmt: skip
    shares = Ground(
        p=np.zeros((len(ground), 3)), basis=np.zeros(len(ground), np.int8),
        severity=np.zeros(len(ground), np.int8), stretches=stretches, shares=None, basis_shares={},
    )  # fmt: skip
    return ride_of(match, shares, speeds)
