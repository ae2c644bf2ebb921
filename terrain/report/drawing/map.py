"""The map: the ride over the region's own roads, as SVG without tiles.

The line stands out more the harder the ground; what is closed has a black edge, what is in doubt an
outline. Few labels stand beside it, each with a leader to its spot.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice

import numpy as np
from markupsafe import Markup

from terrain.report.detours import sparing_detours
from terrain.report.drawing.labels import LabelPlacer, Lead
from terrain.report.drawing.scale import nice_step
from terrain.report.drawing.svg import join, lines, num, polylines, tag, text, text_width, thinned
from terrain.report.drawing.view import WIDE, Sheet, View, view_of
from terrain.text.plain import shortened
from terrain.text.translator import Translator
from terrain.values.arrays import FloatArray
from terrain.values.detours import Detour
from terrain.values.ground import LAND_GROUNDS, GroundKind
from terrain.values.match import Match
from terrain.values.places import PassedPlace, Surroundings
from terrain.values.report import Report
from terrain.values.verdict import FindingKind, RidePart, Section

_TOWNS = {"city": 0, "town": 1, "village": 2}
_SURE = (
    0.6  # a section whose likeliest ground is less likely is in doubt (common practice, no source)
)
_SHARES = (1.0, 0.84, 0.68, 0.54, 0.42, 0.32, 0.24)  # of the map, tried until all labels find room
_MARK_KM = 10  # between distance marks; farther apart on rides that would be full of them
_MOST_MARKS = 45
_TITLE, _NOTE, _LINE = 13.0, 12.0, 16.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MapSpot:
    """Something to label on the map.

    kind : start, end, decide, far, hot, help or closed
    at_m : along the ride, or where it passes the spot
    title, note : in words; href : where the report says more, "" for nowhere
    """

    kind: str
    at_m: float
    lon: float
    lat: float
    title: str
    note: str = ""
    href: str = ""


def map_shapes(report: Report, sheet: Sheet = WIDE) -> Markup:
    """The lines that maps of this ride use, each once: roads by rank, the ride by section, edges.

    sheet : the map whose scale they have
    """
    match, around = report.assessed.match, report.assessed.places.surroundings
    cut, view = report.verdict.sections, view_of(match, sheet)
    # What the pointer meets is wide: its line need not be exact.
    ways = _pieces(match, [(s.from_m, s.to_m) for s in cut], view, off=4.0)
    shapes = [
        tag("path", id=f"way{section.number}", class_="shape", d=d)
        for section, d in zip(cut, ways, strict=True)
    ]
    named = {**_edges(report), **_grounds(match, cut)}
    pieces = iter(_pieces(match, [(p.from_m, p.to_m) for x in named.values() for p in x], view))
    for name, parts in named.items():
        d = "".join(islice(pieces, len(parts)))
        shapes.append(tag("path", id=f"on-{name}", class_="shape", d=d))
    return join([*_roads(around, view), *shapes])


def render_map(
    report: Report,
    translator: Translator,
    credit: str,
    spots: Sequence[MapSpot],
    sheet: Sheet = WIDE,
    shapes: Sheet = WIDE,
) -> Markup:
    """The ride by section, the roads around it, labels, scale and north; uses `map_shapes`.

    spots : the gravest first
    sheet : how large the map is; its letters have one size on all
    shapes : the map whose scale the used lines have
    """
    match, around = report.assessed.match, report.assessed.places.surroundings
    view, labels, placed = place_spots(match, spots, sheet)
    parts = [
        _detours(map_ways_round(report), view),
        _lines(report, view, view_of(match, shapes)),
        _distances(match, view, translator, labels, sheet),
        _north(view, labels),
        _scale(view, translator, labels),
        _names(around, view, labels, [spot.title for spot in spots]),
        *(_spot(spot, n, lead, view, sheet) for n, (spot, lead) in enumerate(placed, start=1)),
    ]
    return tag(
        "svg",
        join(parts),
        class_=f"map {sheet.name}",
        viewBox=f"0 0 {view.width:.0f} {view.height:.0f}",
        width=f"{view.width:.0f}",
        height=f"{view.height:.0f}",
        role="group",
        aria_label=translator._("Map of the ride, north up. {credit}", credit=credit),
    )


def place_spots(
    match: Match, spots: Sequence[MapSpot], sheet: Sheet
) -> tuple[View, LabelPlacer, list[tuple[MapSpot, Lead | None]]]:
    """The largest view of the ride in which all labels find room, and their places."""
    best = None
    for share in _SHARES:
        view = view_of(match, sheet, share)
        line = np.column_stack([view.x(match.lon), view.y(match.lat)])
        labels = LabelPlacer(view.width, view.height, line)
        for spot in spots:
            labels.mark(*view.spot(spot.lon, spot.lat), 5.0)
        placed: list[tuple[MapSpot, Lead | None]] = []
        for spot in spots:
            placed.append((spot, _led(spot, view, labels, sheet)))
            if placed[-1][1] is None and share > _SHARES[-1]:  # a smaller one may hold them all
                break
        placed += [(spot, None) for spot in spots[len(placed) :]]
        n_found = sum(lead is not None for _, lead in placed)
        if best is None or n_found > best[0]:
            best = n_found, view, labels, placed
        if n_found == len(spots):
            break
    assert best is not None
    return best[1:]


def _led(spot: MapSpot, view: View, labels: LabelPlacer, sheet: Sheet) -> Lead | None:
    x, y = view.spot(spot.lon, spot.lat)
    if not view.shows(spot.lon, spot.lat):
        return None
    if sheet.numbered:
        return labels.lead(x, y, 20.0, 20.0, line=20.0, reach=6.0)
    wide = max(text_width(spot.title, _TITLE) * 1.06, text_width(spot.note, _NOTE))
    tall = _LINE * (2 if spot.note else 1)
    return labels.lead(x, y, wide, tall, line=_LINE, reach=6.0)


def _edges(report: Report) -> dict[str, tuple[RidePart, ...]]:
    """What is closed to motorcycles, and where the ground or the way is in doubt."""
    found = report.verdict.findings
    closed = [p for item in found if item.kind is FindingKind.CLOSED for p in item.parts]
    doubt = [p for item in found if item.kind is FindingKind.GUESS for p in item.parts]
    doubt += [
        RidePart(from_m=s.from_m, to_m=s.to_m)
        for s in report.verdict.sections
        if s.ground in LAND_GROUNDS and s.p is not None and max(s.p) < _SURE
    ]
    edges = {"doubt": tuple(doubt), "closed": tuple(closed)}
    return {name: parts for name, parts in edges.items() if parts}


def _grounds(match: Match, cut: Sequence[Section]) -> dict[str, list[RidePart]]:
    """The parts of each ground; a way ridden again is drawn once: its dashes would run together."""
    found: dict[str, list[RidePart]] = {}
    runs = iter(_first_runs(match))
    run = next(runs, None)
    for section in cut:
        parts = found.setdefault(section.ground.value, [])
        while run is not None and run[0] < section.to_m:
            a, b = max(run[0], section.from_m), min(run[1], section.to_m)
            if b > a:
                parts.append(RidePart(from_m=a, to_m=b))
            if run[1] > section.to_m:  # the rest lies in the next section
                break
            run = next(runs, None)
    return {name: parts for name, parts in found.items() if parts}


def _first_runs(match: Match) -> list[tuple[float, float]]:
    """Runs of legs on ways that were not ridden before, and off the map, as positions [m]."""
    _, edge, times = np.unique(match.edge, return_inverse=True, return_counts=True)
    first = np.ones(len(edge), dtype=bool)
    again = np.flatnonzero((times[edge] > 1) & (match.edge >= 0))
    ends = np.sort([match.edge_from_m[again], match.edge_to_m[again]], axis=0).tolist()
    ridden: dict[int, list[tuple[float, float]]] = {}
    for k, way, low, high in zip(again.tolist(), edge[again].tolist(), *ends, strict=True):
        before = ridden.setdefault(way, [])
        if any(2 * (min(high, b) - max(low, a)) > high - low for a, b in before):
            first[k] = False
        else:
            before.append((low, high))
    from_m, to_m = match.from_m[first], match.to_m[first]
    apart = from_m[1:] > to_m[:-1]
    starts, ends = np.append(True, apart)[: len(from_m)], np.append(apart, True)[: len(to_m)]
    return list(zip(from_m[starts].tolist(), to_m[ends].tolist(), strict=True))


def map_ways_round(report: Report) -> tuple[Detour, ...]:
    """The road ways round that are advised and have a line of their own."""
    return tuple(way for way in sparing_detours(report) if len(way.lon) > 1)


def map_edges(report: Report) -> tuple[str, ...]:
    """The edges that this ride's map draws, for its key."""
    return tuple(_edges(report))


