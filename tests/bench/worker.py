"""What a worker holds while it makes report after report.

    python -m tests.bench.worker [REPORTS]

Bar: under 300 MB resident after 1,000. Routes are the samples of the island in turn, each made by a
worker's process as a server starts it, for bookings of each language in turn. Memory is read after
each tenth, when the worker has nothing to do.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

import sqlalchemy as sa

from terrain.demo.region import ensure_demo_region
from terrain.text.catalogue import LANGUAGES
from terrain.web import bookings, schema
from terrain.web.database import Database
from terrain.web.details import Details
from terrain.web.settings import WebSettings
from terrain.web.supervisor import Supervisor

_OPEN = ("waiting", "running")


def _send(db: Database, routes: list[Path], n: int, first: int) -> None:
    with db.write() as conn:
        for i in range(first, first + n):
            lang = LANGUAGES[i % len(LANGUAGES)]
            booking_id, _, _ = bookings.add_booking(
                conn, Details(), time.time(), lang=lang, units="metric"
            )
            route = routes[i % len(routes)]
            sent = bookings.Sent(name=route.name, content=route.read_bytes())
            bookings.add_routes(conn, booking_id, [sent], time.time())


def _drained(db: Database) -> None:
    jobs = schema.jobs
    while True:
        with db.read() as conn:
            if not conn.execute(sa.select(jobs.c.id).where(jobs.c.state.in_(_OPEN))).first():
                return
        time.sleep(1.0)


def _memory_mb(pid: int) -> tuple[float, float, float]:
    """Anonymous, resident, and the most ever resident."""
    text = Path(f"/proc/{pid}/status").read_text()
    anon, now, most = (
        int(text.partition(word)[2].split()[0]) / 1024 for word in ("RssAnon:", "VmRSS:", "VmHWM:")
    )
    return anon, now, most


def main() -> None:
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        ensure_demo_region(home)
        routes = sorted((home / "demo" / "routes").glob("*.gpx"))
        settings = WebSettings(home=home, data=home, region="island", workers=1)
        db = Database(settings.database_url)
        db.create()
        supervisor = Supervisor(db, settings)
        supervisor.start()
        print(f"{n} reports of {len(routes)} routes: anonymous, resident, most resident [MB]")
        step = max(n // 10, 1)
        try:
            for done in range(0, n, step):
                _send(db, routes, step, done)
                _drained(db)
                time.sleep(1.0)  # what the last report used is given back when it is stored
                (worker,) = supervisor._workers
                anon, now, most = _memory_mb(worker.pid)
                print(
                    f"  {done + step:5d} {anon:5.0f} {now:5.0f} {most:5.0f}  {worker.pid}",
                    flush=True,
                )
            with db.read() as conn:
                made = conn.execute(sa.select(sa.func.count()).select_from(schema.reports)).scalar()
            print(f"  {made} reports stand in the database")
        finally:
            supervisor.stop()
            db.close()


if __name__ == "__main__":
    main()
