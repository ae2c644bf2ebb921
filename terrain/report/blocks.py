"""The pieces a report is set from: titled parts of texts, lists and tables."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A piece of a part: a text, a heading, a list or a table."""

    kind: str
    text: str = ""
    lines: tuple[str, ...] = ()
    head: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A titled part of the report."""

    key: str
    title: str
    blocks: tuple[Block, ...]
