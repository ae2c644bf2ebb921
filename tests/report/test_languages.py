"""Languages: no message is left out, no field is lost, and nothing English leaks through."""

from __future__ import annotations

import gettext
import re
import string
from datetime import UTC, datetime
from html import unescape
from pathlib import Path

import pytest

import terrain
from terrain.report.html import render_html
from terrain.report.mail import make_draft, render_eml
from terrain.report.terminal import Style, render_summary
from terrain.text.build import messages
from terrain.text.catalogue import LANGUAGES
from terrain.text.figures import Units
from terrain.text.message import message
from terrain.text.translator import translator_for
from terrain.values.report import Report

_LOCALES = Path(str(terrain.__file__)).parent / "text" / "locales"
_OTHERS = [lang for lang in LANGUAGES if lang != "en"]


def _catalogue(lang: str) -> dict[object, str]:
    with (_LOCALES / lang / "LC_MESSAGES" / "terrain.mo").open("rb") as file:
        made: dict[object, str] = gettext.GNUTranslations(file)._catalog  # type: ignore[attr-defined]
    return made


@pytest.mark.parametrize("lang", _OTHERS)
def test_every_field_of_a_message_is_in_its_translation(lang: str) -> None:
    def fields(text: str) -> set[str | None]:
        return {name for _, name, _, _ in string.Formatter().parse(text) if name}

    for key, text in _catalogue(lang).items():
        message = key[0] if isinstance(key, tuple) else str(key)
        if not message:
            continue
        if isinstance(key, tuple):
            assert fields(text) <= fields(message) | {"n"}
        else:
            assert fields(text) == fields(message), message


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
    shown = _visible(render_html(report, translator, audience))
    shown += render_summary(report, translator, Style())
    shown += render_eml(make_draft(report, translator)).decode("ascii")
    held = set(map(str, _catalogue(lang).values()))
    for needed in messages():
        for text in needed if isinstance(needed, tuple) else (needed,):
            stem = _stem(text)
            if len(stem) >= 12 and not any(stem in other for other in held):
                assert stem not in shown


@pytest.mark.parametrize("lang", LANGUAGES)
def test_imperial_has_no_metric_figure(report: Report, lang: str) -> None:
    shown = _visible(render_html(report, translator_for(lang, Units.IMPERIAL)))
    shown = shown.replace(" ".join(report.assessed.region.attribution), "")
    found = re.findall(r"\b\d[\d.,\u202f]*[\u00a0 ](?:km|km/h|°C|m)\b", shown)
    assert found == []
    assert "°F" in shown
    assert re.search(r"\d[\u00a0 ](?:mi|ft)\b", shown)


@pytest.mark.parametrize(
    ("lang", "number", "day"),
    [("en", "1\u202f234.5", "3 May 2027"), ("es", "1\u202f234,5", "3 de mayo de 2027"),
     ("fr", "1\u202f234,5", "3 mai 2027")],
)  # fmt: skip
def test_numbers_and_dates_by_language(lang: str, number: str, day: str) -> None:
    translator = translator_for(lang)
    assert translator.number(1234.5, 1) == number
    assert translator.day(datetime(2027, 5, 3)) == day


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


def test_first_of_a_month_in_french() -> None:
    assert translator_for("fr").day(datetime(2027, 2, 1)) == "1er février 2027"
    assert translator_for("fr").day(datetime(2027, 2, 11)) == "11 février 2027"


def test_unknown_language_is_refused() -> None:
    with pytest.raises(ValueError, match="en, es, fr"):
        translator_for("xx")


def test_a_sentence_after_a_colon_starts_small_but_for_english_and_names() -> None:
    found = message("No surface tag: our estimate is {chances}.", chances="x")
    named = message("{where}: {text}", where="Ulerambe", text=found)
    both = message("{first} {then}", first=found, then=found)
    french = translator_for("fr")
    assert french.after_colon(found)[0] == "p"
    assert french.after_colon(named).startswith("Ulerambe")
    assert french.after_colon(both) == french.translate(both).replace("Pas", "pas", 1)
    assert translator_for("en").after_colon(found).startswith("No surface")
    assert french.after_colon("GPX") == "GPX"
