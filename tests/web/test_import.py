"""A table of bookings: what it would change is seen first, and one press takes it back."""

from __future__ import annotations

import re

import pytest
import sqlalchemy as sa
from httpx2 import Response

from terrain.web import schema
from terrain.web.bookings import by_ref
from terrain.web.details import BookingRows, Details
from terrain.web.imports import KEEP_DONE_S, keep_table
from terrain.web.party import riders_of
from tests.web.conftest import Office, Visitor, on_both

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


@on_both
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


@on_both
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


@on_both
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


@on_both
def test_a_table_that_was_looked_at_is_not_kept_for_long(office: Office) -> None:
    """It names people, whose bookings may be deleted meanwhile."""
    staff = _two(office)
    take_in(staff, TABLE)
    staff.post("/desk/b/K1/delete", {"sure": "yes"})
    with office.db.write() as conn:
        told = [str(row) for row in conn.execute(sa.select(schema.import_rows))]
        assert not any("Ada Rill" in text or "Ada Holm" in text for text in told)
        late = conn.execute(sa.select(schema.imports.c.made_at)).scalar() + KEEP_DONE_S + 1
        keep_table(conn, [BookingRows(own=Details(ref="Z1"))], "x", late)
        told = [row.ref for row in conn.execute(sa.select(schema.import_rows))]
    assert told == ["Z1"]


# -- groups: further rows of a reference ---------------------------------------------------------

GROUP = b"""ref;customer;email;wanted;rider;luggage;pillion;starts_on
K1;Ada Rill;;dual-sport;;;;2027-03-20
N1;Dora Fell;dora@fell.example;;expert;;;2027-04-01
K1;ben lund;;;novice;;yes;
K1;Cleo Wray;cleo@wray.example;light-trail;;none;;2027-03-20
N1;Emil Dunn;;road-tourer;;;;
"""
BEN = {"customer.0": "Ben Lund", "email.0": "ben@lund.example", "wanted.0": "road-tourer",
       "rider.0": "steady", "luggage.0": "boxes"}  # fmt: skip
DAN = {"customer.1": "Dan Moor", "rider.1": "expert", "luggage.1": "soft", "wanted.1": ""}


def _group(office: Office) -> Visitor:
    """K1 of Ada, with Ben and Dan riding along, and read."""
    office.send(office.booking("K1", customer="Ada Rill", wanted="road-tourer",
                               starts_on="2027-03-14"))  # fmt: skip
    staff = office.as_role("staff")
    staff.post("/desk/b/K1/riders", {**BEN, **DAN})
    office.work()
    return staff


def _riders(office: Office, ref: str = "K1") -> list[tuple[object, ...]]:
    with office.db.read() as conn:
        found = riders_of(conn, by_ref(conn, ref).id)
    return [tuple(rider.columns().values()) for rider in found]


def _cells(text: str) -> list[str]:
    """The rows of the tables of a page, as they read."""
    rows = re.findall(r"<tr>(.*?)</tr>", text, re.DOTALL)
    return [" ".join(re.sub(r"<[^>]+>", " | ", row).replace("&#39;", "'").split()) for row in rows]


@on_both
def test_further_rows_of_a_reference_are_riders_of_its_booking(office: Office) -> None:
    staff = _group(office)
    before, riders = _rows(office), _riders(office)
    path, text = show(staff, GROUP)
    assert "New: 1. Changed: 1. As they were: 0." in text
    cells = [re.sub(r"[ |]*\| *", "|", row).strip("|") for row in _cells(text)]
    for row in (
        "Bike wanted|road-tourer|dual-sport", "First day|2027-03-14|2027-03-20",
        "ben lund: Name|Ben Lund|ben lund", "ben lund: Rider|some, steady on gravel|little or none",
        "ben lund: with a pillion|no|yes", "One more rider|–|Cleo Wray",
        "Cleo Wray: Bike wanted|–|light-trail", "Cleo Wray: Luggage|–|none",
    ):  # fmt: skip
        assert any(cell.endswith(row) for cell in cells), (row, cells)
    new = next(cell for cell in cells if cell.startswith("N1"))
    assert "One more rider: Emil Dunn; Emil Dunn: Bike wanted: road-tourer" in new
    # Nobody and nothing that the table leaves out is touched.
    kept = ("Dan Moor", "boxes", "ben@lund")
    assert not [cell for cell in cells if any(text in cell for text in kept)]
    assert (_rows(office), _riders(office)) == (before, riders) and office.work() == 0

    assert staff.post(path, {"seen": _seen(text)}).status_code == 200
    assert _riders(office) == [
        ("ben lund", "ben@lund.example", "road-tourer", "novice", "", "boxes", True),
        ("Dan Moor", "", "", "expert", "", "soft", False),
        ("Cleo Wray", "cleo@wray.example", "light-trail", "steady", "", "none", False),
    ]
    assert _riders(office, "N1") == [("Emil Dunn", "", "road-tourer", "steady", "", "soft", False)]
    assert office.work() == 1  # the route is judged for them, once
    history = staff.get("/desk/b/K1").text
    for line in ("changed by an import", "riders: 3, now 4", "One more rider: – → Cleo Wray",
                 "ben lund, Rider: some, steady on gravel → little or none"):  # fmt: skip
        assert line in history, line
    assert "Ben Lund" not in staff.get("/desk/deleted").text  # written otherwise, he is no other
    # The same table again has nothing to change.
    assert "New: 0. Changed: 0. As they were: 2." in show(staff, GROUP)[1]

    back = staff.post(f"{path}/back").text
    assert "as they were before this table" in back and "left so" not in back
    assert (_rows(office), _riders(office)) == (before, riders)
    assert office.work() == 1
    history = staff.get("/desk/b/K1").text
    assert "an import was taken back" in history and "One rider less: Cleo Wray → –" in history
    # Who left with it can be fetched from the deletions of the day as well.
    assert "Cleo Wray" in staff.get("/desk/deleted").text