def _roads(around: Surroundings, view: View) -> list[Markup]:
    """One path a rank; points on a grid of half a pixel are enough behind the ride."""
    x, y = view.x(around.lon), view.y(around.lat)
    inside = (x > -20) & (x < view.width + 20) & (y > -20) & (y < view.height + 20)
    count = np.diff(around.start)
    shown = np.zeros(len(count), dtype=bool)
    shown[np.repeat(np.arange(len(count)), count)[inside]] = True
    points = np.repeat(shown, count)
    start = np.concatenate([[0], np.cumsum(count[shown])])
    x, y, start = thinned(x[points], y[points], start, off=1.0)
    rank, count = around.rank[shown], np.diff(start)
    parts = []
    for one in _ranks(around):
        mine = rank == one
        points = np.repeat(mine, count)
        d = polylines(x[points], y[points], np.concatenate([[0], np.cumsum(count[mine])]), scale=2)
        parts.append(tag("path", id=f"road{one}", class_="shape", d=d))
    return parts


def _ranks(around: Surroundings) -> list[int]:
    """The ranks there are, minor roads first, so that main ones lie on top."""
    return sorted(set(around.rank.tolist()), reverse=True)


def _pieces(
    match: Match, spans: Sequence[tuple[float, float]], view: View, off: float = 0.4
) -> list[str]:
    """The line between each pair of positions [m], as path data. off : see `thinned`"""
    x, y = view.x(match.lon), view.y(match.lat)
    ends = np.array(spans)
    end_x, end_y = np.interp(ends, match.at_m, x), np.interp(ends, match.at_m, y)
    first = np.searchsorted(match.at_m, ends[:, 0], side="right").tolist()
    last = np.searchsorted(match.at_m, ends[:, 1], side="left").tolist()
    inside = [slice(a, max(a, b)) for a, b in zip(first, last, strict=True)]
    line_x, line_y = _between(x, end_x, inside), _between(y, end_y, inside)
    start = np.cumsum([0, *(2 + part.stop - part.start for part in inside)])
    return lines(*thinned(line_x, line_y, start, off), scale=2)


