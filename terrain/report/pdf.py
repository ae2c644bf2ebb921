"""The report set in type for paper: A4, tagged, fonts inside.

The data reach typst as input, never as source, so names keep their letters and do nothing else.
"""

from __future__ import annotations

import contextlib
import dataclasses
import json
import re
from datetime import datetime
from functools import cache
from importlib.resources import files
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np

from terrain.errors import TerrainError
from terrain.report.blocks import Block, Part
from terrain.report.diagram import diagram_notes, render_rows
from terrain.report.frame import fold
from terrain.report.keys import Sign, diagram_key, map_key
from terrain.report.mapping import PAPER, map_shapes, render_map
from terrain.report.page import Page, make_page
from terrain.report.parts import is_short
from terrain.report.safe import plain_line, shortened
from terrain.report.stills import lifted, still, still_map, still_row
from terrain.report.words import Words
from terrain.values.report import Facts, Report

_LONG_WORD = re.compile(r"[^\s<>]{45,}")
_LONGEST_ROW_M = 170_000.0
_ROW_PX = 860.0  # so that letters come out at six points, and two rows on one page
_SHORT_CELL = 24  # letters that stay on one line
_LINE_CHARS = 122  # of a table's letters on a line of the page
_GAP_CHARS = 3  # between two columns
_MOST_SECTIONS = 40
_MOST_EXITS = 16
_MANY_LINES = 150  # from which on letters are smaller
_WHOLE_LINES = 16  # of a part that is never cut by the page
_TAIL_LINES = (12, 45)  # what stays together at the end: no last page of three lines

_FONT_PACKAGES = ("fontpkg_noto_sans", "fontpkg_noto_sans_arabic")
# Fonts for Chinese, Japanese and Korean names come as an extra.
_FONT_EXTRAS = ("cvttf_NotoSansCJK_Regular",)


def render_pdf(
    report: Report, words: Words, voice: str = "rider", facts: Facts | None = None
) -> bytes:
    """The report as PDF/UA-1; the same report gives the same bytes.

    facts : the report as its JSON, if it is at hand
    Raises TerrainError if it cannot be set.
    """
    facts = facts or report.to_dict()
    page = make_page(facts, words, voice, most_sections=_MOST_SECTIONS)
    data = _data(report, facts, page, words)
    return typeset("report.typ", data, datetime.fromisoformat(facts["made_at"]))


def _data(report: Report, facts: dict[str, Any], page: Page, words: Words) -> dict[str, Any]:
    cut = list(page.cut)
    folded = fold(facts["route"]["length_m"], longest_m=_LONGEST_ROW_M, width=_ROW_PX)
    rows = render_rows(facts, cut, words, folded)
    pairs = list(zip(rows[::2], rows[1::2], strict=True))
    alt = words._("Diagram of the ride; the table of sections tells the same.")
    drawings = [drawing(still_row(names, strip), alt) for names, strip in pairs]
    around = report.surroundings
    shapes = map_shapes(report.match, around, cut, PAPER)
    drawn = render_map(report.match, around, cut, words, page.credit, PAPER, PAPER)
    drawings.append(drawing(still_map(shapes, drawn), words._("Map of the ride, north up.")))
    return {
        **_texts(page, facts, words),
        "n_rows": len(pairs),
        "key": _signs(diagram_key(facts, words)),
        "map_key": _signs(map_key(cut, set(around.rank.tolist()), words)),
        "drawings": drawings,
        "diagram_notes": plain(diagram_notes(facts, words)),
    }


def drawing(svg: bytes, alt: str) -> dict[str, Any]:
    """A still as the templates take it; `wide` is its width in its own units."""
    shapes, labels = lifted(svg)
    wide = float(shapes.split('viewBox="0 0 ', 1)[1].split(" ", 1)[0])
    return {"svg": shapes, "alt": alt, "labels": labels, "wide": wide}


def _texts(page: Page, facts: dict[str, Any], words: Words) -> dict[str, Any]:
    parts = [_part(_for_paper(part, facts, words)) for part in page.parts]
    many = sum(part["lines"] for part in parts) > _MANY_LINES
    told: dict[str, Any] = plain(
        {
            "lang": words.lang,
            "title": page.title,
            "about": page.about,
            "verdict": page.verdict,
            "lead": page.lead,
            "certainty": page.certainty,
            "setup": list(page.setup),
            "shares": [
                {**s.share, "kind": s.kind, "name": s.name, "text": s.text} for s in page.shares
            ],
            "know_title": page.know_title,
            "know": [dataclasses.asdict(item) for item in page.know],
            "unknown": list(page.unknown),
            "table": _table(page, words),
            "parts": parts,
            "n_tail": _tail(parts),
            "part_size": 7.4 if many else 8.3,
            "credit": page.credit,
            "credit_short": shortened(f"{page.title}. {page.credit}", 110),
            "footer": list(page.footer),
            "texts": {
                "ground": words._("Ground"),
                "setup": words._("Setup and bike"),
                "unknown": words._("What we do not know"),
                "along": words._("Along the ride"),
                "map": words._("Map"),
                "table": words._("Section by section"),
            },
        }
    )
    return told


def _for_paper(part: Part, facts: Facts, words: Words) -> Part:
    """The part with no more ways out than a page has room for: those that take longest."""
    if part.key != "exits" or len(part.blocks[0].lines) <= _MOST_EXITS:
        return part
    lines = part.blocks[0].lines
    ways = [way for way in facts["help"]["exits"] if not is_short(way)]

    def out_s(n: int) -> float:
        worst = ways[n]["worst"]
        return float("inf") if worst is None or ways[n]["unknown_m"] else float(worst["time_s"])

    chosen = sorted(sorted(range(len(ways)), key=lambda n: -out_s(n))[:_MOST_EXITS])
    rest = words.n_(
        "One more, shorter in time, stands in the HTML report.",
        "{n} more, shorter in time, stand in the HTML report.",
        len(lines) - len(chosen),
    )
    kept = Block(kind="list", lines=tuple(lines[n] for n in chosen))
    return dataclasses.replace(part, blocks=(kept, Block(kind="text", text=rest)))


