"""The table of bookings: found without accents, by route, place and date; ordered; views kept."""

from __future__ import annotations

import re
import time

import sqlalchemy as sa

from terrain.web import schema
from terrain.web.found import folded
from terrain.web.table import Sort, asked_filter, find
from tests.web.conftest import Office, on_both
from tests.web.standin import GPX

_TODAY = "2027-04-01"


def _refs(office: Office, **asked: str) -> list[str]:
    with office.db.read() as conn:
        return [row.ref for row in find(conn, asked_filter(**asked), _TODAY)]


def test_letters_are_searched_without_accents_and_capitals() -> None:
    assert folded("Großer Ährenpaß") == "grosser ahrenpass"
    assert folded("Björn Ålund-Øst") == "bjorn alund-ost"


@on_both
def test_a_booking_is_found_by_name_route_place_and_date(office: Office) -> None:
    link = office.booking("K1", customer="Zoë Ålund", starts_on="2027-07-10")
    office.booking("K2", customer="Ben Holm", starts_on="2027-08-01")
    office.send(link, GPX, "höhenweg.gpx")
    office.work()
    for words in ("zoe alund", "ALUND", "ahrenpass", "hohenweg", "10 july", "10.07.2027",
                  "10 de julio", "zoe ahrenpass 2027-07-10"):  # fmt: skip
        assert _refs(office, q=words) == ["K1"], words
    assert _refs(office, q="zoe holm") == []
    staff = office.as_role("staff")
    staff.post("/desk/b/K2", {"customer": "Béla Holm"})
    assert _refs(office, q="bela") == ["K2"] and _refs(office, q="ben") == []


@on_both
def test_orders_and_dates(office: Office) -> None:
    office.booking("OVER", starts_on="2027-03-01", ends_on="2027-03-03")
    office.booking("LATER", starts_on="2027-06-01")
    office.booking("SOON", starts_on="2027-04-02")
    office.booking("OPEN")
    office.send(office.booking("READ", starts_on="2027-09-01"))
    office.send(office.booking("FAILED", starts_on="2027-09-02"), b"no track", "x.gpx")
    office.work()
    turn = _refs(office)
    assert turn == ["READ", "FAILED", "SOON", "LATER", "OPEN", "OVER"]
    assert _refs(office, sort="date")[:3] == ["OVER", "SOON", "LATER"]
    assert _refs(office, sort="date")[-1] == "OPEN"
    assert _refs(office, since="2027-04-01", until="2027-06-30") == ["SOON", "LATER"]
    assert _refs(office, sort="ref")[0] == "FAILED"
    with office.db.write() as conn:
        for ref, at in (("OPEN", 50.0), ("SOON", 40.0)):
            booking = conn.execute(
                sa.select(schema.bookings.c.id).where(schema.bookings.c.ref == ref)
            ).scalar()
            conn.execute(schema.questions.insert().values(booking_id=booking, who="x", asked_at=at))
    assert _refs(office, sort=Sort.AGE.value)[:2] == ["SOON", "OPEN"]


@on_both
def test_only_bookings_whose_bike_differs_are_shown(office: Office) -> None:
    """By what the newest report of a present route says; the filter is kept with a view."""
    links = {ref: office.booking(ref, wanted=bike) for ref, bike in (
        ("OTHER", "road-tourer"), ("SAME", "small-all-rounder"), ("NONE", ""),
        ("UNREAD", "road-tourer"),
    )}  # fmt: skip
    for ref in ("OTHER", "SAME", "NONE"):
        office.send(links[ref])
    office.work()
    staff = office.as_role("staff")

    def shown(query: str) -> list[str]:
        return re.findall(r'<td><a href="/desk/b/([A-Z]+)">', staff.get(f"/desk{query}").text)

    assert sorted(shown("")) == ["NONE", "OTHER", "SAME", "UNREAD"]
    assert shown("?differs=1") == ["OTHER"]
    assert shown("?differs=1&q=same") == []
    page = staff.get("/desk?differs=1").text
    assert re.search(r'name="differs" value="1" checked', page)
    staff.post("/desk/views", {"name": "to swap", "differs": "1"})
    kept = re.search(r'href="/desk(\?[^"]+)">to swap<', staff.get("/desk").text)
    assert kept is not None and shown(kept[1]) == ["OTHER"]
    # The bike is changed to the one advised, the other one away from it; each route is read anew.
    staff.post("/desk/b/OTHER", {"wanted": "small-all-rounder"})
    staff.post("/desk/b/SAME", {"wanted": "road-tourer"})
    assert shown("?differs=1") == ["OTHER"]
    office.work()
    assert shown("?differs=1") == ["SAME"]
    # Another route in place of the one that was judged.
    office.send(links["SAME"], b"no track", "x.gpx")
    office.work()
    assert shown("?differs=1") == []


@on_both
def test_views_are_ones_own_and_can_be_dropped(office: Office) -> None:
    staff, other = office.as_role("staff"), office.as_role("admin")
    office.booking("K1")
    told = {"q": "zoe", "state": "asked", "sort": "date", "name": "Zoë, asked"}
    assert (
        staff.post("/desk/views", told).headers["location"] == "/desk?q=zoe&state=asked&sort=date"
    )
    link = '<a href="/desk?q=zoe&amp;state=asked&amp;sort=date">Zoë, asked</a>'
    assert link in staff.get("/desk").text
    assert link not in other.get("/desk").text
    staff.post("/desk/views", {"drop": "Zoë, asked"})
    assert link not in staff.get("/desk").text


def test_an_empty_desk_tells_the_three_steps(office: Office) -> None:
    page = office.as_role("staff").get("/desk").text
    assert (
        page.index("Make a booking") < page.index("Send its link") < page.index("Read the answer")
    )


def test_the_table_asks_the_same_few_questions_however_many_bookings(office: Office) -> None:
    staff = office.as_role("staff")
    staff.get("/desk")  # a first look renews the session
    counts = []
    for n in (3, 60):
        with office.db.write() as conn:
            conn.execute(
                schema.bookings.insert(),
                [{"ref": f"B{n}-{i}", "lang": "en", "units": "metric", "created_at": 0.0,
                  "changed_at": time.time()} for i in range(n)],
            )  # fmt: skip
        asked: list[str] = []

        def note(_c: object, _cur: object, statement: str, *_: object) -> None:
            asked.append(statement)  # noqa: B023

        sa.event.listen(office.db.engine, "before_cursor_execute", note)
        assert staff.get("/desk").status_code == 200
        sa.event.remove(office.db.engine, "before_cursor_execute", note)
        counts.append(len(asked))
    assert counts[0] == counts[1] <= 10
