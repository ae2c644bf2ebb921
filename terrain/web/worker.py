"""A process that takes jobs and makes reports: `python -m terrain.web.worker`.

The settings come as one line on stdin. When stdin ends, so does the worker: a server that was
killed leaves no workers behind. It ends at once, also on Ctrl-C and on a service manager's signal,
and hands back the job it was at.
"""

from __future__ import annotations

import ctypes
import json
import os
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from terrain.errors import PlanError, RegionNotCovering, RouteError, TerrainError
from terrain.text.message import message
from terrain.web import answers, jobs, party, rides, rulings, schema
from terrain.web.bookings import State, note_event
from terrain.web.database import BusyError, Database, add_row, change_rows
from terrain.web.found import folded
from terrain.web.jobs import Job
from terrain.web.log import say, say_unforeseen
from terrain.web.settings import WebSettings
from terrain.web.signals import STOPS, hold_signals
from terrain.web.stock import ElsewhereError, told_stock
from terrain.web.stored import told_fault
from terrain.web.summary import Summary
from terrain.web.trips import booked_from
from terrain.web.webhook import send_webhook
from terrain.web.work import Made, Material, make_report

_IDLE_S = 0.25
_LEAVE_S = 10.0  # before a job for other machines is looked at again
_ROOM_S = 2.0  # between tries to store a report while the disk is full
Maker = Callable[[Material, WebSettings, Callable[[str], None]], Made]


