"""Several riders on one booking: kept, judged one by one, told together or each alone."""

from __future__ import annotations

import re
from pathlib import Path

import sqlalchemy as sa
from starlette.testclient import TestClient

from terrain.web import party, schema
from terrain.web.app import create_app
from terrain.web.database import Database
from terrain.web.work import make_report
from terrain.web.worker import Worker
from tests.web.conftest import Office, replace

BEN = {
       "customer.0": "Ben <b>", "email.0": "ben@rides.example", "wanted.0": "road-tourer",
       "rider.0": "novice", "riding.0": "new", "luggage.0": "boxes", "pillion.0": "yes",
}  # fmt: skip


def _kept(office: Office, ref: str = "K1") -> list[dict[str, object]]:
    with office.db.read() as conn:
        booking_id = conn.execute(
            sa.select(schema.bookings.c.id).where(schema.bookings.c.ref == ref)
        ).scalar_one()
        return [rider.columns() for rider in party.riders_of(conn, booking_id)]


def test_riders_are_kept_changed_and_taken_off_by_a_plain_form(office: Office) -> None:
    office.send(office.booking(customer="Anna"))
    assert office.work() == 1
    staff = office.as_role("staff")
    page = staff.get("/desk/b/K1/riders")
    assert page.status_code == 200 and 'name="customer.1"' in page.text
    seen = page.text.partition('name="seen" value="')[2].partition('"')[0]
    # How another rides is chosen by a person, as it is in the first rider's own form.
    assert 'name="rider.0"><option value="">please choose</option>' in page.text
    unsaid = staff.post("/desk/b/K1/riders", {"customer.0": "Ben", "rider.0": "", "seen": seen})
    assert unsaid.status_code == 422 and "Ben: nobody has said how this rider" in unsaid.text
    empty = {"customer.1": "", "rider.1": "steady", "luggage.1": "soft"}
    assert staff.post("/desk/b/K1/riders", {**BEN, **empty, "seen": seen}).status_code == 303
    assert _kept(office) == [
        {"customer": "Ben <b>", "email": "ben@rides.example", "wanted": "road-tourer",
         "rider": "novice", "riding": "new", "luggage": "boxes", "pillion": True}
    ]  # fmt: skip
    assert office.work() == 1  # the route is judged for them
    told = staff.get("/desk/b/K1").text
    assert "2 riders" in told and "riders: 1, now 2" in told
    for line in ("One more rider: – → Ben &lt;b&gt;", "Ben &lt;b&gt;, Luggage: – → "):
        assert line in told, line
    # Who changes them on a page from before is told, and nothing typed is lost.
    late = staff.post("/desk/b/K1/riders", {**BEN, "customer.0": "Bea", "seen": seen})
    assert late.status_code == 409 and 'value="Bea"' in late.text
    wrong = staff.post("/desk/b/K1/riders", {**BEN, "email.0": "no address"})
    assert wrong.status_code == 422 and "Ben &lt;b&gt;" in wrong.text
    assert [row["customer"] for row in _kept(office)] == ["Ben <b>"]
    assert staff.post("/desk/b/K1/riders", {**BEN, "customer.0": " "}).status_code == 303
    assert _kept(office) == []


def test_a_booking_system_sends_and_reads_the_riders(office: Office) -> None:
    head, client = office.token(), office.client
    office.send(office.booking(customer="Anna"))
    assert office.work() == 1
    url = "/api/v1/bookings/K1"
    assert client.get(url, headers=head).json()["riders"] == []
    ben = {"customer": "Ben", "wanted": "road-tourer", "rider": "novice", "pillion": True}
    whole = {**ben, "email": "", "riding": None, "luggage": "soft"}
    told = client.patch(url, json={"riders": [ben]}, headers=head)
    assert told.status_code == 200 and told.json()["riders"] == [whole]
    assert office.work() == 1  # the route is judged for them
    # Said again it changes nothing; not said, it stays.
    assert client.patch(url, json={"riders": [ben]}, headers=head).json()["riders"] == [whole]
    assert client.patch(url, json={"remark": "x"}, headers=head).json()["riders"] == [whole]
    assert office.work() == 0
    assert [b["riders"] for b in client.get("/api/v1/bookings", headers=head).json()] == [[whole]]
    for wrong in ({"customer": " "}, {**ben, "email": "no address"}, {**ben, "rider": "hero"}):
        assert client.patch(url, json={"riders": [wrong]}, headers=head).status_code == 422, wrong
    crowd = client.patch(url, json={"riders": [ben] * (party.MOST + 1)}, headers=head)
    assert crowd.status_code == 422
    assert client.patch(url, json={"riders": []}, headers=head).json()["riders"] == []
    # Who is taken off can be fetched back until midnight, as from the form.
    assert "Ben" in office.as_role("staff").get("/desk/deleted").text
    made = client.post("/api/v1/bookings", json={"ref": "K2", "riders": [ben]}, headers=head)
    assert made.json()["riders"] == [whole] and made.json()["link"]


