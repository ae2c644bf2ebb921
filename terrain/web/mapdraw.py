"""The region's own roads and places as a map to tap on: inline SVG, no tiles, no network."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from markupsafe import Markup

from terrain.calc.geodesy import metres_per_degree
from terrain.region.region import Region, open_folder
from terrain.report.drawing.labels import LabelPlacer
from terrain.report.drawing.svg import join, polylines, tag, text
from terrain.values.views import PLACE_KINDS, PlaceKind
from terrain.web.points import Point

WIDTH = 720.0
_TALLEST, _FLATTEST = 560.0, 320.0
DEEPEST = 9
_MOST_VERTICES = 24_000
_MOST_NAMES = 60
_RANKS: tuple[tuple[str, ...], ...] = (
    ("motorway", "trunk", "primary"), ("secondary",), ("tertiary",), ("ferry",),
    ("unclassified", "road"), ("track",), ("residential", "living_street"),
)  # fmt: skip
_SETTLED = (PlaceKind.CITY, PlaceKind.TOWN, PlaceKind.VILLAGE, PlaceKind.HAMLET)


@dataclass(frozen=True, slots=True)
class View:
    """What part of the region is seen.

    level : 0 the whole region, each next half as wide; height : of the map in pixels
    """

    lon: float
    lat: float
    level: int
    west: float
    north: float
    px_lon: float
    px_lat: float
    height: float

    def spot(self, lon: float, lat: float) -> Point:
        """Degrees to pixels."""
        return (lon - self.west) * self.px_lon, (self.north - lat) * self.px_lat

    def place(self, x: float, y: float) -> Point:
        """Pixels to degrees, to about a metre."""
        return round(self.west + x / self.px_lon, 5), round(self.north - y / self.px_lat, 5)


def view_of(region: Region, level: int = 0, centre: Point | None = None) -> View:
    """The view at a level around a point; around the region's middle if None."""
    west, south, east, north = region.info.bbox
    level = min(max(level, 0), DEEPEST)
    lon, lat = centre if centre and level else ((west + east) / 2, (south + north) / 2)
    m_lon, m_lat = metres_per_degree((south + north) / 2)
    wide, tall = max((east - west) * m_lon, 1000.0), max((north - south) * m_lat, 1000.0)
    whole = min((WIDTH - 24) / wide, (_TALLEST - 24) / tall)
    height = round(min(max(tall * whole + 48, _FLATTEST), _TALLEST))
    px_per_m = whole * 2.0**level
    px_lon, px_lat = px_per_m * m_lon, px_per_m * m_lat
    return View(
        lon=round(lon, 5), lat=round(lat, 5), level=level,
        west=lon - WIDTH / 2 / px_lon, north=lat + height / 2 / px_lat,
        px_lon=px_lon, px_lat=px_lat, height=height,
    )  # fmt: skip


def draw_map(
    region: Region, view: View, points: Sequence[Point] = (), label: str = "",
    kept: Sequence[Sequence[Point]] = (),
) -> Markup:  # fmt: skip
    """The map with the points drawn so far, in order, joined by straight lines.

    kept : lines drawn before, told apart by their numbers
    """
    base = _base(region.folder, region.pack, view)
    return tag(
        "svg",
        join([base, _kept(view, kept), _drawn(view, points)]),
        class_="map", viewBox=f"0 0 {WIDTH:.0f} {view.height:.0f}", width=f"{WIDTH:.0f}",
        height=f"{view.height:.0f}", role="img", aria_label=label,
        data_west=f"{view.west:.7f}", data_north=f"{view.north:.7f}",
        data_px_lon=f"{view.px_lon:.5f}", data_px_lat=f"{view.px_lat:.5f}",
    )  # fmt: skip


def map_credit(region: Region, lang: str) -> list[str]:
    """Who made the map, in the language where it is known so."""
    from terrain.text.translator import translator_for

    translator = translator_for(lang)
    return [translator.translate_term(line) for line in region.info.attribution]


def map_picture(region: Region, view: View, points: Sequence[Point], css: str) -> bytes:
    """The same map as a picture of its own, for browsers without script."""
    svg = str(draw_map(region, view, points))
    svg = svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
    start = svg.index(">") + 1
    return f"{svg[:start]}<style>{css}</style>{svg[start:]}".encode()


def _kept(view: View, kept: Sequence[Sequence[Point]]) -> Markup:
    parts: list[Markup] = []
    for n, line in enumerate(kept, start=1):
        spots = [view.spot(lon, lat) for lon, lat in line]
        if not any(0 <= x <= WIDTH and 0 <= y <= view.height for x, y in spots):
            continue
        d = "".join(f"{'L' if i else 'M'}{x:.1f} {y:.1f}" for i, (x, y) in enumerate(spots))
        parts.append(tag("path", class_="kept", d=d + "h.01" if len(spots) == 1 else d))
        parts.append(text(spots[0][0] + 6, spots[0][1] - 6, str(n), class_="n"))
    return tag("g", join(parts), class_="all-kept")


