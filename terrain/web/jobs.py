"""Work to be done, in a table: taken with a lease, done once, and again if its worker died."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from terrain.text.message import message
from terrain.web.database import add_row, change_rows
from terrain.web.schema import jobs
from terrain.web.stored import told_fault

_TOO_HARD = told_fault(
    message("the route could not be worked through"), "",
    message("Send it again in a simpler form, or tell the rental desk."),
)  # fmt: skip
WAITING, RUNNING, DONE, FAILED = "waiting", "running", "done", "failed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A job as one worker holds it; `tries` tells this holding from an earlier one."""

    id: int
    kind: str
    route_id: int | None
    report_id: int | None
    worker: str
    tries: int


def add_job(
    conn: Connection,
    kind: str,
    now: float,
    *,
    route_id: int | None = None,
    report_id: int | None = None,
) -> None:
    """Ask for a report of a route, or for a webhook about a report.

    A route that already waits is not asked for twice.
    """
    if route_id is not None:
        there = sa.select(jobs.c.id).where(
            jobs.c.route_id == route_id, jobs.c.state == WAITING, jobs.c.kind == kind
        )
        if conn.execute(there).first() is not None:
            return
    add_row(
        conn, jobs, kind=kind, route_id=route_id, report_id=report_id, state=WAITING, tries=0,
        due_at=now, created_at=now,
    )  # fmt: skip


def queue_length(conn: Connection) -> int:
    """Jobs that are not done."""
    count = sa.select(sa.func.count()).where(jobs.c.state.in_((WAITING, RUNNING)))
    return int(conn.execute(count).scalar() or 0)


def take_job(
    conn: Connection, worker: str, now: float, *, lease_s: float, most_tries: int,
    but: Sequence[int] = (),
) -> Job | None:  # fmt: skip
    """The oldest job that waits, or whose worker has been silent for too long.

    but : jobs that are left to others
    One that killed its worker as often as `most_tries` is given up, with the reason.
    """
    free = (
        sa.select(jobs.c.id, jobs.c.kind, jobs.c.route_id, jobs.c.report_id, jobs.c.tries)
        .where(
            sa.or_(
                sa.and_(jobs.c.state == WAITING, jobs.c.due_at <= now),
                sa.and_(jobs.c.state == RUNNING, jobs.c.lease_until < now),
            ),
            jobs.c.id.not_in(but),
        )
        .order_by(jobs.c.due_at, jobs.c.id)
        .limit(1)
        .with_for_update(skip_locked=True)
    )
    while (row := conn.execute(free).first()) is not None:
        mine = jobs.update().where(jobs.c.id == row.id)
        if row.tries < most_tries or row.kind == "webhook":
            conn.execute(
                mine.values(
                    state=RUNNING, worker=worker, tries=row.tries + 1,
                    lease_until=now + lease_s, step="reading",
                )
            )  # fmt: skip
            return Job(
                id=row.id, kind=row.kind, route_id=row.route_id, report_id=row.report_id,
                worker=worker, tries=row.tries + 1,
            )  # fmt: skip
        conn.execute(
            mine.values(
                state=FAILED, done_at=now,
                what=_TOO_HARD,
            )
        )  # fmt: skip
    return None


def renew(conn: Connection, job: Job, now: float, lease_s: float, step: str = "") -> bool:
    """Hold on to a job; False if it was given to another worker meanwhile."""
    values: dict[str, object] = {"lease_until": now + lease_s}
    if step:
        values["step"] = step
    return _change(conn, job, **values)


def finish(conn: Connection, job: Job, now: float) -> bool:
    """Close a job; False if it is no longer this worker's, and then nothing may be kept."""
    return _change(conn, job, state=DONE, done_at=now, step="")


def give_up(conn: Connection, job: Job, now: float, what: str) -> bool:
    """Close a job that cannot be done, saying why."""
    return _change(conn, job, state=FAILED, done_at=now, what=what, step="")


def put_back(conn: Connection, job: Job, now: float, wait_s: float, *, counts: bool = True) -> bool:
    """Leave a job for later.

    counts : whether this try is one of those the job may have
    """
    tries = job.tries - (0 if counts else 1)
    return _change(conn, job, state=WAITING, due_at=now + wait_s, worker="", step="", tries=tries)


def _change(conn: Connection, job: Job, **values: object) -> bool:
    """Change a job that its worker still holds; False if it was given to another one."""
    held = (
        jobs.c.id == job.id, jobs.c.state == RUNNING, jobs.c.worker == job.worker,
        jobs.c.tries == job.tries,
    )  # fmt: skip
    return bool(change_rows(conn, jobs, *held, **values))