class Worker:
    """Takes jobs one after the other.

    make : makes the report; another one in tests
    """

    def __init__(self, db: Database, settings: WebSettings, make: Maker = make_report) -> None:
        self.db = db
        self.settings = settings
        self.make = make
        self.name = f"{os.getpid()}-{time.time_ns():x}"
        self._stop = threading.Event()
        self._job: Job | None = None
        self._left: dict[int, float] = {}  # jobs for other machines, and until when
        self._taking = threading.Lock()
        self._leaving = False

    def run(self, stop: threading.Event) -> None:
        """Work until told to stop."""
        self._stop = stop
        while not stop.is_set():
            try:
                busy = self.once()
            except TerrainError as exc:
                say("worker waits", error=exc.what)
                busy = False
            if not busy:
                stop.wait(_IDLE_S)

    def once(self) -> bool:
        """Do one job if there is one."""
        with self._taking, self.db.write() as conn:
            if self._leaving:
                return False
            job = self._job = jobs.take_job(
                conn, self.name, time.time(), lease_s=self.settings.lease_s,
                most_tries=self.settings.tries, but=self._left_to_others(),
            )  # fmt: skip
        if job is None:
            return False
        started = time.monotonic()
        with _Lease(self.db, job, self.settings) as lease:
            try:
                if job.kind == "webhook":
                    self._webhook(job)
                elif job.kind == "ride":
                    self._ride(job)
                elif job.kind == "learn":
                    rides.learn(self.db, self.settings)
                    self._close(job)
                else:
                    self._report(job, lease.step)
            except BusyError:
                self._hand_back(job)
                raise
        self._job = None
        give_memory_back()
        say("job ended", kind=job.kind, tries=job.tries, s=round(time.monotonic() - started, 2))
        return True

    def _report(self, job: Job, step: Callable[[str], None]) -> None:
        try:
            made = self.make(self._material(job), self.settings, step)
        except BusyError:
            raise
        except ElsewhereError as exc:
            self._leave(job, exc)
        except TerrainError as exc:
            self._fail(job, _fault(exc))
        except Exception as exc:
            say_unforeseen("job failed", exc, kind=job.kind)
            self._fail(job, _UNFORESEEN)
        else:
            self._keep_when_room(job, made)

    def _ride(self, job: Job) -> None:
        """Read a recorded ride; a fault stands beside it, whatever it is."""
        try:
            rides.read(self.db, self.settings, job.report_id or 0)
        except BusyError:
            raise
        except TerrainError as exc:
            rides.failed(self.db, job.report_id or 0, told_fault(exc.what, exc.where, exc.fix))
        except Exception as exc:
            say_unforeseen("job failed", exc, kind=job.kind)
            rides.failed(self.db, job.report_id or 0, _UNFORESEEN)
        self._close(job)

    def _close(self, job: Job) -> None:
        with self.db.write() as conn:
            jobs.finish(conn, job, time.time())

    def _keep_when_room(self, job: Job, made: Made) -> None:
        """Store the report; on a full disk it is held until there is room, for half the time."""
        until = time.monotonic() + self.settings.job_s / 2
        while True:
            try:
                return self._keep(job, made)
            except BusyError as exc:
                say("report waits to be stored", error=exc.what)
                if self._stop.wait(_ROOM_S) or time.monotonic() > until:
                    raise

    def let_go(self) -> None:
        """Hand back the job at hand as if it had not been begun; for a worker that ends now.

        It takes no further one. What is stored already stays stored.
        """
        with self._taking:
            self._leaving = True
            job = self._job
        if job is not None:
            with suppress(TerrainError), self.db.write() as conn:
                jobs.put_back(conn, job, time.time(), 0.0, counts=False)

    def _leave(self, job: Job, why: ElsewhereError) -> None:
        """Leave the job to other machines for a while; the route is not at fault."""
        say("job left to other machines", why=why.what)
        self._left[job.id] = time.monotonic() + _LEAVE_S
        with self.db.write() as conn:
            jobs.put_back(conn, job, time.time(), 0.0, counts=False)

    def _left_to_others(self) -> tuple[int, ...]:
        now = time.monotonic()
        self._left = {job_id: until for job_id, until in self._left.items() if until > now}
        return tuple(self._left)

    def _hand_back(self, job: Job) -> None:
        """Leave the job to whoever comes first when there is room; the route is not at fault."""
        with suppress(BusyError), self.db.write() as conn:
            jobs.put_back(conn, job, time.time(), _ROOM_S, counts=False)

    def _fail(self, job: Job, what: str) -> None:
        with self.db.write() as conn:
            jobs.give_up(conn, job, time.time(), what)

    def _material(self, job: Job) -> Material:
        with self.db.read() as conn:
            row = conn.execute(
                sa.select(schema.routes, schema.bookings)
                .join(schema.bookings, schema.bookings.c.id == schema.routes.c.booking_id)
                .where(schema.routes.c.id == job.route_id)
            ).first()
            if row is None:
                raise TerrainError(message("the route was deleted meanwhile"))
            pins = conn.execute(
                sa.select(schema.pins.c.body).where(schema.pins.c.route_id == job.route_id)
            ).scalar()
            told, route_id = row._mapping, row._mapping[schema.routes.c.id]
            found = rulings.rulings_of(conn, [route_id])
            booking_id = told[schema.bookings.c.id]
            names = party.names_of(conn, booking_id, told[schema.bookings.c.customer])
            columns = {c.name: told[c] for c in schema.bookings.c}
            return Material(
                name=told[schema.routes.c.name],
                content=bytes(told[schema.routes.c.content]),
                booking=booked_from(columns),
                notes=_notes(conn),
                helpers=_helpers(conn),
                pins=pins or "",
                learned=rides.learned_text_of(conn),
                failures=tuple(rides.failures_of(conn)),
                answers=answers.answers_of(conn, route_id),
                stock=told_stock(conn),
                riders=party.riders_of(conn, booking_id),
                decision=rulings.decision_of(found.get((route_id, rulings.EVERYBODY))),
                own_decisions=rulings.own_decisions(found, route_id, [*names]),
            )  # fmt: skip

    def _keep(self, job: Job, made: Made) -> None:
        """Store the report and close the job in one step, if the job is still ours."""
        now = time.time()
        with self.db.write() as conn:
            if not jobs.finish(conn, job, now):
                return
            booking_id = conn.execute(
                sa.select(schema.routes.c.booking_id).where(schema.routes.c.id == job.route_id)
            ).scalar()
            if booking_id is None:
                return
            report_id = add_row(
                conn, schema.reports, job_id=job.id, route_id=job.route_id, booking_id=booking_id,
                made_at=now, summary=made.summary.to_json(), draft=made.draft, facts=made.facts,
                ways=made.ways, words=folded(" ".join(made.summary.places)),
            )  # fmt: skip
            rows = [
                {"report_id": report_id, "name": name, "content": data}
                for name, data in made.files.items()
            ]
            if rows:
                conn.execute(schema.files.insert(), rows)
            _drop_older(conn, job.route_id, report_id)
            answers.judged_after(conn, job.route_id, made.summary)
            self._tell(conn, booking_id, report_id, now)

    def _tell(self, conn: Any, booking_id: int, report_id: int, now: float) -> None:
        # A question that is open stays open, whatever else is judged anew meanwhile.
        change_rows(
            conn, schema.bookings, schema.bookings.c.id == booking_id,
            schema.bookings.c.state == State.WAITING.value, state=State.ANALYSED.value,
        )  # fmt: skip
        note_event(conn, "desk", message("report made"), now, booking_id)
        if self.settings.webhook_url:
            jobs.add_job(conn, "webhook", now, report_id=report_id)

    def _webhook(self, job: Job) -> None:
        now = time.time()
        with self.db.read() as conn:
            row = conn.execute(
                sa.select(schema.reports, schema.bookings.c.ref)
                .join(schema.bookings, schema.bookings.c.id == schema.reports.c.booking_id)
                .where(schema.reports.c.id == job.report_id)
            ).first()
        sent = row is None or send_webhook(
            self.settings, job.id, row.ref, row.id, Summary.from_json(row.summary)
        )
        with self.db.write() as conn:
            if sent:
                jobs.finish(conn, job, now)
            elif job.tries >= 8:
                jobs.give_up(
                    conn, job, now, told_fault(message("the webhook could not be delivered"))
                )
            else:
                jobs.put_back(conn, job, now, min(3600.0, 5.0 * 2**job.tries))


