"""The line of every key and table of a TOML document that tomllib has accepted.

tomllib gives no lines for values, so keys are found again by a small scanner. It may be simple
because the document is known to be valid TOML 1.0.
"""

from __future__ import annotations

import re
from typing import TypeAlias

Path: TypeAlias = tuple[str | int, ...]

_KEY = re.compile(r"""\s*(?:"((?:[^"\\]|\\.)*)"|'([^']*)'|([A-Za-z0-9_-]+))\s*""")


def key_lines(text: str) -> dict[Path, int]:
    """Path of each table and key -> its line, from 1. Array items of tables are numbered."""
    return _Scan(text).run()


class _Scan:
    def __init__(self, text: str) -> None:
        self.text, self.at, self.line = text, 0, 1
        self.lines: dict[Path, int] = {}
        self.table: Path = ()
        self.counts: dict[Path, int] = {}

    def run(self) -> dict[Path, int]:
        while self.at < len(self.text):
            self._blanks()
            if self.at >= len(self.text):
                break
            if self.text[self.at] == "[":
                self._header()
            else:
                self._pair(self.table)
        return self.lines

    def _blanks(self) -> None:
        """Skip white space, line ends and comments."""
        while self.at < len(self.text):
            c = self.text[self.at]
            if c == "\n":
                self.line += 1
            elif c == "#":
                self._to_line_end()
                continue
            elif not c.isspace():
                return
            self.at += 1

    def _to_line_end(self) -> None:
        end = self.text.find("\n", self.at)
        self.at = len(self.text) if end < 0 else end

    def _dotted(self) -> tuple[str, ...]:
        names: list[str] = []
        while (found := _KEY.match(self.text, self.at)) is not None:
            names.append(next(g for g in found.groups() if g is not None))
            self.at = found.end()
            if self.text[self.at : self.at + 1] != ".":
                break
            self.at += 1
        return tuple(names)

    def _header(self) -> None:
        is_array = self.text.startswith("[[", self.at)
        self.at += 2 if is_array else 1
        path = self._resolve(self._dotted())
        if is_array:
            n = self.counts[path] = self.counts.get(path, -1) + 1
            path = (*path, n)
        self.table = path
        self._mark(path)
        self.at += 2 if is_array else 1

    def _resolve(self, names: tuple[str, ...]) -> Path:
        """Put the number of the current item after every array of tables on the way."""
        path: Path = ()
        for i, name in enumerate(names):
            path = (*path, name)
            if path in self.counts and i < len(names) - 1:
                path = (*path, self.counts[path])
        return path

    def _mark(self, path: Path) -> None:
        for n in range(1, len(path) + 1):
            self.lines.setdefault(path[:n], self.line)

    def _pair(self, table: Path) -> None:
        path = (*table, *self._dotted())
        self._mark(path)
        self.at = max(self.at, self.text.find("=", self.at)) + 1
        self._value(path)

    def _value(self, path: Path) -> None:
        while self.text[self.at : self.at + 1] in (" ", "\t"):
            self.at += 1
        c = self.text[self.at : self.at + 1]
        if c in ('"', "'"):
            self._string(c)
        elif c == "[":
            self._array(path)
        elif c == "{":
            self._inline(path)
        else:
            while self.at < len(self.text) and self.text[self.at] not in ",]}\n#":
                self.at += 1

    def _string(self, quote: str) -> None:
        mark = quote * 3 if self.text.startswith(quote * 3, self.at) else quote
        self.at += len(mark)
        while self.at < len(self.text) and not self.text.startswith(mark, self.at):
            if quote == '"' and self.text[self.at] == "\\":
                self.at += 1
            if self.text[self.at : self.at + 1] == "\n":
                self.line += 1
            self.at += 1
        self.at += len(mark)
        # A multi-line string may end in up to two quotes of its own.
        while len(mark) == 3 and self.text[self.at : self.at + 1] == quote:
            self.at += 1

    def _array(self, path: Path) -> None:
        self.at += 1
        n = 0
        while True:
            self._blanks()
            c = self.text[self.at : self.at + 1]
            if c in ("]", ""):
                self.at += 1
                return
            if c == ",":
                self.at += 1
                continue
            self.lines[(*path, n)] = self.line
            self._value((*path, n))
            n += 1

    def _inline(self, path: Path) -> None:
        self.at += 1
        while True:
            self._blanks()
            c = self.text[self.at : self.at + 1]
            if c in ("}", ""):
                self.at += 1
                return
            if c == ",":
                self.at += 1
                continue
            self._pair(path)


def quoted(text: str) -> str:
    """A TOML basic string (TOML 1.0: quotes, backslash and control characters escaped)."""
    escaped = (
        "\\" + c if c in '"\\' else f"\\u{ord(c):04x}" if ord(c) < 0x20 or ord(c) == 0x7F else c
        for c in text
    )
    return '"' + "".join(escaped) + '"'
