"""How the parts of a report are laid on paper: what is left out, what stays together, columns."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

import numpy as np

from terrain.report.page.blocks import Block, Part
from terrain.report.page.help import exits_part
from terrain.report.paper.reckon import part_pt
from terrain.text.translator import Translator
from terrain.values.report import Report

LINE_CHARS = 112  # of a table's letters on a line of the page
_GAP_CHARS = 3  # between two columns
_SHORT_CELL = 24  # letters that stay on one line
_MOST_EXITS = 12
_WHOLE_PT = 200.0  # of a part that is never cut by the page
_WHOLE_ROWS = 10  # of a table that is never cut by the page
_DAY_PAGES, _MOST_PAGES = 2, 6  # of a day's ride, and of a week's
# What paper keeps of the parts first, by what is needed on the way; the rest stands on the page.
_NEEDED = (
    "cautions", "plan", "exits", "help", "questions", "checks", "advice", "heat", "detours",
    "ground", "file",
)  # fmt: skip
_KEPT = ("cautions",)  # whatever room there is


def page_budget(n_days: int) -> int:
    """How many pages a ride of so many days may take: two for one, six for a week."""
    return max(_DAY_PAGES, min(n_days + 1, max(_MOST_PAGES, _DAY_PAGES + -(-n_days // 2))))


def lay_parts(
    parts: tuple[Part, ...],
    report: Report,
    translator: Translator,
    fits: Callable[[list[dict[str, Any]]], bool],
) -> tuple[list[dict[str, Any]], list[str]]:
    """The parts that there is room for as the template takes them, those needed on the way first,
    and the titles of the others.

    fits : whether there is room for these parts, in their order and without their blocks
    """
    kept = {part.key: _for_paper(part, report, translator) for part in parts}
    told = {key: _told(part) for key, part in kept.items()}
    laid: set[str] = set()
    for key in sorted(kept, key=lambda key: _NEEDED.index(key) if key in _NEEDED else len(_NEEDED)):
        if key in _KEPT or fits([told[k] for k in kept if k in laid or k == key]):
            laid.add(key)
    return [
        {**told[key], "blocks": [_block(block) for block in part.blocks]}
        for key, part in kept.items()
        if key in laid
    ], [part.title for key, part in kept.items() if key not in laid]


def _told(part: Part) -> dict[str, Any]:
    tall = part_pt(part.blocks)
    return {
        "title": part.title, "warns": part.key in _KEPT, "whole": tall <= _WHOLE_PT, "tall": tall,
    }  # fmt: skip


def _for_paper(part: Part, report: Report, translator: Translator) -> Part:
    """The part as paper tells it: nothing folded, and no more ways out than a page has room for,
    those that take longest."""
    if part.key == "exits":
        part = exits_part(report, translator, _MOST_EXITS) or part
    blocks = tuple(opened for block in part.blocks for opened in _opened(block))
    return dataclasses.replace(part, blocks=blocks)


def _opened(block: Block) -> tuple[Block, ...]:
    """A fold as a heading and its list."""
    if block.kind != "fold":
        return (block,)
    return Block(kind="heading", text=block.text), Block(kind="list", lines=block.lines)


def _block(block: Block) -> dict[str, Any]:
    return {
        **dataclasses.asdict(block),
        "widths": column_widths(block.head, block.rows),
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
