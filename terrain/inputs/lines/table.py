"""Lines of a CSV table of longitude and latitude.

The first line names the columns, in any order; without names they are longitude, latitude and
height. Comma, semicolon or tab between; a decimal comma is read where commas do not separate. A
column named part, segment, track, line, route or day begins a new line where its text changes.
pandas reads what is plain (50,000 points in 4 ms, the csv module with float takes 240), the csv
module what is not, and finds the line of a fault.
"""

from __future__ import annotations

import csv
import io
import math
import re
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from terrain.errors import RouteError
from terrain.inputs.lines.held import FEWER, Gathered, Held
from terrain.inputs.lines.limits import GpxLimits, count_of
from terrain.text.message import message
from terrain.values.arrays import FloatArray, IntArray

_COLUMNS = {
    "lon": ("lon", "lng", "long", "longitude", "x"),
    "lat": ("lat", "latitude", "y"),
    "ele": ("ele", "elevation", "alt", "altitude", "height", "z"),
    "part": ("part", "segment", "track", "line", "route", "day"),
    "name": ("name", "title"),
}
_ROLE = {word: role for role, words in _COLUMNS.items() for word in words}
_UNIT = re.compile(r"[\s_\[(]+(m|deg|degrees|wgs ?84)[\])]?$")
_NAME_FIX = message("Name the columns lon and lat in the first line.")
_CORRECT = message("Correct the point or export the route again.")
_MOST_COLUMNS = 200


@dataclass(frozen=True, slots=True)
class _Layout:
    """Where the columns stand: role to number; first : line of the file with the first point;
    by_day : whether its parts are days."""

    delimiter: str
    columns: dict[str, int]
    first: int
    by_day: bool = False


class _Rows(NamedTuple):
    lon: FloatArray
    lat: FloatArray
    ele_m: FloatArray
    line: IntArray
    part: list[str]  # empty if there is no such column
    name: str


def has_columns(head: str) -> bool:
    """True if the first line names a longitude and a latitude."""
    roles = {_role(cell) for cell in _cells(head.partition("\n")[0])}
    return {"lon", "lat"} <= roles


def has_numbers(head: str) -> bool:
    """True if the first line is two or more numbers and nothing else."""
    cells = [c.strip() for c in _cells(head.lstrip().partition("\n")[0])]
    return 2 <= len(cells) <= 4 and all(_is_number(c) for c in cells[:2])


def read_table(data: bytes, source: str, limits: GpxLimits) -> Held:
    """The lines of a CSV table.

    data : UTF-8
    Raises RouteError with the line for a column that lacks or a cell that is not a number.
    """
    n_ends = count_of(b"\n", data)
    if n_ends > limits.max_points + 1:
        raise RouteError(
            message("the file holds more than {n} points", n=f"{limits.max_points:,}"),
            source,
            FEWER,
        )
    gathered = Gathered(source, limits)
    layout = _layout(data, gathered)
    rows = _fast(data, n_ends, layout) or _slow(data.decode(), layout, gathered)
    starts = [0] + [i for i in range(1, len(rows.part)) if rows.part[i] != rows.part[i - 1]]
    ends = [*starts[1:], len(rows.lon)]
    for start, end in zip(starts, ends, strict=True):
        gathered.open_group()
        own = rows.part[start] if len(starts) > 1 else ""
        if layout.by_day and own.isdecimal():
            own = f"day {own}"
        part = slice(start, end)
        gathered.add_line(
            rows.lon[part], rows.lat[part], rows.ele_m[part], rows.line[part], own or rows.name
        )
    return gathered.held()


def _cells(line: str) -> list[str]:
    """The cells of one line; none if a mark in it makes it no line of CSV."""
    try:
        return next(csv.reader([line[:10_000].strip("\r")], delimiter=_delimiter(line)), [])
    except csv.Error:
        return []


def _delimiter(line: str) -> str:
    if "\t" in line:
        return "\t"
    return ";" if ";" in line else ","


def _role(cell: str) -> str:
    return _ROLE.get(_UNIT.sub("", cell.strip().lower()), "")


def _is_number(text: str) -> bool:
    try:
        return "_" not in text and math.isfinite(float(text.replace(",", ".", 1)))
    except ValueError:
        return False


