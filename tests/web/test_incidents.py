"""What happened on a rental, put down at its booking, and read by what learns rates from it."""

from __future__ import annotations

from pathlib import Path

from terrain.inputs.rentals import read_log
from terrain.inputs.rentals.learn import learn
from terrain.tables.fleet import DEFAULT_FLEET
from tests.web.conftest import Office, on_both


@on_both
def test_incidents_become_a_log_that_rates_are_learned_of(office: Office, tmp_path: Path) -> None:
    staff = office.as_role("staff")
    told = {"bike": "dual-sport", "failed": "chain", "at_km": "47,5", "ended": "yes"}
    for n in range(12):
        link = office.booking(f"K{n}", starts_on="2027-03-10", ends_on="2027-03-12")
        office.send(link)
        happened = told if n < 3 else {"bike": "dual-sport", "well": "1"}
        assert staff.post(f"/desk/b/K{n}/incidents", happened).status_code == 303
    # A second thing on the same bike is the same rental.
    staff.post("/desk/b/K0/incidents", {**told, "failed": "fan"})
    page = staff.get("/desk/b/K0/incidents").text
    assert "chain" in page and "km\u00a047.5" in page and "ended the trip" in page
    file = tmp_path / "rentals.csv"
    file.write_bytes(staff.get("/desk/rentals.csv").content)
    rentals = read_log(file, [bike.name for bike in DEFAULT_FLEET.classes]).rentals
    assert len(rentals) == 12
    assert sum(r.incident for r in rentals) == 3
    assert {r.failed for r in rentals if r.incident} == {"chain"}
    assert {r.days for r in rentals} == {3}
    rates = [r for r in learn(rentals, DEFAULT_FLEET).rates if r.bike == "dual-sport"]
    rate = next(r for r in rates if (r.ground, r.setup, r.heat) == (None, None, None))
    assert (rate.rentals, rate.incidents, rate.used) == (12, 3, True)


def test_what_cannot_be_put_down_is_told(office: Office) -> None:
    staff = office.as_role("staff")
    office.booking("K1")
    for typed, fault in (
        ({"bike": "dual-sport"}, "say what failed"),
        ({"bike": "hovercraft", "failed": "fan"}, "no such class"),
        ({"bike": "dual-sport", "failed": "fan", "at_km": "far"}, "no number"),
    ):
        got = staff.post("/desk/b/K1/incidents", typed)
        assert got.status_code == 422 and fault in got.text.lower()
        assert typed.get("failed", "") in got.text
    assert "class,incident" in staff.get("/desk/rentals.csv").text
