"""A table of bookings: what it would change is seen first, and one press takes it back."""

from __future__ import annotations

import re

import sqlalchemy as sa
from httpx2 import Response

from terrain.web import schema
from terrain.web.bookings import by_ref
from terrain.web.imports import KEEP_DONE_S, keep_table
from tests.web.conftest import Office, Visitor

TABLE = b"""ref,customer,email,wanted,starts_on,state,remark
K1,Ada Holm,,,2027-03-20,,
K2,,,,,,
N1,Ben Ost,ben@ost.example,dual-sport,,,boots 46
"""


def show(staff: Visitor, table: bytes) -> tuple[str, str]:
    """Send a table; returns its page's path and text."""
    made = staff.post("/desk/import", files={"file": ("t.csv", table)})
    assert made.status_code == 303, made.text
    return made.headers["location"], staff.get(made.headers["location"]).text


def take_in(staff: Visitor, table: bytes) -> Response:
    """Send a table and take it in as it was shown."""
    path, text = show(staff, table)
    return staff.post(path, {"seen": _seen(text)})


def _seen(text: str) -> str:
    found = re.search(r'name="seen" value="(\w+)"', text)
    assert found
    return found[1]


def _two(office: Office) -> Visitor:
    office.booking("K1", customer="Ada Rill", email="ada@rill.example", wanted="road-tourer",
                   starts_on="2027-03-14")  # fmt: skip
    office.booking("K2", customer="Cy Ford")
    return office.as_role("staff")


def _rows(office: Office) -> list[tuple[object, ...]]:
    columns = [c for c in schema.bookings.c if c.name not in ("changed_at", "link_hash")]
    with office.db.read() as conn:
        return [tuple(row) for row in conn.execute(sa.select(*columns).order_by("id"))]


def test_what_a_table_would_change_is_seen_before_it_does(office: Office) -> None:
    staff = _two(office)
    before = _rows(office)
    path, text = show(staff, TABLE)
    assert "Nothing is changed yet. New: 1. Changed: 1. As they were: 1." in text
    row = re.sub(r"<[^>]+>", "|", text[text.index("<tbody>") : text.index("</tbody>")])
    assert re.search(r"K1\W+Ada Rill\W+Customer\W+Ada Rill\W+Ada Holm", row), row
    assert re.search(r"First day\W+2027-03-14\W+2027-03-20", row), row
    assert "K2" not in row and "Email" not in row, "an empty cell leaves what is there"
    assert "Ben Ost" in text
    assert _rows(office) == before
    done = staff.post(path, {"seen": _seen(text)})
    assert done.status_code == 200 and done.text.count("/t/") == 1
    with office.db.read() as conn:
        told = by_ref(conn, "K1")
    assert (told.customer, told.email, told.wanted) == (
        "Ada Holm", "ada@rill.example", "road-tourer",
    )  # fmt: skip
    assert told.depart == "2027-03-20T08:30"
    history = staff.get("/desk/b/K1").text
    assert "changed by an import" in history and "Customer: Ada Rill → Ada Holm" in history
    assert "booking imported" in staff.get("/desk/b/N1").text
    # The same press again does nothing more.
    assert staff.post(path, {"seen": _seen(text)}).status_code == 303


def test_one_press_takes_an_import_back(office: Office) -> None:
    staff = _two(office)
    before = _rows(office)
    path, text = show(staff, TABLE)
    staff.post(path, {"seen": _seen(text)})
    assert path in staff.get("/desk/import").text
    back = staff.post(f"{path}/back")
    assert "as they were before this table" in back.text
    assert _rows(office) == before
    assert "Customer: Ada Holm → Ada Rill" in staff.get("/desk/b/K1").text
    # Pressed again, or late, it does nothing.
    staff.post("/desk/b/K1", {"customer": "Ada Holm"})
    assert staff.post(f"{path}/back").status_code == 303
    with office.db.read() as conn:
        assert by_ref(conn, "K1").customer == "Ada Holm"


def test_what_was_changed_after_an_import_stays_when_it_is_taken_back(office: Office) -> None:
    staff = _two(office)
    path, text = show(staff, TABLE)
    staff.post(path, {"seen": _seen(text)})
    staff.post("/desk/b/K1", {"customer": "Ada Ost"})
    staff.post("/desk/b/N1/routes", files={"files": ("m.gpx", b"<gpx/>")})
    back = staff.post(f"{path}/back").text
    assert "Changed by somebody since, and left so: K1, N1." in back
    with office.db.read() as conn:
        assert by_ref(conn, "K1").customer == "Ada Ost"
        assert by_ref(conn, "K1").starts_on == "2027-03-14"
        assert by_ref(conn, "N1").customer == "Ben Ost"


def test_a_booking_that_was_changed_meanwhile_is_shown_again_first(office: Office) -> None:
    staff = _two(office)
    path, text = show(staff, TABLE)
    staff.post("/desk/b/K1", {"customer": "Ada Ost"})
    got = staff.post(path, {"seen": _seen(text)})
    assert got.status_code == 409 and "Ada Ost" in got.text
    with office.db.read() as conn:
        assert by_ref(conn, "K1").customer == "Ada Ost" and by_ref(conn, "N1") is None
    assert staff.post(path, {"seen": _seen(got.text)}).status_code == 200


def test_a_trip_that_would_end_before_it_starts_is_refused_with_its_reference(
    office: Office,
) -> None:
    staff = _two(office)
    got = staff.post("/desk/import", files={"file": ("t.csv", b"ref,ends_on\nK1,2027-03-01\n")})
    assert got.status_code == 422 and "K1: the trip ends before it starts" in got.text


def test_a_table_that_was_looked_at_is_not_kept_for_long(office: Office) -> None:
    """It names people, whose bookings may be deleted meanwhile."""
    staff = _two(office)
    take_in(staff, TABLE)
    staff.post("/desk/b/K1/delete", {"sure": "yes"})
    with office.db.write() as conn:
        told = [str(row) for row in conn.execute(sa.select(schema.import_rows))]
        assert not any("Ada Rill" in text or "Ada Holm" in text for text in told)
        late = conn.execute(sa.select(schema.imports.c.made_at)).scalar() + KEEP_DONE_S + 1
        keep_table(conn, [{"ref": "Z1"}], "x", late)
        told = [row.ref for row in conn.execute(sa.select(schema.import_rows))]
    assert told == ["Z1"]
