"""The catalogues: `python -m terrain.text.build extract|update|compile|check`, by Babel.

extract   print the template (.pot) of all messages of the code and its templates
update    bring each language's terrain.po up to date: new messages stand there empty
compile   make each terrain.mo of its terrain.po
check     say what is missing, left over, ill-formed, too long for a phone or not compiled; exit
          status 1 if anything is
"""

from __future__ import annotations

import ast
import io
import re
import string
import sys
from collections.abc import Collection, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import IO

from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po
from jinja2.ext import babel_extract

from terrain.text.catalogue import LANGUAGES

PACKAGE = Path(__file__).parents[1]
LOCALES = Path(__file__).parent / "locales"
_TEMPLATES = (".html", ".txt")
_STAMP = datetime(2000, 1, 1, tzinfo=UTC)

#: A message, or a message and its plural.
Key = str | tuple[str, str]


def messages(folder: Path = PACKAGE) -> set[Key]:
    """All messages that the code of a folder and its templates may say."""
    found: set[Key] = set()
    for path in sorted(folder.rglob("*.py")):
        if "__pycache__" not in path.parts:
            found |= set(in_code(path.read_text(encoding="utf-8")))
    for path in sorted(folder.rglob("templates/*")):
        if path.suffix in _TEMPLATES:
            with path.open("rb") as file:
                for _, name, key, _ in babel_extract(file, ["_", "n_"], [], {}):
                    if name == "n_" and isinstance(key, tuple):
                        found.add((str(key[0]), str(key[1])))
                    elif key:
                        found.add(key if isinstance(key, str) else str(key[0]))
    return found


def in_code(source: str) -> Iterator[Key]:
    """The messages of a Python module.

    They stand in calls of `_`, `N_`, `n_`, `NN_`, `message`, `term` and `say`; in `join_messages`
    second. A choice between two texts counts as both.
    """
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call):
            yield from _of_call(node)


def _of_call(node: ast.Call) -> Iterator[Key]:
    called = node.func
    name = called.attr if isinstance(called, ast.Attribute) else getattr(called, "id", "")
    # The advice's own `say` takes a code.
    if name == "say" and not isinstance(called, ast.Attribute):
        return
    args = [list(_texts(arg)) for arg in node.args]
    if name in ("n_", "NN_", "message", "say") and len(args) >= 2 and args[0] and args[1]:
        yield args[0][0], args[1][0]
    elif name in ("_", "N_", "message", "term", "say") and args:
        yield from args[0]
    elif name == "join_messages" and len(args) == 2:
        yield from args[1]


def _texts(node: ast.expr) -> Iterator[str]:
    if isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value:
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from _texts(node.body)
        yield from _texts(node.orelse)


def template(wanted: Collection[Key]) -> Catalog:
    """The catalogue of messages without translations."""
    made = Catalog(project="terrain")
    for key in wanted:
        made.add(key)
    return made


def po_path(lang: str) -> Path:
    return LOCALES / lang / "LC_MESSAGES" / "terrain.po"


def compiled_path(lang: str) -> Path:
    return po_path(lang).with_suffix(".mo")


def held(lang: str) -> Catalog:
    """The readable catalogue of a language; an empty one for a language that is new."""
    if po_path(lang).is_file():
        with po_path(lang).open("rb") as file:
            catalog = read_po(file, locale=lang)
    else:
        catalog = Catalog(locale=lang)
    # Else the header names the moment it was read.
    catalog.creation_date = catalog.revision_date = _STAMP
    return catalog


def updated(lang: str, wanted: Catalog) -> bytes:
    """The readable catalogue of a language with the wanted messages and none besides."""
    catalog = held(lang)
    catalog.update(wanted, no_fuzzy_matching=True)
    catalog.obsolete.clear()
    return readable(catalog)


def readable(catalog: Catalog) -> bytes:
    """A .po file, in the order of the messages, so that two people's changes seldom meet."""
    file = io.BytesIO()
    write_po(file, catalog, width=0, omit_header=False, sort_output=True, no_location=True)
    lines = file.getvalue().decode("utf-8").splitlines(keepends=True)
    # Dates and tools of the header would make every update a change.
    return "".join(line for line in lines if not _is_stamp(line)).encode("utf-8")


def _is_stamp(line: str) -> bool:
    return line.startswith(
        ('"POT-Creation-Date', '"PO-Revision-Date', '"Generated-By', '"Last-Translator',
         '"Language-Team', '"Report-Msgid', '"Project-Id', "#")
    )  # fmt: skip


