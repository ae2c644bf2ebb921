"""Names from files and maps made harmless for the place they are printed in."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable

# Marks that change the direction of the text that follows (Unicode TR 9), and line separators.
_STEERING = re.compile("[\u200e\u200f\u061c\u202a-\u202e\u2066-\u2069\u2028\u2029\ufeff]")
# Control characters, lone halves of letters and every space but the plain, hard and narrow ones:
# Unicode categories Cc, Cs and Z.
_BLANK = re.compile("[\x00-\x1f\x7f-\x9f\ud800-\udfff\u1680\u2000-\u200a\u2028\u2029\u205f\u3000]")
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def plain_line(text: str) -> str:
    """The text on one line, without control characters or marks that steer the direction."""
    if text.isascii() and text.isprintable():
        return text
    return _BLANK.sub(" ", _STEERING.sub("", text))


def one_line(value: object, longest: int) -> str:
    """Text on one line of bounded length, without marks that steer or control."""
    text = plain_line(str(value)).encode("utf-8", "ignore").decode("utf-8")
    return " ".join(text.split())[:longest]


def shortened(text: str, most: int) -> str:
    """The text cut at a word so that it has at most so many characters."""
    if len(text) <= most:
        return text
    return text[: most - 1].rsplit(" ", 1)[0].rstrip(" ,;(") + "…"


def csv_table(rows: Iterable[Iterable[object]]) -> str:
    """Rows for spreadsheets (RFC 4180), empty cells for None; none is taken for a formula."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    for row in rows:
        writer.writerow(["" if cell is None else csv_cell(cell) for cell in row])
    return out.getvalue()


def csv_cell(value: object) -> object:
    """A cell that no spreadsheet takes for a formula: such text gets a leading apostrophe.

    Source: OWASP, CSV Injection: cells that begin with = + - @ tab or carriage return.
    """
    if not isinstance(value, str):
        return value
    text = plain_line(value)
    return f"'{text}" if text.lstrip().startswith(_FORMULA) else text
