"""The catalogues: whole, with nothing left over, and compiled."""

from __future__ import annotations

import ast
import io
from pathlib import Path

import pytest

from terrain.text import build
from terrain.text.catalogue import LANGUAGES
from tests.said import said

_OTHERS = [lang for lang in LANGUAGES if lang != "en"]


@pytest.mark.parametrize("lang", _OTHERS)
def test_each_message_is_in_each_catalogue_and_none_besides(lang: str) -> None:
    """And the compiled catalogue is the readable one."""
    assert build.faults(lang, said()) == []


@pytest.mark.parametrize("lang", _OTHERS)
def test_an_update_of_a_current_catalogue_changes_nothing(lang: str) -> None:
    assert build.updated(lang, build.template(said())) == build.po_path(lang).read_bytes()


def test_what_is_wrong_with_a_translation_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keys: set[build.Key] = {"Go to {a}.", "At {a:n}", "Name", ("one {a}", "{n} {a}"), "x", "y"}
    monkeypatch.setattr(build, "LOCALES", tmp_path)
    told: dict[str, str | tuple[str, ...]] = {
        "Go to {a}.": "Zu {b}.", "At {a:n}": "Bei {a}", "Name": "Namensschildbeschriftungsfeldname",
        "one {a}": ("eins {a}", "viele {a}"), "x": "", "y": "y",
    }  # fmt: skip
    build.po_path("de").parent.mkdir(parents=True)
    build.po_path("de").write_bytes(build.updated("de", build.template(keys)))
    catalog = build.held("de")
    assert catalog.num_plurals == 2
    for message in catalog:
        if message.id:
            message.string = told[message.id if isinstance(message.id, str) else message.id[0]]
    build.po_path("de").write_bytes(build.readable(catalog))
    build.compiled_path("de").write_bytes(build.compiled(build.held("de")))
    assert sorted(build.faults("de", keys)) == [
        "de: empty: 'x'",
        "de: other fields than the message: 'At {a:n}'",
        "de: other fields than the message: 'Go to {a}.'",
        "de: other fields than the message: ('one {a}', '{n} {a}')",
        "de: too long for a phone: 'Name'",
    ]


def test_a_text_may_grow_less_the_longer_it_is() -> None:
    assert not build.too_long("Stop", "Haltemöglichkeit")
    assert not build.too_long(
        "See https://example.org/{a}/of/it", "https://example.org/{a}/of/it/ansehen"
    )
    assert build.too_long("A stop of fifteen minutes or more", "Ein Halt von " + "mindestens " * 5)


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


def test_closed_sets_of_words_stand_in_one_place() -> None:
    """A table of words, one for each of a kind, is no place's own; sentences may be."""
    astray = []
    for path in sorted(build.PACKAGE.rglob("*.py")):
        if path.name == "terms.py":
            continue
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            value = getattr(node, "value", None)
            if isinstance(value, ast.Dict) and len(value.values) >= 3:
                words = [key for item in value.values for key in build.in_code(ast.unparse(item))]
                plain = [w for w in words if isinstance(w, str) and not set("{.") & set(w)]
                if len(plain) == len(value.values) and max(len(w.split()) for w in plain) <= 4:
                    astray.append(f"{path.relative_to(build.PACKAGE)}:{node.lineno}")
    assert not astray, astray
