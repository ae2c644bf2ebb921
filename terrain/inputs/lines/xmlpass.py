"""One pass of bare expat over a document: what every XML format is guarded by.

It refuses document types (and with them all entities), nesting beyond a limit and what is not
well-formed, each with its line, and mends ampersands that people write by hand.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TypeVar
from xml.parsers import expat

from terrain.errors import RouteError
from terrain.inputs.lines.limits import GpxLimits
from terrain.inputs.lines.look import EXPORT, by_root
from terrain.inputs.lines.text import GpxText
from terrain.text.message import Message, message


class RefusedError(Exception):
    """Raised in a callback; becomes a RouteError with the line the parser is at."""

    def __init__(self, what: Message, fix: Message) -> None:
        super().__init__(what, fix)
        self.what, self.fix = what, fix


# An ampersand that starts no entity XML knows: people write "Fish & Chips" by hand.
_STRAY_AMPERSAND = re.compile(rb"&(?!(?:amp|lt|gt|apos|quot|#[0-9]{1,7}|#x[0-9A-Fa-f]{1,6});)")
_TRUNCATED = frozenset((
    expat.errors.codes[expat.errors.XML_ERROR_NO_ELEMENTS],
    expat.errors.codes[expat.errors.XML_ERROR_UNCLOSED_TOKEN],
    expat.errors.codes[expat.errors.XML_ERROR_PARTIAL_CHAR],
    expat.errors.codes[expat.errors.XML_ERROR_UNCLOSED_CDATA_SECTION],
))  # fmt: skip
_REPAIRABLE = frozenset((
    expat.errors.codes[expat.errors.XML_ERROR_INVALID_TOKEN],
    expat.errors.codes[expat.errors.XML_ERROR_UNDEFINED_ENTITY],
))  # fmt: skip
_JUNK_AFTER = expat.errors.codes[expat.errors.XML_ERROR_JUNK_AFTER_DOC_ELEMENT]
_TAG_MISMATCH = expat.errors.codes[expat.errors.XML_ERROR_TAG_MISMATCH]


class XmlPass:
    """One run of expat; a format adds `open`, `close` and `junk_after`.

    stack : names without their prefix of the elements that are open, the innermost last
    collect : pieces of text are put here while it is a list
    """

    root: str

    def __init__(self, text: GpxText, source: str, limits: GpxLimits) -> None:
        self.source, self.limits, self.line_offset = source, limits, text.line_offset
        self.parser = expat.ParserCreate(encoding="utf-8")
        self.parser.buffer_text = True
        self.parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
        self.parser.StartDoctypeDeclHandler = self._doctype
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self._chars
        self.stack: list[str] = []
        self.collect: list[str] | None = None

    def open(self, name: str, parent: str, attrs: dict[str, str]) -> None:
        """An element begins; the stack holds it already."""
        raise NotImplementedError

    def close(self, name: str) -> None:
        """An element ends; the stack holds it no more."""
        raise NotImplementedError

    def junk_after(self, rest: bytes) -> None:
        """Something follows the root element."""
        raise NotImplementedError

    def parse(self, data: bytes) -> None:
        """Parse all of it. Raises RouteError, or ExpatError if it is not well-formed."""
        try:
            self.parser.Parse(data, True)
        except RefusedError as refusal:
            where = message("{file}, line {line}", file=str(self.source), line=str(self.line()))
            raise RouteError(refusal.what, where, refusal.fix) from None
        except expat.ExpatError as exc:
            if self.stack or exc.code != _JUNK_AFTER:
                raise
            self.junk_after(data[self.parser.CurrentByteIndex :])

    def line(self) -> int:
        return self.parser.CurrentLineNumber + self.line_offset

    def _doctype(self, name: str, *_: object) -> None:
        if name.lower() == "html":
            raise RefusedError(*by_root("html"))
        raise RefusedError(
            message("the file declares a document type (DOCTYPE), which no route does"),
            message("It may be harmful. {fix}", fix=EXPORT),
        )

    def _start(self, name: str, attrs: dict[str, str]) -> None:
        if ":" in name:
            name = name.rpartition(":")[2]
        stack = self.stack
        parent = stack[-1] if stack else ""
        stack.append(name)
        if not parent and name != self.root:
            raise RefusedError(*by_root(name))
        self.open(name, parent, attrs)
        if len(stack) > self.limits.max_depth:
            raise RefusedError(
                message("elements are nested more than {n} deep", n=str(self.limits.max_depth)),
                message("It may be damaged or harmful. {fix}", fix=EXPORT),
            )

    def _chars(self, data: str) -> None:
        if self.collect is not None:
            self.collect.append(data)

    def _end(self, name: str) -> None:
        if ":" in name:
            name = name.rpartition(":")[2]
        self.stack.pop()
        self.close(name)


_Result = TypeVar("_Result")


def run(
    text: GpxText, source: str, read: Callable[[bytes], _Result]
) -> tuple[_Result, tuple[int, ...]]:
    """What `read` makes of the document, with the lines of ampersands that were mended.

    read : parses the bytes in a pass of its own; raises ExpatError for what is not well-formed
    Raises RouteError with the line if it cannot be mended.
    """
    try:
        return read(text.data), ()
    except expat.ExpatError as exc:
        fixed = _STRAY_AMPERSAND.sub(b"&amp;", text.data) if exc.code in _REPAIRABLE else text.data
        if fixed == text.data:
            raise _syntax_error(exc, text, source) from exc
    try:
        made = read(fixed)
    except expat.ExpatError as exc:
        raise _syntax_error(exc, text, source) from exc
    strays = (stray.start() for stray in _STRAY_AMPERSAND.finditer(text.data))
    return made, tuple(line_at(text, at) for at in strays)


def line_at(text: GpxText, at: int) -> int:
    """The line of the file in which a byte of the document stands."""
    return text.data.count(b"\n", 0, at) + 1 + text.line_offset


def _syntax_error(exc: expat.ExpatError, text: GpxText, source: str) -> RouteError:
    where = message(
        "{file}, line {line}", file=str(source), line=str(exc.lineno + text.line_offset)
    )
    if exc.code in _TRUNCATED:
        return RouteError(
            message("the file ends in the middle of the route"),
            where,
            message("Download or export it again; a part of the ride would be missing."),
        )
    if exc.code == _TAG_MISMATCH:
        what = message("a closing tag does not belong to the tag that is open")
    else:
        what = message(
            "the file is not well-formed XML ({reason})",
            reason=str(expat.errors.messages[exc.code]),
        )
    return RouteError(what, where, EXPORT)
