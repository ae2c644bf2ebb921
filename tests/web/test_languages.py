"""The desk speaks the reader's language, and no text of it is left out."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import jinja2
import pytest

import terrain
from terrain.errors import InputError
from terrain.inputs.lines import parse_route
from terrain.text.build import held
from terrain.text.catalogue import LANG_NAMES, LANGUAGES, asked_language
from terrain.text.message import message
from terrain.text.translator import translator_for
from terrain.web.bookings import Progress
from terrain.web.desk import _environment
from terrain.web.stored import event_message, stored_event, told_fault
from tests import said
from tests.report.marked import Marked, html_texts, unsaid
from tests.web.conftest import Office
from tests.web.standin import GPX

TEMPLATES = sorted((Path(str(terrain.__file__)).parent / "web" / "templates").glob("*.html"))
OTHERS = [lang for lang in LANGUAGES if lang != "en"]
#: Words that need no translation: names of formats and of this program's own files.
_NAMES = {"PDF", "GPX", "KML", "openapi.json"}


def test_no_page_holds_words_outside_the_catalogue() -> None:
    environment = _environment()
    for path in TEMPLATES:
        text = path.read_text("utf-8")
        # What jinja fills in is cut out; what is left between tags may hold no word.
        plain = re.sub(r"\{%.*?%\}|\{\{.*?\}\}", "", text, flags=re.DOTALL)
        shown = _Shown()
        shown.feed(plain)
        words = [w for part in shown.parts for w in re.findall(r"[A-Za-z.]{2,}", part)]
        assert [w for w in words if w.strip(".") not in _NAMES | {"openapi.json"}] == [], path.name
        assert _bare_constants(environment.parse(text)) == [], path.name


class _Shown(HTMLParser):
    """Gathers what a reader sees or hears: texts, and attributes that are read out."""

    def __init__(self) -> None:
        super().__init__()
        self.parts: list[str] = []
        self.quiet = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.quiet += tag in ("style", "script")
        self.parts += [v or "" for k, v in attrs if k in ("aria-label", "alt", "title")]

    def handle_endtag(self, tag: str) -> None:
        self.quiet -= tag in ("style", "script")

    def handle_data(self, data: str) -> None:
        if not self.quiet:
            self.parts.append(data)


def _bare_constants(tree: jinja2.nodes.Template) -> list[str]:
    """Texts that are put out by a condition: {{ "yes" if x else "no" }}."""
    found = []
    for out in tree.find_all(jinja2.nodes.Output):
        for node in out.nodes:
            if isinstance(node, jinja2.nodes.CondExpr):
                for side in (node.expr1, node.expr2):
                    if isinstance(side, jinja2.nodes.Const) and side.value not in ("yes", "no"):
                        found.append(str(side.value))
    return [text for text in found if re.search(r"[A-Za-z]{2}", text) and text != " data-single"]


def _walk(office: Office, lang: str) -> list[tuple[str, str]]:
    """All pages of desk, guide and rider as they stand in a language, by path."""
    link = office.booking("K1", wanted="road-tourer", lang=lang)
    office.send(link)
    refused = office.booking("K2", lang=lang)
    office.send(refused, b"hello", "a.txt")
    waiting = office.booking("K3", lang=lang)
    office.work()
    admin = office.as_role("admin")
    assert admin.post("/account/language", {"lang": lang}).status_code == 303
    # Before anybody is known, as on a page that is not there, the browser's wish counts.
    for client in (admin.client, office.client):
        client.headers["accept-language"] = lang
    admin.post("/desk/notes", {"points": "2,1", "ground": "track", "severity": "rough"})
    admin.post("/desk/helpers", {"points": "2,1", "kind": "mechanic", "name": "Zz"})
    admin.post("/desk/tokens", {"name": "Zz"})
    route = office.client.get("/api/v1/bookings/K1", headers=office.token()).json()["routes"][0]
    pages = ["/desk", "/desk/new", "/desk/b/K1", "/desk/b/K2", "/desk/b/K3", "/desk/import",
             "/desk/b/K1/compare", "/desk/notes", "/desk/notes?change=1", "/desk/helpers",
             "/desk/people", "/account", "/guide", f"/guide/{route['id']}", "/nowhere",
             "/desk/b/NONE"]  # fmt: skip
    texts = [(path, admin.get(path).text) for path in pages]
    texts += [(path, office.client.get(path).text) for path in (refused, waiting, "/ride")]
    texts.append(("import", admin.post("/desk/import", {}).text))
    texts.append(("note", admin.post("/desk/notes", {"points": ""}).text))
    texts.append(("password", admin.post("/account", {"old": "x", "new": "y"}).text))
    texts.append(("sign-in", office.client.get("/sign-in").text))
    return texts


@pytest.mark.parametrize("lang", OTHERS)
def test_pages_hold_no_english_when_read_in_another_language(office: Office, lang: str) -> None:
    # Sentences are told from single words: "no" is Spanish as well.
    ours = said.said(Path(str(terrain.__file__)).parent / "web")
    english = [m.id for m in held(lang) if isinstance(m.id, str) and m.id in ours
               and " " in m.id and "{" not in m.id and m.string != m.id]  # fmt: skip
    for path, text in _walk(office, lang):
        assert f'<html lang="{lang}">' in text, path
        shown = _Shown()
        shown.feed(text)
        seen = "\n".join(shown.parts)
        assert [key for key in english if key in seen] == [], path


def test_pages_say_all_through_the_catalogue(
    office: Office, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the made-up language, in which all that is said stands between marks."""
    monkeypatch.setattr("terrain.text.translator.catalogue", lambda _: Marked())
    # What the stand-in for a report says, and what people typed.
    made = ("K1", "K2", "K3", "Zz", "admin", "terrain", "a.gpx", "a.txt", "paved", "api: test",
            "test", "small all-rounder", "dual-sport", "Road setup, likely right.", "Road setup",
            "3 km of hard riding.", "Heat: km 3", "This is no GPX file. Export it as GPX.",
            "(80 to 95)", "UTC")  # fmt: skip
    names = (*made, *LANG_NAMES.values(), *_NAMES)
    left = {path: unsaid(html_texts(text), names) for path, text in _walk(office, "es")}
    assert {path: texts for path, texts in left.items() if texts} == {}


