"""The database: SQLite in WAL mode by default, Postgres if its URL is given."""

from __future__ import annotations

import os
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, TypeVar

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Engine
from sqlalchemy.exc import DBAPIError, SQLAlchemyError
from sqlalchemy.exc import TimeoutError as PoolTimeout

from terrain.errors import TerrainError, UsageError
from terrain.text.message import message
from terrain.web import schema

_BUSY_S = 15.0
T = TypeVar("T")
_FORMAT = sa.select(schema.meta.c.value).where(schema.meta.c.key == "schema")


class BusyError(TerrainError):
    """The database cannot take the request now; nothing of it was kept."""

    http_status = 503


class DamagedError(TerrainError):
    """The database's file is no database (any more); trying again helps nobody."""

    http_status = 503


class Database:
    """Short transactions: `read()` sees one state, `write()` keeps all or nothing.

    A write that returned is on the disk (WAL with synchronous=FULL).
    """

    def __init__(self, url: str) -> None:
        try:
            self.url = sa.make_url(url)
        except SQLAlchemyError:  # what was given may hold a password, so that it is not told
            raise UsageError(
                message("this is no address of a database"),
                message("database"),
                message("Use postgresql+psycopg://..."),
            ) from None
        self.is_sqlite = self.url.get_backend_name() == "sqlite"
        self.engine = _sqlite(self.url) if self.is_sqlite else _server(self.url)
        # To a server a transaction around one statement costs two messages more.
        self._quick = self.engine
        if not self.is_sqlite:
            self._quick = self.engine.execution_options(isolation_level="AUTOCOMMIT")
        # SQLite has one writer at a time; waiting in line here is fairer than asking again.
        self._turn = threading.Lock()
        # Why the last write failed; "" after one that did not.
        self.write_fault = ""

    @contextmanager
    def read(self) -> Iterator[Connection]:
        with _plain_errors(), self.engine.begin() as conn:
            yield conn

    async def soon(self, ask: Callable[[Connection], T]) -> T:
        """A short look at the data from the event loop, by single statements.

        It takes a millisecond and waits for no writer: less than to hand it to a thread, and it
        is not held up by those that store uploads.
        """
        with _plain_errors(), self._quick.connect() as conn:
            return ask(conn)

    @contextmanager
    def write(self) -> Iterator[Connection]:
        try:
            with self._write() as conn:
                yield conn
        except (BusyError, DamagedError) as exc:
            self.write_fault = str(exc)
            raise
        self.write_fault = ""

    @contextmanager
    def _write(self) -> Iterator[Connection]:
        if not self.is_sqlite:
            with _plain_errors(), self.engine.begin() as conn:
                yield conn
            return
        if not self._turn.acquire(timeout=_BUSY_S):
            raise BusyError(message("the desk is busy"), "", message("Try again in a minute."))
        try:
            with _plain_errors(), self._immediate() as conn:
                yield conn
        finally:
            self._turn.release()

    @contextmanager
    def _immediate(self) -> Iterator[Connection]:
        with self.engine.connect().execution_options(writes=True) as conn, conn.begin():
            yield conn

    def check(self) -> None:
        """See that the data are of this version's format; makes and changes nothing.

        Raises UsageError if there are none, or of another format.
        """
        with self.read() as conn:
            known = sa.inspect(conn).has_table(schema.meta.name)
            row = conn.execute(_FORMAT).scalar() if known else None
        if row is None:
            raise UsageError(
                message("there are no data of a desk"),
                message("database"),
                message("Start the desk with 'terrain serve' first."),
            )
        if int(row) != schema.VERSION:
            raise _other_format(row)

    def create(self) -> None:
        """Make the tables if they are not there; bring those of earlier versions up to this one.

        Raises UsageError for a database of a newer version of the program, or where none can be.
        """
        try:
            with _plain_errors():
                schema.metadata.create_all(self.engine)
        except BusyError as exc:
            if not self.is_sqlite or _code(exc.__cause__) not in _NOT_OURS:
                raise
            raise _no_place(self.url, exc.what) from exc
        with self.write() as conn:
            row = conn.execute(_FORMAT).scalar()
            if row is None:
                add_row(conn, schema.meta, key="schema", value=str(schema.VERSION))
            elif int(row) in schema.NEW_COLUMNS:
                _bring_up(conn, int(row))
            elif int(row) != schema.VERSION:
                raise _other_format(row)

    def close(self) -> None:
        self.engine.dispose()


def add_row(conn: Connection, table: sa.Table, **values: Any) -> Any:
    """Add a row; what it is known by, which is its number where the database gives it one."""
    key = conn.execute(table.insert().values(**values)).inserted_primary_key
    return key[0] if key else None