def _between(value: FloatArray, ends: FloatArray, inside: list[slice]) -> FloatArray:
    """For each part its first end, what lies inside, and its last end, one after the other."""
    return np.concatenate(
        [
            piece
            for part, end in zip(inside, ends, strict=True)
            for piece in (end[:1], value[part], end[1:])
        ]
    )


def _lines(report: Report, view: View, drawn: View) -> Markup:
    """The shapes moved to this view: roads, edges, the ride, what the pointer meets."""
    around, cut = report.assessed.places.surroundings, report.verdict.sections
    times = view.px_per_m / drawn.px_per_m
    left, top = view.spot(drawn.west, drawn.north)
    roads = [tag("use", href=f"#road{k}", class_=f"road r{k}") for k in _ranks(around)]
    grounds = [kind.value for kind in GroundKind if any(x.ground is kind for x in cut)]
    ride = [f'<use href="#on-{ground}" class="casing"/>' for ground in grounds]
    for name in _edges(report):
        ride += [f'<use href="#on-{name}" class="{kind}-{name}"/>' for kind in ("edge", "inner")]
    for ground in grounds:
        ride += [
            f'<use href="#on-{ground}" class="{kind}-{ground}"/>' for kind in ("ride u", "ride m")
        ]
    hits = [f'<use href="#way{s.number}" class="hit" data-s="{s.number}"/>' for s in cut]
    move = f"translate({num(left)} {num(top)}) scale({times:.4f})"
    same = abs(times - 1) < 1e-9
    inside = Markup("".join([*roads, *ride, *hits]))
    return tag("g", inside, transform=None if same else move)


def _detours(detours: Sequence[Detour], view: View) -> Markup:
    """The road ways round that are advised, under the ride."""
    drawn = [
        polylines(*thinned(view.x(way.lon), view.y(way.lat), np.array([0, len(way.lon)])), scale=2)
        for way in detours
    ]
    return join([tag("path", class_="detour", d=d) for d in drawn])