def test_a_desk_from_before_groups_opens(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'desk.sqlite'}"
    db = Database(url)
    db.create()
    with db.write() as conn:
        conn.exec_driver_sql("DROP TABLE riders")
        for step in range(7, schema.VERSION):
            for table, column in schema.NEW_COLUMNS[step]:
                conn.exec_driver_sql(f"ALTER TABLE {table} DROP COLUMN {column}")
        conn.execute(schema.meta.update().values(value="7"))
    db.close()
    db = Database(url)
    db.create()
    db.check()
    with db.read() as conn:
        assert party.riders_of(conn, 1) == ()
    db.close()


def test_each_is_judged_and_told(office: Office, island_home: Path) -> None:
    told = replace(office.settings, home=island_home, region="island")
    with TestClient(create_app(told), follow_redirects=False) as client:
        real = Office(told, client)
        link = real.booking(customer="Anna", wanted="light-trail", email="anna@rides.example")
        staff = real.as_role("staff")
        staff.post("/desk/b/K1/riders", BEN)
        route = island_home / "demo" / "routes" / "valleys-and-passes.gpx"
        real.send(link, route.read_bytes())
        worker = Worker(real.db, told, make_report)
        while worker.once():
            pass
        page = staff.get("/desk/b/K1").text
        assert '<table class="group"' in page
        assert "The group rides at the pace of Ben &lt;b&gt;" in page
        assert "The road tourer asked for must not go." in page
        # What forbids the ride to one stands before all else in the mail to all.
        mail = staff.get("/desk/b/K1/mail/1").text
        assert mail.index("must not go") < mail.index("For Anna:")
        assert "anna@rides.example" in mail
        alone = staff.get("/desk/b/K1/mail/1?rider=2").text
        assert "ben@rides.example" in alone and "For Anna:" not in alone
        draft = staff.get("/desk/b/K1/draft/1?rider=2")
        assert b"To: ben@rides.example" in draft.content
        report = staff.get("/desk/b/K1/report/1?rider=2").text
        assert (
            "novice rider" in report and "novice rider" not in staff.get("/desk/b/K1/report/1").text
        )
        rider = client.get(link).text
        assert "must not go" in rider.partition("</nav>")[0]
        assert client.get(link + "?rider=2").status_code == 200
        guide = real.as_role("guide").get("/guide/1").text
        assert '<table class="group"' in guide
        # One that may not go keeps the booking from standing as good.
        assert "Booked road tourer, which must not go." in page
        settle = page.partition("Not settled yet")[2]
        assert re.search(r"Ben &lt;b&gt;: Offer another (bike|route)", settle)
        assert "/b/K1" in staff.get("/desk?differs=1").text
        # What the desk decides for one is said to all with its reason, and lifts no ban.
        assert "Decided by the desk." not in staff.get("/desk").text
        key = re.search(r"<summary>Ben &lt;b&gt;: Dec.*?name=.rider. value=.(\d+)", page, re.S)
        assert key is not None
        form = page[key.start() :].partition("</form>")[0]
        assert '<option value="road-tourer" disabled>road tourer, must not go</option>' in form
        assert re.search(r'<option value="[a-z-]+">', form)  # others may
        told_ben = {"setup": "off-road", "reason": "Trained <i>here", "rider": key[1]}
        staff.post("/desk/b/K1/ruling/1", told_ben)
        while worker.once():
            pass
        assert "Decided by the desk." in staff.get("/desk").text
        reason = "The rental desk decided this: Trained &lt;i&gt;here"
        mail = staff.get("/desk/b/K1/mail/1").text
        lines = {line.partition(" (")[0].lstrip("- "): line for line in mail.splitlines()}
        assert reason in lines["Ben &lt;b&gt;"] and "must not go" in lines["Ben &lt;b&gt;"]
        assert reason not in lines["Anna"]
        assert reason in staff.get("/desk/b/K1/mail/1?rider=2").text
        assert reason not in staff.get("/desk/b/K1/mail/1?rider=1").text
        assert reason in staff.get("/desk/b/K1/report/1?rider=2").text
        assert reason not in staff.get("/desk/b/K1/report/1").text
        table = re.sub(r"<[^>]+>", " ", staff.get("/desk/b/K1").text.partition("group-box")[2])
        assert re.search(r"must not go.*" + re.escape(reason), table, re.S)


def test_what_holds_for_several_is_told_once_above_a_riders_page(
    office: Office, island_home: Path
) -> None:
    """One open question of three riders stood there three times, and filled a phone."""
    told = replace(office.settings, home=island_home, region="island")
    with TestClient(create_app(told), follow_redirects=False) as client:
        real = Office(told, client)
        link = real.booking(customer="Anna", rider="novice")
        riders = {"customer.0": "Ben", "customer.1": "Cal"}
        for n in (0, 1):
            riders |= {f"rider.{n}": "novice", f"luggage.{n}": "soft"}
        real.as_role("staff").post("/desk/b/K1/riders", riders)
        real.send(link, (island_home / "demo" / "routes" / "high-tracks.gpx").read_bytes())
        worker = Worker(real.db, told, make_report)
        while worker.once():
            pass
        bar = client.get(link).text.partition("</nav>")[0]
        (said,) = re.findall(r"<bdi>Anna</bdi>: \S+ (.{20,}?) \(this page\)", bar)
        assert bar.count(said.strip()) == 1 and bar.count("As above.") == 2
