"""The desk's letters: written, shown, sent over a real mail server, and never twice."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa
from starlette.testclient import TestClient

from terrain.errors import InputError, UsageError
from terrain.report.letter import Letter, LetterKind, checked_letter, ours, write_letter
from terrain.report.mail import MailDraft
from terrain.text.translator import translator_for
from terrain.web import answers, bookings, schema
from terrain.web.app import create_app
from terrain.web.settings import WebSettings, read_web_settings
from terrain.web.worker import Worker
from tests.web.conftest import Office, on_both, replace
from tests.web.mailserver import SECRET, USER, MailServer, mail_server

DRAFT = MailDraft(
    subject="Rill Pass: Do not ride this as drawn", plain="", html="", seed="x",
    made_at="2027-02-01T09:00:00+00:00", route="Rill {link} Pass", about="12 km.",
    verdict="Do not ride this as drawn.", body="Do not ride this as drawn.\n\n- closed",
    body_html="<h1>Do not ride this as drawn.</h1>", asked=("Do you mean to ride it?",),
    footer=("Made in a test.",),
)  # fmt: skip


@pytest.fixture
def post(tmp_path: Path) -> Iterator[MailServer]:
    with mail_server(tmp_path) as server:
        yield server


@pytest.fixture
def sending(settings: WebSettings, post: MailServer, island_home: Path) -> Iterator[Office]:
    """A desk on the demo region with a mail server."""
    told = replace(
        settings, home=island_home, region="island", public_url="https://rides.example",
        mail_host="localhost", mail_port=post.port, mail_ca=str(post.ca), mail_user=USER,
        mail_password=SECRET, mail_from="desk@rides.example",
    )  # fmt: skip
    with TestClient(create_app(told), follow_redirects=False) as client:
        yield Office(told, client)


def _judge(desk: Office) -> None:
    worker = Worker(desk.db, desk.settings)
    while worker.once():
        pass


def _plain(mail: object) -> str:
    return str(mail.get_body(("plain",)).get_content())  # type: ignore[attr-defined]


def _staff(desk: Office) -> object:
    staff = desk.as_role("staff")
    # Behind https the cookie has another name; the desk signs in by it.
    for cookie in list(staff.client.cookies.jar):
        staff.client.cookies.set(f"__Host-{cookie.name}", str(cookie.value))
    return staff


def test_the_question_goes_out_by_smtp_and_its_link_takes_the_answer(
    sending: Office, post: MailServer, island_home: Path
) -> None:
    """The mail names the customer, says what forbids with its reason, asks, links and is signed."""
    route = (island_home / "demo" / "routes" / "high-tracks.gpx").read_bytes()
    sending.booking(customer="Annelies Vroman", email="annelies@rides.example",
                    wanted="road-tourer", rider="novice")  # fmt: skip
    staff = _staff(sending)
    staff.post("/desk/b/K1/routes", files={"files": ("high.gpx", route)})  # type: ignore[attr-defined]
    _judge(sending)
    shown = staff.get("/desk/b/K1/mail/1").text  # type: ignore[attr-defined]
    assert "Send it" in shown and "https://…" in shown
    once = {"once": "press-1", "kind": "answer"}
    for _ in range(2):  # pressed twice, sent once
        assert staff.post("/desk/b/K1/send/1", once).status_code == 303  # type: ignore[attr-defined]
    (mail,) = post.mails
    assert post.sent_to == [["annelies@rides.example"]]
    assert (mail["From"], mail["To"]) == ("desk@rides.example", "annelies@rides.example")
    assert mail["X-Unsent"] is None
    text = _plain(mail)
    for words in ("Dear Annelies Vroman,", "Too hard for this rider",
                  "The road tourer asked for must not go.", "too rough for a bike for roads only",
                  "Do you mean to ride the 52", "A way there and back: 52",
                  "staff, The rental desk"):  # fmt: skip
        assert words in text, words
    assert [part.get_filename() for part in mail.iter_attachments()] == ["K1.pdf", "K1.gpx"]
    with sending.db.read() as conn:
        row = bookings.by_ref(conn, "K1")
        assert row.state == "asked" and answers.open_days(conn, row.id, time.time()) == 0
    # The link in the mail is the rider's page; the one given before works on.
    link = re.search(r"https://rides\.example(/t/\S+)", text)
    assert link is not None
    assert "ask-part" in sending.client.get(link[1]).text
    # A reminder says the verdict and asks again; the question stays as old as it is.
    staff.post("/desk/b/K1/send/1", {"once": "press-2", "kind": "reminder"})  # type: ignore[attr-defined]
    reminder = _plain(post.mails[1])
    assert "Too hard for this rider" in reminder and "1. Do you mean to ride" in reminder
    assert list(post.mails[1].iter_attachments()) == []


@pytest.mark.parametrize(
    ("fault", "told"),
    [
        ({"mail_password": "wrong"}, "does not know the user or the password"),
        ({"mail_ca": ""}, "certificate cannot be trusted"),
        ({"mail_port": 1}, "does not answer"),
    ],
)
def test_a_mail_that_does_not_go_is_told_and_marks_nothing(
    office: Office, post: MailServer, fault: dict[str, object], told: str
) -> None:
    given = {
        "mail_host": "localhost", "mail_port": post.port, "mail_ca": str(post.ca),
        "mail_user": USER, "mail_password": SECRET, "mail_from": "desk@rides.example",
    }  # fmt: skip
    settings = replace(office.settings, **{**given, **fault})  # type: ignore[arg-type]
    desk = Office(settings, TestClient(create_app(settings), follow_redirects=False))
    link = desk.booking(email="ada@rides.example")
    desk.send(link)
    desk.work()
    staff = desk.as_role("staff")
    for _ in range(2):  # the same press may be tried again
        got = staff.post("/desk/b/K1/send/1", {"once": "a", "kind": "answer"})
        assert got.status_code == 502 and told in got.text
    assert post.mails == []
    with desk.db.read() as conn:
        assert bookings.by_ref(conn, "K1").state == "analysed"
        assert conn.execute(sa.select(schema.mails)).all() == []


@on_both
def test_nothing_goes_out_of_a_report_that_is_made_anew_or_could_not_be(office: Office) -> None:
    """What is kept was said before the booking's days, riders or answers changed."""
    link = office.booking(email="ada@rides.example")
    office.send(link)
    office.work()
    staff = office.as_role("staff")
    addresses = ("/desk/b/K1/mail/1", "/desk/b/K1/draft/1", "/desk/b/K1/sheet/1")
    paper = "/desk/b/K1/files/1/rider.pdf"
    assert staff.get(paper).status_code == 200
    assert all(staff.get(address).status_code == 200 for address in addresses)
    assert "Road setup" in _next(staff.get("/desk/b/K1").text)
    staff.post("/desk/b/K1/again/1", {})
    for address in (*addresses, paper):
        got = staff.get(address)
        assert got.status_code == 503 and "is being made anew" in got.text
    assert "is being made anew. What stands here" in staff.get("/desk/b/K1/report/1").text
    shown = _next(staff.get("/desk/b/K1").text)
    assert "comes with the report that is being made" in shown and "Road setup" not in shown
    with office.db.write() as conn:
        said = "the map cannot be read"
        conn.execute(schema.jobs.update().values(state="failed", what=said))
    for address in addresses:
        got = staff.get(address)
        assert got.status_code == 409 and "may no longer hold" in got.text
    shown = _next(staff.get("/desk/b/K1").text)
    assert "Read it again first" in shown and "Road setup" not in shown
    page = office.client.get(link).text
    assert "This report is of what stood before" in page
    assert "the map cannot be read" in page.lower()


