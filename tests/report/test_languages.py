"""Languages: no message is left out, no field is lost, and nothing English leaks through."""

from __future__ import annotations

import gettext
import re
from datetime import UTC, date, datetime
from html import unescape
from pathlib import Path

import pytest
from babel.dates import format_date
from babel.lists import format_list
from babel.numbers import format_decimal

import terrain
from terrain.report.html import render_html
from terrain.report.mail import make_draft, render_eml
from terrain.report.terminal import Style, render_summary
from terrain.text.catalogue import LANGUAGES
from terrain.text.figures import Units
from terrain.text.message import message
from terrain.text.translator import translator_for
from terrain.values.report import Report
from terrain.values.verdict import Audience
from tests.said import said

_LOCALES = Path(str(terrain.__file__)).parent / "text" / "locales"
_OTHERS = [lang for lang in LANGUAGES if lang != "en"]


def _catalogue(lang: str) -> dict[object, str]:
    with (_LOCALES / lang / "LC_MESSAGES" / "terrain.mo").open("rb") as file:
        made: dict[object, str] = gettext.GNUTranslations(file)._catalog  # type: ignore[attr-defined]
    return made


@pytest.fixture(scope="module")
def report(island_home: Path) -> Report:
    region = terrain.open_region("island", island_home)
    path = sorted((island_home / "demo" / "routes").glob("high*.gpx"))[0]
    trip = terrain.Trip(
        depart=datetime(2027, 7, 14, 7, 30), wanted_class="road-tourer", pillion=True
    )
    stamp = datetime(2027, 2, 1, 9, 0, tzinfo=UTC)
    return terrain.assess(terrain.read_route(path), region, trip, made_at=stamp)


def _visible(page: str) -> str:
    body = re.sub(r"<(script|style)>.*?</\1>", " ", page, flags=re.S)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", body)).split())


def _stem(message: str) -> str:
    """The longest piece of a message without fields: what would show if it leaked."""
    return max(re.split(r"\{[^}]*\}", message), key=len).strip()


@pytest.mark.parametrize("audience", ["rider", "staff", "guide"])
@pytest.mark.parametrize("lang", _OTHERS)
def test_nothing_english_leaks(report: Report, lang: str, audience: str) -> None:
    translator = translator_for(lang)
    shown = _visible(render_html(report, translator, Audience(audience)))
    shown += render_summary(report, translator, Style())
    shown += render_eml(make_draft(report, translator)).decode("ascii")
    held = set(map(str, _catalogue(lang).values()))
    for needed in said():
        for text in needed if isinstance(needed, tuple) else (needed,):
            stem = _stem(text)
            if len(stem) >= 12 and stem in shown:
                assert any(stem in other for other in held), stem


@pytest.mark.parametrize("lang", LANGUAGES)
def test_imperial_has_no_metric_figure(report: Report, lang: str) -> None:
    shown = _visible(render_html(report, translator_for(lang, Units.IMPERIAL)))
    shown = shown.replace(" ".join(report.assessed.region.attribution), "")
    found = re.findall(r"\b\d[\d.,\u202f]*[\u00a0 ](?:km|km/h|°C|m)\b", shown)
    assert found == []
    assert "°F" in shown
    assert re.search(r"\d[\u00a0 ](?:mi|ft)\b", shown)


@pytest.mark.parametrize("lang", LANGUAGES)
def test_dates_lists_and_the_decimal_mark_are_those_of_unicode_cldr(lang: str) -> None:
    """By Babel, which carries the CLDR."""
    translator, locale = translator_for(lang), "en_GB" if lang == "en" else lang
    for month in range(1, 13):
        day = date(2027, month, 14)
        assert translator.day(day) == format_date(day, "long", locale)
    for n in range(1, 4):
        items = ["Sill", "Korr", "Ulerambe"][:n]
        assert translator.listing(items) == format_list(items, locale=locale)
    assert translator.number(0.5, 1) == format_decimal(0.5, locale=locale)
    assert translator.number(1234.5, 1)[1] == "\u202f"


@pytest.mark.parametrize(("lang", "first"), [("fr", "1er mars"), ("pt", "1º de março"),
                                            ("it", "1º marzo"), ("de", "1. März")])  # fmt: skip
def test_first_of_a_month(lang: str, first: str) -> None:
    assert translator_for(lang).day(datetime(2027, 3, 1)).startswith(first)
    assert translator_for(lang).day(datetime(2027, 3, 11)).startswith("11")


def _translated(lang: str) -> list[str]:
    return [text for key, text in _catalogue(lang).items() if key]


def test_french_spaces_and_apostrophes() -> None:
    # Signs of two parts take a space that does not break: Lexique des règles typographiques en
    # usage à l'Imprimerie nationale (2002).
    for text in _translated("fr"):
        plain = text.replace("&amp;", "&")
        assert not re.search(r"(?<![\u00a0\u202f])[;!?»]|«(?!\u00a0)", plain), text
        assert not re.search(r"(?<![\u00a0\u202f\d]):(?!\d|[nc]\}|//)", plain), text
        assert "'" not in text


def test_spanish_questions_open_and_signs_take_no_space() -> None:
    # Ortografía de la lengua española (RAE, 2010): opening signs are required.
    for text in _translated("es"):
        assert text.count("¿") == text.count("?")
        assert text.count("¡") == text.count("!")
        assert not re.search(r"\s[;:!?]", text), text


@pytest.mark.parametrize("lang", ["pt", "de", "it"])
def test_questions_and_signs_take_no_space(lang: str) -> None:
    for text in _translated(lang):
        assert not re.search(r"\s[;:!?](?!\w)", text), text
        assert "'" not in text.replace("'terrain[", "").replace("]'", ""), text


def test_little_words_change_before_names() -> None:
    """Grevisse, Le bon usage (fr); RAE, Ortografía (es); Serianni, Grammatica (it): from memory."""
    for lang, place, told in [
        ("fr", "Ulerambe", ", près d’Ulerambe"), ("fr", "Sill", ", près de Sill"),
        ("es", "Ibo", ", cerca de Ibo"),
    ]:  # fmt: skip
        assert translator_for(lang).say(", near {place}", place=place) == told
    assert translator_for("es").listing(["Sill", "Ibo"]) == "Sill e Ibo"
    assert translator_for("es").say("{first} or {then}", first="Sill", then="Oro") == "Sill u Oro"
    assert translator_for("it").listing(["Sill", "Ebro"]) == "Sill ed Ebro"
    assert translator_for("it").listing(["Sill", "Ibo"]) == "Sill e Ibo"


def test_unknown_language_is_refused() -> None:
    with pytest.raises(ValueError, match="en, es, fr"):
        translator_for("xx")


def test_a_sentence_after_a_colon_starts_small_in_romance_languages_but_for_names() -> None:
    found = message("No surface tag: our estimate is {chances}.", chances="x")
    named = message("{where}: {text}", where="Ulerambe", text=found)
    both = message("{first} {then}", first=found, then=found)
    french, german = translator_for("fr"), translator_for("de")
    assert french.after_colon(found)[0] == "p"
    assert french.after_colon(named).startswith("Ulerambe")
    assert french.after_colon(both) == french.translate(both).replace("Pas", "pas", 1)
    assert translator_for("en").after_colon(found).startswith("No surface")
    assert german.after_colon(found) == german.translate(found)
    assert french.after_colon("GPX") == "GPX"