def change_rows(
    conn: Connection, table: sa.Table, *where: sa.ColumnElement[bool], **values: Any
) -> int:
    """Change the rows for which all of these hold; how many there are."""
    return conn.execute(table.update().where(*where).values(**values)).rowcount


def _other_format(row: str) -> UsageError:
    return UsageError(
        message(
            "the data are of format {row}, this program knows {version}",
            row=str(row),
            version=str(schema.VERSION),
        ),
        "",
        message("Start the version that wrote them, or restore a backup."),
    )


def _bring_up(conn: Connection, version: int) -> None:
    """Add to the tables of an earlier format what came since; all or nothing."""
    for step in range(version, schema.VERSION):
        for table, name in schema.NEW_COLUMNS[step]:
            column = schema.metadata.tables[table].c[name]
            described = sa.schema.CreateColumn(column).compile(conn)
            conn.exec_driver_sql(f"ALTER TABLE {table} ADD COLUMN {described}")
    change_rows(conn, schema.meta, schema.meta.c.key == "schema", value=str(schema.VERSION))


_NOT_OURS = (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM)
_BROKEN = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


def _code(exc: object) -> int:
    """SQLite's own code of an error, without its details; 0 for any other error."""
    return int(getattr(getattr(exc, "orig", None), "sqlite_errorcode", 0)) & 0xFF


def _no_place(url: sa.URL, reason: str) -> UsageError:
    return UsageError(
        message("the desk cannot keep its data here ({reason})", reason=str(reason)),
        str(url.database),
        message("Give a folder that you may write to: --data DIR, or TERRAIN_HOME."),
    )


def _for_us_alone(path: Path) -> None:
    """Let nobody else read the database, whatever its folder allows.

    What SQLite keeps beside it gets the same mode.
    """
    with suppress(OSError):
        os.close(os.open(path, os.O_RDWR | os.O_CREAT, 0o600))
        for file in (path, *path.parent.glob(f"{path.name}-*")):
            file.chmod(0o600)


def _sqlite(url: sa.URL) -> Engine:
    if url.database:
        try:
            Path(url.database).parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        except OSError as exc:
            raise _no_place(url, exc.strerror or type(exc).__name__) from exc
        _for_us_alone(Path(url.database))
    engine = sa.create_engine(
        url,
        poolclass=sa.QueuePool,
        pool_size=12,
        max_overflow=32,
        pool_timeout=_BUSY_S,
        connect_args={"timeout": _BUSY_S, "check_same_thread": False},
    )

    @sa.event.listens_for(engine, "connect")
    def _prepare(connection: Any, _: object) -> None:
        # The driver's own transactions begin too late to be safe against other writers.
        connection.isolation_level = None
        for line in (
            "journal_mode=WAL",
            "synchronous=FULL",
            "foreign_keys=ON",
            "secure_delete=ON",
        ):
            connection.execute(f"PRAGMA {line}").close()

    @sa.event.listens_for(engine, "begin")
    def _begin(conn: Connection) -> None:
        writes = conn.get_execution_options().get("writes", False)
        conn.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _server(url: sa.URL) -> Engine:
    if url.get_backend_name() != "postgresql":
        raise UsageError(
            message("only SQLite and Postgres are known"),
            message("database"),
            message("Use postgresql+psycopg://..."),
        )
    try:
        return sa.create_engine(
            url.set(drivername="postgresql+psycopg"), pool_size=12, max_overflow=32,
            pool_timeout=_BUSY_S, pool_pre_ping=True,
            connect_args={"connect_timeout": 5},
        )  # fmt: skip
    except ModuleNotFoundError as exc:
        raise UsageError(
            message("Postgres needs its driver"),
            message("database"),
            message("pip install 'terrain[postgres]'"),
        ) from exc


@contextmanager
def _plain_errors() -> Iterator[None]:
    """Full disks, locks and lost servers become one error that says: again later."""
    try:
        yield
    except (sa.exc.IntegrityError, sa.exc.DataError, sa.exc.ProgrammingError):
        raise
    except (DBAPIError, PoolTimeout) as exc:
        if _code(exc) in _BROKEN:
            raise DamagedError(
                message("the desk's data are damaged"),
                "",
                message("Stop the desk and put the last backup in their place."),
            ) from exc
        reason = str(getattr(exc, "orig", exc)).splitlines()[0][:120]
        raise BusyError(
            message("the desk cannot write now ({reason})", reason=str(reason)),
            "",
            message("Nothing was lost; try again in a minute."),
        ) from exc
    except SQLAlchemyError as exc:
        raise TerrainError(
            message("the desk's data cannot be used"), type(exc).__name__, ""
        ) from exc
