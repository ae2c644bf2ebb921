"""The staff's way: bookings, verdicts, decisions, notes, tables."""

from __future__ import annotations

import json
import re
from datetime import date, timedelta

import pytest

from terrain.web.bookings import by_ref
from terrain.web.tables_in_out import read_bookings_csv
from tests.web.conftest import Office, on_both
from tests.web.test_import import take_in


def _told(office: Office, ref: str = "K1") -> dict[str, object]:
    got = office.client.get(f"/api/v1/bookings/{ref}", headers=office.token())
    told: dict[str, object] = got.json()
    return told


def _route(office: Office, ref: str = "K1") -> int:
    return int(_told(office, ref)["routes"][0]["id"])  # type: ignore[index]


def _ready(office: Office, ref: str = "K1", **told: str) -> None:
    office.send(office.booking(ref, **told))
    office.work()


def test_a_booking_shows_its_link_once(office: Office) -> None:
    staff = office.as_role("staff")
    made = staff.post("/desk/new", {"ref": "B-7", "customer": "Ada Rill", "wanted": "road-tourer"})
    assert made.status_code == 200 and "/t/" in made.text
    link = made.text.partition('value="http://testserver')[2].partition('"')[0]
    assert office.client.get(link).status_code == 200
    assert "/t/" not in staff.get("/desk/b/B-7").text
    fresh = staff.post("/desk/b/B-7/link")
    assert fresh.status_code == 200
    assert office.client.get(link).status_code == 404


@on_both
def test_the_table_tells_answer_and_whose_turn_it_is(office: Office) -> None:
    _ready(office, "K1", wanted="road-tourer", customer="Ada Rill")
    _ready(office, "K2", wanted="small all-rounder", customer="Ben Holm")
    staff = office.as_role("staff")
    page = staff.get("/desk").text
    assert "Road setup, likely right." in page and 'class="groundstrip"' in page
    assert "<strong>the desk:</strong> Booked road tourer; advised small all-rounder." in page
    assert "Booked small all-rounder, as advised." in staff.get("/desk/b/K2").text
    for n in range(101):  # newer, but these wait for the rider
        office.booking(f"N{n}")
    page = staff.get("/desk").text
    assert page.index("/b/K1") < page.index("/b/N")
    assert "/b/K2" not in staff.get("/desk?differs=1").text
    assert "/b/K1" not in staff.get("/desk?q=holm").text
    assert "/b/K1" in staff.get("/desk?q=ADA").text
    assert "/b/K1" not in staff.get("/desk?state=settled").text


@on_both
def test_the_history_says_from_what_to_what(office: Office) -> None:
    office.booking("K1", customer="Ada Rill")
    staff = office.as_role("staff")
    told = {"customer": "Ada Holm", "rider": "expert", "luggage": "soft", "pillion": "yes"}
    staff.post("/desk/b/K1", told)
    page = staff.get("/desk/b/K1").text
    for line in ("Customer: Ada Rill, now Ada Holm", "Rider: steady, now expert",
                 "with a pillion: no, now yes"):  # fmt: skip
        assert f"<td>{line}</td>" in page
    assert "Luggage: " not in page.partition('id="history"')[2]
    staff.post("/account/language", {"lang": "es"})
    assert "ahora experto" in staff.get("/desk/b/K1").text


def test_states_follow_the_work_and_the_staff(office: Office) -> None:
    link = office.booking()
    assert _told(office)["state"] == "waiting"
    office.send(link)
    office.work()
    assert _told(office)["state"] == "analysed"
    staff = office.as_role("staff")
    for state in ("asked", "answered", "settled"):
        assert staff.post("/desk/b/K1", {"state": state}).status_code == 303
        assert _told(office)["state"] == state
    # A new report never takes a settled booking back.
    office.send(link)
    office.work()
    assert _told(office)["state"] == "settled"
    assert "state: settled" in staff.get("/desk/b/K1").text


def test_a_decision_needs_a_reason_and_reaches_the_report(office: Office) -> None:
    _ready(office)
    staff, route = office.as_role("staff"), _route(office)
    path = f"/desk/b/K1/ruling/{route}"
    assert staff.post(path, {"setup": "off-road", "reason": " "}).status_code == 422
    assert staff.post(path, {"setup": "boat", "reason": "why"}).status_code == 422
    told = {"setup": "off-road", "bike": "dual-sport", "reason": "Washed out in May"}
    assert staff.post(path, told).status_code == 303
    assert office.work() == 1
    page = staff.get("/desk").text
    assert "Decided by the desk." in page
    assert "Washed out in May" in staff.get("/desk/b/K1").text
    assert staff.post(path, {"withdraw": "1"}).status_code == 303
    office.work()
    assert "Decided by the desk." not in staff.get("/desk").text


