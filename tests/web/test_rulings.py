"""What the desk decides for one rider of a group: it is that rider's alone, and goes with them."""

from __future__ import annotations

import re
from typing import Any

import pytest
import sqlalchemy as sa

from terrain.web import schema
from terrain.web.party import names_of
from terrain.web.summary import RiderKept
from terrain.web.work import Made, Material
from terrain.web.worker import Worker
from tests.web.conftest import Office, Visitor, on_both, replace
from tests.web.standin import quick_make

BEN = {"customer.0": "Ben", "rider.0": "novice", "luggage.0": "soft"}
CLEO = {"customer.1": "Cleo", "rider.1": "expert", "luggage.1": "soft"}
TOLD = {"setup": "off-road", "bike": "dual-sport", "reason": "Rode it last year"}


class _Desk:
    """A group of three: the setup is open for each until the desk decides."""

    def __init__(self, office: Office) -> None:
        self.office = office
        self.made: list[Material] = []
        office.send(office.booking(customer="Anna"))
        self.staff: Visitor = office.as_role("staff")
        self.staff.post("/desk/b/K1/riders", {**BEN, **CLEO})
        self.work()
        self.made.clear()

    def _make(self, material: Material, *rest: Any) -> Made:
        self.made.append(material)
        made = quick_make(material, *rest)
        riders = (material.booking.first, *material.riders)
        own = material.own_decisions or (None,) * len(riders)
        group = tuple(
            RiderKept(name=rider.customer, riding_s=None, hard=(), edge=(), may_go=None,
                      setup=decision.setup.value if decision else "ask",
                      excluded=("enduro",) if rider.customer == "Ben" else ())
            for rider, decision in zip(riders, own, strict=True)
        )  # fmt: skip
        return replace(made, summary=made.summary.model_copy(update={"group": group}))

    def work(self) -> None:
        worker = Worker(self.office.db, self.office.settings, self._make)
        while worker.once():
            pass

    def page(self) -> str:
        return self.staff.get("/desk/b/K1").text

    def whose(self, name: str) -> str:
        """The key by which the page's form decides for a rider."""
        found = re.search(rf'<summary>{name}: D.*?name="rider" value="(\w+)"', self.page(), re.S)
        assert found is not None, name
        return found[1]

    def decide(self, name: str, **more: str) -> Any:
        return self.staff.post("/desk/b/K1/ruling/1", {**TOLD, "rider": self.whose(name), **more})

    def state(self) -> str:
        with self.office.db.read() as conn:
            return str(conn.execute(sa.select(schema.bookings.c.state)).scalar())

    def reasons(self) -> list[str | None]:
        """Why the desk decided for each, as the next report was made with it."""
        self.made.clear()
        self.work()
        (material,) = self.made
        assert material.decision is None
        return [x and x.reason for x in material.own_decisions]


@pytest.fixture
def desk(office: Office) -> _Desk:
    return _Desk(office)


@on_both
def test_a_decision_for_one_rider_is_that_riders_alone(desk: _Desk) -> None:
    assert desk.decide("Ben", reason=" ").status_code == 422
    assert desk.decide("Ben").status_code == 303
    assert desk.reasons() == [None, TOLD["reason"], None]
    page = desk.page()
    assert re.search(r"<summary>Ben: Decided by staff on [^<]*: Rode it last year</summary>", page)
    assert "decided for Ben: off-road" in page
    for who in ("Anna", "All riders"):
        assert f"<summary>{who}: Decide otherwise" in page
    # For the others it is still open; with the last of them the booking is decided.
    assert desk.state() == "analysed"
    desk.decide("Anna", reason="Asked by telephone")
    assert desk.reasons() == ["Asked by telephone", TOLD["reason"], None]
    assert desk.state() == "analysed"
    desk.decide("Cleo", reason="As Ben")
    assert desk.reasons() == ["Asked by telephone", TOLD["reason"], "As Ben"]
    assert desk.state() == "decided"