def _part(part: Part) -> dict[str, Any]:
    blocks = [
        {**dataclasses.asdict(b), "widths": _widths(b.head, b.rows), "whole": len(b.rows) <= 10}
        for b in part.blocks
    ]
    lines = sum(map(_lines, blocks))
    return {"title": part.title, "blocks": blocks, "lines": lines, "whole": lines <= _WHOLE_LINES}


def _widths(head: tuple[str, ...], rows: tuple[tuple[str, ...], ...]) -> list[int]:
    """0 for a column as wide as its longest entry; else its share of the room.

    Letters go, a few at a time, to the column that makes the table shortest.
    """
    if not rows:
        return []
    count = np.array([[len(cell) for cell in row] for row in (head, *rows)])
    longest = count.max(axis=0)
    width = np.where(longest <= _SHORT_CELL, longest, _SHORT_CELL // 2)
    room = _LINE_CHARS - _GAP_CHARS * (len(head) - 1)
    while width.sum() < room and (width < longest).any():
        tall = np.maximum(count / width, 1.0)  # in lines, parts of one too, so that all helps
        highest, second = np.sort(tall, axis=1)[:, :-3:-1].T if len(head) > 1 else (tall[:, 0], 1)
        others = np.where(tall == highest[:, None], np.reshape(second, (-1, 1)), highest[:, None])
        wider = np.minimum(width + 6, longest)
        total = np.maximum(others, count / wider).sum(axis=0)
        best = int(np.argmin(np.where(wider > width, total, np.inf)))
        width[best] = wider[best]
    return [0 if w >= most else int(w) for w, most in zip(width, longest, strict=True)]


def _lines(block: dict[str, Any]) -> int:
    """About how many lines of the page a block takes."""
    if block["kind"] == "table":
        return 1 + len(block["rows"])
    per_line = 60 if len(block["lines"]) > 1 else _LINE_CHARS
    count = sum(1 + len(line) // per_line for line in block["lines"])
    if block["text"]:
        return 1 + len(block["text"]) // _LINE_CHARS
    return 1 + count // 2 if per_line == 60 else count


def _tail(parts: list[dict[str, Any]]) -> int:
    """How many parts at the end stay together with the lines that close the report."""
    lines = 0
    for n, part in enumerate(reversed(parts), start=1):
        lines += 2 + part["lines"]
        if lines > _TAIL_LINES[1]:
            return n - 1
        if lines >= _TAIL_LINES[0]:
            return n
    return len(parts)


def _signs(signs: list[Sign]) -> list[dict[str, str]]:
    return [{"svg": still(sign.drawn).decode(), "text": plain_line(sign.text)} for sign in signs]


def _table(page: Page, words: Words) -> dict[str, Any]:
    columns = [("span", words.far_unit), ("ground", words._("Ground, how likely"))]
    columns += [("road", words._("Road")), ("basis", words._("Rests on"))]
    if page.has_speed:
        columns.append(("time", words._("Time")))
    if page.has_height:
        columns.append(("climb", f"{words._('Climb')}, {words.height_unit}"))
    rows = [[getattr(row, name) for name, _ in columns] for row in page.table]
    right = [k for k, (name, _) in enumerate(columns) if name in ("span", "time", "climb")]
    head = [title for _, title in columns]
    widths = _widths(tuple(head), tuple(map(tuple, rows)))
    return {"head": head, "rows": rows, "right": right, "widths": widths}


def _breakable(word: re.Match[str]) -> str:
    return re.sub(r".{20}", "\\g<0>\u200b", word[0])


def plain(value: Any) -> Any:
    """Every text without marks that steer or control, long words breakable; a copy."""
    if isinstance(value, str):
        return _LONG_WORD.sub(_breakable, plain_line(value))
    if isinstance(value, dict):
        # Drawings are safe already, and their paths are no words.
        return {key: item if key == "svg" else plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    return value


def typeset(template: str, data: dict[str, Any], stamp: datetime) -> bytes:
    """A PDF from one of our templates and plain data, stamped with a time.

    Raises TerrainError if it cannot be set.
    """
    import typst

    folder = Path(str(files("terrain.report") / "templates"))
    inputs = {"data": json.dumps(data, ensure_ascii=False)}

    options: dict[str, Any] = {
        "root": folder,
        "font_paths": _fonts(),
        "format": "pdf",
        "sys_inputs": inputs,
        "timestamp": int(stamp.timestamp()),
    }
    with contextlib.suppress(typst.TypstError):
        return bytes(typst.compile(folder / template, pdf_standards=["ua-1"], **options))
    # A letter that no font here holds is an error under a standard; better a box than no paper.
    try:
        return bytes(typst.compile(folder / template, **options))
    except typst.TypstError as exc:
        raise TerrainError(f"the PDF cannot be set ({exc})", "", "Write html instead.") from exc


@cache
def _fonts() -> Any:
    """The fonts that came as packages, found once: looking for them takes as long as a page."""
    import typst

    folders = []
    for package in (*_FONT_PACKAGES, *_FONT_EXTRAS):
        spec = find_spec(package)
        if spec is not None and spec.submodule_search_locations:
            folders.append(str(spec.submodule_search_locations[0]))
    return typst.Fonts(include_system_fonts=False, font_paths=folders)
