"""How the parts of a report are laid on paper: what is left out, what stays together, columns."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

from terrain.report.page.blocks import Block, Part
from terrain.report.page.help import exits_part
from terrain.text.translator import Translator
from terrain.values.report import Report

LINE_CHARS = 122  # of a table's letters on a line of the page
_DENSE_CHARS = 138  # on a line of a long report, whose letters are smaller
_GAP_CHARS = 3  # between two columns
_SHORT_CELL = 24  # letters that stay on one line
_MOST_EXITS = 12
_MANY_LINES = 150  # from which on letters and the space between them are smaller
_WHOLE_LINES = 16  # of a part that is never cut by the page
_WHOLE_ROWS = 10  # of a table that is never cut by the page
_TAIL_LINES = (12, 30)  # what stays together at the end: no last page of three lines


def lay_parts(parts: tuple[Part, ...], report: Report, translator: Translator) -> dict[str, Any]:
    """The parts as the template takes them.

    Returns: `parts`, `many` whether letters are smaller, `n_tail` how many parts at the end stay
    together with the lines that close the report.
    """
    kept = [_for_paper(part, report, translator) for part in parts]
    lines = [sum(map(_lines, part.blocks)) for part in kept]
    many = sum(lines) > _MANY_LINES
    line_chars = _DENSE_CHARS if many else LINE_CHARS
    laid = [
        {
            "title": part.title,
            "whole": n_lines <= _WHOLE_LINES,
            "blocks": [_block(block, line_chars) for block in part.blocks],
        }
        for part, n_lines in zip(kept, lines, strict=True)
    ]
    return {"parts": laid, "many": many, "n_tail": tail_parts(lines)}


def _for_paper(part: Part, report: Report, translator: Translator) -> Part:
    """The part with no more ways out than a page has room for: those that take longest."""
    if part.key != "exits":
        return part
    return exits_part(report, translator, _MOST_EXITS) or part


def _block(block: Block, line_chars: int) -> dict[str, Any]:
    return {
        **dataclasses.asdict(block),
        "widths": column_widths(block.head, block.rows, line_chars),
        "whole": len(block.rows) <= _WHOLE_ROWS,
    }


def column_widths(
    head: tuple[str, ...], rows: tuple[tuple[str, ...], ...], line_chars: int = LINE_CHARS
) -> list[int]:
    """0 for a column as wide as its longest entry; else its share of the room.

    Letters go, a few at a time, to the column that makes the table shortest.
    line_chars : letters on a line of the page
    """
    if not rows:
        return []
    count = np.array([[len(cell) for cell in row] for row in (head, *rows)])
    longest = count.max(axis=0)
    width = np.where(longest <= _SHORT_CELL, longest, _SHORT_CELL // 2)
    room = line_chars - _GAP_CHARS * (len(head) - 1)
    while width.sum() < room and (width < longest).any():
        tall = np.maximum(count / width, 1.0)  # in lines, parts of one too, so that all helps
        highest, second = np.sort(tall, axis=1)[:, :-3:-1].T if len(head) > 1 else (tall[:, 0], 1)
        others = np.where(tall == highest[:, None], np.reshape(second, (-1, 1)), highest[:, None])
        wider = np.minimum(width + 6, longest)
        total = np.maximum(others, count / wider).sum(axis=0)
        best = int(np.argmin(np.where(wider > width, total, np.inf)))
        width[best] = wider[best]
    return [0 if w >= most else int(w) for w, most in zip(width, longest, strict=True)]


def _lines(block: Block) -> int:
    """About how many lines of the page a block takes."""
    if block.kind == "table":
        return 1 + len(block.rows)
    if block.kind != "list":
        return 1 + len(block.text) // LINE_CHARS
    # Long lists stand in two columns.
    columns = 2 if len(block.lines) > 5 else 1
    return 1 + sum(1 + len(line) * columns // LINE_CHARS for line in block.lines) // columns


def tail_parts(lines: list[int]) -> int:
    """How many parts at the end stay together, by the lines of each part."""
    told = 0
    for n, count in enumerate(reversed(lines), start=1):
        told += 2 + count
        if told > _TAIL_LINES[1]:
            return n - 1
        if told >= _TAIL_LINES[0]:
            return n
    return len(lines)
