"""The fixes of a tracker's table: time, lon and lat under whatever names.

Which columns were read is told; a column that says whose fix it is must name one rider only.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from pathlib import PurePath

import numpy as np

from terrain.errors import TrackError
from terrain.inputs.tables import table_rows, table_text
from terrain.inputs.tracks.fixes import Fixes, plain_fixes
from terrain.inputs.tracks.instants import Instants, read_instants
from terrain.text.message import message
from terrain.values.arrays import FloatArray
from terrain.values.route import Problem

_MOST_ROWS = 1_000_000
_NAMES: dict[str, tuple[str, ...]] = {
    "time": (
        "time", "timestamp", "datetime", "date time", "gps time", "fix time", "utc", "utc time",
        "when", "recorded at", "recorded", "device time", "time utc", "ts", "t", "epoch",
        "date and time", "dt", "fecha hora", "horodatage", "position time", "event time",
    ),
    "date": ("date", "day", "utc date", "gps date", "fecha"),
    "lat": ("lat", "latitude", "y", "gps lat", "gps latitude", "latitud", "lat deg"),
    "lon": (
        "lon", "lng", "long", "longitude", "x", "gps lon", "gps lng", "gps longitude", "longitud",
        "lon deg",
    ),
    "ele": ("ele", "elevation", "alt", "altitude", "height", "z", "gps alt", "altitud"),
    "who": (
        "device", "device id", "deviceid", "imei", "tracker", "tracker id", "rider", "rider id",
        "vehicle", "vehicle id", "unit", "unit id", "asset", "driver",
    ),
}  # fmt: skip
_FIX = message("Its first line must name the columns: time,lat,lon (and ele if there is one).")
_DEGREES = re.compile(r"^([NSEW]?)\s*([+-]?\d+(?:[.,]\d+)?)\s*°?\s*([NSEW]?)$", re.I)


def csv_fixes(content: bytes, source: str) -> Fixes:
    """The fixes of a table, in its own order.

    Raises TrackError for what is no table, for missing columns, and for two riders.
    """
    rows = _rows(table_text(content), source)
    if len(rows) < 2:
        raise TrackError(message("the table holds no fixes"), source, _FIX)
    head, body = rows[0], rows[1:]
    columns = _columns(head, source)
    cells = {
        key: [row[at].strip() if at < len(row) else "" for row in body]
        for key, at in columns.items()
    }
    _check_one_rider(cells.get("who", []), head[columns.get("who", 0)], source)
    times = [
        " ".join(filter(None, pair))
        for pair in itertools.zip_longest(cells.get("date", []), cells.get("time", []))
    ]
    instants = read_instants(times)
    lon, lat = _degrees(cells["lon"]), _degrees(cells["lat"])
    lost = np.isnan(lon) | np.isnan(lat)
    if lost.all():
        raise TrackError(
            message(
                "no row has numbers in {head} and {head2}",
                head=repr(head[columns["lat"]]),
                head2=repr(head[columns["lon"]]),
            ),
            source,
            message("Export places as decimal degrees."),
        )
    if np.isnan(instants.time_s).all():
        raise TrackError(
            message("the times cannot be read, such as {times}", times=repr(times[0][:40])),
            message("{source}, line 2", source=str(source)),
            message("Export them as 2027-03-14T07:30:05Z."),
        )
    ele_m = _numbers(cells.get("ele", [""] * len(lon)))
    return plain_fixes(
        PurePath(source).stem, instants.time_s, lon, lat, ele_m,
        problems=(_read(head, columns), *_told(instants)),
    )  # fmt: skip


def _rows(text: str, source: str) -> list[list[str]]:
    if not any(mark in text.lstrip("\r\n").partition("\n")[0] for mark in ",;\t|"):
        raise TrackError(message("the file is no recording that terrain can read"), source, _FIX)
    rows = [
        row.cells for row in itertools.islice(table_rows(text, source, TrackError), _MOST_ROWS + 2)
    ]
    if len(rows) > _MOST_ROWS + 1:
        raise TrackError(
            message("the table holds more than {most_rows} fixes", most_rows=f"{_MOST_ROWS:,}"),
            source,
            message("Split it."),
        )
    return rows


def _columns(head: Sequence[str], source: str) -> dict[str, int]:
    """Which column holds what."""
    plain = [_plain(cell) for cell in head]
    found: dict[str, int] = {}
    for key, names in _NAMES.items():
        # The first name of the list wins: a table may have both a GPS and a device time.
        at = next((plain.index(name) for name in names if name in plain), None)
        if at is not None:
            found[key] = at
    missing = [key for key in ("lat", "lon") if key not in found]
    if "time" not in found and "date" not in found:
        missing.append("time")
    if missing:
        given = ", ".join(cell.strip()[:30] for cell in head[:12])
        raise TrackError(
            message(
                "no column is named as {names} is; there are: {given}",
                names=" or ".join(missing),
                given=str(given),
            ),
            message("{source}, line 1", source=str(source)),
            _FIX,
        )
    return found


def _plain(cell: str) -> str:
    """A heading without its unit, its case and its joints."""
    text = re.sub(r"\(.*?\)|\[.*?\]", " ", cell.replace("\ufeff", ""))
    text = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text)
    return " ".join(re.sub(r"[_\-./:&°\"']", " ", text).lower().split())


def _check_one_rider(who: Sequence[str], heading: str, source: str) -> None:
    names = sorted({name for name in who if name})
    if len(names) > 1:
        some = f"column {heading.strip()!r}: {', '.join(names[:4])}"
        raise TrackError(
            message(
                "the table holds the fixes of {names} riders ({some})",
                names=str(len(names)),
                some=str(some),
            ),
            source,
            message("Export one rider at a time."),
        )


def _degrees(cells: Sequence[str]) -> FloatArray:
    out = np.full(len(cells), np.nan)
    for i, cell in enumerate(cells):
        found = _DEGREES.match(cell)
        if found is None:
            continue
        value = float(found[2].replace(",", "."))
        side = (found[1] or found[3]).upper()
        out[i] = -abs(value) if side in ("S", "W") else value
    return out


def _numbers(cells: Sequence[str]) -> FloatArray:
    out = np.full(len(cells), np.nan)
    for i, cell in enumerate(cells):
        try:
            out[i] = float(cell.replace(",", ".").removesuffix("m"))
        except ValueError:
            continue
    return np.where(np.isfinite(out), out, np.nan)


def _read(head: Sequence[str], columns: dict[str, int]) -> Problem:
    keys = [key for key in ("date", "time", "lat", "lon", "ele") if key in columns]
    return Problem(
        code="columns",
        what=message("the columns of a table"),
        action=message(
            "read: {columns}",
            columns=", ".join(f"{key} from {head[columns[key]].strip()[:30]!r}" for key in keys),
        ),
    )


def _told(instants: Instants) -> tuple[Problem, ...]:
    found = []
    if instants.n_zoneless:
        found.append(
            Problem(
                code="no-zone",
                what=message(
                    "one time without a zone", "{n} times without a zone", n=instants.n_zoneless
                ),
                action=message("read as UTC"),
            )
        )
    if instants.day_first_guessed:
        found.append(
            Problem(
                code="day-first",
                what=message("dates that may put the day or the month first"),
                action=message("read with the day first"),
            )
        )
    return tuple(found)
