"""The operator's own bikes: kept with their faults; one with an open fault is not proposed."""

from __future__ import annotations

from terrain.web.bike_pages import own_bikes
from tests.web.conftest import Office, on_both


def _route(office: Office) -> int:
    told = office.client.get("/api/v1/bookings/K1", headers=office.token()).json()
    return int(told["routes"][0]["id"])


@on_both
def test_a_bike_with_an_open_fault_is_not_proposed(office: Office) -> None:
    office.send(office.booking(customer="Ada Rill", starts_on="2027-03-14"))
    office.work()
    staff = office.as_role("staff")
    add = {"do": "add", "bike": "dual-sport", "serviced_on": "2027-01-05"}
    assert staff.post("/desk/bikes", {**add, "name": "7742 KLM"}).status_code == 303
    assert staff.post("/desk/bikes", {**add, "name": "Old Goat"}).status_code == 303
    assert staff.post("/desk/bikes", {**add, "name": "Old Goat"}).status_code == 422
    assert staff.post("/desk/bikes", {**add, "bike": "boat", "name": "x"}).status_code == 422
    # Who steers by voice says what is read there (WCAG 2.1, 2.5.3).
    assert 'aria-label="take away: Old Goat">take away<' in staff.get("/desk/bikes").text
    with office.db.read() as conn:
        goat = next(x.row.id for x in own_bikes(conn) if x.row.name == "Old Goat")
    fault = {"do": "fault", "id": str(goat), "part": "fan", "seen_on": "2027-02-01", "note": "dead"}
    assert staff.post("/desk/bikes", fault).status_code == 303
    here = f"/desk/b/K1/sheet/{_route(office)}"
    page = staff.get(here).text
    assert '<option value="7742 KLM"' in page and '<option value="Old Goat"' not in page
    assert "Old Goat stays in: fan." in page
    with office.db.read() as conn:
        (open_,) = next(x.open for x in own_bikes(conn) if x.row.name == "Old Goat")
    staff.post("/desk/bikes", {"do": "mended", "id": str(open_.id)})
    page = staff.get(here + "?bike=Old+Goat").text
    assert '<option value="Old Goat" selected>' in page
    assert "Last service 5 January 2027." in page
    assert "Last fault of fan: 1 February 2027." in page
    assert "Ada Rill" not in page  # a sheet lies about in the workshop


def test_no_sheet_without_a_report(office: Office) -> None:
    office.send(office.booking())
    assert office.as_role("staff").get(f"/desk/b/K1/sheet/{_route(office)}").status_code == 404
