"""The map: the ride over the region's own roads, as SVG without tiles."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup

from terrain.calc.geodesy import metres_per_degree
from terrain.report.drawing.labels import LabelPlacer
from terrain.report.drawing.scale import nice_step
from terrain.report.drawing.svg import join, lines, num, polylines, tag, text, thinned
from terrain.text.translator import Translator
from terrain.values.arrays import FloatArray
from terrain.values.detours import Detour
from terrain.values.match import Match
from terrain.values.places import PassedPlace, Surroundings
from terrain.values.report import Report
from terrain.values.verdict import Section

_ORDER = {"city": 0, "town": 1, "pass": 2, "village": 3, "ford": 4, "hamlet": 5, "locality": 6}


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """How large a map is [px], how many distance marks it has room for, and how many names."""

    name: str
    width: float
    shortest: float
    tallest: float
    margin: float
    marks: int
    most_names: int


WIDE = Sheet(
    name="large", width=1020.0, shortest=320.0, tallest=760.0, margin=36.0, marks=9, most_names=120
)
PHONE = Sheet(
    name="small", width=340.0, shortest=200.0, tallest=440.0, margin=22.0, marks=5, most_names=40
)
PAPER = Sheet(
    name="paper", width=720.0, shortest=240.0, tallest=430.0, margin=30.0, marks=8, most_names=90
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _View:
    """From degrees to pixels; north is up."""

    west: float
    north: float
    px_lon: float
    px_lat: float
    width: float
    height: float
    px_per_m: float

    def x(self, lon: FloatArray) -> FloatArray:
        return (np.asarray(lon) - self.west) * self.px_lon

    def y(self, lat: FloatArray) -> FloatArray:
        return (self.north - np.asarray(lat)) * self.px_lat

    def spot(self, lon: float, lat: float) -> tuple[float, float]:
        return (lon - self.west) * self.px_lon, (self.north - lat) * self.px_lat

    def shows(self, lon: float, lat: float) -> bool:
        x, y = self.spot(lon, lat)
        return 0 <= x <= self.width and 0 <= y <= self.height


def map_shapes(
    match: Match, around: Surroundings, cut: Sequence[Section], sheet: Sheet = WIDE
) -> Markup:
    """The lines that maps of this ride use, each once: roads by rank, the ride by section.

    sheet : the map whose scale they have
    """
    view = _view(match, sheet)
    return join([*_roads(around, view), *_ride_lines(match, cut, view)])


def render_map(
    report: Report,
    translator: Translator,
    credit: str,
    sheet: Sheet = WIDE,
    shapes: Sheet = WIDE,
) -> Markup:
    """The ride by section, the roads around it, names, scale and north; uses `map_shapes`.

    sheet : how large the map is; its letters have one size on all
    shapes : the map whose scale the used lines have
    """
    match, around = report.assessed.match, report.assessed.places.surroundings
    cut = report.verdict.sections
    view = _view(match, sheet)
    labels = LabelPlacer(view.width, view.height)
    labels.avoid_line(np.column_stack([view.x(match.lon), view.y(match.lat)]))
    parts = [
        _detours(report.assessed.plan.detours, view),
        _lines(around, cut, view, _view(match, shapes)),
        _north(view, labels),
        _scale(view, translator, labels),
        _ends(match, view, translator, labels),
        _distances(match, view, translator, labels, sheet),
        _names(around, view, labels, sheet),
    ]
    return tag(
        "svg",
        join(parts),
        class_=f"map {sheet.name}",
        viewBox=f"0 0 {view.width:.0f} {view.height:.0f}",
        width=f"{view.width:.0f}",
        height=f"{view.height:.0f}",
        role="img",
        aria_label=translator._("Map of the ride, north up. {credit}", credit=credit),
    )


def _view(match: Match, sheet: Sheet) -> _View:
    lon, lat = match.lon, match.lat
    m_lon, m_lat = metres_per_degree(float((lat.max() + lat.min()) / 2))
    wide, tall = max(float(np.ptp(lon)) * m_lon, 500.0), max(float(np.ptp(lat)) * m_lat, 500.0)
    inner = sheet.width - 2 * sheet.margin, sheet.tallest - 2 * sheet.margin
    px_per_m = min(inner[0] / wide, inner[1] / tall)
    height = max(tall * px_per_m + 2 * sheet.margin, sheet.shortest)
    mid_lon, mid_lat = float(lon.max() + lon.min()) / 2, float(lat.max() + lat.min()) / 2
    return _View(
        west=mid_lon - sheet.width / 2 / (px_per_m * m_lon),
        north=mid_lat + height / 2 / (px_per_m * m_lat),
        px_lon=px_per_m * m_lon,
        px_lat=px_per_m * m_lat,
        width=sheet.width,
        height=height,
        px_per_m=px_per_m,
    )


def _roads(around: Surroundings, view: _View) -> list[Markup]:
    """One path a rank; points on a grid of half a pixel are enough behind the ride."""
    x, y = view.x(around.lon), view.y(around.lat)
    inside = (x > -20) & (x < view.width + 20) & (y > -20) & (y < view.height + 20)
    owner = np.repeat(np.arange(len(around.rank)), np.diff(around.start))
    shown = np.zeros(len(around.rank), dtype=bool)
    shown[owner[inside]] = True
    parts = []
    for rank in _ranks(around):
        mine = shown & (around.rank == rank)
        points = mine[owner]
        start = np.concatenate([[0], np.cumsum(np.diff(around.start)[mine])])
        d = polylines(*thinned(x[points], y[points], start), scale=2)
        parts.append(tag("path", id=f"road{rank}", class_="shape", d=d))
    return parts


def _ranks(around: Surroundings) -> list[int]:
    """The ranks there are, minor roads first, so that main ones lie on top."""
    return sorted(set(around.rank.tolist()), reverse=True)


def _ride_lines(match: Match, cut: Sequence[Section], view: _View) -> list[Markup]:
    x, y = view.x(match.lon), view.y(match.lat)
    ends = np.array([section.from_m for section in cut] + [cut[-1].to_m])
    end_x, end_y = np.interp(ends, match.at_m, x), np.interp(ends, match.at_m, y)
    first = np.searchsorted(match.at_m, ends[:-1], side="right").tolist()
    last = np.searchsorted(match.at_m, ends[1:], side="left").tolist()
    inside = [slice(a, max(a, b)) for a, b in zip(first, last, strict=True)]
    line_x, line_y = _between(x, end_x, inside), _between(y, end_y, inside)
    start = np.cumsum([0, *(2 + part.stop - part.start for part in inside)])
    return [
        tag("path", id=f"way{section.number}", class_="shape", d=d)
        for section, d in zip(cut, lines(*thinned(line_x, line_y, start), scale=2), strict=True)
    ]


def _between(value: FloatArray, end: FloatArray, inside: list[slice]) -> FloatArray:
    """For each part its first end, what lies inside, and its last end, one after the other."""
    return np.concatenate(
        [
            piece
            for n, part in enumerate(inside)
            for piece in (end[n : n + 1], value[part], end[n + 1 : n + 2])
        ]
    )


def _lines(around: Surroundings, cut: Sequence[Section], view: _View, drawn: _View) -> Markup:
    """The shapes moved to this view: roads, the ride's rim, the ride, what the pointer meets."""
    times = view.px_per_m / drawn.px_per_m
    left, top = view.spot(drawn.west, drawn.north)
    roads = [tag("use", href=f"#road{k}", class_=f"road r{k}") for k in _ranks(around)]
    ways = [(f'<use href="#way{s.number}"', f' data-s="{s.number}"/>', s.ground.value) for s in cut]
    rim = [f'{way} class="casing"/>' for way, _, _ in ways]
    rim += [f'{way} class="rim"/>' for way, _, ground in ways if ground == "paved"]
    ride = [f'{way} class="ride m-{ground}"{number}' for way, number, ground in ways]
    hits = [f'{way} class="hit"{number}' for way, number, _ in ways]
    move = f"translate({num(left)} {num(top)}) scale({times:.4f})"
    same = abs(times - 1) < 1e-9
    inside = Markup("".join([*roads, *rim, *ride, *hits]))
    return tag("g", inside, transform=None if same else move)


