"""Which format a document is in, by its content; the name decides nothing but a doubt."""

from __future__ import annotations

import re
from enum import StrEnum

from terrain.errors import RouteError
from terrain.inputs.lines.geopackage import MAGIC, is_geopackage
from terrain.inputs.lines.look import by_bytes, by_magic
from terrain.inputs.lines.polyline import looks_encoded
from terrain.inputs.lines.table import has_columns, has_numbers
from terrain.text.message import message

_HEAD = 8192
_ROOT = re.compile(r"<(?:[\w.-]{1,40}:)?(gpx|kml)[\s/>]")
_LINK = re.compile(r"\s*(?:<?https?:|geo:|\[InternetShortcut\])", re.IGNORECASE)
_SHORTCUT = re.compile(r"<plist\b.*<key>URL</key>", re.DOTALL)
_LINK_FIX = message(
    "Open the link, and export the route there as a file: GPX, KML or GeoJSON. If it offers "
    "none, draw the route again in a planner that does."
)
_MARKS = ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"))


class Format(StrEnum):
    """A format a route may come in."""

    GPX = "GPX"
    KML = "KML"
    GEOJSON = "GeoJSON"
    GEOPACKAGE = "GeoPackage"
    CSV = "CSV"
    POLYLINE = "encoded polyline"


def is_link(text: str) -> bool:
    """True for the address of a page, or a shortcut to one."""
    return _LINK.match(text) is not None


def link_error(source: str) -> RouteError:
    """The refusal of a pasted link, with the way to a file."""
    return RouteError(message("this is a link to a page, not a route"), source, _LINK_FIX)


def text_of(data: bytes) -> str:
    """A document that is no XML as text: by its byte-order mark, as UTF-8, or as Latin-1."""
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return data[len(mark) :].decode(encoding, errors="replace")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def utf8_of(data: bytes) -> bytes:
    """The same as UTF-8 without a mark; the very bytes where all are ASCII."""
    return data if data.isascii() else text_of(data).encode("utf-8", errors="replace")


def format_of(data: bytes, source: str, name: str = "") -> Format:
    """The format of a document.

    name : the file's own name; `source` as shown if empty
    Raises RouteError saying what it is instead, and what to send.
    """
    if is_geopackage(data):
        return Format.GEOPACKAGE
    if (other := by_magic(data)) is not None:
        raise RouteError(other.what, source, other.fix)
    head = text_of(data[:_HEAD])
    if is_link(head) or _SHORTCUT.search(head):
        raise link_error(source)
    if head.lstrip("\x1e \t\r\n")[:1] in ("{", "["):
        return Format.GEOJSON
    if (root := _ROOT.search(head.replace("\0", ""))) is not None:
        return Format.KML if root[1] == "kml" else Format.GPX
    body = head.lstrip("\r\n")
    if has_columns(body) or has_numbers(body):
        return Format.CSV
    lower = (name or source).lower()
    if lower.endswith((".polyline", ".polyline5", ".polyline6")) or looks_encoded(data):
        return Format.POLYLINE
    if (other := by_bytes(data)) is not None:
        raise RouteError(other.what, source, other.fix)
    return Format.GPX


def holds_route(data: bytes, name: str) -> bool:
    """Whether an entry of an archive is one of the formats; text is not taken for a line."""
    if data.startswith(MAGIC):
        return is_geopackage(data)
    head = text_of(data[:_HEAD])
    start = head.lstrip("\x1e \t\r\n")
    if start[:1] in ("{", "["):
        return '"coordinates"' in head or '"FeatureCollection"' in head or '"Feature"' in head
    if _ROOT.search(head.replace("\0", "")):
        return True
    lower = name.lower()
    return has_columns(start) or lower.endswith((".polyline", ".polyline5", ".polyline6"))
