"""Words of the desk's pages in the languages of the report, and text made plain.

Riders' pages name their words by key (texts.toml). The desk's pages and errors are written in
English, which is the key (desk_texts.toml); a key with {named} parts also tells finished
sentences that were made of it, such as an error's.
"""

from __future__ import annotations

import re
import tomllib
from functools import cache
from importlib.resources import files
from typing import Any

from terrain.text.catalogue import LANGUAGES
from terrain.text.plain import plain_line

_NAMED = re.compile(r"\{(\w+)\}")


def one_line(value: Any, longest: int) -> str:
    """Text on one line of bounded length, without marks that steer or control."""
    text = plain_line(str(value)).encode("utf-8", "ignore").decode("utf-8")
    return " ".join(text.split())[:longest]


def texts_for(lang: str) -> dict[str, str]:
    """The rider's words by key; English for a language that is not there."""
    return {key: row.get(lang, row["en"]) for key, row in read_table("texts.toml").items()}


@cache
def read_table(name: str) -> dict[str, dict[str, str]]:
    """A catalogue: by key, the words by language."""
    return tomllib.loads((files("terrain.web") / name).read_text(encoding="utf-8"))


class Texts:
    """The desk's words in one language."""

    def __init__(self, lang: str) -> None:
        self.lang = lang
        self._words = {
            key: row.get(lang, key) for key, row in read_table("desk_texts.toml").items()
        }
        # The most literal first: "{ref} is taken" before "{what}".
        open_ = sorted((k for k in self._words if "{" in k), key=_literal, reverse=True)
        self._patterns = [(_pattern(key), key) for key in open_]

    def say(self, text: str, **values: Any) -> str:
        """A text in this language, its {named} parts filled in."""
        said = self._words.get(text, text)
        return said.format(**values) if values else said

    def told(self, text: str) -> str:
        """A finished English sentence in this language; as it stands if it is not known."""
        if self.lang == "en" or not text:
            return text
        if text in self._words:
            return self._words[text]
        for pattern, key in self._patterns:
            found = pattern.fullmatch(text)
            if found:
                parts = {name: self.told(part) if part != text else part
                         for name, part in found.groupdict().items()}  # fmt: skip
                return self._words[key].format(**parts)
        faults = text.split("; ")
        return "; ".join(map(self.told, faults)) if len(faults) > 1 else text

    def error(self, what: str, where: str = "", fix: str = "") -> str:
        """An error's three parts as sentences."""
        what = self.told(what)
        colon = "\u00a0:" if self.lang == "fr" else ":"
        said = f"{self.told(where)}{colon} {what}" if where else what
        if not where or where in self._words:  # else a file's name, which stays as it is
            said = said[:1].upper() + said[1:]
        return f"{said.rstrip('.')}. {self.told(fix)}".rstrip()


def _literal(key: str) -> int:
    return len(_NAMED.sub("", key))


def _pattern(key: str) -> re.Pattern[str]:
    parts = _NAMED.split(key)
    seen: set[str] = set()
    out = []
    for n, part in enumerate(parts):
        if n % 2 == 0:
            out.append(re.escape(part))
        else:
            out.append(f"(?P={part})" if part in seen else f"(?P<{part}>.*?)")
            seen.add(part)
    return re.compile("".join(out), re.DOTALL)


@cache
def texts_in(lang: str) -> Texts:
    return Texts(lang if lang in LANGUAGES else "en")