def _detours(detours: Sequence[Detour], view: _View) -> Markup:
    """Other ways round, under the ride."""
    drawn = [
        polylines(*thinned(view.x(way.lon), view.y(way.lat), np.array([0, len(way.lon)])), scale=2)
        for way in detours
        if len(way.lon) > 1
    ]
    return join([tag("path", class_="detour", d=d) for d in drawn])


def _distances(
    match: Match, view: _View, translator: Translator, labels: LabelPlacer, sheet: Sheet
) -> Markup:
    """Kilometre marks along the ride."""
    length = match.length_m / translator.distance_unit_m
    step = nice_step(length, sheet.marks)
    parts = []
    for k in range(1, math.ceil(length / step)):
        at = k * step * translator.distance_unit_m
        lon, lat = match.lonlat(np.array([at]))
        x, y = float(view.x(lon)[0]), float(view.y(lat)[0])
        parts.append(tag("circle", class_="mark", cx=x, cy=y, r=2.5))
        label = translator.number(k * step, 0 if step >= 1 else 1)
        spot = labels.place(x, y, label, 12.0, away=7.0)
        if spot is not None:
            parts.append(text(*spot, label, class_="dist"))
    return join(parts)


def _ends(match: Match, view: _View, translator: Translator, labels: LabelPlacer) -> Markup:
    parts = []
    first = view.spot(float(match.lon[0]), float(match.lat[0]))
    last = view.spot(float(match.lon[-1]), float(match.lat[-1]))
    together = math.hypot(first[0] - last[0], first[1] - last[1]) < 12
    ends = [(first, translator._("start and end") if together else translator._("start"))]
    if not together:
        ends.append((last, translator._("end")))
    for (x, y), name in ends:
        parts.append(tag("circle", class_="end", cx=x, cy=y, r=5.0))
        spot = labels.place(x, y, name, 13.0, away=9.0, must=True)
        if spot is not None:
            parts.append(text(*spot, name, class_="endname"))
    return join(parts)


