"""No sentence reaches a reader past the catalogues: all sample rides in a marked language."""

from __future__ import annotations

import email
import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass
from datetime import UTC, datetime
from email import policy
from pathlib import Path
from typing import Any

import pytest

import terrain
from terrain.report.data.gpx import NAMESPACE, render_gpx
from terrain.report.diagram.diagram import render_days
from terrain.report.diagram.down import render_down
from terrain.report.html import render_html
from terrain.report.mail import make_draft, render_eml
from terrain.report.page.page import make_page
from terrain.report.paper import card, typeset
from terrain.report.terminal import Style, render_summary
from terrain.text.catalogue import LANGUAGES
from terrain.text.figures import Units
from terrain.text.plain import shortened
from terrain.text.translator import Translator, translator_for
from terrain.values.answers import TICKED
from terrain.values.help import Helper
from terrain.values.report import Report
from terrain.values.trip import Luggage, Rider
from terrain.values.verdict import Audience
from tests.report.marked import all_texts, html_texts, marked_translator, outside, unsaid

_STAMP = datetime(2027, 2, 1, 9, 0, tzinfo=UTC)
_TRIPS = {
    "coast-road": terrain.Trip(),
    "few-points": terrain.Trip(depart=datetime(2027, 1, 20, 6, 0), rider=Rider.NOVICE),
    "high-tracks": terrain.Trip(
        depart=datetime(2027, 7, 14, 7, 30), wanted_class="road-tourer", pillion=True
    ),
    "over-the-strait": terrain.Trip(rider=Rider.EXPERT, luggage=Luggage.BOXES, guided=True),
    "valleys-and-passes": terrain.Trip(
        depart=datetime(2027, 7, 14, 13, 0), wanted_class="zeppelin"
    ),
}


@dataclass(frozen=True)
class Told:
    """A report, its JSON, and the names that may stand in any language."""

    report: Report
    facts: dict[str, Any]
    names: tuple[str, ...]


@pytest.fixture(scope="module", params=sorted(_TRIPS))
def told(request: pytest.FixtureRequest, island_home: Path) -> Told:
    region = terrain.open_region("island", island_home)
    path = island_home / "demo" / "routes" / f"{request.param}.gpx"
    route = terrain.read_route(path)
    helper = Helper(name="Old Mill Garage", lon=float(route.lon[0]), lat=float(route.lat[0]),
                    phone="+99 12 34", opening_hours="Mo-Fr 08:00-17:00")  # fmt: skip
    report = terrain.assess(route, region, _TRIPS[request.param], helpers=(helper,),
                            made_at=_STAMP)  # fmt: skip
    facts = report.to_dict()
    places = (
        *report.assessed.places.surroundings.places,
        *report.assessed.places.surroundings.towns,
    )
    return Told(report, facts, (*_names(facts), *(place.name for place in places)))


def _names(facts: dict[str, Any]) -> tuple[str, ...]:
    """Names and tag values of the map and the file, and the lines their makers ask for."""
    found = [facts["route"]["name"], facts["region"]["name"], *facts["region"]["attribution"]]
    credit = " ".join(facts["region"]["attribution"])
    found += [credit, shortened(f"{facts['route']['name']}. {credit}", 110)]
    found += [shortened(credit, 160), f"terrain {facts['terrain_version']}"]
    found += [place["name"] for place in facts["places"]]
    for s in facts["stretches"]:
        found += [s["name"] or "", (s["highway"] or "").replace("_", " "), s["surface"] or ""]
    for way in facts["detours"]:
        found += way["roads"]
    found += _place_texts([facts["help"], facts["days"], facts["stops"]])
    return tuple(found)


def _place_texts(value: Any) -> list[str]:
    """Names, telephone numbers and hours of places, wherever they stand."""
    if isinstance(value, list):
        return [text for item in value for text in _place_texts(item)]
    if not isinstance(value, dict):
        return []
    own = [value.get(key) for key in ("phone", "opening_hours", "near")]
    if "osm" in value or "at_m" in value:
        # A stop's own name may be a sentence, such as "near Sill": that one is told, no name.
        own.append(value.get("name") if type(value.get("name")) is str else None)
    return [t for t in own if t] + [t for item in value.values() for t in _place_texts(item)]


@pytest.mark.parametrize("audience", Audience)
def test_page_says_all_through_the_catalogue(told: Told, audience: Audience) -> None:
    page = render_html(told.report, marked_translator(), audience)
    texts = html_texts(page)
    assert len(texts) > 150
    assert unsaid(texts, told.names) == []


