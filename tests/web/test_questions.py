"""What is asked of a rider, answered by the link or by telephone, and what it changes."""

from __future__ import annotations

import email
import email.policy
import html
import io
import json
import re
import time
import zipfile
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest
import sqlalchemy as sa
from starlette.testclient import TestClient

from terrain.report.mail import MailDraft
from terrain.web import answers, bookings, schema
from terrain.web.answers import Question
from terrain.web.app import create_app
from terrain.web.settings import WebSettings
from terrain.web.work import Made, Material
from terrain.web.worker import Worker
from tests.web.conftest import Office, on_both, replace
from tests.web.standin import quick_make

DAY_S = 86400.0


@pytest.fixture
def real(settings: WebSettings, island_home: Path) -> Iterator[Office]:
    """A desk on the demo region."""
    told = replace(settings, home=island_home, region="island")
    with TestClient(create_app(told), follow_redirects=False) as client:
        yield Office(told, client)


def _judge(real: Office) -> None:
    worker = Worker(real.db, real.settings)
    while worker.once():
        pass


def _parts(page: str) -> list[str]:
    """The fields of the parts that are asked about, in the page's order."""
    return list(dict.fromkeys(re.findall(r'name="(part\.[\d.]+)"', page)))


def _state(office: Office, ref: str) -> str:
    with office.db.read() as conn:
        return str(bookings.by_ref(conn, ref).state)


def test_a_rider_answers_and_the_verdict_settles(real: Office, island_home: Path) -> None:
    """52 km of track there and back: left out, an off-road trip becomes a road trip."""
    link = real.booking(lang="es", starts_on="2027-03-14")
    route = (island_home / "demo" / "routes" / "high-tracks.gpx").read_bytes()
    told = {"rider": "novice", "luggage": "soft"}
    real.client.post(link, data=told, files={"files": ("high.gpx", route)})
    _judge(real)
    page = real.client.get(link).text
    asked = _parts(page)
    assert len(asked) == 4
    assert "¿Piensa recorrer los 52" in page and "Enviar las respuestas" in page
    longest = next(key for key in asked if key.endswith(".98836"))
    other = next(key for key in asked if key.endswith(".112156"))
    said = {longest: "leave", other: "leave", **told}
    assert real.client.post(f"{link}/answers", data=said).status_code == 303
    assert _state(real, "K1") == "replied"
    desk = real.as_role("staff").get("/desk/b/K1").text
    assert "being read" in desk
    _judge(real)
    desk = real.as_role("staff").get("/desk/b/K1").text
    # What was asked, what was answered, by whom, and the verdict before and after.
    shown = desk[desk.index("Questions and answers") :]
    for words in ("Do you mean to ride the 52", "Leave it out", "by the rider",
                  "Verdict before", "Off-road setup", "Verdict after", "Road setup"):  # fmt: skip
        assert words in shown, words
    assert shown.index("Off-road setup, nearly") < shown.index("Road setup, nearly")
    # The rider sees his answers ticked, and may take them back.
    page = real.client.get(link).text
    assert re.search(rf'name="{re.escape(longest)}" value="leave" checked', page)
    real.client.post(f"{link}/answers", data={longest: "keep", **told})
    _judge(real)
    with real.db.read() as conn:
        (row,) = bookings.standings(conn, [1])[1]
    assert row.summary is not None and row.summary.setup == "off-road"


def test_an_answer_about_a_road_ridden_twice_counts_at_both_places(
    real: Office, island_home: Path
) -> None:
    """Whoever left a road out on the way there met it again on the way back."""
    link = real.booking(starts_on="2027-04-02")
    route = (island_home / "demo" / "routes" / "valleys-and-passes.gpx").read_bytes()
    real.client.post(link, data={"rider": "novice"}, files={"files": ("a.gpx", route)})
    _judge(real)
    page = real.client.get(link).text
    legends = re.findall(r'id="(part[^"]+)"><legend>(.*?)</legend>', page, re.S)
    key = next(key for key, text in legends if "The same road is ridden again: " in text)
    n_asked = len(legends)
    for reply in ("unsure", "keep"):  # the last counts, at both places
        real.client.post(f"{link}/answers", data={key: reply, "rider": "novice"})
        with real.db.read() as conn:
            kept = answers.answers_of(conn, 1)
            (row,) = bookings.standings(conn, [1])[1]
            assert row.summary is not None
            at = next(x for x in row.summary.parts if f".{x.from_m:.0f}.{x.to_m:.0f}" in key)
            (told, *_) = answers.rounds_of(conn, [row], "en")
        assert [(x.from_m, x.to_m, x.reply.value) for x in kept] == [
            (from_m, to_m, reply) for from_m, to_m in ((at.from_m, at.to_m), *at.again)
        ]
        assert len(kept) == 2 and len(told.said) == 1
    _judge(real)
    page = real.client.get(link).text
    assert re.findall(r'value="keep" checked', page) and key in _parts(page)
    assert len(_parts(page)) <= n_asked + 1


