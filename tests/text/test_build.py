"""The catalogues: whole, with nothing left over, and compiled."""

from __future__ import annotations

import io

import pytest

from terrain.text import build
from terrain.text.catalogue import LANGUAGES

_OTHERS = [lang for lang in LANGUAGES if lang != "en"]


@pytest.mark.parametrize("lang", _OTHERS)
def test_each_message_is_in_each_catalogue_and_none_besides(lang: str) -> None:
    """And the compiled catalogue is the readable one."""
    assert build.faults(lang) == []


@pytest.mark.parametrize("lang", _OTHERS)
def test_an_update_of_a_current_catalogue_changes_nothing(lang: str) -> None:
    assert build.updated(lang, build.template()) == build.po_path(lang).read_bytes()


def test_messages_are_found_where_code_says_them() -> None:
    source = """
_("a"); N_("b"); term("c"); translator.say("d", n_m=1); message("one e", "{n} e", n=2)
n_("one f", "{n} f", 3); join_messages(parts, "{first}g{then}"); message("h" if x else "i")
say("code", other="no"); other("no"); message(variable)
"""
    assert set(build.in_code(source)) == {
        "a", "b", "c", "d", ("one e", "{n} e"), ("one f", "{n} f"), "{first}g{then}", "h", "i",
    }  # fmt: skip


def test_a_step_that_is_not_known_shows_the_help() -> None:
    out = io.StringIO()
    assert build.main(["nothing"], out) == 2
    assert "extract" in out.getvalue()
