"""From the document's bytes to clean UTF-8, whatever it was written in."""

from __future__ import annotations

import codecs
import re
from typing import NamedTuple

from terrain.errors import RouteError
from terrain.inputs.lines.limits import GpxLimits
from terrain.inputs.lines.look import EXPORT
from terrain.text.message import message
from terrain.values.route import Problem


class GpxText(NamedTuple):
    """A document as UTF-8 bytes.

    line_offset : lines dropped at the top, to be added to every line number
    """

    data: bytes
    line_offset: int
    problems: tuple[Problem, ...]


_DECLARED = re.compile(rb"""^\s*<\?xml[^>]*?encoding\s*=\s*["']([A-Za-z0-9._:-]{1,40})["']""")
# Longest first: the UTF-32 mark starts with the UTF-16 one.
_MARKS = (
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
# Only plain character sets: Python also registers codecs that are not (rot13, zip, idna).
_KNOWN = re.compile(
    r"^(utf-8|ascii|iso8859-\d+|cp125\d|cp1250|cp437|cp850|koi8-[ru]|mac-roman|gb2312|gbk|gb18030"
    r"|big5|shift_jis|cp932|euc_jp|euc_kr|tis-620|cp874)$"
)
# Characters that XML 1.0 forbids, apart from those that UTF-8 cannot hold anyway.
_CONTROL = bytes((*range(0x09), 0x0B, 0x0C, *range(0x0E, 0x20)))
_NONCHARACTERS = (b"\xef\xbf\xbe", b"\xef\xbf\xbf")


def to_utf8(data: bytes, source: str, limits: GpxLimits) -> GpxText:
    """Decode by byte-order mark, pattern, declaration, then by trial.

    A declaration that is plainly wrong (UTF-8 declared, Latin-1 found) is repaired and listed.
    Raises RouteError if nothing fits.
    """
    problems: list[Problem] = []
    encoding, body = _marked(data)
    if encoding is None:
        encoding = _patterned(body)
    if encoding is None:
        body, problem = _from_declared(body)
        problems += [problem] if problem else []
    elif encoding != "utf-8" or not _is_utf8(body):
        try:
            body = body.decode(encoding).encode("utf-8")
        except UnicodeError as exc:
            raise RouteError(
                message(
                    "the text is marked {name} but cannot be read as such",
                    name=str(encoding.upper()),
                ),
                source,
                EXPORT,
            ) from exc
    _check_tokens(body, source, limits)
    return _tidy(body, problems)


def _marked(data: bytes) -> tuple[str | None, bytes]:
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return encoding, data[len(mark) :]
    return None, data


def _patterned(data: bytes) -> str | None:
    """UTF-16 without a mark shows as '<' and a zero byte."""
    head = data[:4]
    if head[:2] == b"<\0":
        return "utf-16-le"
    if head[:2] == b"\0<":
        return "utf-16-be"
    return None


def _is_utf8(data: bytes) -> bool:
    if data.isascii():
        return True
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def _from_declared(data: bytes) -> tuple[bytes, Problem | None]:
    found = _DECLARED.match(data[:400])
    declared = found.group(1).decode("ascii") if found else "UTF-8"
    try:
        name = codecs.lookup(declared).name
    except LookupError:
        name = ""
    if not _KNOWN.match(name):
        name = "utf-8"
    if name in ("utf-8", "ascii") or _is_utf8(data):
        if _is_utf8(data):
            # Also when another set is declared: bytes above 127 that form valid UTF-8 by
            # chance are too rare to matter, wrong declarations are not.
            wrong = name not in ("utf-8", "ascii") and not data.isascii()
            return data, _wrong_encoding(declared, "UTF-8") if wrong else None
        return _repaired(data, declared)
    try:
        return data.decode(name).encode("utf-8"), None
    except UnicodeDecodeError:
        return _repaired(data, declared)


def _repaired(data: bytes, declared: str) -> tuple[bytes, Problem]:
    text = data.decode("utf-8", errors="replace")
    bad = text.count("\ufffd")
    good = len(text) - len(text.encode("ascii", errors="ignore")) - bad
    if good > bad:
        problem = Problem(
            code="encoding",
            what=message("one damaged character", "{n} damaged characters", n=bad),
            action=message("replaced by a mark; names may look odd, the line is not touched"),
        )
        return text.encode("utf-8"), problem
    latin = data.decode("cp1252", errors="replace")
    return latin.encode("utf-8"), _wrong_encoding(declared, "Latin-1")


def _wrong_encoding(declared: str, found: str) -> Problem:
    return Problem(
        code="encoding",
        what=message(
            "the file says its text is {declared}, but it is {found}",
            declared=declared,
            found=found,
        ),
        action=message("read as {found}", found=found),
    )


def _check_tokens(data: bytes, source: str, limits: GpxLimits) -> None:
    """Refuse one endless name, attribute or text before the XML parser has to copy it.

    Looks for a window without any tag, so tags up to twice the limit apart may pass.
    """
    size = limits.max_token
    for start in range(0, len(data) - size, size):
        if data.find(b"<", start, start + size) < 0:
            line = data.count(b"\n", 0, max(data.rfind(b"<", 0, start), 0)) + 1
            raise RouteError(
                message("one name or text is longer than {n} characters", n=f"{size:,}"),
                message("{file}, line {line}", file=str(source), line=str(line)),
                EXPORT,
            )


def _tidy(data: bytes, problems: list[Problem]) -> GpxText:
    """Drop what stands before the first tag and the characters XML forbids."""
    body = data.lstrip(b" \t\r\n")
    line_offset = data.count(b"\n", 0, len(data) - len(body))
    whole = len(body)
    body = body.translate(None, _CONTROL)
    bad = whole - len(body)
    for mark in _NONCHARACTERS:
        if n := body.count(mark):
            body, bad = body.replace(mark, b""), bad + n
    if bad:
        problems.append(
            Problem(
                code="control-characters",
                what=message(
                    "one control character that XML does not allow",
                    "{n} control characters that XML does not allow",
                    n=bad,
                ),
                action=message("left out"),
            )
        )
    return GpxText(body, line_offset, tuple(problems))
