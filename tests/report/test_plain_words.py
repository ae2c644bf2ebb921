"""What riders read holds no keys of the map or of our data, in any language."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from terrain.report.desk.brief import brief_of
from terrain.report.formats import Asked, render_files
from terrain.report.mail import make_draft
from terrain.stages.ways.tags import tag_words
from terrain.tables.ground import SMOOTHNESS, SURFACES, TRACKTYPES
from terrain.text.catalogue import LANGUAGES
from terrain.text.terms import EVENNESS_TERMS, GRADE_TERMS, SURFACE_TERMS
from terrain.text.translator import translator_for
from terrain.values.report import Report
from tests.report.plain_words import raw_words


@pytest.mark.parametrize("lang", LANGUAGES)
def test_no_raw_words_in_a_report(lang: str, sample_report: Callable[[str], Report]) -> None:
    report, translator = sample_report("valleys-and-passes"), translator_for(lang)
    asked = Asked(translator=translator, audience="rider")
    ((_, page),) = render_files(report, ("html",), stem="x", asked=asked)
    assert raw_words(page.decode()) == set()
    assert raw_words(make_draft(report, translator).plain) == set()
    brief = brief_of(report, translator)
    assert raw_words(" ".join((*brief.why, brief.no_bike, *brief.works, brief.ask))) == set()


def test_the_search_finds_what_it_is_for() -> None:
    assert raw_words("<p data-a_b='c_d'>at worst smoothness=horrible, ends_on</p>") == {
        "smoothness=horrible", "ends_on"
    }  # fmt: skip


def test_each_tag_that_is_judged_has_words() -> None:
    """The values of the tables of ground, which name their source."""
    assert {row.value for row in SURFACES} == set(SURFACE_TERMS)
    assert {row.value for row in TRACKTYPES} == set(GRADE_TERMS)
    assert {row.value for row in SMOOTHNESS} <= set(EVENNESS_TERMS)
    assert str(tag_words("smoothness", "very_horrible")) == "evenness: extremely rough"
    assert str(tag_words("surface", "some_new_word")) == "surface: some new word"
