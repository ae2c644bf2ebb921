"""What staff delete comes back by one press until the day ends; what a person asks for does not."""

from __future__ import annotations

import re
import time
from typing import Any

import pytest
import sqlalchemy as sa

from terrain.errors import InputError
from terrain.web import party, schema, undo
from terrain.web.retention import forget_old
from tests.web.conftest import Office, Visitor, on_both

_NOISE = ("events", "sessions", "deleted", "asked", "meta", "stock", "users", "tokens")


def _all(office: Office) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of what a booking is made of."""
    with office.db.read() as conn:
        return {
            table.name: sorted(map(tuple, conn.execute(sa.select(table)).all()), key=repr)
            for table in schema.metadata.sorted_tables
            if table.name not in _NOISE
        }


def _press(staff: Visitor, told: str) -> None:
    """Follow the way to the page after a deletion, and press what stands there."""
    assert "gone=" in told, told
    page = staff.get(told).text
    action = re.search(r'action="(/desk/deleted/\d+)"', page)
    assert action is not None
    assert staff.post(action[1], {"do": "back"}).status_code == 303


def _full(office: Office) -> Visitor:
    """A booking with routes, reports, riders, a decision, wishes, an answer's traces and mail."""
    office.send(office.booking(customer="Anna"))
    office.work()
    staff = office.as_role("staff")
    staff.post("/desk/b/K1/ruling/1", {"setup": "off-road", "reason": "mud"})
    staff.post("/desk/b/K1/riders", {"customer.0": "Ben", "rider.0": "novice", "luggage.0": "soft"})
    with office.db.read() as conn:
        ben = conn.execute(sa.select(schema.riders.c.id)).scalar()
    for rider in (str(ben), "0"):
        told = {"setup": "off-road", "reason": "asked them", "rider": rider}
        assert staff.post("/desk/b/K1/ruling/1", told).status_code == 303
    staff.post("/guide/1", {"start": "07:00"})
    office.work()
    return staff


@on_both
def test_a_booking_comes_back_whole(office: Office) -> None:
    staff = _full(office)
    before = _all(office)
    assert before["pins"] and before["rulings"] and before["files"] and before["riders"]
    assert len(before["rider_rulings"]) == 2
    told = staff.post("/desk/b/K1/delete", {"sure": "yes"}).headers["location"]
    assert staff.get("/desk/b/K1").status_code == 404
    assert not _all(office)["files"]
    assert "booking deleted: K1" in staff.get("/desk/deleted").text
    _press(staff, told)
    assert _all(office) == before
    assert staff.get("/desk/b/K1").status_code == 200
    assert "taken back" in staff.get("/desk/b/K1").text
    # Once is enough.
    assert "booking deleted: K1" not in staff.get("/desk/deleted").text
    assert staff.post("/desk/deleted/1", {"do": "back"}).status_code == 409


@on_both
def test_numbers_given_away_meanwhile_stay_with_who_has_them(office: Office) -> None:
    staff = _full(office)
    told = staff.post("/desk/b/K1/delete", {"sure": "yes"}).headers["location"]
    office.send(office.booking("K2", customer="Cleo"), name="other.gpx")
    office.work()
    _press(staff, told)
    for ref, name in (("K1", "a.gpx"), ("K2", "other.gpx")):
        page = staff.get(f"/desk/b/{ref}").text
        assert (name in page and "Road setup" in page) or "Off-road" in page, ref
    assert office.work() == 0
    with office.db.read() as conn:
        reports, jobs = schema.reports, schema.jobs
        pairs = sa.select(reports.c.route_id, jobs.c.route_id).join(
            jobs, jobs.c.id == reports.c.job_id
        )
        assert all(a == b for a, b in conn.execute(pairs))
    # A reference that is taken again is not overwritten.
    told = staff.post("/desk/b/K1/delete", {"sure": "yes"}).headers["location"]
    office.booking("K1")
    number = re.search(r"gone=(\d+)", told)
    assert number is not None
    refused = staff.post(f"/desk/deleted/{number[1]}", {"do": "back"})
    assert refused.status_code == 409 and "omething new stands" in refused.text
    assert "booking deleted: K1" in staff.get("/desk/deleted").text


@on_both
def test_small_things_come_back(office: Office) -> None:
    staff = _full(office)
    staff.post("/desk/notes", {"points": "2.0,1.0", "ground": "track", "remark": "ruts"})
    staff.post("/desk/bikes", {"do": "add", "name": "R-7", "bike": "dual-sport"})
    staff.post("/desk/bikes", {"do": "fault", "id": "1", "part": "fan", "note": "loud"})
    staff.post("/desk/views", {"name": "mine", "state": "waiting"})
    before = _all(office)
    for path, form in (
        ("/desk/notes/1/delete", {}),
        ("/desk/bikes", {"do": "delete", "id": "1"}),
        ("/desk/views", {"drop": "mine"}),
        ("/desk/b/K1/riders", {"customer.0": ""}),
        ("/desk/b/K1/ruling/1", {"withdraw": "1"}),
        ("/guide/1", {"clear": "1"}),
    ):
        told = staff.post(path, form).headers["location"]
        assert _all(office) != before, path
        _press(staff, told)
        office.work()
    after = _all(office)
    for name in ("notes", "bikes", "faults", "views", "riders", "rulings", "rider_rulings", "pins"):
        assert before[name], name
        assert after[name] == before[name], name


@on_both
def test_the_day_ends_and_a_persons_wish_is_done_at_once(office: Office) -> None:
    staff = _full(office)
    staff.post("/desk/b/K1/riders", {"customer.0": ""})
    told = staff.post("/desk/b/K1/delete", {"sure": "yes", "at_once": "yes"})
    assert told.headers["location"] == "/desk"
    with office.db.read() as conn:  # also what was taken off it before
        assert conn.execute(sa.select(schema.deleted)).all() == []
    link = office.booking("K3")
    staff.post("/desk/b/K3/riders", {"customer.0": "Ben", "rider.0": "novice", "luggage.0": "soft"})
    office.send(link)
    office.client.post(link + "/delete", data={"sure": "yes"})
    staff.post("/desk/b/K3/delete", {"sure": "yes"})
    now = time.time()
    tomorrow = undo.day_start(now) + 86400.0 + 7200.0
    with office.db.write() as conn:
        (row,) = undo.deleted_today(conn, now)
        assert undo.deleted_today(conn, tomorrow) == []
        with pytest.raises(InputError, match="any more"):
            undo.take_back(conn, row.id, who="staff", now=tomorrow)
    forget_old(office.db, 365, tomorrow)
    with office.db.read() as conn:
        assert conn.execute(sa.select(schema.deleted)).all() == []


@on_both
def test_a_guide_takes_back_their_own_only(office: Office) -> None:
    staff = _full(office)
    guide = office.as_role("guide")
    told = guide.post("/guide/1", {"clear": "1"}).headers["location"]
    gone = staff.post("/desk/b/K1/ruling/1", {"withdraw": "1"}).headers["location"]
    number = gone.rpartition("=")[2]
    assert guide.post(f"/desk/deleted/{number}", {"do": "back"}).status_code == 403
    assert guide.get("/desk/deleted").status_code == 403
    _press(guide, told)
    with office.db.read() as conn:
        assert len(party.riders_of(conn, 1)) == 1
        assert conn.execute(sa.select(schema.pins.c.route_id)).scalar() == 1
