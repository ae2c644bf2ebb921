"""The report for the GPS unit: GPX 1.1 with route, a track per day, and waypoints.

Source: GPX 1.1 schema, topografix.com/GPX/1/1.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from datetime import UTC
from itertools import pairwise
from typing import NamedTuple
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from terrain.calc.thinning import thin_line
from terrain.report.data.gpx_points import Point, out_text, points_of
from terrain.text.catalogue import N_
from terrain.text.message import spaced
from terrain.text.plain import plain_line
from terrain.text.translator import Translator
from terrain.values.arrays import FloatArray, even_rows
from terrain.values.detours import Detour
from terrain.values.relief import Relief
from terrain.values.report import Report

NAMESPACE = "http://www.topografix.com/GPX/1/1"
_XSI = "http://www.w3.org/2001/XMLSchema-instance"
_LICENCE = "https://www.openstreetmap.org/copyright"
# Older units take no more points in a route (common practice, no source).
MOST_ROUTE_POINTS = 250
_ROUTE_TOLERANCES_M = (20.0, 50.0, 100.0, 200.0, 500.0, 1000.0)


class _Track(NamedTuple):
    """A track: pieces of lon, lat, ele rows, shape (n, 3); ele NaN where not known."""

    name: str
    text: str
    kind: str
    pieces: tuple[FloatArray, ...]


def render_gpx(report: Report, translator: Translator | None = None) -> bytes:
    """The report as a GPX 1.1 file, UTF-8.

    translator : language and units of names and texts

    Waypoints: where what forbids the ride begins, stops of the plan, ways out and points of
    decision, where a van can meet, starts and ends of remote parts, helpers by name. One route,
    thinned to 250 points; one track a day (one in all without a plan); ways out and other ways
    round as further tracks.
    """
    translator = translator or Translator()
    parts = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<gpx version="1.1" creator={quoteattr(f"terrain {report.terrain_version}")} '
        f'xmlns="{NAMESPACE}" xmlns:xsi="{_XSI}" '
        f'xsi:schemaLocation="{NAMESPACE} {NAMESPACE}/gpx.xsd">',
        *_metadata(report, translator),
    ]
    for point in points_of(report, translator):
        parts += _waypoint(point)
    parts += _route(report, translator)
    for track in _tracks(report, translator):
        parts += _track(track)
    parts.append("</gpx>")
    return ("\n".join(parts) + "\n").encode("utf-8")


def _metadata(report: Report, translator: Translator) -> Iterator[str]:
    region = report.assessed.region
    when = report.made_at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    verdict = translator.translate(report.verdict.headline)
    texts = [verdict, translator._("Planned line, not a recording.")]
    if region.map_date:
        texts.append(translator.say("Map data of {map_day}.", map_day=region.map_date))
    texts.append(translator._("A line on a map is not permission to ride it."))
    text = " ".join([*texts, *translator.translate_all(region.notes)])
    yield "<metadata>"
    yield f"<name>{_text(report.assessed.route.name)}</name>"
    yield f"<desc>{_text(text)}</desc>"
    yield from _copyright(region.attribution)
    yield f"<time>{when}</time>"
    yield "</metadata>"


def _copyright(attribution: tuple[str, ...]) -> Iterator[str]:
    """Whose map the line was laid on, by the region's own word."""
    if any("OpenStreetMap contributors" in line for line in attribution):
        yield '<copyright author="OpenStreetMap contributors">'
        yield f"<license>{_LICENCE}</license></copyright>"
    elif attribution:
        yield f"<copyright author={quoteattr(plain_line(attribution[0]))}/>"


def _text(value: str) -> str:
    """Text for an element: one line, without what XML 1.0 cannot hold."""
    # Some units show a box for spaces that do not break.
    line = spaced(plain_line(value))
    kept = "".join(c for c in line if unicodedata.category(c) != "Cs" and ord(c) & 0xFFFE != 0xFFFE)
    return escape(kept.strip())


def _place(lon: float, lat: float) -> str:
    # The schema allows -180 <= lon < 180; a route may run on past the antimeridian.
    wrapped = (lon + 180.0) % 360.0 - 180.0
    east = f"{wrapped:.6f}"
    return f'lat="{lat:.6f}" lon="{"-180.000000" if east == "180.000000" else east}"'


def _waypoint(point: Point) -> Iterator[str]:
    yield f"<wpt {_place(point.lon, point.lat)}>"
    yield f"<name>{_text(point.name)}</name>"
    if point.text:
        yield f"<desc>{_text(point.text)}</desc>"
    yield f"<sym>{_text(point.symbol)}</sym>"
    yield f"<type>{_text(point.kind)}</type>"
    yield "</wpt>"


