"""Names from files and maps stay text in every format (OWASP ASVS 5.0: 1.2.1, 1.2.10, 1.3.7)."""

from __future__ import annotations

import csv
import email
import email.policy
import io
import json
import xml.etree.ElementTree as ET
from collections.abc import Callable
from functools import cache
from html.parser import HTMLParser
from typing import Any

import pytest

from terrain.errors import UsageError
from terrain.report.data.csvfile import render_csv
from terrain.report.data.geojson import render_geojson
from terrain.report.html import render_html
from terrain.report.mail import make_draft, render_eml
from terrain.report.paper.typeset import render_pdf
from terrain.report.terminal import Style, render_summary
from terrain.text.plain import plain_line
from terrain.text.translator import Translator
from terrain.values.report import Report
from tests.report.hostile import NAMES
from tests.report.renamed import renamed
from tests.report.sample import SampleReport, facts, typed


def _spoiled(name: str) -> dict[str, Any]:
    told = facts()
    told["route"]["name"] = name
    told["region"]["name"] = name
    told["region"]["attribution"] = [name]
    for place in told["places"]:
        place["name"] = name
    for stretch in told["stretches"]:
        stretch["name"] = name
        stretch["surface"] = stretch["surface"] and name
    told["route"]["problems"] = [{"code": "x", "where": name, "what": name, "action": name}]
    return told


_FIVES = [tuple(NAMES[first : first + 5]) for first in range(0, len(NAMES), 5)]


@pytest.fixture(scope="module")
def page_of(sample_report: Callable[[str], Report]) -> Callable[..., str]:
    """The page of a ride whose route bears all the names, its roads and places each one of them."""
    report = sample_report("over-the-strait")

    @cache
    def page(*names: str) -> str:
        return render_html(renamed(report, *names, title=" ".join(names)), Translator())

    return page


class _Tags(HTMLParser):
    """Every tag and attribute of a page, and its visible text."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, tuple[str, ...]]] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, tuple(sorted(key for key, _ in attrs))))

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def _tags(page: str) -> _Tags:
    parser = _Tags()
    parser.feed(page)
    return parser


def _shape(page: str) -> set[tuple[str, tuple[str, ...]]]:
    return set(_tags(page).tags)


@pytest.mark.parametrize("names", _FIVES)
def test_html_has_the_tags_of_a_clean_page(
    names: tuple[str, ...], page_of: Callable[..., str]
) -> None:
    page = page_of(*names)
    parsed = _tags(page)
    assert set(parsed.tags) == _shape(page_of("A plain name"))
    assert page.count("<script>") == 1
    shown = " ".join("".join(parsed.text).split())
    for name in names:
        assert " ".join(plain_line(name).split())[:5] in shown


@pytest.mark.parametrize("name", NAMES)
def test_csv_has_no_formula_and_no_extra_cell(name: str) -> None:
    text = render_csv(SampleReport(_spoiled(name))).decode("utf-8-sig")  # type: ignore[arg-type]
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert {len(row) for row in rows} == {len(rows[0])}
    assert len(rows) == len(facts()["stretches"]) + 1
    for row in rows[1:]:
        for column, cell in zip(rows[0], row, strict=True):
            if column in ("name", "surface", "attribution"):
                assert not cell.lstrip().startswith(("=", "+", "-", "@", "\t", "\r"))


@pytest.mark.parametrize("name", NAMES)
def test_geojson_keeps_the_name_letter_by_letter(name: str) -> None:
    made = json.loads(render_geojson(SampleReport(_spoiled(name))))  # type: ignore[arg-type]
    assert made["name"] == name
    assert {f["properties"]["name"] for f in made["features"]} == {name}


@pytest.mark.parametrize("name", NAMES)
def test_mail_has_no_header_of_the_name(name: str) -> None:
    draft = make_draft(typed(name), Translator())
    with pytest.raises(UsageError, match="no address"):
        render_eml(draft, to=f"Guest {name}")
    data = render_eml(draft, to="guest@example.org")
    mail = email.message_from_bytes(data, policy=email.policy.default)
    assert set(mail.keys()) == {
        "Subject", "Date", "To", "X-Unsent", "MIME-Version", "Content-Type",
    }  # fmt: skip
    assert "\n" not in mail["Subject"]
    bodies = [part for part in mail.walk() if part.get_content_maintype() == "text"]
    assert [b.get_content_subtype() for b in bodies] == ["plain", "html"]
    assert "script" not in {tag for tag, _ in _shape(bodies[1].get_content())}


@pytest.mark.parametrize("name", NAMES)
def test_terminal_shows_no_control_character(name: str) -> None:
    shown = render_summary(typed(name), Translator(), Style())
    assert all(char == "\n" or char.isprintable() for char in shown)
    assert "\u202e" not in shown
    assert max(len(line) for line in shown.splitlines()) <= 80


@pytest.mark.parametrize("first", range(0, len(NAMES), 10))
def test_pdf_is_made_whatever_the_names(first: int, sample_report: Callable[[str], Report]) -> None:
    """Ten names a document, each of them as title, place, road and stop."""
    names = NAMES[first : first + 10]
    named = renamed(sample_report("coast-road"), *names, title=" ".join(names))
    data = render_pdf(named, Translator())
    assert data.startswith(b"%PDF-1.7")
    assert b"/StructTreeRoot" in data or b"/ObjStm" in data


def test_diagram_and_map_are_well_formed_xml(page_of: Callable[..., str]) -> None:
    for names in _FIVES:
        page = page_of(*names)
        for piece in page.split("<svg")[1:]:
            svg = "<svg" + piece.split("</svg>")[0] + "</svg>"
            ET.fromstring(svg)
