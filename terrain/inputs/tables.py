"""Tables as spreadsheets write them: commas, semicolons or tabs, UTF-8, UTF-16 or Western."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass

from terrain.errors import InputError
from terrain.text.message import message


def utf8_text(data: bytes, source: str, error: type[InputError]) -> str:
    """The text of a file that must be UTF-8. Raises `error` with the line where it is not."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as exc:
        line = str(data.count(b"\n", 0, exc.start) + 1)
        raise error(
            message("the file is not UTF-8 text"),
            message("{file}, line {line}", file=source, line=line),
            message("Save it as UTF-8."),
        ) from exc


def table_text(data: bytes) -> str:
    """The text of a table, whatever its characters are kept as."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        # Spreadsheets still write the machine's own Western character set.
        return data.decode("cp1252", errors="replace")


def clean(text: str, most: int = 300) -> str:
    """One line without control characters, of bounded length."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())[:most]


@dataclass(frozen=True, slots=True)
class TableRow:
    """A row that has any text. line : of the file, from 1, its last if it has several."""

    line: int
    cells: list[str]


def table_rows(text: str, source: str, error: type[InputError]) -> Iterator[TableRow]:
    """The rows of a table, one after the other; the mark between cells is that of its first line.

    Raises `error` with the line for what is no table.
    """
    text = text.replace("\0", " ")
    body = text.lstrip("\ufeff\r\n")
    skipped = text.count("\n", 0, len(text) - len(body))
    first, _, rest = body.partition("\n")
    if first.strip().lower().startswith("sep=") and len(first.strip()) == len("sep=;"):
        mark, body, skipped = first.strip()[-1], rest, skipped + 1
    else:
        mark = max(",;\t|", key=first.count)
    reader = csv.reader(io.StringIO(body, newline=""), delimiter=mark, strict=True)
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                yield TableRow(reader.line_num + skipped, cells)
    except csv.Error as exc:
        raise error(
            message("this is not a table ({reason})", reason=str(exc)),
            message(
                "{file}, line {line}", file=source, line=str(max(reader.line_num, 1) + skipped)
            ),
            message("Save it as CSV again."),
        ) from exc
