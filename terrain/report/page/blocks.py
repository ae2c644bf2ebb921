"""The pieces a report is set from: titled parts of texts, lists and tables."""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A piece of a part: a text, a heading, a list, a table, or a fold: a list with a title of its
    own that a page need not show at once."""

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


def without_empty_columns(part: Part) -> Part:
    """The part with tables that have no column without a single entry."""
    return replace(part, blocks=tuple(_filled(block) for block in part.blocks))


def _filled(block: Block) -> Block:
    kept = [k for k in range(len(block.head)) if any(row[k] for row in block.rows)]
    if len(kept) == len(block.head):
        return block
    return replace(
        block,
        head=tuple(block.head[k] for k in kept),
        rows=tuple(tuple(row[k] for k in kept) for row in block.rows),
    )