def _route(report: Report, translator: Translator) -> Iterator[str]:
    lon, lat = _route_line(report.assessed.match.lon, report.assessed.match.lat)
    yield "<rte>"
    yield f"<name>{_text(report.assessed.route.name)}</name>"
    text = translator._("Thinned for units with few route points; the tracks hold the whole line.")
    yield f"<desc>{_text(text)}</desc>"
    for x, y in zip(lon.tolist(), lat.tolist(), strict=True):
        yield f"<rtept {_place(x, y)}/>"
    yield "</rte>"


def _route_line(lon: FloatArray, lat: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The ride with as few points as a unit takes, as near to its line as that allows."""
    for tolerance_m in _ROUTE_TOLERANCES_M:
        keep = thin_line(lon, lat, tolerance_m, 1e9)
        if int(keep.sum()) <= MOST_ROUTE_POINTS:
            return lon[keep], lat[keep]
    some = even_rows(len(lon), MOST_ROUTE_POINTS)
    return lon[some], lat[some]


def _tracks(report: Report, translator: Translator) -> Iterator[_Track]:
    whole = report.assessed
    days = whole.plan.days
    if days:
        for day in days:
            name = whole.route.name
            if len(days) > 1:
                name = translator.say("Day {n_day}: {route}", n_day=day.number, route=name)
            text = translator.km_range(day.from_m, day.to_m)
            yield _Track(name, text, "day", _pieces(report, day.from_m, day.to_m))
    else:
        pieces = _pieces(report, 0.0, whole.match.length_m)
        yield _Track(whole.route.name, "", "ride", pieces)
    for way in whole.help.exits:
        for out in () if way.is_short else (way.worst, *way.sides):
            if out is not None and len(out.lon) > 1:
                name = translator.say("Way out from {out_at_m}", out_at_m=out.at_m)
                line = _flat(out.lon, out.lat)
                yield _Track(name, out_text(out, translator), "exit", (line,))
    for detour in whole.plan.detours:
        if len(detour.lon) > 1:
            line = _flat(detour.lon, detour.lat)
            name = _detour_name(detour, translator)
            yield _Track(name, translator.translate(detour.words), "detour", (line,))


def _detour_name(detour: Detour, translator: Translator) -> str:
    what = {"road": N_("Road tyres"), "dirt": N_("More dirt")}[detour.kind.value]
    span = translator.km_range(detour.from_m, detour.to_m)
    return translator._("{what}: {where}", what=translator._(what), where=span)


def _flat(lon: FloatArray, lat: FloatArray) -> FloatArray:
    return np.column_stack((lon, lat, np.full(len(lon), np.nan)))


def _pieces(report: Report, from_m: float, to_m: float) -> tuple[FloatArray, ...]:
    """The ride between two positions, cut where the planned line breaks."""
    match = report.assessed.match
    # A break's position stands for two points of the line: the later one opens a new piece.
    starts = [int(np.searchsorted(match.at_m, at, side="right")) - 1 for at in match.breaks_m]
    borders = sorted({0, *starts, len(match.at_m)})
    out = []
    for first, last in pairwise(borders):
        at_m = match.at_m[first:last]
        low, high = max(from_m, float(at_m[0])), min(to_m, float(at_m[-1]))
        if low >= high:
            continue
        inside = at_m[(at_m > low) & (at_m < high)]
        want = np.concatenate(([low], inside, [high]))
        lon = np.interp(want, at_m, match.lon[first:last])
        lat = np.interp(want, at_m, match.lat[first:last])
        out.append(np.column_stack((lon, lat, _heights(report.assessed.relief, want))))
    return tuple(out)


def _heights(relief: Relief, at_m: FloatArray) -> FloatArray:
    """Heights along the ride [m], NaN where not known."""
    if not len(relief.at_m):
        return np.full(len(at_m), np.nan)
    return np.asarray(np.interp(at_m, relief.at_m, relief.ele_m), dtype=np.float64)


def _track(track: _Track) -> Iterator[str]:
    yield "<trk>"
    yield f"<name>{_text(track.name)}</name>"
    if track.text:
        yield f"<desc>{_text(track.text)}</desc>"
    yield f"<type>{_text(track.kind)}</type>"
    for piece in track.pieces:
        yield "<trkseg>"
        for lon, lat, ele in piece.tolist():
            point = f"<trkpt {_place(lon, lat)}"
            yield f"{point}/>" if ele != ele else f"{point}><ele>{ele:.1f}</ele></trkpt>"
        yield "</trkseg>"
    yield "</trk>"
