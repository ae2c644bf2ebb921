"""Scores of a matched line against the ways it is known to follow."""

from __future__ import annotations

import gzip
import json
import tarfile
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

import numpy as np

from terrain.tables.ground import SURFACES
from terrain.values.route import Route, RouteKind
from terrain.values.views import RoadsView

WayLengths = Iterable[tuple[int, float]]


@dataclass(frozen=True)
class TrueRoute:
    """A route whose ways are known: [(OSM way id, metres), ...] in riding order."""

    name: str
    area: str
    length_m: float
    ways: list[tuple[int, float]]


@dataclass(frozen=True)
class Score:
    """matched : share of the true length found; rmf : (missed + extra) / true length
    (route mismatch fraction of Newson and Krumm 2009, lengths summed by way)."""

    matched: float
    rmf: float


def by_way(ways: WayLengths) -> dict[int, float]:
    total: dict[int, float] = defaultdict(float)
    for way, length_m in ways:
        total[way] += length_m
    return total


def score(found: WayLengths, true: WayLengths) -> Score:
    got, want = by_way(found), by_way(true)
    whole = sum(want.values())
    missed = sum(max(0.0, m - got.get(w, 0.0)) for w, m in want.items())
    extra = sum(max(0.0, m - want.get(w, 0.0)) for w, m in got.items())
    return Score(1.0 - missed / whole, (missed + extra) / whole)


# Surfaces of the paved group: those a sealed or bound road is likeliest to be tagged with.
_PAVED = {row.value for row in SURFACES if row.weights[0] > max(row.weights[1:])}


def known_paved(roads: RoadsView) -> dict[int, float]:
    """1 for each way tagged with a paved surface, 0 for another; of ways without the tag nobody
    knows the truth, and they are left out."""
    ways = roads.ways
    rows = np.flatnonzero(ways.surface.codes >= 0).tolist()
    return {int(ways.way_id[i]): float(ways.surface.text(i) in _PAVED) for i in rows}


def paved_share(ways: WayLengths, paved: dict[int, float]) -> float:
    """Share of the length that is paved, in percent, over the ways that `paved` tells of."""
    total = by_way(ways)
    known = {w: m for w, m in total.items() if w in paved}
    whole = sum(known.values())
    return 100.0 * sum(m * paved[w] for w, m in known.items()) / whole if whole else 0.0


def true_routes(data: Path) -> list[TrueRoute]:
    with gzip.open(data / "match-truth" / "truth.json.gz") as stream:
        rows = json.load(stream)["routes"]
    return [
        TrueRoute(r["id"], r["area"], r["length_m"], [(int(w), float(m)) for w, m in r["ways"]])
        for r in rows
    ]


SETS = {
    "match-truth": (
        "clean10", "clean50", "clean200", "noisy5", "noisy15", "via2000", "via5000",
    ),
    "planner-lines": ("othermap", "coarse", "clicked"),
}  # fmt: skip
AREAS = {"andorra": "andorra2023.osm.pbf", "liechtenstein": "liechtenstein2021.osm.pbf"}


def lines(data: Path) -> Iterator[tuple[str, str, Route]]:
    """(route name, variant, the line) of every file of both sets."""
    for folder in SETS:
        with tarfile.open(data / folder / "gpx.tar.gz") as tar:
            for member in tar:
                if not member.name.endswith(".gpx"):
                    continue
                name, variant = Path(member.name).stem.rsplit(".", 1)
                stream = tar.extractfile(member)
                assert stream is not None
                yield name, variant, plain_route(stream.read().decode())


_GPX = "{http://www.topografix.com/GPX/1/1}"


def plain_route(text: str) -> Route:
    """A route straight from GPX text, with none of the project's own reading."""
    gpx = ElementTree.fromstring(text)
    tracks = list(gpx.iter(f"{_GPX}trkpt"))
    points = tracks or list(gpx.iter(f"{_GPX}rtept"))
    lon = np.array([float(point.attrib["lon"]) for point in points])
    lat = np.array([float(point.attrib["lat"]) for point in points])
    return Route(
        name="", kind=RouteKind.TRACK if tracks else RouteKind.ROUTE, lon=lon,
        lat=lat, ele_m=np.full(len(lon), np.nan),
        piece=np.zeros(len(lon), np.int32), shaping=np.zeros(len(lon), bool),
        planned=np.full(len(lon), not tracks),
    )  # fmt: skip