def test_what_is_asked_stands_first_in_its_own_order_and_in_the_words_of_now(
    office: Office, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A closed road at km 36 stood below ground at km 24, and what nobody was sure of kept the
    kilometre of a ride that goes another way now."""

    def question(from_m: float, text: str, reply: str = "") -> Question:
        return Question(
            route_id=1, route="", from_m=from_m, to_m=from_m + 1_000.0, about_ground=False,
            text={"en": text}, if_left={}, reply=reply,
        )  # fmt: skip

    asked = [question(36_000.0, "closed, km 54"), question(24_000.0, "ground")]
    given = [
        question(50_000.0, "kept", "keep"), question(10_000.0, "left", "leave"),
        question(36_010.0, "closed, km 36", "unsure"),
    ]  # fmt: skip
    monkeypatch.setattr(answers, "_asked", lambda row: asked)
    monkeypatch.setattr(answers, "_last_replies", lambda conn, ids: given)
    office.booking()
    with office.db.read() as conn:
        found = answers.questions_of(conn, [SimpleNamespace(route_id=1, name="a")])  # type: ignore[list-item]
    assert [(q.text["en"], q.reply) for q in found] == [
        ("closed, km 54", "unsure"), ("ground", ""), ("left", "leave"), ("kept", "keep")
    ]  # fmt: skip


def test_an_answer_of_the_report_leads_to_its_form(real: Office, island_home: Path) -> None:
    """It is chosen there, beside a button of its own; nothing is kept until that is pressed."""
    link = real.booking(starts_on="2027-03-14")
    route = (island_home / "demo" / "routes" / "few-points.gpx").read_bytes()
    # Beyond a novice: the part is asked about on the first screen, beside which way is ridden.
    real.client.post(link, data={"rider": "novice"}, files={"files": ("a.gpx", route)})
    _judge(real)
    page = real.client.get(link).text
    key = _parts(page)[0]
    to = dict(
        reversed(item) for item in re.findall(r'<dt><a href="([^"]+)">([^<]+)</a></dt>', page)
    )["Leave it out"]
    form = real.client.get(html.unescape(to)).text
    (picked,) = re.findall(r'name="(part[\d.]+)" value="leave" checked', form)
    assert picked in _parts(page) and to.endswith(f"#{picked}") and f'id="{picked}"' in form
    assert form.count("Send the answers") == page.count("Send the answers") + 1
    assert 'value="fly" checked' not in real.client.get(f"{link}?said={key}.fly").text
    assert _state(real, "K1") != "replied"


def test_staff_enter_what_is_told_by_telephone(real: Office, island_home: Path) -> None:
    link = real.booking()
    route = (island_home / "demo" / "routes" / "high-tracks.gpx").read_bytes()
    real.send(link, route)
    _judge(real)
    staff = real.as_role("staff")
    form = staff.get("/desk/b/K1/answers").text
    key = _parts(form)[0]
    assert staff.post("/desk/b/K1/answers", {key: "keep", "rider": "expert"}).status_code == 303
    _judge(real)
    page = staff.get("/desk/b/K1").text
    assert "by telephone, entered by staff" in page
    with real.db.read() as conn:
        row = bookings.by_ref(conn, "K1")
        (answer,) = conn.execute(sa.select(schema.answers)).all()
        archive = zipfile.ZipFile(io.BytesIO(staff.get("/desk/b/K1/export.zip").content))
    assert row.rider == "expert" and answer.reply == "keep" and answer.after
    told = json.loads(archive.read("booking.json"))
    assert told["answers"][0]["reply"] == "keep"


@on_both
def test_both_experiences_and_what_is_wanted_reach_the_judging(office: Office) -> None:
    from terrain.tables.fleet import DEFAULT_FLEET
    from terrain.values.trip import Riding, Wants
    from terrain.web.trips import booked_from, trip_of

    link = office.booking("K1")
    office.send(link)
    office.work()
    said = {"rider": "steady", "riding": "new", "wants": "off-road", "luggage": "none"}
    office.client.post(f"{link}/answers", data=said)
    assert office.work() == 1  # another rider: judged anew
    with office.db.read() as conn:
        booked = booked_from(dict(bookings.by_ref(conn, "K1")._mapping))
    trip = trip_of(booked, booked.first, DEFAULT_FLEET)
    assert (trip.riding, trip.wants) == (Riding.NEW, Wants.OFF_ROAD)
    page = office.as_role("staff").get("/desk/b/K1").text
    assert '<option value="new" selected>' in page and '<option value="off-road" selected>' in page


def _asked(office: Office, ref: str, now: float) -> int:
    office.booking(ref)
    with office.db.write() as conn:
        booking_id = int(bookings.by_ref(conn, ref).id)
        answers.ask_rider(conn, booking_id, "robin", now)
    return booking_id


def test_open_questions_stand_oldest_first_until_they_are_answered(office: Office) -> None:
    now = time.time()
    young, old = _asked(office, "NEW", now - 2.5 * DAY_S), _asked(office, "OLD", now - 9.5 * DAY_S)
    staff = office.as_role("staff")
    page = staff.get("/desk/questions").text
    assert page.index(">OLD<") < page.index(">NEW<")
    assert "9 days" in page and "2 days" in page
    # Asked again, it is as old as it was; a reminder is told beside it.
    with office.db.write() as conn:
        answers.ask_rider(conn, old, "robin", now)
        answers.remind_rider(conn, bookings.by_ref(conn, "OLD"), "robin", now - DAY_S)
    assert "one day ago" in staff.get("/desk/questions").text
    assert "open for 9 days" in staff.get("/desk/b/OLD").text
    staff.post("/desk/b/OLD", {"state": "settled"})
    page = staff.get("/desk/questions").text
    assert ">OLD<" not in page and ">NEW<" in page
    # Another route makes the question about the one before void.
    with office.db.read() as conn:
        assert answers.open_days(conn, young, now) == 2
    sent = {"files": ("a.gpx", b"<gpx/>")}
    staff.post("/desk/b/NEW/routes", files=sent)
    page = staff.get("/desk/questions").text
    assert "No question that was sent waits for an answer." in page
    # The way to the letters and to what rides taught leads by here, also on a quiet day.
    assert "/desk/letters" in page and "/desk/learned" in page


@on_both
def test_a_reminder_is_drafted_sent_by_hand_and_written_down(office: Office) -> None:
    """With no mail server: from the list to a draft that asks again, and back."""
    now, asked = time.time(), "Do you mean to ride the 17 km of track?"

    def make(material: Material, *rest: object) -> Made:
        made = quick_make(material, *rest)  # type: ignore[arg-type]
        draft = replace(MailDraft.from_json(made.draft), asked=(asked,))
        return replace(made, draft=draft.to_json())

    office.send(office.booking(customer="Ada Rill", email="ada@rides.example"))
    assert Worker(office.db, office.settings, make).once()
    with office.db.write() as conn:
        row = bookings.by_ref(conn, "K1")
        answers.ask_rider(conn, row.id, "robin", now - 9.5 * DAY_S)
        route_id = bookings.current_routes(conn, row.id)[0].id
    staff = office.as_role("staff")
    page = f"/desk/b/K1/mail/{route_id}?kind=reminder"
    assert f'href="{page}"' in staff.get("/desk/questions").text
    shown = staff.get(page).text
    assert f"1. {asked}" in shown and "PDF" not in shown
    data = staff.get(f"/desk/b/K1/draft/{route_id}?kind=reminder&rider=0")
    mail = email.message_from_bytes(data.content, policy=email.policy.default)
    body = mail.get_body(("plain",))
    assert body is not None
    text = body.get_content()
    assert (mail["To"], mail["X-Unsent"]) == ("ada@rides.example", "1")
    assert "a.gpx" in mail["Subject"] and list(mail.iter_attachments()) == []
    for words in ("Ada Rill", "9 days", "Road setup, likely right.", f"1. {asked}"):
        assert words in text, words
    link = re.search(r"http://testserver(/t/\S+)", text)
    assert link is not None and office.client.get(link[1]).status_code == 200
    # A draft is no reminder yet; the press that says it went out is.
    assert "reminder sent" not in staff.get("/desk/b/K1").text
    assert "/desk/b/K1/reminded" in shown
    assert staff.post("/desk/b/K1/reminded").status_code == 303
    assert '<td class="n">less than a day ago</td>' in staff.get("/desk/questions").text
    assert "reminder sent to ada@rides.example" in staff.get("/desk/b/K1").text
    with office.db.read() as conn:
        assert answers.open_days(conn, row.id, now) == 9
    with office.db.write() as conn:
        conn.execute(schema.questions.update().values(asked_at=now))
    assert "Less than a day ago we asked you" in staff.get(page).text
    assert '<td class="n">less than a day</td>' in staff.get("/desk/questions").text
    assert '<span class="soft">for less than a day</span>' in staff.get("/desk").text
    assert "Asked, and open for less than a day." in staff.get("/desk/b/K1").text
    # Riders beside who booked get none, and the page says so.
    only = "The reminder goes to who booked only, not to the other riders."
    assert only not in staff.get(page).text
    staff.post("/desk/b/K1/riders", {"customer.0": "Ben", "rider.0": "steady", "luggage.0": "soft"})
    assert Worker(office.db, office.settings, make).once()
    assert only in staff.get(page).text
    # Nothing is open any more: nobody was reminded of it.
    staff.post("/desk/b/K1", {"state": "settled"})
    staff.post("/desk/b/K1/reminded")
    assert staff.get("/desk/b/K1").text.count("reminder sent") == 1


def test_an_open_question_survives_a_report_made_anew(office: Office) -> None:
    link = office.booking("K1")
    office.send(link)
    office.work()
    staff = office.as_role("staff")
    staff.post("/desk/b/K1", {"state": "asked"})
    staff.post("/desk/b/K1", {"starts_on": "2027-05-01", "depart": "2027-05-01T08:30"})
    assert office.work() == 1
    assert _state(office, "K1") == "asked"


def test_only_what_is_asked_can_be_answered(office: Office) -> None:
    link = office.booking("K1")
    office.send(link)
    office.work()
    said = {"part.1.0.5000": "leave", "part.999.0.1": "keep", "rider": "steady"}
    none = office.client.post(f"{link}/answers", data=said)
    assert none.status_code == 422 and "No answer was kept: none was chosen" in none.text
    # Where nothing is asked yet, as a new route is being read, the page tells when it is.
    assert f'<a href="{link}">Back to your trip</a>' in none.text
    # Who was asked and sends an empty form has not answered.
    office.as_role("staff").post("/desk/b/K1", {"state": "asked"})
    assert office.client.post(f"{link}/answers", data={}).status_code == 422
    assert _state(office, "K1") == "asked"
    assert "answered: " not in office.as_role("staff").get("/desk/b/K1").text
    refused = office.client.post(f"{link}/answers", data={"rider": "wizard"})
    assert refused.status_code == 422 and "wizard" in refused.text
    with office.db.read() as conn:
        assert conn.execute(sa.select(schema.answers)).all() == []


def test_a_question_on_the_way_names_its_route_where_there_are_several(
    real: Office, island_home: Path
) -> None:
    link = real.booking(starts_on="2027-03-14")
    folder = island_home / "demo" / "routes"
    files = [
        ("files", (name, (folder / name).read_bytes()))
        for name in ("coast-road.gpx", "few-points.gpx")
    ]
    real.client.post(link, data={"rider": "expert"}, files=files)
    _judge(real)
    page = real.client.get(link).text
    asked = re.findall(r'<p class="ask-words">(.*?)</p>', page, re.S)
    assert any(text.startswith("few-points.gpx: ") and "Which way" in text for text in asked)
    assert all(text.startswith(("few-points.gpx: ", "coast-road.gpx: ")) for text in asked)
    # A question in words has no box to tick: where its answer goes is said.
    assert page.count("What you know of the road yourself, tell the rental desk.") == 1
