"""The operator's own ground notes from CSV or GeoJSON.

CSV columns: way_id (of OpenStreetMap) or lon and lat of a spot; ground (paved, gravel, track);
severity (0 to 5, or its name); date (2026-03-31); who; remark. GeoJSON: a line along the ground
or a point, with the same names as properties; without geometry, a way_id. A note must say ground
or severity or both.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from terrain.errors import NotesError
from terrain.inputs.faults import Fault, WrongError, faults_error
from terrain.inputs.reading import read_most
from terrain.inputs.tables import clean, table_rows, utf8_text
from terrain.tables.ground_severity import SEVERITIES
from terrain.text.message import Message, message
from terrain.values.ground import LAND_GROUNDS, GroundKind, GroundNote, Severity

MOST_BYTES = 8_000_000
MOST_NOTES = 20_000
MOST_POINTS = 20_000  # of one line
_ALIASES = {
    "way": "way_id", "osm_id": "way_id", "osmid": "way_id", "id": "way_id", "@id": "way_id",
    "latitude": "lat", "y": "lat", "longitude": "lon", "lng": "lon", "x": "lon",
    "surface": "ground", "level": "severity", "noted": "date", "seen": "date", "day": "date",
    "by": "who", "name": "who", "author": "who", "note": "remark", "comment": "remark",
    "description": "remark",
}  # fmt: skip
_GROUNDS = {
    **{kind.value: kind for kind in LAND_GROUNDS},
    "sealed": GroundKind.PAVED, "asphalt": GroundKind.PAVED, "tarmac": GroundKind.PAVED,
    "concrete": GroundKind.PAVED, "dirt": GroundKind.TRACK, "earth": GroundKind.TRACK,
    "sand": GroundKind.TRACK, "mud": GroundKind.TRACK, "rock": GroundKind.TRACK,
}  # fmt: skip
_LEVELS = {row.name: Severity(row.level) for row in SEVERITIES}
_KEYS = ("way_id", "lon", "lat", "ground", "severity", "date", "who", "remark")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """One note before it is checked: its texts, its line if it is drawn, and where it stands."""

    texts: Mapping[str, str]
    line: tuple[tuple[float, float], ...]
    where: Message


def read_notes(path: str | Path) -> tuple[GroundNote, ...]:
    """The notes in a .csv, .geojson or .json file.

    Raises NotesError naming every faulty line (up to twelve) with its fix.
    """
    path = Path(path)
    return parse_notes(read_most(path, MOST_BYTES, NotesError), path.name)


def parse_notes(data: bytes, source: str) -> tuple[GroundNote, ...]:
    """The notes in the bytes of a file; the content decides the format.

    source : the file's name as shown to people
    """
    notes, faults = check_notes(data, source)
    if faults:
        raise faults_error(faults, NotesError, source)
    return notes


def check_notes(data: bytes, source: str) -> tuple[tuple[GroundNote, ...], tuple[Fault, ...]]:
    """The notes that can be used and every fault found.

    Raises NotesError only for a file that holds no lines to check.
    """
    text = _text(data, source)
    rows = _geojson_rows(text, source) if text.lstrip()[:1] in "{[" else _csv_rows(text, source)
    notes: list[GroundNote] = []
    faults: list[Fault] = []
    for count, row in enumerate(rows):
        if count >= MOST_NOTES:
            raise NotesError(
                message("the file holds more than {most_notes} notes", most_notes=str(MOST_NOTES)),
                source,
                message("Split it."),
            )
        found, wrong = _note(row, source)
        if found is not None:
            notes.append(found)
        faults += wrong
    if not notes and not faults:
        raise NotesError(
            message("the file holds no note"), source, message("Add one line per note.")
        )
    return tuple(notes), tuple(faults)


def _text(data: bytes, source: str) -> str:
    if len(data) > MOST_BYTES:
        raise NotesError(message("the file is larger than 8 MB"), source, message("Split it."))
    text = utf8_text(data, source, NotesError)
    if not text.strip():
        raise NotesError(message("the file is empty"), source, message("Add one line per note."))
    return text


def _note(row: _Row, source: str) -> tuple[GroundNote | None, list[Fault]]:
    """The note of a row, or all that is wrong with it."""
    texts = {key: clean(value) for key, value in row.texts.items()}
    told: dict[str, Any] = {}
    faults = []
    readers: dict[str, Callable[[], Any]] = {
        "ground": lambda: _ground(texts.get("ground", "")),
        "severity": lambda: _severity(texts.get("severity", "")),
        "date": lambda: _date(texts.get("date", "")),
        "place": lambda: _place(texts, row.line),
    }
    for key, read in readers.items():
        try:
            told[key] = read()
        except WrongError as exc:
            faults.append(Fault(at=row.where, what=exc.what, fix=exc.fix))
    if not faults and told["ground"] is None and told["severity"] is None:
        faults.append(
            Fault(
                at=row.where,
                what=message("it says neither ground nor severity"),
                fix=message("Give ground (paved, gravel, track), severity (0 to 5), or both."),
            )
        )
    if faults:
        return None, faults
    way_id, line = told["place"]
    note = GroundNote(
        way_id=way_id, line=line, ground=told["ground"], severity=told["severity"],
        noted=told["date"], who=texts.get("who", ""), remark=texts.get("remark", ""),
        source=f"{source}, {row.where}",
    )  # fmt: skip
    return note, []


def _ground(text: str) -> GroundKind | None:
    if not text:
        return None
    kind = _GROUNDS.get(text.lower())
    if kind is None:
        raise WrongError(
            message("ground {text} is not known", text=repr(text)),
            message("Write paved, gravel or track."),
        )
    return kind


def _severity(text: str) -> Severity | None:
    if not text:
        return None
    if text.lower() in _LEVELS:
        return _LEVELS[text.lower()]
    try:
        return Severity(int(float(text)) if float(text).is_integer() else -1)
    except (ValueError, OverflowError):
        names = ", ".join(f"{row.level} {row.name}" for row in SEVERITIES)
        raise WrongError(
            message("severity {text} is not known", text=repr(text)),
            message("Write one of: {names}.", names=names),
        ) from None


def _date(text: str) -> date | None:
    if not text:
        return None
    try:
        return date.fromisoformat(text[:10])
    except ValueError:
        fix = message("Write year-month-day, as in 2026-03-31.")
        raise WrongError(message("date {text} is not a date", text=repr(text)), fix) from None


def _place(
    texts: Mapping[str, str], line: tuple[tuple[float, float], ...]
) -> tuple[int | None, tuple[tuple[float, float], ...]]:
    """The way, or the line, that a note is about."""
    fix = message("Give a way_id, or lon and lat, or draw it.")
    way, lon, lat = texts.get("way_id", ""), texts.get("lon", ""), texts.get("lat", "")
    if line:
        return None, tuple((_degrees(x, "lon", 180.0), _degrees(y, "lat", 90.0)) for x, y in line)
    if lon or lat:
        return None, ((_degrees(lon, "lon", 180.0), _degrees(lat, "lat", 90.0)),)
    if not way:
        raise WrongError(message("it does not say where"), fix)
    number = way.removeprefix("way/")
    if not (number.isascii() and number.isdigit() and 0 < int(number) < 2**62):
        raise WrongError(
            message("way_id {way} is not the number of a way", way=repr(way)),
            message("Copy it from the map."),
        )
    return int(number), ()


def _degrees(value: str | float, key: str, most: float) -> float:
    try:
        number = float(str(value).replace(",", "."))
    except ValueError:
        number = math.nan
    if not -most <= number <= most:
        what = message(
            "{key} {value} is not between {low} and {high}",
            key=key, value=repr(value), low=f"{-most:.0f}", high=f"{most:.0f}",
        )  # fmt: skip
        raise WrongError(what, message("Write degrees, lon before lat."))
    return number


def _csv_rows(text: str, source: str) -> Iterator[_Row]:
    head: list[str] | None = None
    for row in table_rows(text, source, NotesError):
        if head is None:
            head = _head(row.cells, source)
            continue
        texts = {key: cell for key, cell in zip(head, row.cells, strict=False) if key}
        yield _Row(texts=texts, line=(), where=message("line {line}", line=str(row.line)))


def _head(cells: list[str], source: str) -> list[str]:
    head = [_key(cell) for cell in cells]
    if not {"ground", "severity"} & set(head):
        raise NotesError(
            message("the first line does not name the columns"),
            source,
            message("Start with: way_id,ground,severity,date,who,remark"),
        )
    return [key if key in _KEYS else "" for key in head]


def _key(text: str) -> str:
    word = text.strip().lower()
    return _ALIASES.get(word, word)


def _geojson_rows(text: str, source: str) -> Iterator[_Row]:
    try:
        tree = json.loads(text)
    except (ValueError, RecursionError) as exc:
        line = str(getattr(exc, "lineno", 1))
        where = message("{file}, line {line}", file=source, line=line)
        raise NotesError(
            message("the file is not JSON"), where, message("Export it again.")
        ) from exc
    features = tree.get("features") if isinstance(tree, dict) else tree
    if isinstance(tree, dict) and tree.get("type") == "Feature":
        features = [tree]
    if not isinstance(features, list):
        raise NotesError(
            message("the file is not a GeoJSON collection of features"),
            source,
            message("Export it as GeoJSON."),
        )
    lines = _feature_lines(text, len(features))
    for number, feature in enumerate(features):
        where = message("feature {n}", n=str(number + 1))
        if lines:
            line = str(lines[number])
            where = message("feature {n}, line {line}", n=str(number + 1), line=line)
        yield from _feature_rows(feature, where)


def _feature_lines(text: str, count: int) -> list[int]:
    """Line at which each feature starts; empty if they cannot be told apart."""
    decoder, lines = json.JSONDecoder(), []
    at, line, counted = text.find("[", max(0, text.find('"features"'))) + 1, 1, 0
    try:
        for _ in range(count):
            while text[at] in " \t\r\n,":
                at += 1
            line += text.count("\n", counted, at)
            counted = at
            lines.append(line)
            _, at = decoder.raw_decode(text, at)
    except (ValueError, IndexError, RecursionError):
        return []
    return lines


def _feature_rows(feature: Any, where: Message) -> Iterator[_Row]:
    if not isinstance(feature, dict):
        yield _Row(texts={}, line=(), where=where)
        return
    given = feature.get("properties")
    texts = {
        key: str(value)
        for name, value in (given.items() if isinstance(given, dict) else ())
        if (key := _key(str(name))) in _KEYS and isinstance(value, str | int | float)
    }
    geometry = feature.get("geometry")
    for line in _lines(geometry) or [()]:
        yield _Row(texts=texts, line=line, where=where)


def _lines(geometry: Any) -> list[tuple[tuple[float, float], ...]]:
    """The lines of a geometry; a point is a line of one. Wrong ones become NaN points."""
    if not isinstance(geometry, dict):
        return []
    parts = geometry.get("coordinates")
    kind = geometry.get("type")
    if kind == "Point":
        parts = [[parts]]
    elif kind in ("LineString", "MultiPoint"):
        parts = [parts]
    elif kind != "MultiLineString":
        return [((math.nan, math.nan),)]
    if not isinstance(parts, list):
        return [((math.nan, math.nan),)]
    return [
        tuple(_pair(pair) for pair in (line if isinstance(line, list) else [None])[:MOST_POINTS])
        for line in parts
    ]


def _pair(pair: Any) -> tuple[float, float]:
    try:
        lon, lat = pair[0], pair[1]
        if isinstance(lon, int | float) and isinstance(lat, int | float):
            return float(lon), float(lat)
    except (TypeError, LookupError, OverflowError):
        pass
    return math.nan, math.nan