def _next(page: str) -> str:
    """What the booking's page shows as to be done next."""
    return page.split('data-live="next"')[1].split("</section>")[0]


@on_both
def test_letters_are_changed_shown_and_given_back(office: Office) -> None:
    staff = office.as_role("staff")
    assert "{greeting}" in staff.get("/desk/letters?kind=answer&lang=fr").text
    own = "Bonjour {customer} !\n\n{report}\n\n{link}\n\nLa maison"
    told = {"kind": "answer", "lang": "fr", "body": own}
    shown = staff.post("/desk/letters", {**told, "preview": "1"}).text
    assert "Bonjour Ada Rill !" in shown
    assert staff.post("/desk/letters", told).status_code == 303
    link = office.booking(lang="fr", customer="Zoé", email="zoe@rides.example")
    office.send(link)
    office.work()
    assert "Bonjour Zoé !" in staff.get("/desk/b/K1/mail/1").text
    # Another language keeps ours; and ours comes back.
    office.booking("K2", lang="es", customer="Luz", email="luz@rides.example")
    staff.post("/desk/letters", {**told, "ours": "1"})
    assert "Bonjour Zoé," in staff.get("/desk/b/K1/mail/1").text
    bad = staff.post("/desk/letters", {**told, "body": "Bonjour {name}, {report} {link}"})
    assert bad.status_code == 422 and "{greeting}" in bad.text and "{name}" in bad.text


@pytest.mark.parametrize(
    ("kind", "text", "lacks"),
    [
        (LetterKind.ANSWER, "{greeting}\n\n{link}", "{report}"),
        (LetterKind.REMINDER, "{questions} {link}", "{verdict}"),
    ],
)
def test_no_letter_leaves_out_what_forbids(kind: LetterKind, text: str, lacks: str) -> None:
    with pytest.raises(InputError, match=re.escape(lacks)):
        checked_letter(kind, text)


@pytest.mark.parametrize("lang", ["en", "es", "fr"])
@pytest.mark.parametrize("kind", list(LetterKind))
def test_our_letters_say_all_in_each_language(kind: LetterKind, lang: str) -> None:
    translator = translator_for(lang)
    assert checked_letter(kind, ours(kind, translator))
    letter = Letter(kind=kind, customer="<b>Ada</b>\r\nBcc: x", link="https://rides.example/t/a",
                    signature="Sam", days=3)  # fmt: skip
    mail = write_letter(DRAFT, letter, translator)
    for text in (mail.plain, mail.html):
        assert "Do not ride this as drawn." in text and "https://rides.example/t/a" in text
    # A name is a name: no field, no header, no element.
    assert "Rill {link} Pass" in mail.plain
    assert "<b>Ada" not in mail.html and "\n" not in mail.subject


def test_mail_settings_are_a_table_of_their_own(tmp_path: Path) -> None:
    file = tmp_path / "web.toml"
    file.write_text('[web]\nlang = "es"\n[mail]\nhost = "mx.rides.example"\nfrom = "a@b.example"\n')
    told = read_web_settings(tmp_path, {}, file)
    assert (told.mail_host, told.mail_from, told.lang) == ("mx.rides.example", "a@b.example", "es")
    assert WebSettings.from_json(told.to_json()) == told
    file.write_text('[mail]\nhost = "mx.rides.example"\n')
    with pytest.raises(UsageError, match="no sender"):
        read_web_settings(tmp_path, {}, file)
    file.write_text('[mail]\nhots = "mx.rides.example"\n')
    with pytest.raises(UsageError, match="mail_host"):
        read_web_settings(tmp_path, {}, file)
    with pytest.raises(UsageError, match="TLS"):
        WebSettings(home=tmp_path, data=tmp_path, mail_tls="none")