def _layout(data: bytes, gathered: Gathered) -> _Layout:
    body = data.lstrip(b"\r\n")
    skipped = data.count(b"\n", 0, len(data) - len(body))
    line = io.BytesIO(body).readline().rstrip(b"\n").decode()
    cells = _cells(line)
    if len(cells) > _MOST_COLUMNS:
        raise gathered.refuse(
            message("it has more than {n} columns", n=str(_MOST_COLUMNS)), 1, _NAME_FIX
        )
    columns: dict[str, int] = {}
    for i, cell in enumerate(cells):
        if role := _role(cell):
            columns.setdefault(role, i)
    if "lon" in columns and "lat" in columns:
        by_day = "part" in columns and cells[columns["part"]].strip().lower() == "day"
        return _Layout(_delimiter(line), columns, skipped + 2, by_day)
    if not has_numbers(line):
        lacks = ", ".join(role for role in ("lon", "lat") if role not in columns)
        what = message("the first line lacks the column {names}", names=str(lacks))
        raise gathered.refuse(what, skipped + 1, _NAME_FIX)
    gathered.note("no-header")
    columns = {"lon": 0, "lat": 1}
    if len(cells) > 2:
        columns["ele"] = 2
    return _Layout(_delimiter(line), columns, skipped + 1)


def _fast(data: bytes, n_ends: int, layout: _Layout) -> _Rows | None:
    """All cells plain numbers, a point on every line; None if they are not.

    n_ends : line ends in the data
    """
    import pandas as pd

    roles = [role for role in ("lon", "lat", "ele") if role in layout.columns]
    if "part" in layout.columns or "name" in layout.columns or b'"' in data:
        return None
    body = io.BytesIO(data)
    for _ in range(layout.first - 1):
        body.readline()
    n = n_ends - (layout.first - 1) + (not data.endswith(b"\n"))
    try:
        table = pd.read_csv(
            body, sep=layout.delimiter, header=None, dtype=np.float64, skip_blank_lines=False,
            low_memory=False,
            usecols=[layout.columns[role] for role in roles],
        )  # fmt: skip
    except (ValueError, OverflowError, pd.errors.ParserError):
        return None
    if len(table) != n:
        return None
    lon, lat = (table[layout.columns[role]].to_numpy() for role in ("lon", "lat"))
    if not (np.isfinite(lon).all() and np.isfinite(lat).all()):
        return None
    ele = layout.columns.get("ele")
    height = np.full(n, np.nan) if ele is None else table[ele].to_numpy()
    return _Rows(lon, lat, height, np.arange(layout.first, layout.first + n), [], "")


def _slow(text: str, layout: _Layout, gathered: Gathered) -> _Rows:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=layout.delimiter)
    columns = layout.columns
    points: list[tuple[float, float, float]] = []
    lines, parts, name = [], [], ""
    try:
        for cells in reader:
            at = reader.line_num
            if at < layout.first or not any(cell.strip() for cell in cells):
                continue
            lon = _degrees(cells, columns["lon"], "longitude", at, gathered)
            lat = _degrees(cells, columns["lat"], "latitude", at, gathered)
            points.append((lon, lat, _height(cells, columns.get("ele"))))
            lines.append(at)
            if "part" in columns:
                parts.append(_cell(cells, columns["part"]))
            if not name and "name" in columns:
                name = _cell(cells, columns["name"])
    except csv.Error as exc:
        raise gathered.refuse(message("this is not a CSV line"), reader.line_num, _CORRECT) from exc
    rows = np.array(points, dtype=np.float64).reshape(-1, 3)
    at_line = np.array(lines, dtype=np.int64)
    return _Rows(rows[:, 0].copy(), rows[:, 1].copy(), rows[:, 2].copy(), at_line, parts, name)


def _cell(cells: list[str], i: int) -> str:
    return cells[i].strip() if i < len(cells) else ""


def _degrees(cells: list[str], i: int, word: str, at: int, gathered: Gathered) -> float:
    text = _cell(cells, i)
    if not text:
        raise gathered.refuse(message("a point has no {word}", word=str(word)), at, _CORRECT)
    dotted = text.replace(",", ".", 1)
    try:
        if "_" in text:
            raise ValueError(text)
        value = float(dotted)
    except ValueError:
        raise gathered.refuse(
            message("{word} {value} is not a number", word=str(word), value=repr(text[:30])),
            at,
            _CORRECT,
        ) from None
    if dotted != text:
        gathered.note("decimal-comma", at)
    return value


def _height(cells: list[str], i: int | None) -> float:
    try:
        return math.nan if i is None else float(_cell(cells, i).replace(",", ".", 1))
    except ValueError:
        return math.nan
