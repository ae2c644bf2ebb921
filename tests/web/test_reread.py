"""Routes that could not be read are read again with one press, one or all of them."""

from __future__ import annotations

import re
import time
from dataclasses import replace

import numpy as np

from terrain.errors import RegionNotCovering
from terrain.region.build import build_region
from terrain.region.changed import CHANGED, ChangedWays
from terrain.region.pack import current_pack
from terrain.region.store import save_value
from terrain.text.message import message
from terrain.web.bookings import by_ref, standings
from terrain.web.work import Made, Material, fleet_of, pack
from terrain.web.worker import Worker
from tests.region.osm_xml import crossing
from tests.web.conftest import Office
from tests.web.standin import quick_make

_FLEET = 'name = "Island rentals"\n[class.trail]\nlike = "light-trail"\ntitle = "{title}"\n'


def _without_map(*_: object) -> Made:
    raise RegionNotCovering(message("none of the regions here covers the route"))


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


def test_one_press_reads_a_route_again_with_the_settings_of_now(office: Office) -> None:
    """Nothing is read again by itself, and pressed twice it is read once."""
    fleet = office.settings.data / "fleet.toml"
    settings = replace(office.settings, fleet=str(fleet))

    def make(material: Material, *rest: object) -> Made:
        made = quick_make(material, *rest)  # type: ignore[arg-type]
        known = tuple(row.title for row in fleet_of(settings).classes)
        return replace(made, summary=made.summary.model_copy(update={"excluded": known}))

    def told() -> tuple[str, ...]:
        with office.db.read() as conn:
            (row,) = standings(conn, [by_ref(conn, "K1").id]).values()
        assert row[0].summary is not None
        return row[0].summary.excluded

    worker = Worker(office.db, settings, make)
    fleet.write_text(_FLEET.format(title="Old pony"), encoding="utf-8")
    office.send(office.booking())
    while worker.once():
        pass
    assert told() == ("Old pony",)
    fleet.write_text(_FLEET.format(title="New mule"), encoding="utf-8")
    staff = office.as_role("staff")
    assert not worker.once() and told() == ("Old pony",)
    press = re.search(r'action="(/desk/b/K1/again/\d+)"', staff.get("/desk/b/K1").text)
    assert press is not None
    for _ in range(2):
        assert staff.post(press[1]).status_code == 303
    # While it waits there is no button to press once more.
    assert press[1] not in staff.get("/desk/b/K1").text
    assert worker.once() and not worker.once()
    assert told() == ("New mule",)


def test_open_bookings_whose_roads_changed_are_named_and_read_again(office: Office) -> None:
    over = {"K3": [11], "K4": [11]}  # K3 is over, K4 settled
    ridden = {"K1": [11, 12, 40], "K2": [40], **over}

    def make(material: Material, *rest: object) -> Made:
        ways = np.array(ridden[material.booking.ref], dtype="<i8")
        return replace(quick_make(material, *rest), ways=pack(ways.tobytes()))  # type: ignore[arg-type]

    for ref in ridden:
        office.send(office.booking(ref, **({"ends_on": "2020-01-01"} if ref == "K3" else {})))
    office.client.patch(
        "/api/v1/bookings/K4", json={"state": "settled"}, headers=office.token()
    ).raise_for_status()
    worker = Worker(office.db, office.settings, make)
    while worker.once():
        pass
    staff, home = office.as_role("staff"), office.settings.home
    home.mkdir(exist_ok=True)
    region = build_region("isle", (crossing().write(home / "isle.osm"),), home=home)
    assert "have changed since" not in staff.get("/desk").text
    ways = np.array([11, 12, 99])
    log = ChangedWays(way_id=ways, at_s=np.full(3, time.time() + 1.0))
    save_value(current_pack(region) / CHANGED, log)
    table = staff.get("/desk").text
    assert "roads of 1 route of an open booking have changed" in table
    assert table.count("roads changed on the map") == 1
    assert "2 roads of this route have changed" in staff.get("/desk/b/K1").text
    assert "has changed since" not in staff.get("/desk/b/K2").text
    assert staff.post("/desk/again/changed").status_code == 303
    # What waits to be read is not asked for twice.
    assert "have changed" not in staff.get("/desk").text
    save_value(current_pack(region) / CHANGED, replace(log, at_s=np.full(3, time.time() - 1.0)))
    assert worker.once() and not worker.once()
    assert "have changed" not in staff.get("/desk/b/K1").text