def test_notes_and_helpers_count_from_the_next_report_on(office: Office) -> None:
    staff = office.as_role("staff")
    assert staff.post("/desk/notes", {"points": "", "ground": "track"}).status_code == 422
    assert staff.post("/desk/notes", {"points": "2,1"}).status_code == 422
    assert staff.post("/desk/notes", {"points": "2,1", "ground": "ice"}).status_code == 422
    note = {"points": "2.0,1.0;2.1,1.1", "ground": "track", "severity": "", "remark": "ruts"}
    assert staff.post("/desk/notes", note).status_code == 303
    assert staff.post("/desk/helpers", {"points": "2,1", "kind": "mechanic"}).status_code == 422
    helper = {"points": "2,1", "kind": "mechanic", "name": "Old mill garage"}
    helper |= {"repairs.enduro": "yes", "repairs.unknown": "yes"}
    assert staff.post("/desk/helpers", helper).status_code == 303
    assert "<td>enduro</td>" in staff.get("/desk/helpers").text
    mended = staff.get("/desk/helpers?change=1").text
    assert re.findall(r'name="repairs\.([\w-]+)" value="yes" checked', mended) == ["enduro"]
    _ready(office)
    said = _told(office)["routes"][0]["summary"]["excluded"]  # type: ignore[index]
    feature = json.loads(said[0])["features"][0]
    assert feature["geometry"]["coordinates"] == [[2.0, 1.0], [2.1, 1.1]]
    assert feature["properties"] == {"ground": "track", "remark": "ruts", "who": "staff"}
    assert json.loads(said[1])["features"][0]["properties"] == {
        "name": "Old mill garage", "kind": "mechanic", "repairs": "enduro",
    }  # fmt: skip
    assert "ruts" in staff.get("/desk/notes").text
    assert staff.post("/desk/notes/1/delete").status_code == 303
    assert "ruts" not in staff.get("/desk/notes").text


def test_bookings_go_out_and_come_back_the_same(office: Office) -> None:
    office.booking("K1", customer="=HYPERLINK(1)", email="a@b.example", starts_on="2027-01-02")
    office.booking("K2", customer="Zoë, Ås", wanted="+cmd", rider="expert")
    staff = office.as_role("staff")
    table = staff.get("/desk/bookings.csv").content
    # OWASP, CSV Injection: no cell begins with = + - @.
    cells = [c for line in table.decode("utf-8-sig").splitlines() for c in line.split(",")]
    assert not [c for c in cells if c[:1] in "=+-@" and c]
    before = [_told(office, ref) for ref in ("K1", "K2")]
    for ref in ("K1", "K2"):
        staff.post(f"/desk/b/{ref}/delete", {"sure": "yes"})
    got = take_in(staff, table)
    assert got.status_code == 200 and got.text.count("/t/") == 2
    assert [_told(office, ref) for ref in ("K1", "K2")] == before


def test_a_faulty_table_is_refused_as_a_whole_with_its_lines(office: Office) -> None:
    staff = office.as_role("staff")
    table = b"ref;customer;email\nA1;Ada;ada@rill.example\n??;Ben;\nA3;Cy;nowhere\nA1;;\n"
    got = staff.post("/desk/import", files={"file": ("t.csv", table)})
    assert got.status_code == 422
    for part in ("Line 3, Reference", "Line 4, Email", "Line 5: a further rider of A1 has no name",
                 "is no mail address. Write name@place."):  # fmt: skip
        assert part in got.text
    assert office.client.get("/api/v1/bookings/A1", headers=office.token()).status_code == 404


@pytest.mark.parametrize("data", [b"", b"name\nx\n", b"\xff\xfe\x00", b"ref\n" + b'"' * 99])
def test_no_table_breaks_the_reader(data: bytes) -> None:
    from terrain.errors import InputError

    try:
        assert isinstance(read_bookings_csv(data), list)
    except InputError as exc:
        assert exc.what


def test_staff_may_add_a_file_that_came_by_mail(office: Office) -> None:
    office.booking()
    staff = office.as_role("staff")
    assert staff.post("/desk/b/K1/routes").status_code == 422
    got = staff.post("/desk/b/K1/routes", files={"files": ("m.gpx", b"<gpx/>")})
    assert got.status_code == 303 and office.work() == 1
    page = staff.get("/desk/b/K1").text
    assert "m.gpx" in page and "route added" in page


