"""Recorded rides: GPX with times, a tracker's CSV, NMEA 0183 logs; one file or several a ride.

read_track -> parse_track: format -> Fixes -> cleaned -> Track; read_ride joins several by time.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from terrain.errors import RouteError, TrackError
from terrain.inputs.lines.container import unpack
from terrain.inputs.lines.limits import LIMITS
from terrain.inputs.lines.look import by_bytes
from terrain.inputs.reading import read_most
from terrain.inputs.tracks.clean import cleaned
from terrain.inputs.tracks.fixes import Fixes
from terrain.inputs.tracks.gpxfile import gpx_fixes
from terrain.inputs.tracks.join import joined
from terrain.inputs.tracks.nmea import is_nmea, nmea_fixes
from terrain.inputs.tracks.tracker_csv import csv_fixes
from terrain.text.message import message
from terrain.values.track import Track

__all__ = ["parse_track", "read_ride", "read_track"]

FORMATS = message(
    "Send the recording as GPX with times, as CSV with time, lat and lon, or as an NMEA log."
)


def read_ride(paths: Sequence[str | Path]) -> Track:
    """The ride recorded in one or several files, in the order of their times.

    Raises TrackError for a file that cannot be used, and for files of two riders.
    """
    return joined([read_track(path) for path in paths])


def read_track(path: str | Path) -> Track:
    """The recording in a file: GPX, CSV or NMEA 0183, plain or packed by gzip or zip.

    Raises TrackError if the file cannot be read or used.
    """
    path = Path(path)
    return parse_track(read_most(path, LIMITS.max_bytes, TrackError), path.name)


def parse_track(data: bytes, source: str) -> Track:
    """The recording in the bytes of a file; the content decides the format.

    source : the file's name as shown to people
    Raises TrackError with what, where and fix for what cannot be used: no times, two riders.
    """
    try:
        documents = unpack(data, source, LIMITS, _is_recording)
    except RouteError as exc:
        raise TrackError(exc.what, exc.where, FORMATS) from exc
    return joined([cleaned(_fixes(document.data, source), source) for document in documents])


def _is_recording(content: bytes, name: str) -> bool:
    """Whether an entry of an archive may be one: shadow files and pictures are not."""
    if name.startswith("."):
        return False
    head = content[:8_192].replace(b"\0", b"")
    return b"<gpx" in head or b":gpx" in head or is_nmea(content) or name.lower().endswith(".csv")


def _fixes(content: bytes, source: str) -> Fixes:
    if not content.strip(b"\0 \t\r\n\xef\xbb\xbf"):
        raise TrackError(message("the file is empty"), source, FORMATS)
    if b"<" in content[:200].lstrip(b"\xef\xbb\xbf\xff\xfe\0 \t\r\n")[:2]:
        return gpx_fixes(content, source)
    if is_nmea(content):
        return nmea_fixes(content, source)
    binary = b"\0" in content[:4096] and not content.startswith((b"\xff\xfe", b"\xfe\xff"))
    if binary and (other := by_bytes(content)) is not None:
        raise TrackError(other.what, source, FORMATS)
    return csv_fixes(content, source)
