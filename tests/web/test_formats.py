"""Data of an earlier version of the program are taken over."""

from __future__ import annotations

import pytest
import sqlalchemy as sa
from starlette.testclient import TestClient

from terrain.values.plan import Plan, StopKind
from terrain.web import schema
from terrain.web.app import create_app
from terrain.web.database import Database
from terrain.web.settings import WebSettings
from tests.web.conftest import Office, on_both
from tests.web.standin import GPX


def _of_format(settings: WebSettings, version: int) -> Database:
    """A desk without the columns that came after a format, with one booking."""
    db = Database(settings.database_url)
    db.create()
    with db.write() as conn:
        for step in range(version, schema.VERSION):
            for table, name in schema.NEW_COLUMNS[step]:
                conn.exec_driver_sql(f"ALTER TABLE {table} DROP COLUMN {name}")
        conn.execute(schema.meta.update().values(value=str(version)))
        conn.exec_driver_sql(
            "INSERT INTO bookings (ref, customer, email, starts_on, ends_on, wanted, state, lang, "
            "units, depart, rider, pillion, luggage, remark, created_at, changed_at) VALUES "
            "('OLD', 'Ada Rill', '', '', '', '', 'waiting', 'en', 'metric', '', 'novice', "
            "false, 'soft', '', 1.0, 1.0)"
        )
    return db


@on_both
@pytest.mark.parametrize("version", schema.NEW_COLUMNS)
def test_tables_of_an_earlier_format_are_brought_up(settings: WebSettings, version: int) -> None:
    db = _of_format(settings, version)
    db.create()
    db.create()  # a second process that starts at once finds nothing left to do
    db.check()
    with db.read() as conn:
        row = conn.execute(sa.select(schema.bookings)).one()
        version = conn.execute(sa.select(schema.meta.c.value)).scalar()
    assert (row.ref, row.customer, row.rider, row.guided) == ("OLD", "Ada Rill", "novice", False)
    assert version == str(schema.VERSION)
    db.close()


@on_both
def test_a_desk_of_the_first_format_starts_and_keeps_its_bookings(settings: WebSettings) -> None:
    _of_format(settings, 1).close()
    with TestClient(create_app(settings)) as client:
        assert client.get("/health").status_code == 200


def test_every_format_up_to_this_one_can_be_brought_up() -> None:
    assert sorted(schema.NEW_COLUMNS) == list(range(1, schema.VERSION))
    for columns in schema.NEW_COLUMNS.values():
        for table, name in columns:
            column = schema.metadata.tables[table].c[name]
            # Rows that are there need a value.
            assert column.nullable or column.server_default is not None


@on_both
def test_a_guide_is_told_in_the_booking(office: Office) -> None:
    link = office.booking("G1")
    staff = office.as_role("staff")
    office.client.post(link, data={"rider": "novice", "guided": "yes"}, files={"files": ("a", GPX)})
    head = office.token()
    url = "/api/v1/bookings/G1"
    assert office.client.get(url, headers=head).json()["guided"] is True
    assert 'name="guided" value="yes" checked' in staff.get("/desk/b/G1").text
    # The desk's form without the tick takes it back; the interface can set it again.
    staff.post("/desk/b/G1", {"rider": "novice"})
    assert office.client.get(url, headers=head).json()["guided"] is False
    assert office.client.patch(url, json={"guided": True}, headers=head).json()["guided"] is True


@on_both
def test_a_report_of_an_earlier_version_opens_and_its_mail_is_made_anew(office: Office) -> None:
    office.send(office.booking("OLD"))
    office.work()
    staff = office.as_role("staff")
    with office.db.write() as conn:
        conn.execute(schema.reports.update().values(draft=None))
        route_id = conn.execute(sa.select(schema.routes.c.id)).scalar()
    assert "Stand-in" in staff.get(f"/desk/b/OLD/report/{route_id}").text
    assert staff.get("/desk/b/OLD").status_code == 200
    mail = f"/desk/b/OLD/mail/{route_id}"
    for _ in range(2):  # asked for twice, it is made once
        told = staff.get(mail)
        assert told.status_code == 503 and "being made anew" in told.text
    assert office.work() == 1
    assert "Road setup" in staff.get(mail).text


def test_the_plan_of_an_earlier_report_is_read_back() -> None:
    """The keys that the first reports had, and no others."""
    day = {
        "number": 1, "from_m": 0.0, "to_m": 9000.0, "riding_s": 1800, "stops_s": 600,
        "start": "08:00", "end": "08:40", "sunrise": "06:10", "sunset": "18:20", "dusk": "18:45",
        "daylight_margin_s": 32_700, "hard": [],
        "lodging": {"name": "Inn", "kind": "lodging", "lon": 1.0, "lat": 2.0, "basis": "mapped"},
    }  # fmt: skip
    stop = {
        "at_m": 4000.0, "kind": "fuel", "name": "Pump", "lon": 1.0, "lat": 2.0, "why": "Fuel.",
        "day": 1, "arrive": "08:15", "stay_s": 600, "van_access": None,
    }  # fmt: skip
    plan = Plan.from_dict({"days": [day], "stops": [stop]})
    assert (plan.days[0].start_s, plan.days[0].end_s) == (28_800, 31_200)
    assert plan.days[0].daylight is not None and plan.days[0].daylight.dusk_s == 67_500
    assert plan.days[0].lodging is not None and plan.days[0].lodging.phone is None
    assert plan.stops[0].kinds == (StopKind.FUEL,) and plan.stops[0].arrive_s == 29_700
    again = Plan.from_dict(plan.to_dict())
    assert (again.days, again.stops) == (plan.days, plan.stops)