def _spot(spot: MapSpot, number: int, lead: Lead | None, view: View, sheet: Sheet) -> Markup:
    """The mark of a spot, its leader and its words, or its number."""
    if not view.shows(spot.lon, spot.lat):
        return Markup("")
    x, y = view.spot(spot.lon, spot.lat)
    if spot.kind == "help":
        mark = tag("rect", class_="helpmark", x=x - 4.5, y=y - 4.5, width=9, height=9)
    elif spot.kind == "decide":
        mark = tag("circle", class_="choice", cx=x, cy=y, r=5.5)
    else:
        mark = tag("circle", class_="end", cx=x, cy=y, r=4.5)
    if lead is None:
        return mark
    path = f"M{num(lead.from_x)} {num(lead.from_y)}L{num(lead.to_x)} {num(lead.to_y)}"
    parts = [tag("path", class_="lead", d=path), mark]
    left, top, right, _ = lead.box
    if sheet.numbered:
        parts += [
            tag("circle", class_="numberback", cx=left + 10, cy=top + 10, r=10.0),
            text(left + 10, top + 14.5, str(number), class_="number", text_anchor="middle"),
        ]
    else:
        at, anchor = (right, "end") if lead.is_left else (left, "start")
        words = text(at, top + 12.5, spot.title, class_="spotname", text_anchor=anchor)
        parts.append(tag("a", words, href=spot.href) if spot.href else words)
        if spot.note:
            parts.append(
                text(at, top + _LINE + 12.0, spot.note, class_="spotnote", text_anchor=anchor)
            )
    return join(parts)


def _distances(
    match: Match, view: View, translator: Translator, labels: LabelPlacer, sheet: Sheet
) -> Markup:
    """A mark each 10 km or miles along the ride; numbers at round ones where there is room."""
    length = match.length_m / translator.distance_unit_m
    step = nice_step(length, sheet.marks)
    fine = float(max(_MARK_KM, nice_step(length, _MOST_MARKS))) if step >= _MARK_KM else step
    every = max(round(step / fine), 1)
    at = np.arange(1, math.ceil(length / fine)) * fine
    x, y = (
        f(v).tolist()
        for f, v in zip(
            (view.x, view.y), match.lonlat(np.asarray(at * translator.distance_unit_m)), strict=True
        )
    )
    marks = [
        f'<circle class="mark" cx="{num(cx)}" cy="{num(cy)}" r="2.5"/>'
        for cx, cy in zip(x, y, strict=True)
    ]
    parts = [Markup("".join(marks))]
    for k in range(every - 1, len(at), every):
        label = translator.number(at[k], 0 if step >= 1 else 1)
        spot = labels.place(x[k], y[k], label, 12.0, away=9.0)
        if spot is not None:
            parts.append(text(*spot, label, class_="dist"))
    return join(parts)


def _names(around: Surroundings, view: View, labels: LabelPlacer, told: Sequence[str]) -> Markup:
    """Names of towns; of the villages passed where there is no town. Without room: left out.

    told : the titles of labels, whose places are named already
    """
    seen = {p.name: p for p in (*around.towns, *around.places) if view.shows(p.lon, p.lat)}
    towns = [p for p in seen.values() if p.kind in ("city", "town")]
    passed = {p.name for p in around.places}
    rows = towns or [p for p in seen.values() if p.kind == "village" and p.name in passed]
    parts = []
    for place in sorted(rows, key=lambda p: (p.name not in passed, _rank(p), p.name)):
        if any(title.startswith(place.name) for title in told):
            continue
        x, y = view.spot(place.lon, place.lat)
        name = shortened(place.name, 28)
        spot = labels.place(x, y, name, 13.0, away=6.0)
        if spot is not None:
            kind = "name" if place.name in passed else "name off"
            parts.append(tag("circle", class_="townmark", cx=x, cy=y, r=2.0))
            parts.append(text(*spot, name, class_=kind))
    return join(parts)


def _rank(place: PassedPlace) -> tuple[int, float]:
    return _TOWNS.get(place.kind, 9), -(place.population or 0.0)


def _scale(view: View, translator: Translator, labels: LabelPlacer) -> Markup:
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


def _north(view: View, labels: LabelPlacer) -> Markup:
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
