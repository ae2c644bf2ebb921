"""The operator's own partners from CSV, GPX waypoints or GeoJSON.

CSV columns (GeoJSON properties likewise): name, lon, lat; kind (mechanic, fuel, water, hospital,
lodging, food; mechanic if not given), repairs (bike classes, all if empty), phone,
opening_hours, note. In GPX a waypoint's type or symbol gives the kind, and lines such as
"repairs: dual-sport, enduro" and "phone: +1 555 0100" in its description the rest.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Literal, NamedTuple
from xml.parsers import expat

from terrain.errors import HelpersError
from terrain.inputs.faults import Fault, WrongError, faults_error
from terrain.inputs.reading import read_most
from terrain.inputs.tables import clean, table_rows, utf8_text
from terrain.text.message import Message, message
from terrain.values.help import Helper, HelperKind

MOST_BYTES = 4_000_000
MOST_HELPERS = 10_000
_TOO_MANY = message("the file names more than {n} places", n=str(MOST_HELPERS))
_ALIASES = {
    "latitude": "lat", "y": "lat", "longitude": "lon", "lng": "lon", "long": "lon", "x": "lon",
    "title": "name", "type": "kind", "category": "kind", "bikes": "repairs",
    "classes": "repairs", "repair": "repairs", "telephone": "phone", "tel": "phone",
    "mobile": "phone", "hours": "opening_hours", "opening hours": "opening_hours",
    "open": "opening_hours", "notes": "note", "comment": "note", "description": "note",
    "desc": "note",
}  # fmt: skip
_KIND_WORDS = {
    HelperKind.MECHANIC: ("mechanic", "workshop", "garage", "repair", "car repair"),
    HelperKind.FUEL: ("fuel", "gas station", "petrol", "gas"),
    HelperKind.WATER: ("water", "drinking water"),
    HelperKind.HOSPITAL: ("hospital", "clinic", "medical facility", "doctor"),
    HelperKind.LODGING: ("lodging", "hotel", "guest house", "campground", "camp"),
    HelperKind.FOOD: ("food", "restaurant", "cafe"),
}
_KINDS = {word: kind for kind, words in _KIND_WORDS.items() for word in words}
_LABELLED = re.compile(r"^\s*(repairs|phone|hours|opening_hours|kind|note)\s*:\s*(.+)$", re.I)


class _Row(NamedTuple):
    """One partner before it is checked. texts : by column name; line : 0 if `at` says where."""

    texts: Mapping[str, str]
    line: int
    at: Message | Literal[""] = ""

    @property
    def where(self) -> Message:
        return self.at or message("line {line}", line=str(self.line))


def read_helpers(path: str | Path) -> tuple[Helper, ...]:
    """The operator's partners in a .csv, .gpx, .geojson or .json file.

    Raises HelpersError if the file cannot be read or used.
    """
    path = Path(path)
    return parse_helpers(read_most(path, MOST_BYTES, HelpersError), path.name)


def parse_helpers(data: bytes, source: str) -> tuple[Helper, ...]:
    """The operator's partners in the bytes of a file; the content decides the format.

    source : the file's name as shown to people
    Raises HelpersError naming every faulty line.
    """
    if len(data) > MOST_BYTES:
        raise HelpersError(
            message("the file is larger than 4 MB"),
            source,
            message("Split it, or leave points out."),
        )
    text = utf8_text(data, source, HelpersError)
    start = text.lstrip()[:1]
    if start == "<":
        rows = _gpx_rows(data, source)
    elif start == "{":
        rows = _geojson_rows(text, source)
    else:
        rows = _csv_rows(text, source)
    return _checked(rows, source)


def _checked(rows: list[_Row], source: str) -> tuple[Helper, ...]:
    if len(rows) > MOST_HELPERS:
        raise HelpersError(
            _TOO_MANY,
            source,
        )
    helpers: list[Helper] = []
    faults: list[Fault] = []
    for row in rows:
        try:
            helpers.append(_helper(row, source))
        except WrongError as exc:
            faults.append(Fault(line=row.line, at=row.at, what=exc.what, fix=exc.fix))
    if faults:
        raise faults_error(faults, HelpersError, source)
    if not helpers:
        raise HelpersError(
            message("the file names no place"), source, message("Add one line per partner.")
        )
    return tuple(helpers)


def _helper(row: _Row, source: str) -> Helper:
    texts = {key: clean(value) for key, value in row.texts.items()}
    name = texts.get("name", "")
    if not name:
        raise WrongError(message("it has no name"))
    return Helper(
        name=name,
        lon=_degrees(texts.get("lon"), "lon", 180.0),
        lat=_degrees(texts.get("lat"), "lat", 90.0),
        kind=_kind(texts.get("kind", "")),
        repairs=tuple(part for part in re.split(r"[,;|/\s]+", texts.get("repairs", "")) if part),
        phone=texts.get("phone") or None,
        opening_hours=texts.get("opening_hours") or None,
        note=texts.get("note") or None,
        where=f"{source}, {row.where}",
    )


def _degrees(text: str | None, key: str, most: float) -> float:
    if not text:
        raise WrongError(message("it has no {key}", key=key))
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        what = message("{key} {value} is not a number", key=key, value=repr(text))
        raise WrongError(what) from None
    if not -most <= value <= most:
        what = message(
            "{key} {value} is not between {low} and {high}",
            key=key, value=text, low=f"{-most:.0f}", high=f"{most:.0f}",
        )  # fmt: skip
        raise WrongError(what, message("Write degrees, lon before lat."))
    return value


def _kind(text: str) -> HelperKind:
    if not text:
        return HelperKind.MECHANIC
    kind = _KINDS.get(text.lower().replace("_", " "))
    if kind is None:
        allowed = ", ".join(item.value for item in HelperKind)
        raise WrongError(
            message("kind {word} is none of {allowed}", word=repr(text), allowed=allowed)
        )
    return kind


def _key(text: str) -> str:
    plain = text.strip().lower()
    return _ALIASES.get(plain, plain.replace(" ", "_"))


def _csv_rows(text: str, source: str) -> list[_Row]:
    rows = table_rows(text, source, HelpersError)
    head = next(rows, None)
    header = [_key(cell) for cell in head.cells] if head else []
    missing = [key for key in ("name", "lon", "lat") if key not in header]
    if missing:
        raise HelpersError(
            message("the first line lacks the column {names}", names=", ".join(missing)),
            message("{file}, line {line}", file=source, line=str(head.line if head else 1)),
            message(
                "Name the columns name, lon, lat and, if known, kind, repairs, phone, "
                "opening_hours, note."
            ),
        )
    return [_Row(dict(zip(header, row.cells, strict=False)), row.line) for row in rows]


def _geojson_rows(text: str, source: str) -> list[_Row]:
    try:
        root = json.loads(text)
    except (ValueError, RecursionError) as exc:
        line = getattr(exc, "lineno", None)
        where = message("{file}, line {line}", file=source, line=str(line)) if line else source
        raise HelpersError(message("this is not JSON"), where, message("Export it again.")) from exc
    return [
        _Row(_feature_texts(feature), 0, message("feature {n}", n=str(i)))
        for i, feature in _features(root, source)
    ]


def _features(root: Any, source: str) -> Iterator[tuple[int, dict[str, Any]]]:
    features = root.get("features") if isinstance(root, dict) else None
    if isinstance(root, dict) and root.get("type") == "Feature":
        features = [root]
    if not isinstance(features, list):
        raise HelpersError(
            message("this JSON is not GeoJSON"),
            source,
            message("Export a FeatureCollection of points."),
        )
    for i, feature in enumerate(features, start=1):
        if isinstance(feature, dict):
            yield i, feature


def _feature_texts(feature: dict[str, Any]) -> dict[str, str]:
    properties = feature.get("properties")
    geometry = feature.get("geometry")
    texts: dict[str, str] = {}
    for key, value in (properties if isinstance(properties, dict) else {}).items():
        if isinstance(value, list):
            value = ";".join(str(item) for item in value)
        if isinstance(value, str | int | float):
            texts[_key(key)] = str(value)
    is_point = isinstance(geometry, dict) and geometry.get("type") == "Point"
    place = geometry.get("coordinates") if is_point and isinstance(geometry, dict) else None
    if isinstance(place, list) and len(place) >= 2:
        texts["lon"], texts["lat"] = str(place[0]), str(place[1])
    else:
        # Only points: the middle of an area is not where the door is.
        texts.pop("lon", None), texts.pop("lat", None)
    return texts


class _Waypoints:
    """Collects <wpt> elements while the file is read once."""

    def __init__(self, parser: expat.XMLParserType) -> None:
        self.parser = parser
        self.rows: list[_Row] = []
        self.path: list[str] = []
        self.current: dict[str, str] | None = None
        self.line = 0
        self.text: list[str] = []

    def doctype(self, *_: object) -> None:
        raise WrongError(message("it has a document type declaration, which is refused"))

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        name = tag.rpartition(":")[2]
        self.path.append(name)
        if len(self.path) > 64:
            raise WrongError(message("its elements are nested more than 64 deep"))
        if len(self.path) == 2 and name == "wpt":
            self.line = self.parser.CurrentLineNumber
            self.current = {key: attributes.get(key, "") for key in ("lon", "lat")}
            if len(self.rows) >= MOST_HELPERS:
                raise WrongError(_TOO_MANY)
        self.text = []

    def data(self, text: str) -> None:
        if self.current is not None and len(self.path) == 3:
            self.text.append(text)

    def end(self, _tag: str) -> None:
        name = self.path.pop()
        if self.current is None:
            return
        if len(self.path) == 2 and name in ("name", "desc", "cmt", "sym", "type"):
            self.current[name] = "".join(self.text)
        elif len(self.path) == 1:
            self.rows.append(_Row(_waypoint_texts(self.current), self.line))
            self.current = None


def _waypoint_texts(raw: dict[str, str]) -> dict[str, str]:
    texts = {key: raw[key] for key in ("lon", "lat")} | {"name": raw.get("name", "")}
    notes = []
    for line in (raw.get("desc", "") + "\n" + raw.get("cmt", "")).splitlines():
        if found := _LABELLED.match(line):
            texts[_key(found[1])] = found[2]
        elif line.strip() and line.strip() not in notes:
            notes.append(line.strip())
    texts.setdefault("note", " ".join(notes))
    if "kind" not in texts:
        # A waypoint's symbol may be any word of its maker's: unknown ones mean a mechanic.
        for word in (raw.get("type", ""), raw.get("sym", "")):
            if word.strip().lower() in _KINDS:
                texts["kind"] = word.strip()
                break
    return texts


def _gpx_rows(data: bytes, source: str) -> list[_Row]:
    parser = expat.ParserCreate()
    found = _Waypoints(parser)
    parser.StartDoctypeDeclHandler = found.doctype
    parser.StartElementHandler = found.start
    parser.CharacterDataHandler = found.data
    parser.EndElementHandler = found.end
    parser.buffer_text = True
    try:
        parser.Parse(data, True)
    except expat.ExpatError as exc:
        where = message("{file}, line {line}", file=source, line=str(exc.lineno))
        raise HelpersError(
            message("this is not well-formed XML"), where, message("Export it again.")
        ) from exc
    except WrongError as exc:
        where = message("{file}, line {line}", file=source, line=str(parser.CurrentLineNumber))
        raise HelpersError(exc.what, where) from exc
    return found.rows
