"""Faults of a file that a person wrote: all told at once, each with its place and what to do."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from terrain.errors import InputError
from terrain.text.message import Message, message

_MOST_FAULTS = 12
_MOST_LINES = 5  # lines told of the same fault


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing wrong with a file.

    line : in the file, from 1; 0 if it is about the whole file, or `at` says where
    at : where in the file, if that is more than a line
    """

    what: Message
    fix: Message | Literal[""] = ""
    line: int = 0
    at: Message | Literal[""] = ""

    @property
    def where(self) -> Message | Literal[""]:
        return self.at or (message("line {line}", line=str(self.line)) if self.line else "")

    @property
    def told(self) -> Message:
        """Place, fault and fix as one message."""
        if self.fix:
            told = message("{what}. {fix}", what=self.what, fix=self.fix)
        else:
            told = message("{what}.", what=self.what)
        return message("{where}: {text}", where=self.where, text=told) if self.where else told

    def __str__(self) -> str:
        return str(self.told)


class WrongError(ValueError):
    """A text that is not what its place asks for. fix : how to put it right."""

    def __init__(self, what: Message, fix: Message | Literal[""] = "") -> None:
        super().__init__(what)
        self.what, self.fix = what, fix


def faults_error(faults: Sequence[Fault], error: type[InputError], source: str) -> InputError:
    """The error that tells all faults of a file, each as a line if there are several."""
    if len(faults) == 1:
        (fault,) = faults
        where = message("{file}, {where}", file=source, where=fault.where)
        return error(fault.what, where if fault.where else source, fault.fix)
    alike = _alike_as_one(faults)
    listed = message("one fault", "{n} faults", n=len(faults))
    for fault in alike[:_MOST_FAULTS]:
        listed = message("{first}\n  {then}", first=listed, then=fault.told)
    if len(alike) > _MOST_FAULTS:
        more = message("and {n} more", n=str(len(alike) - _MOST_FAULTS))
        listed = message("{first}\n  {then}", first=listed, then=more)
    return error(listed, source)


def _alike_as_one(faults: Sequence[Fault]) -> list[Fault]:
    """The same fault on many lines once, with the first of them."""
    alike: dict[tuple[str, str, str], list[Fault]] = {}
    for fault in faults:
        alike.setdefault((fault.what, fault.fix, fault.at), []).append(fault)
    return [replace(group[0], at=_lines(group)) for group in alike.values()]


def _lines(group: Sequence[Fault]) -> Message | Literal[""]:
    if len(group) == 1 or not group[0].line:
        return group[0].where
    shown = ", ".join(str(fault.line) for fault in group[:_MOST_LINES])
    more = len(group) - _MOST_LINES
    if more > 0:
        return message("lines {shown} and {n} more", shown=shown, n=str(more))
    return message("lines {shown}", shown=shown)


def nearest(word: str, allowed: Iterable[str]) -> Message:
    """A hint at the right word: the nearest, or all of them."""
    allowed = list(allowed)
    near = difflib.get_close_matches(word, allowed, n=1)
    if near:
        return message("Did you mean {near}?", near=near[0])
    return message("Use one of {names}.", names=", ".join(allowed))
