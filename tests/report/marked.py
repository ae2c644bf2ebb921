"""A made-up language in which every message of the catalogue stands between marks.

What is shown outside the marks was not said through the catalogue: it must be a number, a name
from the map or the file, or a tag's value.
"""

from __future__ import annotations

import gettext
import re
from collections.abc import Iterable, Iterator
from html.parser import HTMLParser
from typing import Any

from terrain.text.figures import Units
from terrain.text.translator import Translator
from tests.said import said

_OPEN, _CLOSE = "\u27e6", "\u27e7"
# Signs, units and letters of the drawings that are the same in every language.
_UNITS = "km|m|°C|°F|%|h|min|mi|ft|L|mm|kg|lb|bar|psi|cc|km/h|mph"
_BARE = re.compile(rf"(?:\b(?:{_UNITS})\b|°[CF]|%|[\d\W_])+")
_LETTERS = set("FLRWCVNPH")


class Marked(gettext.NullTranslations):
    """Every message that a catalogue must hold comes back marked, any other as it is."""

    def __init__(self) -> None:
        super().__init__()
        needed = said()
        self.held = {m for m in needed if isinstance(m, str)}
        self.plurals = {m for m in needed if isinstance(m, tuple)}

    def gettext(self, message: str) -> str:
        return f"{_OPEN}{message}{_CLOSE}" if message in self.held else message

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        text = msgid1 if n == 1 else msgid2
        return f"{_OPEN}{text}{_CLOSE}" if (msgid1, msgid2) in self.plurals else text


def marked_translator(units: Units = Units.METRIC) -> Translator:
    """The translator into the made-up language."""
    return Translator(lang="es", units=units, _catalogue=Marked())


def outside(text: str) -> str:
    """What of a text stands outside all marks; a text may be cut short within one."""
    depth, kept = 0, []
    for c in text:
        depth += (c == _OPEN) - (c == _CLOSE)
        if depth == 0 and c != _CLOSE:
            kept.append(c)
    return "".join(kept)


def unsaid(texts: Iterable[str], names: Iterable[str]) -> list[str]:
    """Texts that show something that is neither marked nor a number nor one of the names."""
    known = sorted({" ".join(n.split()) for n in names if n and n.strip()}, key=len, reverse=True)
    found = []
    for text in texts:
        rest = " ".join(outside(text).split())
        for name in known:
            if name in rest:
                rest = rest.replace(name, " ")
        if rest.strip() in _LETTERS:
            continue
        if not _BARE.fullmatch(rest or "-"):
            found.append(text)
    return found


class _Texts(HTMLParser):
    """Every text a reader sees or hears: nodes, and the attributes read aloud."""

    _INLINE = ("span", "strong", "em", "b", "i", "wbr")
    _HEARD = ("alt", "aria-label", "title", "content", "data-told", "data-name")

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.texts: list[str] = []
        self.skipped = 0
        self.joined = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.joined = self.joined and tag in self._INLINE
        if tag == "text" and "more" in (dict(attrs).get("class") or "").split():
            self.joined = True  # a label's next line
            self.texts[-1] += " "
        self.skipped += tag in ("script", "style")
        if tag != "meta":
            self.texts += [value for key, value in attrs if key in self._HEARD and value]

    def handle_endtag(self, tag: str) -> None:
        self.joined = self.joined and tag in self._INLINE
        self.skipped -= tag in ("script", "style")

    def handle_data(self, data: str) -> None:
        if self.skipped or not data.strip():
            return
        if self.joined:
            self.texts[-1] += data
        else:
            self.texts.append(data)
        self.joined = True


def html_texts(page: str) -> list[str]:
    parser = _Texts()
    parser.feed(page)
    return parser.texts


def all_texts(value: Any) -> Iterator[str]:
    """Every text in nested data; drawings by what they show."""
    if isinstance(value, str):
        yield from html_texts(value) if value.lstrip().startswith("<svg") else [value]
    elif isinstance(value, dict):
        for key, item in value.items():
            if key not in ("lang", "kind", "key", "audience"):
                yield from all_texts(item)
    elif isinstance(value, list | tuple):
        for item in value:
            yield from all_texts(item)