def give_memory_back() -> None:
    """Return to the system what the last report used (malloc_trim(3)); glibc keeps it otherwise.

    The code of libraries at rest, most of all the compiler that loads kernels and the typesetter,
    is let go too: it is read again from its file where it is still wanted.
    """
    with suppress(AttributeError, OSError, TypeError):  # another C library has no such call
        libc = ctypes.CDLL(None)
        libc.malloc_trim(0)
        for start, size in _code_at_rest():
            libc.madvise(ctypes.c_void_p(start), ctypes.c_size_t(size), _DONT_NEED)


_DONT_NEED = 4  # MADV_DONTNEED of madvise(2)
_LEAST_CODE_KB = 1024


def _code_at_rest() -> Iterator[tuple[int, int]]:
    """Start and size of mapped code: pages of a file that nobody may write and nobody has.

    Source: proc_pid_smaps(5). Raises OSError where there is no such file.
    """
    start = size = resident_kb = 0
    with Path("/proc/self/smaps").open(encoding="utf-8", errors="replace") as lines:
        for line in lines:
            word, _, rest = line.partition(" ")
            if "-" in word:
                first, _, end = word.partition("-")
                code = rest.startswith("r-xp") and "/" in rest
                start, size = (int(first, 16), int(end, 16) - int(first, 16)) if code else (0, 0)
            elif word == "Rss:":
                resident_kb = int(rest.split()[0])
            elif word == "Anonymous:" and size and rest.split()[0] == "0":
                whole = resident_kb >= _LEAST_CODE_KB
                yield from [(start, size)] if whole else []


