"""Names from files and maps made harmless for the place they are printed in."""

from __future__ import annotations

import re
import unicodedata

# Marks that change the direction of the text that follows (Unicode TR 9), and line separators.
_STEERING = re.compile("[\u200e\u200f\u061c\u202a-\u202e\u2066-\u2069\u2028\u2029\ufeff]")
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def plain_line(text: str) -> str:
    """The text on one line, without control characters or marks that steer the direction."""
    if text.isascii() and text.isprintable():
        return text
    text = _STEERING.sub("", text)
    return "".join(_blank(c) for c in text)


def _blank(char: str) -> str:
    if char in "\u00a0\u202f":
        return char
    kind = unicodedata.category(char)
    if kind in ("Cc", "Cs") or (kind.startswith("Z") and char != " "):
        return " "
    return char


def shortened(text: str, most: int) -> str:
    """The text cut at a word so that it has at most so many characters."""
    if len(text) <= most:
        return text
    return text[: most - 1].rsplit(" ", 1)[0].rstrip(" ,;(") + "…"


def csv_cell(value: object) -> object:
    """A cell that no spreadsheet takes for a formula: such text gets a leading apostrophe.

    Source: OWASP, CSV Injection: cells that begin with = + - @ tab or carriage return.
    """
    if not isinstance(value, str):
        return value
    text = plain_line(value)
    return f"'{text}" if text.lstrip().startswith(_FORMULA) else text
