"""How tall the pieces of a paper stand and how many pages they take, reckoned before it is set."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple

from terrain.report.page.blocks import Block
from terrain.report.page.first import FirstScreen

PAGE_PT = 762.0  # of A4 between its margins, less what is left where no line fits any more
SHORT = 2  # rows of a diagram that words may flow around
# Heights [pt] and letters to a line, fitted to the papers of the sample rides in four languages.
_LINE_PT, _ROW_PT, _HEAD_PT, _PART_PT, _TABLE_PT = 12.5, 10.7, 16.0, 25.0, 44.0
_DAYS_PT, _DAY_PT, _MAP_PT, _WHEN_PT, _FOOT_PT = 34.0, 36.0, 64.0, 20.0, 80.0
_FIRST_PT, _TITLE_PT, _LEAD_PT, _CELL_PT, _ANSWERS_PT = 73.0, 26.0, 14.0, 11.0, 22.0
_WIDE, _ROW, _TITLE, _LEAD, _FINDING, _CELL = 120, 90, 56, 90, 60, 26


class Piece(NamedTuple):
    """Height [pt]; what is whole is not cut by the page, and what floats besides goes to the head
    of a later page where it does not fit, what follows before it."""

    tall: float
    whole: bool = False
    floats: bool = False


def pages_of(pieces: Iterable[Piece]) -> int:
    """How many pages the pieces take, one below the other."""
    room = [PAGE_PT]
    at = floated = 0
    for tall, whole, floats in pieces:
        to = max(at, floated) if floats else at
        while tall > room[to]:
            if not whole or room[to] == PAGE_PT:
                tall, room[to] = tall - room[to], 0.0
            to += 1
            if to == len(room):
                room.append(PAGE_PT)
        room[to] -= tall
        at, floated = (at, to) if floats else (to, floated)
    return len(room)


def pieces_of(data: dict[str, Any], spare_pt: float) -> Iterator[Piece]:
    """The pieces of a paper in their order, by what its template takes.

    spare_pt : height to be left free below the last
    """
    days = [_DAY_PT + 0.75 * day["tall"] for day in data["drawings"]]
    more = [_more_pt(lines) for lines in (data["more_findings"], data["more_unknown"]) if lines]
    parts = [(Piece(part["tall"], part["whole"]), part["warns"]) for part in data["parts"]]
    is_short = len(days) <= SHORT
    yield Piece(data["first"]["tall"])
    if is_short:
        yield Piece(_DAYS_PT + sum(days), whole=True, floats=True)
    yield from map(Piece, more)
    if not is_short:
        yield from (piece for piece, warns in parts if warns)
        yield Piece(_DAYS_PT)
        yield from (Piece(tall, whole=True) for tall in days)
    if data["when"] is not None:
        drawn = data["when"]["drawing"]
        yield Piece(_WHEN_PT + (0.75 * drawn["tall"] if drawn else 0.0), whole=True)
    yield Piece(_MAP_PT + 0.75 * data["map"]["tall"], whole=True, floats=True)
    if data["table"]["rows"]:
        rows, widths = data["table"]["rows"], data["table"]["widths"]
        yield Piece(_TABLE_PT + _LINE_PT * sum(
            max(_lines(cell, wide) if wide else 1 for cell, wide in zip(row, widths, strict=True))
            for row in rows))  # fmt: skip
    yield from (piece for piece, warns in parts if is_short or not warns)
    yield Piece(_FOOT_PT + spare_pt)


def part_pt(blocks: Iterable[Block]) -> float:
    """About how tall a part with these blocks stands [pt]."""
    return _PART_PT + sum(map(_block_pt, blocks))


def _block_pt(block: Block) -> float:
    if block.kind == "table":
        return _HEAD_PT + _ROW_PT * sum(1 + sum(map(len, row)) // _ROW for row in block.rows)
    if block.kind == "heading":
        return _HEAD_PT
    columns = 2 if len(block.lines) > 5 else 1  # long lists stand in two columns
    lines = block.lines or (block.text,)
    return _LINE_PT * sum(_lines(line, _WIDE // columns) for line in lines) / columns


def _more_pt(lines: Iterable[str]) -> float:
    return _HEAD_PT + _LINE_PT * sum(_lines(line, _WIDE) for line in lines)


def first_pt(first: FirstScreen) -> float:
    """About how tall the first screen stands [pt]."""
    rows = sum(_lines(f"{row.what} {row.do}", _FINDING) for row in first.rows)
    asked: list[str] = []  # each question with its replies
    for answer in first.answers:
        if answer.part or not asked:
            asked.append(answer.part)
        asked[-1] += f" {answer.given}: {answer.then}"
    cells = (
        sum(_lines(text, _CELL) for text in (cell.label, cell.value, cell.note))
        for cell in first.cells
    )
    return (
        _FIRST_PT + _CELL_PT * max(cells) + _TITLE_PT * _lines(first.headline, _TITLE)
        + (_LEAD_PT * _lines(first.lead, _LEAD) if first.lead else 0.0)
        + _LINE_PT * (rows + sum(_lines(text, _WIDE) for text in asked))
        + (_ANSWERS_PT if asked else 0.0)
    )  # fmt: skip


def _lines(text: str, letters: int) -> int:
    return max(-(-len(text) // letters), 1)
