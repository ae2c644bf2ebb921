"""Routes that could not be read are read again with one press, one or all of them."""

from __future__ import annotations

import pytest

from terrain.errors import RegionNotCovering
from terrain.text.message import message
from terrain.web.work import Made, Material
from terrain.web.worker import Worker
from tests.web.conftest import Office
from tests.web.standin import quick_make


def _without_map(*_: object) -> Made:
    raise RegionNotCovering(message("none of the regions here covers the route"))


@pytest.mark.parametrize("settings", ["sqlite"], indirect=True)
def test_after_a_new_map_all_are_read_again(office: Office) -> None:
    for ref in ("K1", "K2", "K3"):
        office.send(office.booking(ref))
    worker = Worker(office.db, office.settings, _without_map)
    while worker.once():
        pass
    (office.settings.home / "regions" / "here").mkdir(parents=True)
    staff = office.as_role("staff")
    assert "Routes that could not be read: 3" in staff.get("/desk").text
    route = office.client.get("/api/v1/bookings/K1", headers=office.token()).json()["routes"][0]
    assert "Read it again" in staff.get("/desk/b/K1").text
    assert staff.post(f"/desk/b/K1/again/{route['id']}").status_code == 303
    assert office.work() == 1
    assert "route read again" in staff.get("/desk/b/K1").text
    assert "Routes that could not be read: 2" in staff.get("/desk").text
    assert staff.post("/desk/again").status_code == 303
    assert office.work() == 2
    assert "could not be read" not in staff.get("/desk").text
    assert staff.post(f"/desk/b/K2/again/{route['id']}").status_code == 404
    # A route that was read is read again with the settings of now.
    seen: list[str] = []

    def make(material: Material, *rest: object) -> Made:
        seen.append(material.name)
        return quick_make(material, *rest)  # type: ignore[arg-type]

    staff.post(f"/desk/b/K1/again/{route['id']}")
    assert Worker(office.db, office.settings, make).once() and seen == ["a.gpx"]
