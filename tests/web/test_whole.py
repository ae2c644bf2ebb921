"""With the real judging: the demo region's routes through to page, paper and draft."""

from __future__ import annotations

import email
import json
from collections.abc import Iterator
from datetime import date
from email import policy
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from terrain.inputs.learned.write import learned_text
from terrain.report.data.jsonfile import report_schema
from terrain.values.learned import Learned, LearnedTimes, PaceRow
from terrain.values.trip import OwnPace, Rider
from terrain.web.app import create_app
from terrain.web.work import Made, Material, make_report, unpack
from terrain.web.worker import Worker
from tests.web.conftest import Office, replace


@pytest.fixture
def real(office: Office, island_home: Path) -> Iterator[Office]:
    """A desk on the demo region, running: it tells its workers what it judges with."""
    told = replace(office.settings, home=island_home, region="island")
    with TestClient(create_app(told), follow_redirects=False) as client:
        yield Office(told, client)


def _route(home: Path) -> bytes:
    return (home / "demo" / "routes" / "coast-road.gpx").read_bytes()


def _work(real: Office) -> list[Made]:
    made: list[Made] = []

    def keep(*args: object) -> Made:
        made.append(make_report(*args))  # type: ignore[arg-type]
        return made[-1]

    # One worker, so that a job it leaves to others does not come back to it for ever.
    worker = Worker(real.db, real.settings, keep)
    while worker.once():
        pass
    return made


def test_from_link_to_mail_draft_and_a_decision(real: Office, island_home: Path) -> None:
    """Two real reports: the first as reckoned, in Spanish; the second as the desk decides."""
    import jsonschema

    link = real.booking(wanted="road-tourer", email="ada@rill.example", lang="es")
    real.send(link, _route(island_home))
    (first,) = _work(real)
    kinds = {name.partition(".")[2] for name in first.files if name.startswith("rider.")}
    assert kinds == {"html", "pdf", "gpx", "kml"}  # on no date there is no calendar
    assert {"staff.html", "guide.html"} <= set(first.files)
    page = real.client.get(link)
    assert '<html lang="es"' in page.text and "desk-bar" in page.text
    # The page in place is the writer's own, with one line above it and questions below its first
    # words.
    html = unpack(first.files["rider.html"]).decode()
    first_words, closing, rest = html.partition("<body>")[2].partition("</header>")
    assert first_words + closing in page.text and rest in page.text
    assert first.summary.setup == "road"
    staff = real.as_role("staff")
    route_id = int(page.text.partition("report.pdf?route=")[2].split("&")[0])
    draft = staff.get(f"/desk/b/K1/draft/{route_id}")
    message = email.message_from_bytes(draft.content, policy=policy.default)
    assert message["To"] == "ada@rill.example" and message["X-Unsent"] == "1"
    kinds = [part.get_content_type() for part in message.iter_attachments()]
    assert kinds == ["application/pdf", "application/gpx+xml"]
    assert message["Subject"] in staff.get(f"/desk/b/K1/mail/{route_id}").text
    guide = real.as_role("guide").get(f"/guide/{route_id}")
    assert "Day 1" in guide.text and "in the saddle" in guide.text

    reason = "The coast road is {closed} <b>now</b>"
    told = {"setup": "off-road", "bike": "dual-sport", "reason": reason}
    staff.post(f"/desk/b/K1/ruling/{route_id}", told)
    staff.post("/desk/notes", {"points": "88.0,13.9", "ground": "track"})
    (second,) = _work(real)
    facts = json.loads(unpack(second.facts))
    jsonschema.validate(facts, report_schema())
    assert facts["advice"]["setup"]["choice"] == "off-road"
    assert facts["advice"]["bikes"][0]["class"] == "dual-sport"
    assert facts["advice"]["edited"]["was"]["choice"] == "road"
    assert facts["advice"]["edited"]["reason"] == reason
    shown = unpack(second.files["rider.html"]).decode()
    assert "The coast road is {closed} &lt;b&gt;now&lt;/b&gt;" in shown
    assert unpack(second.files["rider.pdf"]).startswith(b"%PDF")
    assert second.summary.mismatch == "Booked road tourer; advised dual-sport."


