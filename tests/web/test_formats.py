"""Data of an earlier version of the program are taken over."""

from __future__ import annotations

import sqlalchemy as sa
from starlette.testclient import TestClient

from terrain.web import schema
from terrain.web.app import create_app
from terrain.web.database import Database
from terrain.web.settings import WebSettings
from tests.web.conftest import Office
from tests.web.standin import GPX


def _of_format_one(settings: WebSettings) -> Database:
    """A desk as the first format had it, with one booking."""
    db = Database(settings.database_url)
    db.create()
    with db.write() as conn:
        for columns in schema.NEW_COLUMNS.values():
            for table, name in columns:
                conn.exec_driver_sql(f"ALTER TABLE {table} DROP COLUMN {name}")
        conn.execute(schema.meta.update().values(value="1"))
        conn.exec_driver_sql(
            "INSERT INTO bookings (ref, customer, email, starts_on, ends_on, wanted, state, lang, "
            "units, depart, rider, pillion, luggage, remark, created_at, changed_at) VALUES "
            "('OLD', 'Ada Rill', '', '', '', '', 'waiting', 'en', 'metric', '', 'novice', "
            "false, 'soft', '', 1.0, 1.0)"
        )
    return db


def test_tables_of_the_first_format_are_brought_up(settings: WebSettings) -> None:
    db = _of_format_one(settings)
    db.create()
    db.create()  # a second process that starts at once finds nothing left to do
    with db.read() as conn:
        row = conn.execute(sa.select(schema.bookings)).one()
        version = conn.execute(sa.select(schema.meta.c.value)).scalar()
    assert (row.ref, row.customer, row.rider, row.guided) == ("OLD", "Ada Rill", "novice", False)
    assert version == str(schema.VERSION)
    db.close()


def test_a_desk_of_the_first_format_starts_and_keeps_its_bookings(settings: WebSettings) -> None:
    _of_format_one(settings).close()
    with TestClient(create_app(settings)) as client:
        assert client.get("/health").status_code == 200


def test_every_format_up_to_this_one_can_be_brought_up() -> None:
    assert sorted(schema.NEW_COLUMNS) == list(range(1, schema.VERSION))
    for columns in schema.NEW_COLUMNS.values():
        for table, name in columns:
            column = schema.metadata.tables[table].c[name]
            # Rows that are there need a value.
            assert column.nullable or column.server_default is not None


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