def _names(around: Surroundings, view: _View, labels: LabelPlacer, sheet: Sheet) -> Markup:
    """Names of places, the important first; one that finds no room is left out."""
    passed = {p.name: p for p in around.places}
    rows = [(p, True) for p in passed.values()]
    rows += [(p, False) for p in around.towns if p.name not in passed]
    rows.sort(key=lambda row: (not row[1], _rank(row[0]), row[0].name))
    parts = []
    for place, on_ride in rows[: sheet.most_names]:
        if not view.shows(place.lon, place.lat):
            continue
        x, y = view.spot(place.lon, place.lat)
        size = 13.0 if place.kind in ("city", "town") else 12.0
        name = place.name if len(place.name) <= 28 else place.name[:27] + "…"
        spot = labels.place(x, y, name, size, away=5.0)
        if spot is not None:
            kind = f"name {place.kind}" + ("" if on_ride else " off")
            parts.append(tag("circle", class_=f"spot {place.kind}", cx=x, cy=y, r=2.0))
            parts.append(text(*spot, name, class_=kind))
    return join(parts)


def _rank(place: PassedPlace) -> tuple[int, float]:
    return _ORDER.get(place.kind, 9), -(place.population or 0.0)


def _scale(view: _View, translator: Translator, labels: LabelPlacer) -> Markup:
    unit = translator.distance_unit_m
    most = min(140.0, view.width / 5)
    step = nice_step(most / view.px_per_m / unit, 1)
    if step * unit * view.px_per_m > 1.6 * most:
        step = nice_step(0.45 * most / view.px_per_m / unit, 1)
    length = step * unit * view.px_per_m
    wide, low = length + 24, view.height - 40
    corners = [(8.0, low), (view.width - wide - 8, low), (8.0, 8.0), (view.width / 2, low)]
    left, top = labels.clearest(corners, wide, 34.0)
    x, y = left + 8, top + 24
    label = (
        f"{translator.number(step)}\u00a0{translator.distance_unit}"
        if step >= 1
        else translator.distance(step * unit)
    )
    bar = f"M{num(x)} {num(y - 5)}v5h{num(length)}v-5"
    return join([tag("path", class_="scalebar", d=bar), text(x, y - 9, label, class_="tick")])


def _north(view: _View, labels: LabelPlacer) -> Markup:
    right, low = view.width - 36, view.height - 56
    left, top = labels.clearest([(right, 4.0), (6.0, 4.0), (right, low), (6.0, low)], 30.0, 50.0)
    x, y = left + 14, top + 12
    arrow = f"M{num(x)} {num(y)}v24M{num(x - 5)} {num(y + 8)}L{num(x)} {num(y)}l5 8"
    return join(
        [
            tag("path", class_="scalebar", d=arrow),
            text(x, y + 38, "N", class_="tick", text_anchor="middle"),
        ]
    )