def test_a_route_drawn_on_the_map_is_judged(real: Office) -> None:
    link = real.booking()
    draw = link + "/draw"
    page = real.client.get(draw)
    assert page.text.count("<svg") == 1 and 'type="image"' in page.text
    names = [part.split("<")[0] for part in page.text.split("<option>")[1:]]
    form = {"points": "", "level": "0", "lon": "0", "lat": "0"}
    first = real.client.post(draw, data={**form, "place": names[0], "add": "1"}).text
    points = first.partition('name="points" value="')[2].partition('"')[0]
    assert points.count(";") == 0 and "," in points
    few = real.client.post(draw, data={**form, "points": points, "send": "1"})
    assert "at least two points" in few.text
    # A click on the picture, as browsers without script send it.
    clicked = real.client.post(draw, data={**form, "points": points, "at.x": "300", "at.y": "200"})
    assert 'value="' + points + ";" in clicked.text
    second = real.client.post(draw, data={**form, "points": points, "place": names[1], "add": "1"})
    points = second.text.partition('name="points" value="')[2].partition('"')[0]
    assert real.client.get(link + "/map.svg?level=2&lon=1&lat=1").status_code == 200
    sent = real.client.post(draw, data={**form, "points": points, "send": "1"})
    assert sent.headers["location"] == link
    seen: list[Material] = []

    def look(material: Material, *_: object) -> Made:
        seen.append(material)
        raise RuntimeError

    Worker(real.db, real.settings, look).once()
    assert seen[0].content.count(b"<rtept") == 2


def test_a_route_elsewhere_is_explained(real: Office) -> None:
    link = real.booking()
    real.send(link)
    _work(real)
    page = real.client.get(link).text
    # What the rider can do; how to build a map is for staff.
    assert "The map of this desk does not cover the route. Check that it is the right file." in page
    assert "region" not in page.partition("<main>")[2]
    assert (
        "no part of the route lies on the roads of region"
        in real.as_role("staff").get("/desk/b/K1").text
    )


@pytest.mark.parametrize(("lang", "said"), [("es", "Mapa y alturas"), ("fr", "Carte et ")])
def test_who_made_the_map_is_told_in_the_readers_language(
    real: Office, lang: str, said: str
) -> None:
    drawn = real.client.get(real.booking("K1", lang=lang) + "/draw").text
    staff = real.as_role("staff")
    staff.post("/account/language", {"lang": lang})
    for page in (drawn, staff.get("/desk/notes").text, staff.get("/desk/helpers").text):
        assert "Invented map and heights" not in page
        assert said in page


def test_the_desk_reckons_with_its_own_rides(
    real: Office, island_home: Path, tmp_path: Path
) -> None:
    """With a file of `terrain learn` the next report says how many rides its times rest on."""
    pace = OwnPace(
        factor=(1.4, 1.4, 1.4), low=(1.2, 1.2, 1.2), high=(1.6, 1.6, 1.6), spread=(0.1, 0.1, 0.1),
        ten_min_sd=0.1, n_rides=41, n_alike=12, first_day=date(2027, 3, 14),
        last_day=date(2027, 9, 1),
    )  # fmt: skip
    times = LearnedTimes(
        n_rides=41, length_m=1e6, first_day=pace.first_day, last_day=pace.last_day, ride_sd=0.1,
        ground_sd=0.1, stretch_sd=0.1,
        rows=tuple(PaceRow(rider=rider, bike_class=None, pace=pace) for rider in Rider),
    )  # fmt: skip
    path = tmp_path / "learned.toml"
    path.write_text(learned_text(Learned(times=times)), encoding="utf-8")
    told = replace(real.settings, learned=str(path))

    def facts_of(office: Office, ref: str) -> dict[str, Any]:
        office.send(office.booking(ref), _route(island_home))
        facts: dict[str, Any] = json.loads(unpack(_work(office)[0].facts))
        return facts

    before = facts_of(real, "K1")
    with TestClient(create_app(told), follow_redirects=False) as client:
        after = facts_of(Office(told, client), "K2")
    assert before["trip"]["own_rides"] is None
    assert after["trip"]["own_rides"]["rides"] == 41
    assert after["speed"]["riding_s"] > 1.3 * before["speed"]["riding_s"]