def test_riders_changed_after_an_import_stay_when_it_is_taken_back(office: Office) -> None:
    staff = _group(office)
    path, text = show(staff, GROUP)
    staff.post(path, {"seen": _seen(text)})
    for ref, name in (("K1", "Finn Holt"), ("N1", "Gus Ives")):
        staff.post(f"/desk/b/{ref}/riders", {**BEN, "customer.0": name})
    back = staff.post(f"{path}/back").text
    assert "Changed by somebody since, and left so: K1, N1." in back
    assert [row[0] for row in _riders(office)] == ["Finn Holt"]
    assert [row[0] for row in _riders(office, "N1")] == ["Gus Ives"]
    with office.db.read() as conn:
        assert by_ref(conn, "K1").wanted == "road-tourer"  # which only the import had changed


def test_riders_changed_before_a_table_is_taken_in_are_shown_again(office: Office) -> None:
    staff = _group(office)
    path, text = show(staff, GROUP)
    staff.post("/desk/b/K1/riders", {**BEN, "rider.0": "expert"})
    got = staff.post(path, {"seen": _seen(text)})
    assert got.status_code == 409 and "much, also hard tracks" in got.text
    assert [row[0] for row in _riders(office)] == ["Ben Lund"]


@on_both
def test_groups_go_out_and_come_back_the_same(office: Office) -> None:
    staff = _group(office)
    staff.post("/desk/b/K1/riders", {**BEN, **DAN, "customer.1": "Ben Lund"})  # two of one name
    riders = _riders(office)
    assert len(riders) == 2
    table = staff.get("/desk/bookings.csv").content
    assert "As they were: 1." in show(staff, table)[1]
    staff.post("/desk/b/K1/delete", {"sure": "yes"})
    assert take_in(staff, table).status_code == 200
    assert _riders(office) == riders


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ("K1,Ada Rill,\nK1,Cleo,2027-03-21\n", "Line 3, First day: it is of the whole booking"),
        ("K1,Ada Rill,2027-03-20\nK1,,\n", "Line 3: a further rider of K1 has no name"),
        # In the first row they would take the name of who booked.
        ("K1,Ben Lund,\n", "K1: Ben Lund stands in the first row, but did not book"),
        ("K1,Cleo,\nK1,Ada Rill,\n", "K1: Cleo stands in the first row, but did not book"),
        ("K1,Ada Rill,\n" + "".join(f"K1,Rider {n},\n" for n in range(13)), "takes 13 riders"),
        ("K1,Ada Rill,\n" + "".join(f"K1,Rider {n},\n" for n in range(11)), "takes 13 riders"),
    ],
)
def test_rows_that_are_no_group_are_refused(office: Office, table: str, said: str) -> None:
    staff = _group(office)
    riders = _riders(office)
    file = ("t.csv", f"ref,customer,starts_on\n{table}".encode())
    got = staff.post("/desk/import", files={"file": file})
    assert got.status_code == 422 and said in got.text, got.text
    assert _riders(office) == riders


def test_nothing_of_a_table_is_dropped_in_silence(office: Office) -> None:
    """A column of another name, a yes in another language, a workbook in place of its table."""
    staff = office.as_role("staff")
    _, text = show(staff, b"ref,Custmer,verdict\nN1,Ada Rill,good\n")
    assert "These columns are not known and are left aside: Custmer." in text
    _, text = show(staff, b"ref,customer\nN1,Ada Rill\n")
    assert "left aside" not in text
    for table, words in (
        (
            b"ref,pillion\nN1,ja\n",
            "Line 2, with a pillion: &#39;ja&#39; is not known. Use yes, no.",
        ),
        (b"PK\x03\x04\x14\0\0\0", "This is no CSV table. Save the table as CSV, and send that."),
    ):
        got = staff.post("/desk/import", files={"file": ("t.csv", table)})
        assert got.status_code == 422 and words in got.text, got.text
