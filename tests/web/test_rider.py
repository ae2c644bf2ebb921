"""The rider's way: link, form, progress, report, correction, deletion."""

from __future__ import annotations

import io
import re
import zipfile

import pytest
import sqlalchemy as sa

from terrain.text.catalogue import LANGUAGES
from terrain.text.translator import translator_for
from terrain.web import schema
from tests.web.conftest import Office, on_both
from tests.web.standin import GPX


@on_both
def test_from_the_link_to_the_report(office: Office) -> None:
    link = office.booking(wanted="dual-sport")
    form = office.client.get(link)
    assert form.status_code == 200 and 'type="file"' in form.text
    assert office.send(link).headers["location"] == link
    waiting = office.client.get(link)
    # Without script the page looks again by itself.
    assert '<noscript><meta http-equiv="refresh"' in waiting.text and "waiting" in waiting.text
    assert office.client.get(link + "/state").json()["working"] is True
    assert office.work() == 1
    assert office.client.get(link + "/state").json()["working"] is False
    report = office.client.get(link)
    assert "Stand-in" in report.text and "desk-bar" in report.text
    for kind in ("pdf", "gpx", "kml", "ics"):
        got = office.client.get(f"{link}/report.{kind}")
        assert got.status_code == 200
        assert got.headers["content-disposition"] == f'attachment; filename="K1-report.{kind}"'


def test_how_the_rider_rides_is_asked_and_not_guessed(office: Office) -> None:
    """The first form has nothing chosen, unless the desk entered it; later ones what was said."""
    link = office.booking()

    def chosen(address: str) -> list[str]:
        field = office.client.get(address).text.partition('name="rider"')[2].partition("</select>")
        return re.findall(r'value="(\w*)" selected', field[0])

    assert chosen(link) == []
    # Nor is it told to the desk as if somebody had said it.
    assert "steady" not in office.as_role("staff").get("/desk/b/K1").text.partition("<h1")[0]
    got = office.client.post(link, data={"rider": ""}, files={"files": ("a.gpx", GPX)})
    assert got.status_code == 422 and "Choose your off-road experience." in got.text
    office.send(link)
    assert chosen(link + "/change") == ["steady"]
    office.as_role("staff").post("/desk/b/K1", {"rider": "novice"})
    assert chosen(link + "/change") == ["novice"]


def test_a_route_that_cannot_be_used_says_why_and_lets_try_again(office: Office) -> None:
    link = office.booking()
    office.send(link, b"hello", "holiday.txt")
    office.work()
    page = office.client.get(link).text
    assert "This is no GPX file. Export it as GPX." in page and f"{link}/change" in page
    office.send(link)
    office.work()
    assert "Stand-in" in office.client.get(link).text


def test_an_empty_file_is_told_as_one(office: Office) -> None:
    """A download that failed leaves such a file; "choose a file" would lead nowhere."""
    link = office.booking()
    assert office.send(link, b"", "plan.gpx").status_code == 303
    # A form in which none was chosen names none (HTML, constructing the entry list).
    none = office.client.post(link, data={"rider": "steady"}, files={"files": ("", b"")})
    assert none.status_code == 303
    with office.db.read() as conn:
        names = conn.execute(sa.select(schema.routes.c.name)).scalars().all()
    assert names == ["plan.gpx"]


def test_several_files_are_routes_to_compare(office: Office) -> None:
    link = office.booking()
    files = [("files", ("one.gpx", GPX)), ("files", ("two.gpx", GPX))]
    office.client.post(link, data={"rider": "expert"}, files=files)
    assert office.work() == 2
    page = office.client.get(link).text
    assert "one.gpx" in page and "two.gpx" in page


@on_both
def test_changed_details_make_the_report_again(office: Office) -> None:
    link = office.booking()
    office.send(link)
    office.work()
    got = office.client.post(link, data={"rider": "novice", "depart": "2027-04-14T07:30"})
    assert got.status_code == 303
    assert office.work() == 1
    told = office.client.get("/api/v1/bookings/K1", headers=office.token()).json()
    assert told["routes"][0]["summary"]["excluded"][3] == "novice"
    assert told["depart"] == "2027-04-14T07:30"


@on_both
def test_the_same_form_sent_twice_is_one_upload(office: Office) -> None:
    link = office.booking()
    for _ in range(2):
        office.client.post(
            link, data={"once": "abc", "rider": "steady"}, files={"files": ("a.gpx", GPX)}
        )
    assert office.work() == 1


def test_nothing_chosen_is_said_in_the_form(office: Office) -> None:
    got = office.client.post(office.booking(), data={"rider": "steady"})
    assert got.status_code == 422 and "Choose a file first" in got.text


def test_a_wrong_date_is_said_in_the_form_and_the_rest_kept(office: Office) -> None:
    got = office.client.post(office.booking(), data={"depart": "soon", "rider": "expert"})
    assert got.status_code == 422
    assert "is no date and time" in got.text and '<option value="expert" selected>' in got.text


@pytest.mark.parametrize("lang", LANGUAGES)
def test_the_pages_speak_the_bookings_language(office: Office, lang: str) -> None:
    page = office.client.get(office.booking(lang=lang)).text
    assert f'<html lang="{lang}">' in page
    assert translator_for(lang)._("Read my route") in page


def test_open_upload_makes_its_own_link(office: Office) -> None:
    got = office.client.post("/ride", data={"rider": "steady"}, files={"files": ("a.gpx", GPX)})
    assert got.status_code == 303 and got.headers["location"].startswith("/t/")
    assert len(got.headers["location"]) == len("/t/") + 43


@on_both
def test_riders_may_take_and_delete_their_data(office: Office) -> None:
    link = office.booking(customer="Ada Rill", email="ada@rill.example")
    office.send(link)
    office.work()
    got = office.client.get(link + "/export.zip")
    with zipfile.ZipFile(io.BytesIO(got.content)) as archive:
        names = archive.namelist()
        assert GPX in [archive.read(name) for name in names if name.startswith("route-")]
        assert b"Ada Rill" in archive.read("booking.json")
        assert b"link_hash" not in archive.read("booking.json")
        assert any(name.endswith("rider.pdf") for name in names)
    assert office.client.post(link + "/delete", data={}).headers["location"].endswith("/change")
    assert office.client.post(link + "/delete", data={"sure": "yes"}).status_code == 200
    assert 'type="file"' in office.client.get(link).text
    assert office.client.get(link + "/report.pdf").status_code == 404


def test_a_full_queue_says_when_to_come_back(office: Office) -> None:
    link = office.booking()
    object.__setattr__(office.settings, "max_queue", 1)
    assert office.send(link).status_code == 303
    got = office.send(office.booking("K2"))
    assert got.status_code == 503 and int(got.headers["retry-after"]) > 0