def compiled(catalog: Catalog) -> bytes:
    """A .mo file: the translated messages only."""
    file = io.BytesIO()
    write_mo(file, catalog)
    return file.getvalue()


def faults(lang: str, wanted: Collection[Key]) -> list[str]:
    """What is wrong with a language's catalogue of the wanted messages, one line each."""
    catalog = held(lang)
    have = {m.id for m in catalog if m.id}
    out = [f"{lang}: missing: {key!r}" for key in sorted(set(wanted) - have, key=str)]
    out += [f"{lang}: left over: {key!r}" for key in sorted(have - set(wanted), key=str)]
    for key, forms in _told(catalog):
        english = key if isinstance(key, tuple) else (key,)
        if not all(forms):
            out.append(f"{lang}: empty: {key!r}")
        elif isinstance(key, tuple) and len(forms) != catalog.num_plurals:
            out.append(f"{lang}: {len(forms)} plural forms, not {catalog.num_plurals}: {key!r}")
        elif not _same_fields(english, forms):
            out.append(f"{lang}: other fields than the message: {key!r}")
        elif any(too_long(english[-1], form) for form in forms):
            out.append(f"{lang}: too long for a phone: {key!r}")
    if compiled_path(lang).read_bytes() != compiled(catalog):
        out.append(f"{lang}: terrain.mo is not terrain.po compiled")
    return out


def _told(catalog: Catalog) -> Iterator[tuple[Key, tuple[str, ...]]]:
    """Each message and its translation, a form for each plural."""
    for message in catalog:
        if message.id:
            key = message.id if isinstance(message.id, str) else (message.id[0], message.id[1])
            said = message.string
            yield key, (said,) if isinstance(said, str) else tuple(said or [""])


def _same_fields(english: tuple[str, ...], forms: tuple[str, ...]) -> bool:
    """Whether the forms hold the fields of the message; the form for one may leave out `n`."""
    wanted = set().union(*map(_fields, english))
    if len(english) == 1:
        return _fields(forms[0]) == wanted
    return all(wanted - {"n"} <= _fields(form) <= wanted for form in forms) and (
        _fields(forms[-1]) == _fields(english[-1])
    )


def _fields(text: str) -> set[str]:
    """The fields of a message, each with how it is told: "low_c:n"."""
    return {
        f"{name}:{spec}" if spec else name
        for _, name, spec, _ in string.Formatter().parse(text)
        if name
    }


def too_long(english: str, told: str) -> bool:
    """Whether a translation needs more room than pages and phones leave for it.

    No word may be wider than a phone of 320 px, and the whole may grow as the W3C tells it
    (Text size in translation, 2007, after IBM; the figures from memory): threefold up to ten
    characters, less the longer the text. What is filled in counts the same on both sides.
    """
    shown, given = (_FIELD.sub("00", text) for text in (told, english))
    if max(map(len, re.split(r"[\s\u00ad/]", _ADDRESS.sub("", shown)))) > _LONGEST_WORD:
        return True
    most = next(share for up_to, share in _GROWTH if len(given) <= up_to)
    return len(shown) > max(most * len(given), _FREE)


_FIELD = re.compile(r"\{[^}]*\}")
_ADDRESS = re.compile(r"https?://\S+|\S+,\S+,\S+|\S+=\S+")
# 32 letters of the text's size, 16 px, are about 280 px wide: a phone of 320 px without margins.
_LONGEST_WORD = 32
_GROWTH = ((10, 3.0), (20, 2.0), (30, 1.8), (50, 1.6), (70, 1.7), (10**6, 1.4))
# So much stands on one line of such a phone in small print.
_FREE = 40


def main(args: list[str], out: IO[str]) -> int:
    """Run one step; the exit status."""
    others = [lang for lang in LANGUAGES if lang != "en"]
    if args == ["extract"]:
        out.write(readable(template(messages())).decode("utf-8"))
    elif args == ["update"]:
        wanted = template(messages())
        for lang in others:
            told = updated(lang, wanted)
            po_path(lang).parent.mkdir(parents=True, exist_ok=True)
            po_path(lang).write_bytes(told)
    elif args == ["compile"]:
        for lang in others:
            compiled_path(lang).write_bytes(compiled(held(lang)))
    elif args == ["check"]:
        said = messages()
        found = [fault for lang in others for fault in faults(lang, said)]
        out.write("".join(f"{fault}\n" for fault in found))
        return int(bool(found))
    else:
        out.write(__doc__ or "")
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:], sys.stdout))