@on_both
def test_a_bike_that_must_not_go_is_not_put_first(desk: _Desk) -> None:
    """For all of a group none that must not go with one of them."""
    for name, status in (("Ben", 422), ("Cleo", 303)):
        assert desk.decide(name, bike="enduro").status_code == status
    assert desk.reasons() == [None, None, TOLD["reason"]]
    for bike, status in (("enduro", 422), ("dual-sport", 303)):
        told = {**TOLD, "rider": "", "bike": bike}
        assert desk.staff.post("/desk/b/K1/ruling/1", told).status_code == status
    forms = re.findall(r'name="rider" value="\w*"(.*?)</form>', desk.page(), re.S)
    barred = [re.findall(r'value="([\w-]+)"[^>]* disabled', form) for form in forms]
    assert barred == [["enduro"], [], ["enduro"], []]  # all of them, Anna, Ben, Cleo


@on_both
def test_the_second_of_two_who_decide_for_a_rider_is_told(desk: _Desk) -> None:
    assert desk.decide("Ben", seen="none").status_code == 303
    late = desk.decide("Ben", seen="none", reason="No, mud")
    assert late.status_code == 409 and "No, mud" in late.text
    assert desk.decide("Anna", seen="none").status_code == 303  # nobody had decided for her
    assert desk.reasons() == [TOLD["reason"], TOLD["reason"], None]


@on_both
def test_a_decision_goes_and_comes_back_with_its_rider(desk: _Desk) -> None:
    """It never falls to another rider, whoever leaves and in whatever order they stand."""
    desk.decide("Cleo")
    assert desk.reasons() == [None, None, TOLD["reason"]]
    # Ben leaves, others join before Cleo, and she rides another bike.
    desk.staff.post("/desk/b/K1/riders", {
        "customer.0": "Dan", "rider.0": "steady", "luggage.0": "soft", **CLEO,
        "wanted.1": "dual-sport",
    })  # fmt: skip
    assert desk.reasons() == [None, None, TOLD["reason"]]
    told = desk.staff.post("/desk/b/K1/riders", {**BEN})
    desk.work()
    assert desk.made[-1].own_decisions == ()
    number = told.headers["location"].rpartition("gone=")[2]
    assert desk.staff.post(f"/desk/deleted/{number}", {"do": "back"}).status_code == 303
    desk.made.clear()
    desk.work()
    riders, own = desk.made[-1].riders, desk.made[-1].own_decisions[1:]
    with desk.office.db.read() as conn:  # who was fetched back shares a place with another
        places = conn.execute(sa.select(schema.riders.c.place)).scalars().all()
        names = names_of(conn, 1, "Anna")
    assert sorted(places) == [2, 2, 3]
    assert [*names.values()] == ["Anna", *(rider.customer for rider in riders)]
    assert {x.customer: y and y.reason for x, y in zip(riders, own, strict=True)} == {
        "Ben": None, "Dan": None, "Cleo": TOLD["reason"],
    }  # fmt: skip


@on_both
@pytest.mark.parametrize("name", ["Anna", "Ben"])
def test_a_decision_for_a_rider_is_withdrawn_and_fetched_back(desk: _Desk, name: str) -> None:
    desk.decide(name)
    before = desk.reasons()
    told = desk.decide(name, withdraw="1").headers["location"]
    desk.work()
    assert desk.made[-1].own_decisions == ()
    assert f"decision for {name} withdrawn" in desk.page()
    number = told.rpartition("gone=")[2]
    assert f"decision for {name} withdrawn" in desk.staff.get("/desk/deleted").text
    assert desk.staff.post(f"/desk/deleted/{number}", {"do": "back"}).status_code == 303
    assert desk.reasons() == before
    # Where another decision stands meanwhile, the old one does not come in its place.
    told = desk.decide(name, withdraw="1").headers["location"]
    desk.decide(name, reason="Mud")
    number = told.rpartition("gone=")[2]
    refused = desk.staff.post(f"/desk/deleted/{number}", {"do": "back"})
    assert refused.status_code == 409 and "omething new stands" in refused.text
    assert "Mud" in desk.reasons()


@on_both
def test_nobody_decides_for_a_rider_of_another_booking(desk: _Desk) -> None:
    office = desk.office
    office.send(office.booking("K2", customer="Eve"))
    ben = desk.whose("Ben")
    with office.db.read() as conn:
        other = conn.execute(sa.select(sa.func.max(schema.routes.c.id))).scalar()
    for rider in (ben, "999", "x", "9" * 30):
        got = desk.staff.post(f"/desk/b/K2/ruling/{other}", {**TOLD, "rider": rider})
        assert got.status_code == 404 and "not on the booking" in got.text, rider
