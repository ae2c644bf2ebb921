"""The report for a map viewer: KML 2.2 with the ground in colours, findings, and places.

Source: OGC 07-147r2 (KML 2.2): colours are aabbggrr, coordinates lon,lat.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import groupby
from xml.etree.ElementTree import Element, SubElement, indent, tostring

import numpy as np
import shapely

from terrain.calc.geodesy import metres_per_degree
from terrain.report.data.gpx_points import points_of
from terrain.text.message import road_called, spaced
from terrain.text.plain import plain_line
from terrain.text.terms import GROUND_TERMS
from terrain.text.translator import Translator
from terrain.values.ground import GroundKind
from terrain.values.match import ride_coords
from terrain.values.report import Report
from terrain.values.verdict import Audience, Finding, Rank

_NAMESPACE = "http://www.opengis.net/kml/2.2"
_DIGITS = 6  # 0.1 m
# Darkness and width grow with hardness; the same inks as in the drawings. rrggbb, width [px]
_INKS = {
    GroundKind.PAVED: ("d0d0d0", 3),
    GroundKind.GRAVEL: ("e69f00", 5),
    GroundKind.TRACK: ("d55e00", 7),
    GroundKind.FERRY: ("56b4e9", 3),
    GroundKind.UNMAPPED: ("ffffff", 3),
}
_RANKS = {Rank.FORBIDDEN: ("000000", 3), Rank.DANGER: ("595959", 3)}
_MARK_M = 25.0  # width of a mark to each side
_FORBIDDEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")


def render_kml(
    report: Report, translator: Translator | None = None, audience: str = "rider"
) -> bytes:
    """The report as a KML 2.2 document, UTF-8: what forbids and endangers, the ground, the places.

    translator : language and units of names and texts; audience : whom the findings speak to
    """
    translator = translator or Translator()
    root = Element("kml", xmlns=_NAMESPACE)
    document = SubElement(root, "Document")
    _text(document, "name", report.assessed.route.name)
    _text(document, "description", _about(report, translator))
    for name, (colour, width) in (*_INKS.items(), *_RANKS.items()):
        _style(document, name.value, colour, width)
    _findings(document, report, translator, Audience(audience))
    _grounds(document, report, translator)
    _places(document, report, translator)
    indent(root, " ")
    return bytes(tostring(root, encoding="utf-8", xml_declaration=True)) + b"\n"


def _about(report: Report, translator: Translator) -> str:
    region = report.assessed.region
    texts = [translator.translate(report.verdict.headline)]
    if region.map_date:
        texts.append(translator.say("Map data of {map_day}.", map_day=region.map_date))
    texts.append(translator._("A line on a map is not permission to ride it."))
    return " ".join([*texts, *region.attribution])


def _text(parent: Element, name: str, text: str) -> None:
    """One line of text, without what XML 1.0 cannot hold."""
    if line := _FORBIDDEN.sub("", spaced(plain_line(text))).strip():
        SubElement(parent, name).text = line


def _style(document: Element, name: str, colour: str, width: int) -> None:
    style = SubElement(document, "Style", id=name)
    line = SubElement(style, "LineStyle")
    red, green, blue = colour[:2], colour[2:4], colour[4:]
    SubElement(line, "color").text = f"ff{blue}{green}{red}"
    SubElement(line, "width").text = str(width)
    # Half as strong within an area as on its edge.
    SubElement(SubElement(style, "PolyStyle"), "color").text = f"80{blue}{green}{red}"


def _folder(document: Element, name: str) -> Element:
    folder = SubElement(document, "Folder")
    _text(folder, "name", name)
    return folder


def _line(folder: Element, report: Report, style: str, from_m: float, to_m: float) -> Element:
    """A part of the ride; longitudes run on past 180 as viewers take them."""
    mark = Element("Placemark")
    line = Element("LineString")
    SubElement(line, "tessellate").text = "1"
    rows = ride_coords(report.assessed.match, from_m, to_m).round(_DIGITS).tolist()
    SubElement(line, "coordinates").text = " ".join(f"{lon},{lat}" for lon, lat in rows)
    SubElement(mark, "styleUrl").text = f"#{style}"
    mark.append(line)
    folder.append(mark)
    return mark


def _titled(mark: Element, name: str, text: str) -> None:
    """Name and description first, as the schema orders them."""
    for i, (tag, value) in enumerate((("name", name), ("description", text))):
        if line := _FORBIDDEN.sub("", spaced(plain_line(value))).strip():
            element = Element(tag)
            element.text = line
            mark.insert(i, element)


def _findings(
    document: Element, report: Report, translator: Translator, audience: Audience
) -> None:
    found = [f for f in report.verdict.findings if f.rank in _RANKS and f.parts]
    if not found:
        return
    folder = _folder(document, translator._("To know"))
    for finding in found:
        _finding(folder, report, finding, translator, audience)


def _area(folder: Element, report: Report, style: str, from_m: float, to_m: float) -> Element:
    """A part of the ride as an area around it: a mark, which nobody takes for a way to ride."""
    rows = ride_coords(report.assessed.match, from_m, to_m)
    per_lon, per_lat = metres_per_degree(float(rows[:, 1].mean()))
    scale = np.array([per_lon, per_lat])
    around = shapely.LineString(rows * scale).buffer(_MARK_M, quad_segs=3).simplify(2.0)
    mark = Element("Placemark")
    SubElement(mark, "styleUrl").text = f"#{style}"
    area = SubElement(mark, "Polygon")
    SubElement(area, "tessellate").text = "1"
    rings = [("outerBoundaryIs", around.exterior)]
    rings += [("innerBoundaryIs", ring) for ring in around.interiors]
    for name, ring in rings:
        corners = (shapely.get_coordinates(ring) / scale).round(_DIGITS).tolist()
        line = SubElement(SubElement(area, name), "LinearRing")
        SubElement(line, "coordinates").text = " ".join(f"{lon},{lat}" for lon, lat in corners)
    folder.append(mark)
    return mark


def _finding(
    folder: Element, report: Report, finding: Finding, translator: Translator, audience: Audience
) -> None:
    do = translator.translate(finding.do.to(audience))
    for part in finding.parts:
        to_m = max(part.to_m, part.from_m + 1.0)
        mark = _area(folder, report, finding.rank.value, part.from_m, to_m)
        where = translator.km_range(part.from_m, part.to_m)
        _titled(mark, translator.translate(finding.what), f"{where}. {do}")


def _grounds(document: Element, report: Report, translator: Translator) -> None:
    folder = _folder(document, translator._("Ground"))
    for kind, run in groupby(report.assessed.ground.stretches, key=lambda s: s.ground):
        stretches = list(run)
        from_m, to_m = stretches[0].from_m, stretches[-1].to_m
        mark = _line(folder, report, kind.value, from_m, to_m)
        roads = _distinct(s.name for s in stretches)
        names = ", ".join(translator.translate(road_called(name)) for name in roads)
        where = translator.km_range(from_m, to_m)
        name = f"{translator._(GROUND_TERMS[kind])}, {where}"
        _titled(mark, name, names)


def _distinct(names: Iterable[str | None]) -> Iterator[str]:
    return iter(dict.fromkeys(name for name in names if name))


def _places(document: Element, report: Report, translator: Translator) -> None:
    points = list(points_of(report, translator))
    if not points:
        return
    folder = _folder(document, translator._("Places"))
    for point in points:
        mark = SubElement(folder, "Placemark")
        _text(mark, "name", point.name)
        _text(mark, "description", point.text)
        lon = (point.lon + 180.0) % 360.0 - 180.0
        place = SubElement(mark, "Point")
        SubElement(place, "coordinates").text = f"{round(lon, _DIGITS)},{round(point.lat, _DIGITS)}"
