"""Lines of a GeoPackage: the one layer of lines in it, with layers of points as places.

Source: OGC 12-128r19. The file is opened in memory by SQLite, without its own functions and
triggers, for reading only, and with an end to its work: a view may be a query without end.
"""

from __future__ import annotations

import sqlite3
from typing import NamedTuple

import numpy as np

from terrain.errors import RouteError
from terrain.inputs.lines.held import Gathered, Held
from terrain.inputs.lines.limits import GpxLimits
from terrain.inputs.lines.wkb import LINE, POINT, DamagedError, Shape, from_blob
from terrain.text.message import message
from terrain.values.arrays import FloatArray

MAGIC = b"SQLite format 3\0"
_EXPORT = message("Export the route again as GeoPackage or GPX.")
_STEPS, _ROUNDS = 100_000, 400  # SQLite's own steps between looks, and looks before it is stopped
_KINDS = ("LINESTRING", "MULTILINESTRING", "GEOMETRY", "GEOMETRYCOLLECTION", "CURVE", "MULTICURVE")
_READS = frozenset((sqlite3.SQLITE_SELECT, sqlite3.SQLITE_READ))
_NAMES = ("name", "title")


class _Layer(NamedTuple):
    table: str
    column: str
    kind: str
    srs: int


def is_geopackage(data: bytes) -> bool:
    """True for an SQLite file that names the tables of a GeoPackage."""
    return data.startswith(MAGIC) and b"gpkg_geometry_columns" in data


def read_geopackage(data: bytes, source: str, limits: GpxLimits) -> Held:
    """The lines of a GeoPackage; a row is one line, its parts are segments.

    Raises RouteError for a damaged file, for none or several layers of lines, and for a
    reference system that is not known.
    """
    gathered = Gathered(source, limits, unit="point")
    db = sqlite3.connect(":memory:", isolation_level=None)
    try:
        # A write-ahead log would be a second file; what is in this one is read.
        db.deserialize(data[:18] + b"\x01\x01" + data[20:] if data[18:20] == b"\2\2" else data)
        _restrain(db, limits)
        _read(db, gathered)
    except RouteError:
        raise
    except (sqlite3.Error, DamagedError, UnicodeError, OverflowError) as exc:
        if isinstance(exc, sqlite3.OperationalError) and "interrupt" in str(exc):
            raise RouteError(
                message("the database takes too long to read"), source, _EXPORT
            ) from exc
        told = exc.args[0] if isinstance(exc, DamagedError) else gathered.short(str(exc))[:120]
        raise RouteError(
            message("the GeoPackage is damaged ({reason})", reason=told), source, _EXPORT
        ) from exc
    finally:
        db.close()
    return gathered.held()


def _restrain(db: sqlite3.Connection, limits: GpxLimits) -> None:
    db.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, limits.max_bytes)
    db.execute("PRAGMA trusted_schema=OFF")
    db.execute("PRAGMA query_only=ON")
    db.execute("PRAGMA cell_size_check=ON")
    rounds = iter(range(_ROUNDS))
    db.set_progress_handler(lambda: int(next(rounds, None) is None), _STEPS)
    db.set_authorizer(
        lambda action, *_: sqlite3.SQLITE_OK if action in _READS else sqlite3.SQLITE_DENY
    )


def _read(db: sqlite3.Connection, gathered: Gathered) -> None:
    layers = _layers(db)
    lines = [layer for layer in layers if layer.kind in _KINDS and _row(db, layer) is not None]
    if len(lines) > 1:
        names = ", ".join(gathered.short(layer.table) for layer in lines[:8])
        raise gathered.refuse(
            message(
                "the file holds {n} layers of lines ({names})", n=str(len(lines)), names=names
            ),
            0,
            message("Export only the one with the route."),
        )  # fmt: skip
    for layer in lines:
        _read_layer(db, layer, gathered)
    for layer in layers:
        if layer.kind == "POINT":
            _read_layer(db, layer, gathered)


def _layers(db: sqlite3.Connection) -> list[_Layer]:
    rows = db.execute(
        "SELECT table_name, column_name, geometry_type_name, srs_id "
        "FROM gpkg_geometry_columns LIMIT 1000"
    )
    return [_Layer(str(t), str(c), str(k).upper(), _whole(srs)) for t, c, k, srs in rows]


def _whole(value: object) -> int:
    return value if isinstance(value, int) else -1


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


def _row(db: sqlite3.Connection, layer: _Layer) -> object:
    query = f"SELECT {_quoted(layer.column)} FROM {_quoted(layer.table)} LIMIT 1"
    return db.execute(query).fetchone()


def _name_column(db: sqlite3.Connection, layer: _Layer) -> str | None:
    columns = db.execute(f"SELECT * FROM {_quoted(layer.table)} LIMIT 0").description
    return next((c[0] for c in columns if str(c[0]).lower() in _NAMES), None)


def _read_layer(db: sqlite3.Connection, layer: _Layer, gathered: Gathered) -> None:
    name_column = _name_column(db, layer)
    wanted = [_quoted(layer.column), "NULL" if name_column is None else _quoted(name_column)]
    query = f"SELECT {', '.join(wanted)} FROM {_quoted(layer.table)}"
    move = _to_wgs84(db, layer.srs, gathered)
    for n, (blob, name) in enumerate(db.execute(query), start=1):
        if n > gathered.limits.max_points:
            gathered.count(n, 0)
        if not isinstance(blob, bytes):
            continue
        _, shape = from_blob(blob)
        if shape is not None:
            _keep(shape, name if isinstance(name, str) else "", gathered, move)


def _keep(shape: Shape, name: str, gathered: Gathered, move: _Move | None) -> None:
    parts = [part if move is None else move.points(part) for part in shape.parts]
    first = gathered.n_points + 1
    if shape.kind == POINT:
        lon, lat, ele_m = parts[0][0].tolist()
        if not np.isnan([lon, lat]).any():  # how an empty point is written
            gathered.add_place(lon, lat, ele_m, first, name)
        return
    if shape.kind >= LINE:
        gathered.open_group()
    for part in parts:
        first = gathered.n_points + 1
        at = np.arange(first, first + len(part), dtype=np.int64)
        gathered.add_line(part[:, 0].copy(), part[:, 1].copy(), part[:, 2].copy(), at, name)


class _Move:
    """From a reference system of the EPSG register to WGS 84 longitude and latitude."""

    def __init__(self, epsg: int) -> None:
        from pyproj import Transformer

        self._to = Transformer.from_crs(epsg, 4326, always_xy=True)

    def points(self, rows: FloatArray) -> FloatArray:
        lon, lat = self._to.transform(rows[:, 0], rows[:, 1])
        return np.column_stack((lon, lat, rows[:, 2]))


def _to_wgs84(db: sqlite3.Connection, srs: int, gathered: Gathered) -> _Move | None:
    """How the layer's coordinates become WGS 84; None if they are. srs 0 is undefined degrees."""
    from pyproj.exceptions import CRSError, ProjError

    if srs in (4326, 0):
        return None
    query = (
        "SELECT organization, organization_coordsys_id FROM gpkg_spatial_ref_sys WHERE srs_id = ?"
    )
    row = db.execute(query, (srs,)).fetchone()
    organization, code = row if row is not None else ("", 0)
    if str(organization).upper() == "EPSG" and isinstance(code, int):
        if code == 4326:
            return None
        try:
            return _Move(code)
        except (CRSError, ProjError):
            pass
    raise gathered.refuse(
        message("its coordinates are in a reference system that is not known"), 0,
        message("Export it in WGS 84 (EPSG:4326)."),
    )  # fmt: skip