class _Lease:
    """Keeps a job while it is worked on, and tells how far it is."""

    def __init__(self, db: Database, job: Job, settings: WebSettings) -> None:
        self.db, self.job, self.settings = db, job, settings
        self._end = threading.Event()
        self._thread = threading.Thread(target=self._renew, daemon=True)

    def __enter__(self) -> _Lease:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._end.set()
        self._thread.join()

    def step(self, what: str) -> None:
        with suppress(BusyError), self.db.write() as conn:
            jobs.renew(conn, self.job, time.time(), self.settings.lease_s, what)

    def _renew(self) -> None:
        until = time.monotonic() + self.settings.job_s
        while not self._end.wait(self.settings.lease_s / 3):
            if time.monotonic() > until:
                say("job takes too long", kind=self.job.kind)
                # The job cannot be stopped from here; the supervisor starts a new worker.
                os._exit(3)
            self.step("")


_UNFORESEEN = told_fault(
    message("something went wrong that was not foreseen"), "", message("Tell the rental desk.")
)


def _fault(exc: TerrainError) -> str:
    """Why there is no report, as the rider can use it; what only staff can mend is theirs."""
    if isinstance(exc, RegionNotCovering):
        return told_fault(
            message("the map of this desk does not cover the route"), "",
            message("Check that it is the right file. If it is, tell the rental desk."), exc.what,
        )  # fmt: skip
    if isinstance(exc, RouteError | PlanError):
        return told_fault(exc.what, exc.where, exc.fix)
    return told_fault(
        message("the desk cannot read routes now"),
        "",
        message("Your route is kept. Tell the rental desk."),
        str(exc),
    )


def _drop_older(conn: Any, route_id: int | None, report_id: int) -> None:
    """Only the newest report of a route is kept."""
    older = sa.select(schema.reports.c.id).where(
        schema.reports.c.route_id == route_id, schema.reports.c.id < report_id
    )
    conn.execute(schema.reports.delete().where(schema.reports.c.id.in_(older)))


def _notes(conn: Any) -> str:
    rows = conn.execute(sa.select(schema.notes).order_by(schema.notes.c.id)).all()
    features = []
    for row in rows:
        line = json.loads(row.line)
        kind, at = ("Point", line[0]) if len(line) == 1 else ("LineString", line)
        told = {"ground": row.ground, "severity": row.severity, "date": row.noted,
                "who": row.who, "remark": row.remark}  # fmt: skip
        features.append(_feature(kind, at, {key: value for key, value in told.items() if value}))
    return _collection(features)


def _helpers(conn: Any) -> str:
    rows = conn.execute(sa.select(schema.helpers).order_by(schema.helpers.c.id)).all()
    features = []
    for row in rows:
        told = {"name": row.name, "kind": row.kind, "repairs": row.repairs, "phone": row.phone,
                "opening_hours": row.hours, "note": row.note}  # fmt: skip
        given = {key: value for key, value in told.items() if value}
        features.append(_feature("Point", [row.lon, row.lat], given))
    return _collection(features)


def _feature(kind: str, at: Any, told: dict[str, Any]) -> dict[str, Any]:
    return {"type": "Feature", "geometry": {"type": kind, "coordinates": at}, "properties": told}


def _collection(features: list[dict[str, Any]]) -> str:
    if not features:
        return ""
    return json.dumps({"type": "FeatureCollection", "features": features}, ensure_ascii=False)


def main(make: Maker = make_report) -> int:
    """Read the settings from stdin and work until it ends, or a signal says so."""
    hold_signals()
    settings = WebSettings.from_json(sys.stdin.readline())
    stop = threading.Event()
    db = Database(settings.database_url)
    worker = Worker(db, settings, make)

    def end() -> None:
        # A report takes its time, and whoever stops the desk waits: another worker makes it.
        stop.set()
        worker.let_go()
        os._exit(0)

    def read_on() -> None:
        while sys.stdin.read(4096):
            pass
        end()

    def wait_for_signal() -> None:
        signal.sigwait(STOPS)
        end()

    threading.Thread(target=read_on, daemon=True).start()
    if hasattr(signal, "sigwait"):
        threading.Thread(target=wait_for_signal, daemon=True).start()
    with suppress(OSError, AttributeError):
        os.nice(10)  # pages are answered before reports are made
    try:
        worker.run(stop)
    finally:
        db.close()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