def test_imperial_page_says_all_through_the_catalogue(told: Told) -> None:
    translator = marked_translator(Units.IMPERIAL)
    texts = html_texts(render_html(told.report, translator, Audience.GUIDE))
    assert unsaid(texts, told.names) == []
    shown = " ".join(text.replace("".join(told.names[2:3]), "") for text in texts)
    for line in told.facts["region"]["attribution"]:
        shown = shown.replace(line, "")
    metric = re.findall(r"\d[\d.,\u202f]*[\u00a0 ](?:km|km/h|°C|m|L|kg|bar|mm)\b", shown)
    assert metric == []


def test_paper_says_all_through_the_catalogue(told: Told) -> None:
    translator = marked_translator()
    page = make_page(told.report, translator, Audience.STAFF)
    drawn = typeset._drawn(told.report, page, translator)
    texts = typeset._texts(page, translator)
    data = typeset._filled(texts | drawn, page, told.report, translator, lambda data: True)
    assert unsaid(all_texts(data), told.names) == []
    days = told.report.assessed.plan.days
    pages = [card._card(day, told.report, translator) for day in days]
    assert unsaid(all_texts(pages), told.names) == []


def test_mail_says_all_through_the_catalogue(told: Told) -> None:
    data = render_eml(make_draft(told.report, marked_translator()))
    mail = email.message_from_bytes(data, policy=policy.default)
    plain = mail.get_body(("plain",))
    rich = mail.get_body(("html",))
    assert plain is not None and rich is not None
    assert unsaid([str(mail["Subject"])], told.names) == []
    assert unsaid(plain.get_content().splitlines(), told.names) == []
    assert unsaid(html_texts(rich.get_content()), told.names) == []


def test_gps_file_says_all_through_the_catalogue(told: Told) -> None:
    tree = ET.fromstring(render_gpx(told.report, marked_translator()))
    texts = [e.text or "" for tag in ("name", "desc") for e in tree.iter(f"{{{NAMESPACE}}}{tag}")]
    assert len(texts) > 5
    assert unsaid(texts, told.names) == []


def test_terminal_says_all_through_the_catalogue(told: Told) -> None:
    text = render_summary(told.report, marked_translator(), Style(width=2000))
    lines = [line for line in text.splitlines() if not set(line) & set("█▒░~")]
    assert unsaid(lines, told.names) == []


@pytest.mark.parametrize("lang", LANGUAGES)
def test_terminal_summary_fits_a_small_screen(told: Told, lang: str) -> None:
    lines = render_summary(told.report, translator_for(lang), Style(width=80)).splitlines()
    # Sentences of other languages are longer; a long question may take two lines more, and what
    # forbids the ride is told with its reason, whatever room it takes.
    room = (20 if lang == "en" else 22) + 4 * len(told.report.verdict.forbidden)
    assert len(lines) <= room
    assert max(map(len, lines)) <= 80


def test_mail_asks_each_question_once(told: Told) -> None:
    data = render_eml(make_draft(told.report, Translator()))
    mail = email.message_from_bytes(data, policy=policy.default)
    plain = mail.get_body(("plain",))
    assert plain is not None
    text = " ".join(plain.get_content().replace("\u00a0", " ").split())
    parts = [part["text"] for part in told.facts["verdict"]["asked"]]
    others = [
        question["text"]
        for question in told.facts["advice"]["questions"]
        if question["code"] not in TICKED
    ]
    for question in (*parts, *others):
        assert text.count(question) == 1


def test_json_stays_english_and_metric(told: Told) -> None:
    for row in told.facts["stretches"]:
        assert outside(row["evidence"]["text"]) == row["evidence"]["text"] != ""
    assert told.facts["messages"]
    plain = Translator()
    for text, message in told.facts["messages"].items():
        assert message["message"]
        assert "{" not in text
    assert plain.translate(told.facts["help"]["words"][0]).startswith("The map data")


def test_notes_of_the_region_are_told(told: Told) -> None:
    (note,) = told.facts["region"]["notes"]
    assert "invented" in note
    page = make_page(told.report, Translator(), Audience.RIDER)
    assert note in [row.do for row in page.first.rows] + list(page.more_unknown)
    assert not outside(marked_translator().translate(note))


def test_a_sentence_past_the_catalogue_is_found() -> None:
    translator = marked_translator()
    good = translator._("Stops")
    assert unsaid([good, "31\u00a0km", "km 3–5", "Sill"], ["Sill"]) == []
    assert unsaid(["Ride on to km 31."], ["Sill"]) == ["Ride on to km 31."]
    assert unsaid([f"{good} left over"], []) == [f"{good} left over"]


def test_drawings_say_all_through_the_catalogue(told: Told) -> None:
    translator = marked_translator()
    drawn = [day.svg for day in render_days(told.report, translator)]
    drawn.append(render_down(told.report, translator, height=600.0))
    assert unsaid([t for svg in drawn for t in html_texts(str(svg))], told.names) == []