def test_staff_say_how_the_rider_rides_beside_the_first_file(office: Office) -> None:
    """Of whom nothing was said was judged as a steady rider, who rides what a novice may not."""
    office.booking()
    staff = office.as_role("staff")
    asks = '<select name="rider" required><option value="">please choose</option>'
    assert asks in staff.get("/desk/b/K1").text
    sent = {"files": ("m.gpx", b"<gpx/>")}
    assert staff.post("/desk/b/K1/routes", {"rider": "wizard"}, files=sent).status_code == 422
    unsaid = staff.post("/desk/b/K1/routes", {"rider": ""}, files=sent)
    assert unsaid.status_code == 422 and office.work() == 0
    assert "Choose the off-road experience of the rider." in unsaid.text
    assert staff.post("/desk/b/K1/routes", {"rider": "novice"}, files=sent).status_code == 303
    with office.db.read() as conn:
        assert by_ref(conn, "K1").rider == "novice"
    assert office.work() == 1
    assert asks not in staff.get("/desk/b/K1").text


def test_guides_see_rides_but_no_addresses(office: Office) -> None:
    _ready(office, customer="Ada Rill", email="ada@rill.example")
    guide = office.as_role("guide")
    assert guide.get("/desk").headers["location"] == "/guide"
    for path in ("/guide", f"/guide/{_route(office)}"):
        page = guide.get(path)
        assert page.status_code == 200
        assert "Ada" not in page.text and "rill" not in page.text


def test_a_guides_wishes_make_the_plan_anew(office: Office) -> None:
    _ready(office)
    guide, path = office.as_role("guide"), f"/guide/{_route(office)}"
    bad = guide.post(path, {"stop_km.0": "far", "stop_kind.0": "lunch"})
    assert bad.status_code == 422 and 'value="far"' in bad.text
    hostile = 'x" \\ \n[[day]] number = 9 é'
    wish = {"start": "08:00", "stop_km.0": "3,5", "stop_kind.0": "lunch", "stop_min.0": "40",
            "stop_name.0": hostile, "night_km.0": "9", "night_number.0": "1"}  # fmt: skip
    assert guide.post(path, wish).status_code == 303
    assert office.work() == 1
    from terrain.inputs.pins import parse_pins

    told = _told(office)["routes"][0]["summary"]["excluded"][2]  # type: ignore[index]
    pins = parse_pins(told.encode(), "t")
    assert pins.start_s == 8 * 3600 and pins.stops[0].at_m == 3500 and pins.nights[0].day == 1
    assert pins.stops[0].name == 'x" \\ [[day]] number = 9 é'
    assert guide.post(path, {"clear": "1"}).status_code == 303


def test_accounts_are_made_and_kept_out(office: Office) -> None:
    admin = office.as_role("admin")
    weak = {"name": "kit", "role": "staff", "password": "aaaaaaaaaaaaaaa"}
    assert admin.post("/desk/people", weak).status_code == 422
    good = {**weak, "password": "green lamp seven oars"}
    assert admin.post("/desk/people", good).status_code == 303
    assert admin.post("/desk/people", good).status_code == 422
    assert "kit" in admin.get("/desk/people").text
    token = admin.post("/desk/tokens", {"name": "billing"}).text
    secret = token.partition('id="token" value="')[2].partition('"')[0]
    head = {"authorization": f"Bearer {secret}"}
    assert office.client.get("/api/v1/bookings", headers=head).status_code == 200
    admin.post("/desk/tokens/1/delete")
    assert office.client.get("/api/v1/bookings", headers=head).status_code == 401


def _seen(page: str) -> str:
    return page.partition('name="seen" value="')[2].partition('"')[0]


