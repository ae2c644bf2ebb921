"""The drawn roads cut into ways, with bridges and fords where they meet water."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from terrain.values.arrays import FloatArray
from tests.island.lines import lengths_m
from tests.island.noise import stream
from tests.island.roads import Line, insert_points, point_at
from tests.island.water import RIVER_M2, SMALL_RIVER_M2, Crossings

Place = tuple[float, float]
# Both ends of a bridge or ford drawn as a way of its own, and its tags.
Span = tuple[FloatArray, FloatArray, dict[str, str]]

# Chance of a bridge and of a ford, by kind of road, over a river, a small river, a stream; what
# is left is a pipe under the road, which the map does not show.
_MAIN: Final = ((1.0, 0.0), (1.0, 0.0), (0.3, 0.0))
_MINOR: Final = ((0.9, 0.1), (0.8, 0.15), (0.15, 0.12))
_LANE: Final = ((0.6, 0.4), (0.35, 0.45), (0.05, 0.3))
_TRACK: Final = ((0.15, 0.85), (0.05, 0.85), (0.0, 0.5))
_CROSSING: Final[Mapping[str, tuple[tuple[float, float], ...]]] = {
    "trunk": _MAIN,
    "primary": _MAIN,
    "secondary": _MAIN,
    "tertiary": _MINOR,
    "unclassified": _LANE,
    "residential": _LANE,
    "service": _LANE,
    "track": _TRACK,
    "path": _TRACK,
}
_BRIDGE_M: Final = ((55.0, 110.0), (24.0, 46.0), (8.0, 14.0))
# Usual length of one way [m]: mappers cut long roads where something changes.
_USUAL_M: Final[Mapping[str, float]] = {
    "primary": 2600.0, "secondary": 2800.0, "tertiary": 2400.0, "unclassified": 2100.0,
    "track": 1900.0, "path": 2500.0, "trunk": 2200.0,
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Way:
    """One way of the map before it is tagged.

    tags : what stands in the map whatever the mapper knew (bridge, ford, access, oneway, ...)
    line : number of the drawn line it is part of
    """

    kind: str
    xy: FloatArray
    tags: Mapping[str, str]
    part: str
    line: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutRoads:
    """All ways, and tags of single points by their place."""

    ways: tuple[Way, ...]
    points: Mapping[Place, Mapping[str, str]]


def cut_roads(lines: list[Line], crossed: Crossings) -> CutRoads:
    """Cut each line at bridges, fords and where mappers would."""
    rng = stream("ways")
    points: dict[Place, Mapping[str, str]] = {}
    marks: dict[int, list[tuple[float, FloatArray, float]]] = defaultdict(list)
    for i, at, xy, area in zip(
        crossed.line.tolist(), crossed.at_m.tolist(), crossed.xy, crossed.area_m2, strict=True
    ):
        marks[i].append((at, xy, float(area)))
    ways: list[Way] = []
    for i, line in enumerate(lines):
        xy, spans = line.xy, list[Span]()
        if i in marks and line.kind in _CROSSING and not {"bridge", "tunnel"} & set(line.tags):
            xy, spans = _over_water(line, marks[i], points, rng)
        ways.extend(_pieces(line, i, xy, spans, rng))
    return CutRoads(ways=tuple(ways), points=points)


def _over_water(
    line: Line,
    marks: list[tuple[float, FloatArray, float]],
    points: dict[Place, Mapping[str, str]],
    rng: np.random.Generator,
) -> tuple[FloatArray, list[Span]]:
    """The line with points added at its bridges and fords, and those that are short ways."""
    total = line.length_m
    added: list[tuple[float, FloatArray]] = []
    spans: list[Span] = []
    free_from = 5.0
    for at, xy, area in marks:
        size = 0 if area >= RIVER_M2 else 1 if area >= SMALL_RIVER_M2 else 2
        bridge, ford = _CROSSING[line.kind][size]
        luck = rng.random()
        short, long = _BRIDGE_M[size]
        half = (short + (long - short) * rng.random()) / 2
        tags = {"bridge": "yes", "layer": "1"} if luck < bridge else _ford_tags(size, rng)
        if luck >= bridge:
            half = max(6.0, half * 0.45)
        fits = at - half > free_from and at + half < total - 5
        if luck >= bridge + ford or not (fits or luck >= bridge):
            continue
        if luck >= bridge and (not fits or rng.random() < (0.35, 0.55, 0.92)[size]):
            if at > free_from:
                added.append((at, xy))
                points[float(xy[0]), float(xy[1])] = tags
            continue
        ends = [
            (at - half, point_at(line.xy, at - half)),
            (at + half, point_at(line.xy, at + half)),
        ]
        added.extend(ends)
        spans.append((ends[0][1], ends[1][1], tags))
        free_from = at + half + 5
    return (insert_points(line.xy, added) if added else line.xy), spans


def _ford_tags(size: int, rng: np.random.Generator) -> dict[str, str]:
    tags = {"ford": "yes"}
    if rng.random() < 0.3:
        depth = (0.35, 0.25, 0.1)[size] + 0.35 * rng.random()
        tags["depth"] = f"{depth:.1f}" if rng.random() < 0.8 else f"{depth * 100:.0f} cm"
    if size == 0 and rng.random() < 0.4:
        tags["seasonal"] = "wet_season"
    return tags


def _pieces(
    line: Line, number: int, xy: FloatArray, spans: list[Span], rng: np.random.Generator
) -> list[Way]:
    """The line cut at both ends of each span, and now and then between."""
    along = lengths_m(xy)
    cuts = {0: None, len(xy) - 1: None}
    special: dict[int, dict[str, str]] = {}
    taken = np.zeros(len(xy), dtype=np.bool_)
    for start, end, tags in spans:
        i = int(np.argmin(np.hypot(*(xy - start).T)))
        j = int(np.argmin(np.hypot(*(xy - end).T)))
        cuts[i] = cuts[j] = None
        special[i] = tags
        taken[i : j + 1] = True
    usual = _USUAL_M.get(line.kind)
    if usual is not None and "junction" not in line.tags:
        at = 0.0
        while (at := at + usual * (0.25 + 1.5 * rng.random())) < along[-1] - 250:
            k = int(np.searchsorted(along, at))
            if not taken[k]:
                cuts[k] = None
    ways = []
    for i, j in pairwise(sorted(cuts)):
        tags = {**line.tags, **special.get(i, {})}
        ways.append(Way(kind=line.kind, xy=xy[i : j + 1], tags=tags, part=line.part, line=number))
    return ways
