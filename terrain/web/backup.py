"""A copy of the data while the desk works, in one file."""

from __future__ import annotations

import sqlite3
from contextlib import closing, suppress
from pathlib import Path

from terrain.errors import TerrainError, UsageError
from terrain.text.message import message
from terrain.web.settings import WebSettings


def back_up(settings: WebSettings, target: Path) -> int:
    """Copy the database to a file, whole or not at all; returns its size in bytes.

    Uses SQLite's online backup, so that a desk at work is copied as of one moment.
    Raises UsageError for another database or if there is none yet, TerrainError if it fails.
    """
    source = settings.data / "desk.sqlite"
    if settings.database and not settings.database.startswith("sqlite"):
        raise UsageError(
            message("Postgres is backed up by its own program"),
            message("database"),
            message("Use pg_dump."),
        )
    if settings.database:
        source = Path(settings.database.partition("///")[2])
    if not source.is_file():
        raise UsageError(
            message("there are no data yet"), str(source), message("Start 'terrain serve' once.")
        )
    aside = target.with_name(f".{target.name}.part")
    try:
        _clear(aside)
        aside.touch(0o600)
        with (
            closing(sqlite3.connect(f"{source.resolve().as_uri()}?mode=ro", uri=True)) as db,
            closing(sqlite3.connect(aside)) as copy,
        ):
            db.backup(copy)
            (state,) = copy.execute("PRAGMA integrity_check").fetchone()
            if state != "ok":
                raise sqlite3.DatabaseError(str(state))
        aside.replace(target)
    except (OSError, sqlite3.Error) as exc:
        _clear(aside)
        raise TerrainError(
            message(
                "the backup cannot be written ({reason})",
                reason=getattr(exc, "strerror", None) or str(exc),
            ),
            str(target),
            message("Choose another folder."),
        ) from exc
    return target.stat().st_size


def _clear(aside: Path) -> None:
    """Remove a half copy with what SQLite keeps beside it while it writes."""
    for end in ("", "-journal", "-wal", "-shm"):
        with suppress(OSError):
            aside.with_name(aside.name + end).unlink(missing_ok=True)
