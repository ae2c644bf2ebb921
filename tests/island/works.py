"""Built works of the island: a dual carriageway, roundabouts, a tunnel, a ferry, closed land."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np

from terrain.values.arrays import BoolArray, FloatArray
from tests.island.land import Land
from tests.island.lines import lengths_m, thin_lines
from tests.island.network import Network, node_xy
from tests.island.noise import stream
from tests.island.roads import Line, cut_line, ele_at, insert_points, point_at

_HALF_GAP_M: Final = 9.0
_RAMP_M: Final = 280.0
_RING_M: Final = 17.0
_GATE_M: Final = 9.0

Place = tuple[float, float]

# Closed land in the eastern hills [km east, km north, radius km].
ZONE: Final = (26.0, 7.0, 3.4)


def build_works(land: Land, network: Network, place: FloatArray, roads: list[Line]) -> list[Line]:
    """Roads with a dual carriageway near the main town, a tunnel and a ferry."""
    roads = _dig_tunnel(land, roads)
    roads = _divide(land, roads, place[network.towns[0].node])
    return roads + _ferry(land, network, place)


def over_or_under(line: Line) -> bool:
    """True for lines that do not meet the roads they cross."""
    return line.kind == "ferry" or "bridge" in line.tags or "tunnel" in line.tags


def _dig_tunnel(land: Land, roads: list[Line]) -> list[Line]:
    """A tunnel that cuts off the loop over the ridge that gains most; the old road stays."""
    best: tuple[float, int, int, int] | None = None
    for k, line in enumerate(roads):
        if line.kind not in ("secondary", "tertiary") or len(line.xy) < 8:
            continue
        along = lengths_m(line.xy)
        straight = np.hypot(*(line.xy[:, None] - line.xy[None]).transpose(2, 0, 1))
        saved = along[None, :] - along[:, None] - straight
        saved[(straight < 450) | (straight > 1500)] = 0
        i, j = divmod(int(np.argmax(saved)), len(along))
        if best is not None and saved[i, j] <= best[0]:
            continue
        inside = line.xy[i] + np.linspace(0.1, 0.9, 15)[:, None] * (line.xy[j] - line.xy[i])
        portals = ele_at(land, line.xy[[i, j]])
        if ele_at(land, inside).max() > portals.max() + 35 and abs(np.diff(portals)[0]) < 90:
            best = (float(saved[i, j]), k, i, j)
    if best is None:
        return roads
    _, k, i, j = best
    old = roads[k]
    bend = old.xy[[i, j]].mean(axis=0) + 0.03 * (old.xy[j] - old.xy[i])[::-1] * (1, -1)
    tube = Line(
        kind=old.kind,
        xy=np.round(np.stack((old.xy[i], bend, old.xy[j])), 2),
        tags={"tunnel": "yes", "layer": "-1", "lit": "yes", "toll": "yes"},
        part="works",
    )
    parts = [replace(old, xy=old.xy[: i + 1]), tube, replace(old, xy=old.xy[j:])]
    parts.append(Line(kind="track", xy=old.xy[i : j + 1], part="old road"))
    return [*roads[:k], *[p for p in parts if len(p.xy) > 1], *roads[k + 1 :]]


def _divide(land: Land, roads: list[Line], town: FloatArray) -> list[Line]:
    """Two one-way carriageways in place of a long piece of main road near the town."""
    near = [
        k
        for k, line in enumerate(roads)
        if line.kind == "primary" and np.hypot(*(line.xy.mean(axis=0) - town)) < 16_000
    ]
    k = max(near, key=lambda i: roads[i].length_m)
    old = roads[k].xy
    along = lengths_m(old)
    at = np.unique(np.concatenate((along, np.arange(30, along[-1], 60))))
    middle = np.column_stack([np.interp(at, along, old[:, c]) for c in (0, 1)])
    ahead = np.gradient(middle, axis=0)
    left = np.column_stack((-ahead[:, 1], ahead[:, 0])) / np.hypot(*ahead.T)[:, None]
    ease = np.clip(np.minimum(at, at[-1] - at) / 220, 0, 1)
    apart = (_HALF_GAP_M * ease**2 * (3 - 2 * ease))[:, None]
    # Traffic keeps left: the carriageway left of the line runs along it.
    out, back = np.round(middle + left * apart, 2), np.round(middle - left * apart, 2)[::-1]
    out, back = thin_lines([out, back], 0.6)
    others = roads[:k] + roads[k + 1 :]
    k = int(np.argmin(np.abs(at - at[-1] / 2)))
    built = others + _interchange(land, middle[k], left[k], (out, back), others)
    for end in (old[0], old[-1]):
        built = ring_roads(built, end)
    return built


def _interchange(
    land: Land,
    over: FloatArray,
    side: FloatArray,
    carriageways: tuple[FloatArray, FloatArray],
    others: list[Line],
) -> list[Line]:
    """The carriageways with a road over them and four ramps between.

    over : where the bridge stands; side : unit step towards the left carriageway
    """
    stops = [_meeting_place(land, over, side * turn, others) for turn in (1, -1)]
    lines = [
        Line(
            kind="tertiary",
            xy=np.round(over + np.array([[-45.0], [45.0]]) * side, 2),
            tags={"bridge": "yes", "layer": "1"},
            part="works",
        )
    ]
    tags = {"oneway": "yes", "lanes": "2", "lit": "yes"}
    for turn, road, stop in zip((1, -1), carriageways, stops, strict=True):
        foot = np.round(over + turn * side * 45, 2)
        knee = np.round(over + turn * side * 110, 2)
        lines.append(Line(kind="tertiary", xy=np.stack((foot, knee, *stop)), part="works"))
        along = lengths_m(road)
        here = float(along[np.argmin(np.hypot(*(road - over).T))])
        added = []
        for step, first in ((-_RAMP_M, True), (_RAMP_M, False)):
            joint = point_at(road, here + step)
            added.append((here + step, joint))
            bow = np.round((joint + knee) / 2 + turn * side * -14, 2)
            ramp = np.stack((joint, bow, knee) if first else (knee, bow, joint))
            lines.append(Line(kind="trunk_link", xy=ramp, tags={"oneway": "yes"}, part="works"))
        xy = insert_points(road, added)
        lines.append(Line(kind="trunk", xy=xy, tags=tags, part="works"))
    return lines


def _meeting_place(
    land: Land, start: FloatArray, way: FloatArray, others: list[Line]
) -> list[FloatArray]:
    """Points on from an interchange to the nearest road on that side, or a stub."""
    points = np.concatenate([ln.xy for ln in others if ln.kind not in ("path", "ferry")])
    gap = points - start
    ahead = gap @ way
    away = np.hypot(*gap.T)
    ok = (ahead > 350) & (away < 2600) & (ahead > 0.7 * away)
    stub = np.round(start + way * 420, 2)
    if not ok.any():
        return [stub]
    goal = points[ok][np.argmin(away[ok])]
    between = np.linspace(stub, goal, 12)
    if ele_at(land, between).min() < 2:
        return [stub]
    return [np.round(start + way * 260, 2), goal]


def ring_roads(lines: list[Line], centre: FloatArray) -> list[Line]:
    """A roundabout where lines end at one place."""
    arms: list[tuple[float, FloatArray]] = []
    made = []
    for line in lines:
        xy = line.xy
        total = line.length_m
        if np.array_equal(xy[0], centre) and total > 60:
            xy = cut_line(xy, _RING_M, total)
            arms.append((_bearing(xy[0] - centre), xy[0]))
        elif np.array_equal(xy[-1], centre) and total > 60:
            xy = cut_line(xy, 0, total - _RING_M)
            arms.append((_bearing(xy[-1] - centre), xy[-1]))
        made.append(replace(line, xy=xy))
    if len(arms) < 3:
        return lines
    for turn in np.arange(-np.pi, np.pi, np.pi / 4):
        if min(abs(turn - a) for a, _ in arms) > 0.25:
            arms.append(
                (turn, np.round(centre + _RING_M * np.array([np.cos(turn), np.sin(turn)]), 2))
            )
    # Clockwise, as where traffic keeps left.
    ring = [p for _, p in sorted(arms, key=lambda arm: -arm[0])]
    made.append(
        Line(
            kind="primary",
            xy=np.stack([*ring, ring[0]]),
            tags={"junction": "roundabout", "oneway": "yes"},
            part="works",
        )
    )
    return made


def _bearing(step: FloatArray) -> float:
    return float(np.arctan2(step[1], step[0]))


def _ferry(land: Land, network: Network, place: FloatArray) -> list[Line]:
    """A car ferry between the main island and the islet, with a pier road at each end."""
    board = network.board
    xy = node_xy(board, np.arange(board.cell.size))
    by_sea = land.sea_m.ravel()[board.cell] < 200
    islet = land.islet.ravel()[board.cell]
    harbour = network.towns[-1].node
    coast = min(network.towns[:12], key=lambda t: float(np.hypot(*(xy[t.node] - xy[harbour]))))
    piers, lines = [], []
    for town, mine, toward in ((coast.node, ~islet, harbour), (harbour, islet, coast.node)):
        ok = np.flatnonzero(by_sea & mine)
        bad = np.hypot(*(xy[ok] - xy[town]).T) + 0.25 * np.hypot(*(xy[ok] - xy[toward]).T)
        shore = xy[ok[np.argmin(bad)]]
        out = _seaward(land, shore, xy[toward])
        piers.append(out)
        bend = (place[town] + shore) / 2 + 40
        lines.append(
            Line(
                kind="service" if town == harbour else "unclassified",
                xy=np.round(np.stack((place[town], bend, shore, out)), 2),
                part="works",
            )
        )
    a, b = np.round(piers, 2)
    side = (b - a)[::-1] * (0.04, -0.04)
    course = np.stack((a, a + 0.2 * (b - a) + side, a + 0.75 * (b - a) + side, b))
    tags = {"route": "ferry", "motor_vehicle": "yes", "foot": "yes", "duration": "00:50"}
    return [*lines, Line(kind="ferry", xy=np.round(course, 2), tags=tags, part="works")]


def _seaward(land: Land, shore: FloatArray, toward: FloatArray) -> FloatArray:
    """A place in the water some 200 m off the shore, away from the land behind."""
    turns = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    ring = shore + 330 * np.column_stack((np.cos(turns), np.sin(turns)))
    wet = ele_at(land, ring) < 0.3
    bad = np.hypot(*(ring - toward).T) + np.where(wet, 0, 1e6)
    end: FloatArray = ring[np.argmin(bad)]
    return end


def in_zone(xy: FloatArray) -> BoolArray:
    """True for places on the closed land, shape (n,)."""
    east, north, radius = ZONE
    inside: BoolArray = np.hypot(xy[:, 0] - east * 1000, xy[:, 1] - north * 1000) < radius * 1000
    return inside


def close_zone(lines: list[Line]) -> list[Line]:
    """Roads on the closed land with their access: by permit on roads, none on tracks."""
    made = []
    for line in lines:
        tags: Mapping[str, str] = line.tags
        if line.kind not in ("primary", "secondary", "ferry") and in_zone(line.xy).mean() > 0.5:
            road = line.kind in ("tertiary", "unclassified")
            tags = {**tags, "access": "permit" if road else "no"}
            line = replace(line, tags=tags, part="zone")
        made.append(line)
    return made


def gates(roads: list[Line]) -> tuple[list[Line], dict[Place, dict[str, str]]]:
    """The roads with a point for each barrier, and the barriers by their place.

    They stand where closed or walled land meets the open roads, and on a few tracks and paths.
    """
    rng = stream("gates")
    outside = {
        (x, y)
        for road in roads
        if not ("access" in road.tags or road.kind in ("path", "ferry"))
        for x, y in road.xy.tolist()
    }
    found: dict[Place, dict[str, str]] = {}
    made = []
    for road in roads:
        added: list[tuple[float, FloatArray]] = []
        along = lengths_m(road.xy)
        for at in _gate_places(road, along, outside, rng):
            place = point_at(road.xy, at)
            added.append((at, place))
            found[float(place[0]), float(place[1])] = _gate(road, rng)
        if "toll" in road.tags:
            found[float(road.xy[0, 0]), float(road.xy[0, 1])] = {"barrier": "toll_booth"}
        made.append(replace(road, xy=insert_points(road.xy, added)) if added else road)
    return made, found


def _gate_places(
    road: Line, along: FloatArray, outside: set[Place], rng: np.random.Generator
) -> list[float]:
    """Metres along a road at which a barrier stands."""
    places = []
    closed = "access" in road.tags and road.part in ("zone", "estate", "plantation")
    if not closed:
        chance = {"track": 0.05, "path": 0.08}.get(road.kind, 0.0)
        return [0.4 * float(along[-1])] if rng.random() < chance else []
    for k, (x, y) in enumerate(road.xy.tolist()):
        if (x, y) not in outside:
            continue
        # Just inside the land, on each side of the open road.
        if k + 1 < len(along) and along[k + 1] - along[k] > 2 * _GATE_M:
            places.append(float(along[k]) + _GATE_M)
        if k > 0 and along[k] - along[k - 1] > 2 * _GATE_M:
            places.append(float(along[k]) - _GATE_M)
    return places


def _gate(road: Line, rng: np.random.Generator) -> dict[str, str]:
    if road.part == "zone":
        return {"barrier": "lift_gate", "access": road.tags["access"]}
    if road.kind == "path":
        return {"barrier": "bollard"}
    if road.part in ("estate", "plantation") and rng.random() < 0.6:
        return {"barrier": "gate", "access": "private"}
    return {"barrier": ("gate", "gate", "cattle_grid")[int(rng.random() * 3)]}