def test_the_desk_speaks_as_chosen_or_as_the_browser_asks(office: Office) -> None:
    staff = office.as_role("staff")
    ask = {"accept-language": "fr-CH, es;q=0.7, en;q=0.8"}
    assert "Réservations" in staff.client.get("/desk", headers=ask).text
    assert staff.post("/account/language", {"lang": "es"}).status_code == 303
    assert "Reservas" in staff.client.get("/desk", headers=ask).text
    staff.post("/account/language", {"lang": ""})
    assert "Bookings" in staff.get("/desk").text
    assert "Entrar" in office.client.get("/sign-in", headers={"accept-language": "es"}).text


@pytest.mark.parametrize(
    ("header", "lang"),
    [("", "en"), ("fr", "fr"), ("nl, es;q=0.5", "es"), ("es;q=0.2, fr;q=0.3", "fr"),
     ("*;q=x, ;,", "en"), ("ES-mx", "es"), ("nl", "en"),
     ("pt-BR, pt;q=0.9", "pt"), ("de-AT", "de"), ("it-CH;q=0.8, en;q=0.5", "it")],
)  # fmt: skip
def test_the_browsers_wish(header: str, lang: str) -> None:
    """RFC 9110, section 12.5.4."""
    assert asked_language(header, "en") == lang


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"hello there", {"es": "Exporte otra vez la ruta planeada", "fr": "du texte simple"}),
        (b"%PDF-1.4 x", {"es": "un documento PDF", "fr": "Exportez de nouveau"}),
        (GPX.replace(b'lat="1.0"', b'lat="95.2"'), {"es": "la latitud 95.2", "fr": "est hors de"}),
    ],
)
def test_a_refusal_says_why_and_what_to_do_in_the_riders_language(
    office: Office, content: bytes, words: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def read(material, *_: object) -> None:  # type: ignore[no-untyped-def]
        parse_route(material.content, material.name)
        raise AssertionError("this file is no route")

    monkeypatch.setattr("tests.web.conftest.quick_make", read)
    for lang, told in words.items():
        link = office.booking(f"R-{lang}", lang=lang)
        office.send(link, content, "plan.gpx")
        office.work()
        page = office.client.get(link).text
        assert told in page
        assert page.count("plan.gpx") == 1  # the name is not said again in the sentence
        assert office.client.get(link + "/state").json()["routes"][0]["text"] in page


def test_an_error_is_said_in_the_readers_language_but_for_names() -> None:
    taken = InputError(
        message("there is already a booking {ref}", ref="'K1'"),
        message("Reference"),
        message("Take another reference."),
    )
    assert str(taken) == "Reference: there is already a booking 'K1'. Take another reference."
    told = "Referencia: ya hay una reserva 'K1'. Use otra referencia."
    assert taken.say(translator_for("es")) == told
    empty = InputError(message("the file is empty"), "plan.gpx")
    assert empty.say(translator_for("fr")) == "plan.gpx\N{NO-BREAK SPACE}: le fichier est vide."
    at = message("{file}, line {line}", file="plan.gpx", line="4")
    refused = InputError(message("the file is empty"), at).say(translator_for("es"))
    assert refused == "plan.gpx, línea 4: el archivo está vacío."


def test_what_the_history_holds_is_said_in_each_language() -> None:
    """Also what desks wrote before messages were stored: plain English."""
    es = translator_for("es")
    now = stored_event(message("state: {state}", state="question sent"))
    assert es.translate(event_message(now)) == "estado: pregunta enviada"
    assert len(stored_event(message("state: {state}", state="s" * 80))) <= 200
    assert es.translate(event_message("booking made")) == "reserva creada"
    assert es.translate(event_message("state: settled")) == "state: settled"
    fault = Progress(route_id=1, name="b", state="failed", step="", what=told_fault(
        message("the file is empty"), "a.gpx", message("Take another reference.")))  # fmt: skip
    assert (
        fault.fault_in("fr")
        == "a.gpx\N{NO-BREAK SPACE}: le fichier est vide. Prenez une autre référence."
    )
    line = message("{file}, line {line}", file="b", line="4")
    broken = replace(fault, what=told_fault(message("the file is empty"), line))
    assert broken.fault_in("fr") == "Ligne 4\N{NO-BREAK SPACE}: le fichier est vide."
    old = replace(fault, what='["the file is empty", "a.gpx", "Take another reference.", ""]')
    assert old.fault_in("fr") == fault.fault_in("fr")


@pytest.mark.parametrize(("lang", "title"), [("es", "moto de turismo"), ("fr", "routière")])
def test_a_bike_wanted_is_told_by_its_title(office: Office, lang: str, title: str) -> None:
    """Before there is a report too, and in the list of the form; what is no class stays."""
    office.booking("K1", wanted="road-tourer")
    office.booking("K2", wanted="the red one")
    staff = office.as_role("staff")
    staff.post("/account/language", {"lang": lang})
    table = staff.get("/desk").text
    assert title in table
    assert "the red one" in table
    assert f'<option value="road-tourer">{title}</option>' in staff.get("/desk/new").text


def test_a_damaged_fleet_file_leaves_the_table_open(office: Office) -> None:
    office.booking("K1", wanted="road-tourer")
    office.settings.home.mkdir(exist_ok=True)
    (office.settings.home / "fleet.toml").write_text("[[", encoding="utf-8")
    staff = office.as_role("staff")
    assert "road-tourer" in staff.get("/desk").text
    assert staff.get("/desk/new").status_code == 422