def _drawn(view: View, points: Sequence[Point]) -> Markup:
    spots = [view.spot(lon, lat) for lon, lat in points]
    line = "".join(f"{'L' if n else 'M'}{x:.1f} {y:.1f}" for n, (x, y) in enumerate(spots))
    parts = [tag("path", class_="line", d=line)] if line else [tag("path", class_="line", d="M0 0")]
    for n, (x, y) in enumerate(spots, start=1):
        parts.append(tag("circle", class_="point", cx=x, cy=y, r=6.0))
        parts.append(text(x + 9, y + 4, str(n), class_="n"))
    return tag("g", join(parts), class_="drawn")


@lru_cache(maxsize=64)
def _base(folder: Path, pack: Path, view: View) -> Markup:
    # The pack is part of the key: a region that was built again is drawn again.
    region = open_folder(folder)
    labels = LabelPlacer(WIDTH, view.height)
    return join([_roads(region, view), _names(region, view, labels)])


def _roads(region: Region, view: View) -> Markup:
    """Roads by rank, the larger first, as long as there is room for them."""
    roads = region.roads
    highway = roads.ways.highway
    parts, left = [], _MOST_VERTICES
    starts, ends = roads.edge_start[:-1].astype(np.int64), roads.edge_start[1:].astype(np.int64)
    mid = (starts + ends) // 2
    x = (roads.pt_lon[mid] - view.west) * view.px_lon
    y = (view.north - roads.pt_lat[mid]) * view.px_lat
    near = (x > -300) & (x < WIDTH + 300) & (y > -300) & (y < view.height + 300)
    for rank, names in enumerate(_RANKS):
        codes = [code for code, name in enumerate(highway.values) if name in names]
        chosen = np.flatnonzero(near & np.isin(highway.codes[roads.edge_way], codes))
        if not len(chosen):
            continue
        d, n = _lines(region, view, chosen)
        if rank and n > left:
            break
        left -= n
        parts.append(tag("path", class_=f"road r{rank}", d=d))
    return join(parts)


def _lines(
    region: Region, view: View, edges: np.ndarray[tuple[int], np.dtype[np.int64]]
) -> tuple[str, int]:
    """Path data of edges, a point for each pixel and a half at most."""
    roads = region.roads
    lengths = (roads.edge_start[edges + 1] - roads.edge_start[edges]).astype(np.int64)
    owner = np.repeat(np.arange(len(edges)), lengths)
    first = np.cumsum(lengths) - lengths
    at = np.arange(int(lengths.sum())) - first[owner] + roads.edge_start[edges][owner]
    x = (roads.pt_lon[at] - view.west) * view.px_lon
    y = (view.north - roads.pt_lat[at]) * view.px_lat
    is_end = np.zeros(len(at), dtype=bool)
    is_end[first] = is_end[first + lengths - 1] = True
    cell = np.floor(x / 1.5).astype(np.int64) * 100_003 + np.floor(y / 1.5).astype(np.int64)
    keep = is_end | np.r_[True, cell[1:] != cell[:-1]]
    # A road shorter than a pixel is left out.
    span = np.add.reduceat(np.r_[0.0, np.hypot(np.diff(x), np.diff(y))], first)
    keep &= span[owner] > 0.7
    owner, x, y = owner[keep], x[keep], y[keep]
    if not len(x):
        return "", 0
    breaks = np.flatnonzero(np.r_[True, owner[1:] != owner[:-1]])
    start = np.append(breaks, len(owner)).astype(np.int64)
    return polylines(x, y, start, 2), len(x)


def _names(region: Region, view: View, labels: LabelPlacer) -> Markup:
    parts: list[Markup] = []
    for name, lon, lat, kind in places_of(region.folder, region.pack):
        x, y = view.spot(lon, lat)
        if not (0 <= x <= WIDTH and 0 <= y <= view.height) or len(parts) > 2 * _MOST_NAMES:
            continue
        large = kind in (PlaceKind.CITY, PlaceKind.TOWN)
        size, weight = (14.0, 1.08) if large else (12.0, 1.0)
        spot = labels.place(x, y, name[:28], size, away=6.0, weight=weight)
        if spot is not None:
            parts.append(tag("circle", class_="spot", cx=x, cy=y, r=2.5))
            parts.append(text(*spot, name[:28], class_=f"name {kind.value}"))
    return join(parts)


@lru_cache(maxsize=8)
def places_of(folder: Path, pack: Path) -> tuple[tuple[str, float, float, PlaceKind], ...]:
    """Named settlements (name, lon, lat, kind), the important first, at most 400."""
    places = open_folder(folder).places
    rows = []
    for i in range(len(places)):
        kind = PLACE_KINDS[int(places.kind[i])]
        name = places.name.text(i)
        if kind in _SETTLED and name:
            people = float(places.population[i])
            rank = (_SETTLED.index(kind), -(0.0 if math.isnan(people) else people))
            rows.append((rank, name, float(places.lon[i]), float(places.lat[i]), kind))
    rows.sort(key=lambda row: row[0])
    return tuple((name, lon, lat, kind) for _, name, lon, lat, kind in rows[:400])
