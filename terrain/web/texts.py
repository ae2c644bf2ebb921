"""Words of the rider's pages in the languages of the report, and text made plain."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any

from terrain.report.safe import plain_line

LANGS = ("en", "es", "fr")
LANG_NAMES = {"en": "English", "es": "Español", "fr": "Français"}


def one_line(value: Any, longest: int) -> str:
    """Text on one line of bounded length, without marks that steer or control."""
    text = plain_line(str(value)).encode("utf-8", "ignore").decode("utf-8")
    return " ".join(text.split())[:longest]


def texts_for(lang: str) -> dict[str, str]:
    """The rider's words by key; English for a language that is not there."""
    return {key: row.get(lang, row["en"]) for key, row in _table().items()}


@cache
def _table() -> dict[str, dict[str, str]]:
    return tomllib.loads((files("terrain.web") / "texts.toml").read_text(encoding="utf-8"))