@on_both
def test_of_two_who_change_one_booking_the_second_is_told(office: Office) -> None:
    """Nothing is overwritten unseen, and nothing typed is lost."""
    office.booking(customer="Ada Rill", email="ada@rill.example")
    staff, other = office.as_role("staff"), office.as_role("admin")
    seen = _seen(staff.get("/desk/b/K1").text)
    assert len(seen) == 16
    told = {"customer": "Ada Rill", "email": "new@rill.example", "rider": "steady", "seen": seen}
    assert other.post("/desk/b/K1", {**told, "remark": "knee"}).status_code == 303
    late = staff.post("/desk/b/K1", {**told, "email": "late@rill.example", "luggage": "boxes"})
    assert late.status_code == 409
    assert "Email: new@rill.example" in late.text
    assert 'value="late@rill.example"' in late.text
    assert '<option value="boxes" selected>' in late.text
    with office.db.read() as conn:
        assert by_ref(conn, "K1").email == "new@rill.example"
    again = {**told, "email": "late@rill.example", "seen": _seen(late.text)}
    assert staff.post("/desk/b/K1", again).status_code == 303
    with office.db.read() as conn:
        assert by_ref(conn, "K1").email == "late@rill.example"
        assert by_ref(conn, "K1").remark == "knee"


def test_a_report_made_meanwhile_is_no_conflict(office: Office) -> None:
    link = office.booking()
    staff = office.as_role("staff")
    seen = _seen(staff.get("/desk/b/K1").text)
    office.send(link)
    office.work()
    assert staff.post("/desk/b/K1", {"customer": "Ada", "seen": seen}).status_code == 303


def test_a_faulty_change_keeps_what_was_typed(office: Office) -> None:
    office.booking(customer="Ada Rill")
    typed = {"customer": "Ada Holm", "email": "no address", "rider": "expert", "pillion": "yes"}
    page = office.as_role("staff").post("/desk/b/K1", typed)
    assert page.status_code == 422
    for kept in ('value="Ada Holm"', 'value="no address"', '<option value="expert" selected>'):
        assert kept in page.text
    assert 'name="pillion" value="yes" checked' in page.text


@on_both
def test_the_start_stands_on_the_first_day_until_somebody_says(office: Office) -> None:
    link = office.booking(starts_on="2027-03-14", ends_on="2027-03-16")
    assert 'value="2027-03-14T08:30"' in office.client.get(link).text
    staff = office.as_role("staff")
    moved = {"starts_on": "2027-03-15", "ends_on": "2027-03-16"}
    assert staff.post("/desk/b/K1", moved).status_code == 303
    assert _told(office)["depart"] == "2027-03-15T08:30"
    assert staff.post("/desk/b/K1", {"depart": "2027-03-16T06:00"}).status_code == 303
    assert staff.post("/desk/b/K1", {"starts_on": "2027-03-14"}).status_code == 303
    assert _told(office)["depart"] == "2027-03-16T06:00"
    office.booking("K2")
    assert _told(office, "K2")["depart"] == ""


@pytest.mark.parametrize("moment", ["2027-03-14T07:30+05:30", "2027-03-14T07:30Z"])
def test_a_start_with_a_time_zone_is_refused(office: Office, moment: str) -> None:
    """Dropping the zone would move the ride by hours without a word."""
    told = {"ref": "Z1", "depart": moment}
    made = office.client.post("/api/v1/bookings", json=told, headers=office.token())
    assert made.status_code == 422
    assert "time zone" in made.text


@on_both
def test_guides_find_the_coming_rides_first(office: Office) -> None:
    today = date.today()
    for ref, days in (("OLD", -9), ("LATER", 30), ("SOON", 2), ("NOW", -1)):
        start = today + timedelta(days=days)
        end = start + timedelta(days=3)
        _ready(office, ref, starts_on=start.isoformat(), ends_on=end.isoformat())
    _ready(office, "OPEN")
    guide = office.as_role("guide")
    coming, past = guide.get("/guide").text, guide.get("/guide?past=1").text
    places = [coming.index(ref) for ref in ("NOW", "SOON", "LATER", "OPEN")]
    assert places == sorted(places)
    assert "OLD" not in coming and "OLD" in past and "SOON" not in past


def test_a_faulty_plan_names_the_row_of_the_form_in_the_guides_language(office: Office) -> None:
    _ready(office)
    guide, path = office.as_role("guide"), f"/guide/{_route(office)}"
    typed = {
        "start": "08:00", "night_km.0": "20", "night_number.0": "1",
        "stop_km.0": "30", "stop_kind.0": "lunch", "stop_name.0": "Mill",
        "stop_km.1": "abc", "stop_kind.1": "lunch", "stop_name.1": "Inn",
    }  # fmt: skip
    page = guide.post(path, typed)
    assert page.status_code == 422
    assert "stop 2: km has to be a number" in page.text
    assert 'value="abc"' in page.text
    guide.post("/account/language", {"lang": "es"})
    assert "parada 2: km debe ser un número" in guide.post(path, typed).text
