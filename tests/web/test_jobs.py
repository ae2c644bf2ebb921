"""Jobs: taken by one, done once, done again if the worker died."""

from __future__ import annotations

import json
import threading

import pytest
import sqlalchemy as sa

from terrain.web import jobs, schema
from terrain.web.jobs import Job
from terrain.web.worker import Worker
from tests.web.conftest import Office, on_both
from tests.web.standin import quick_make


def _sent(office: Office, n: int = 1) -> str:
    link = office.booking()
    files = [("files", (f"{i}.gpx", b"<gpx/>")) for i in range(n)]
    assert office.client.post(link, data={"rider": "steady"}, files=files).status_code == 303
    return link


def _take(office: Office, worker: str, now: float, most: int = 3) -> Job | None:
    with office.db.write() as conn:
        return jobs.take_job(conn, worker, now, lease_s=10.0, most_tries=most)


@on_both
def test_a_job_is_held_by_one_worker(office: Office) -> None:
    _sent(office)
    first = _take(office, "a", 2e9)
    assert first is not None and first.kind == "report"
    assert _take(office, "b", 2e9 + 9) is None


@on_both
def test_a_silent_workers_job_goes_to_another_and_counts_once(office: Office) -> None:
    _sent(office)
    dead = _take(office, "a", 2e9)
    second = _take(office, "b", 2e9 + 11)
    assert dead is not None and second is not None and second.id == dead.id
    with office.db.write() as conn:
        assert jobs.finish(conn, second, 2e9 + 12)
        # The first one comes back to life: nothing of its work may be kept.
        assert not jobs.finish(conn, dead, 2e9 + 13)
        assert not jobs.renew(conn, dead, 2e9 + 13, 10.0)


@on_both
def test_a_lease_that_is_renewed_is_not_lost(office: Office) -> None:
    _sent(office)
    job = _take(office, "a", 2e9)
    assert job is not None
    with office.db.write() as conn:
        assert jobs.renew(conn, job, 2e9 + 8, 10.0, "judging")
    assert _take(office, "b", 2e9 + 17) is None


@on_both
def test_a_job_that_kills_its_workers_is_given_up(office: Office) -> None:
    link = _sent(office)
    for n in range(3):
        assert _take(office, f"w{n}", 2e9 + 20 * n) is not None
    assert _take(office, "w3", 2e9 + 100) is None
    page = office.client.get(link)
    assert "could not be worked through" in page.text


@on_both
def test_many_workers_make_each_report_once(office: Office) -> None:
    _sent(office, 5)
    _sent_again = office.booking("K2")
    office.send(_sent_again)
    workers = [Worker(office.db, office.settings, quick_make) for _ in range(4)]
    for n, worker in enumerate(workers):
        worker.name += str(n)

    def all_of(worker: Worker) -> None:
        while worker.once():
            pass

    threads = [threading.Thread(target=all_of, args=(worker,)) for worker in workers]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with office.db.read() as conn:
        rows = conn.execute(sa.select(schema.reports.c.route_id)).scalars().all()
    assert sorted(rows) == sorted(set(rows)) and len(rows) == 6


@on_both
def test_a_route_that_waits_is_not_asked_for_twice(office: Office) -> None:
    link = _sent(office)
    for rider in ("novice", "expert"):
        office.client.post(link, data={"rider": rider})
    assert office.work() == 1


@on_both
def test_an_unforeseen_error_is_told_without_its_text(office: Office) -> None:
    link = _sent(office)

    def broken(*_: object) -> None:
        raise RuntimeError("secret place")

    Worker(office.db, office.settings, broken).once()  # type: ignore[arg-type]
    page = office.client.get(link).text
    assert "not foreseen" in page and "secret" not in page


@on_both
def test_an_unforeseen_error_is_logged_by_its_places_without_a_persons_data(
    office: Office, capfd: pytest.CaptureFixture[str]
) -> None:
    """Whoever runs the desk can tell us where it broke; the text of the error stays out."""
    office.send(office.booking(customer="Ada Rill"), name="home-of-ada.gpx")

    def broken(*_: object) -> object:
        raise LookupError("Ada Rill, home-of-ada.gpx, 46.1 12.2")

    Worker(office.db, office.settings, broken).once()  # type: ignore[arg-type]
    lines = [json.loads(line) for line in capfd.readouterr().err.splitlines() if "{" in line]
    failed = next(line for line in lines if line["event"] == "job failed")
    assert failed["error"] == "LookupError"
    assert failed["where"][0].startswith("test_jobs.py:")
    assert any(place.startswith("worker.py:") for place in failed["where"])
    assert failed["at"].startswith("20")
    assert "Ada" not in str(failed) and "46.1" not in str(failed) and "/" not in str(failed)
