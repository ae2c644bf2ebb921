"""Whether the desk can do its work, and if not, why: for whoever watches over it."""

from __future__ import annotations

import shutil
import time
from dataclasses import dataclass

import sqlalchemy as sa

from terrain.errors import TerrainError
from terrain.web.database import BusyError, DamagedError, Database, change_rows
from terrain.web.jobs import RUNNING, WAITING
from terrain.web.schema import jobs, meta
from terrain.web.settings import WebSettings
from terrain.web.supervisor import Supervisor

_LATE_S = 300.0
_ROOM = 2  # uploads of the largest size that have to fit on the disk


@dataclass(frozen=True, slots=True, kw_only=True)
class Health:
    """status : ok, late, no worker, no room, damaged, busy; reason : in a sentence, "" if ok"""

    status: str
    reason: str = ""


def health_of(
    db: Database, settings: WebSettings, supervisor: Supervisor | None, now: float | None = None
) -> Health:
    """What hinders the desk most, if anything does.

    now : seconds since 1970; the clock's if None
    """
    now = time.time() if now is None else now
    try:
        with db.read() as conn:
            waits, silent = conn.execute(_WAITS, {"now": now}).one()
        if db.write_fault:
            _try_to_write(db)
    except DamagedError as exc:
        return Health(status="damaged", reason=str(exc))
    except BusyError as exc:
        return Health(status="busy", reason=str(exc))
    except TerrainError as exc:
        return Health(status="damaged", reason=str(exc))
    free = _free_bytes(settings) if db.is_sqlite else None
    if free is not None and free < _ROOM * settings.max_bytes:
        return Health(status="no room", reason=f"{free // 1_000_000} MB are left on the disk.")
    if supervisor is not None and supervisor.fails:
        return Health(status="no worker", reason="The workers end by themselves; see the log.")
    if waits is not None and now - float(waits) > _LATE_S:
        return Health(status="late", reason=f"A route has waited for {now - float(waits):.0f} s.")
    if silent is not None and now - float(silent) > _LATE_S:
        return Health(status="late", reason="A worker that took a route has been silent for long.")
    return Health(status="ok")


_WAITS = sa.select(
    sa.func.min(sa.case((sa.and_(jobs.c.state == WAITING, jobs.c.due_at <= sa.bindparam("now")),
                         jobs.c.due_at))),
    sa.func.min(sa.case((jobs.c.state == RUNNING, jobs.c.lease_until))),
).where(jobs.c.state.in_((WAITING, RUNNING)))  # fmt: skip


def _try_to_write(db: Database) -> None:
    """Write what is there already: the last write failed, and perhaps there is room again."""
    with db.write() as conn:
        change_rows(conn, meta, meta.c.key == "schema", value=meta.c.value)


def _free_bytes(settings: WebSettings) -> int | None:
    try:
        return shutil.disk_usage(settings.data).free
    except OSError:
        return None
