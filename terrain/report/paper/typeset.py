"""The report set in type for paper: A4, tagged, fonts inside.

The data reach typst as input, never as source, so names keep their letters and do nothing else.
"""

from __future__ import annotations

import dataclasses
import json
import logging
import re
from collections.abc import Callable
from datetime import datetime
from functools import cache, partial
from importlib.resources import files
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from terrain.errors import TerrainError
from terrain.report.diagram.diagram import diagram_note, render_days
from terrain.report.diagram.legend import Sign, ground_key, map_key, swatch
from terrain.report.diagram.when import PAPER as WHEN_PAPER
from terrain.report.diagram.when import draw_when
from terrain.report.drawing.map import map_edges, map_shapes, map_ways_round, render_map
from terrain.report.drawing.stills import lifted, still, still_map
from terrain.report.drawing.svg import tag
from terrain.report.drawing.view import PAPER
from terrain.report.page.first import FirstScreen, Mark
from terrain.report.page.page import Page, make_page
from terrain.report.page.spots import map_spots
from terrain.report.paper.layout import column_widths, lay_parts, page_budget
from terrain.report.paper.reckon import first_pt, pages_of, pieces_of
from terrain.report.said import more_unsaid
from terrain.text.message import message
from terrain.text.plain import plain_line, shortened
from terrain.text.translator import Translator
from terrain.values.report import Report
from terrain.values.verdict import Audience

_log = logging.getLogger(__name__)
_NOT_UA = (
    "The PDF is tagged but not marked as PDF/UA: %s. Letters that no font here holds stand as "
    "boxes; for Chinese, Japanese and Korean names: pip install 'terrain[cjk]'."
)
_LONG_WORD = re.compile(r"[^\s<>]{45,}")

_FONT_PACKAGES = ("fontpkg_noto_sans", "fontpkg_noto_sans_arabic")
# Fonts for Chinese, Japanese and Korean names come as an extra.
_FONT_EXTRAS = ("cvttf_NotoSansCJK_Regular",)


def render_pdf(
    report: Report, translator: Translator, audience: Audience = Audience.RIDER
) -> bytes:
    """The report as PDF/UA-1; the same report gives the same bytes.

    Raises TerrainError if it cannot be set.
    """
    page = make_page(report, translator, audience)
    drawn = _drawn(report, page, translator)
    budget = page_budget(len(report.assessed.plan.days))
    texts, made = _texts(page, translator), b""
    before: dict[str, Any] = {}
    for spare_pt, short in _TRIES:
        if short > 1 and drawn["when"] is not None:
            drawn["when"] = {**drawn["when"], "drawing": None}
        fits = partial(_fits, budget=budget, spare_pt=spare_pt)
        data = _filled(texts | drawn, page, report, translator, fits)
        if short:
            data |= _shortened(data, translator)
        is_last = (spare_pt, short) == _TRIES[-1]
        if data == before or not (is_last or _fits(data, budget, -_UNSURE_PT)):
            continue
        before, made = data, typeset("report.typ", data, report.made_at)
        if n_pages(made) <= budget:
            break
    return made


# Height held back [pt]; 1 to leave out what is good to know too, 2 the table of months as well.
_TRIES = ((20.0, 0), (80.0, 0), (200.0, 0), (400.0, 0), (5_000.0, 0), (5_000.0, 1), (5_000.0, 2))
_UNSURE_PT = 40.0  # what is reckoned taller than its pages by more is not set: it would not fit
_MOST_CAUTIONS = 4
_DIAGRAM_PX = 526.0  # with lane names and the scale's end as wide as the page, 680 px of 0.75 pt


def _shortened(texts: dict[str, Any], translator: Translator) -> dict[str, Any]:
    """Without what is good to know beyond the first screen, and the gravest cautions alone.

    How many are left out is said.
    """
    lines = [x["lines"] for part in texts["parts"] for x in part["blocks"]]
    n = sum(max(0, len(some) - _MOST_CAUTIONS) for some in lines)
    n += len(texts["more_findings"]) + len(texts["more_unknown"])
    more = more_unsaid(n, translator)
    parts = [
        {**part, "blocks": [{**x, "lines": x["lines"][:_MOST_CAUTIONS]} for x in part["blocks"]]}
        for part in texts["parts"]
    ]
    left = " ".join(filter(None, (texts["left"], more)))
    return {"more_findings": [], "more_unknown": [], "parts": parts, "left": left}


def n_pages(pdf: bytes) -> int:
    """By the page tree's own count."""
    return max(map(int, re.findall(rb"/Count (\d+)", pdf)), default=0)


def _drawn(report: Report, page: Page, translator: Translator) -> dict[str, Any]:
    """The first screen and all drawings, as the template takes them."""
    days = render_days(report, translator, width=_DIAGRAM_PX)
    alt = translator._("Diagram of the ride; the table of sections tells the same.")
    drawings = [drawing(still(day.svg), alt) for day in days]
    shapes, spots = map_shapes(report, PAPER), map_spots(report, translator)
    drawn = render_map(report, translator, page.credit, spots, PAPER, PAPER)
    when = report.assessed.when
    return {
        "first": _first(page.first, translator),
        "days": [plain({"title": day.title, "span": day.span, "about": day.about}) for day in days],
        "key": [
            {"svg": still(swatch(f"g-{kind}")).decode(), "text": plain_line(name)}
            for kind, name in ground_key(report.assessed.ground.stretches, translator)
        ],
        "map_key": _signs(
            map_key(
                report.verdict.sections, map_edges(report), translator,
                detours=bool(map_ways_round(report)),
            )
        ),
        "drawings": drawings,
        "map": drawing(still_map(shapes, drawn), translator._("Map of the ride, north up.")),
        "diagram_note": plain(diagram_note(report, translator)),
        "when": None if when is None else {
            "headline": plain_line(translator.translate(when.headline)),
            "drawing": drawing(
                str(draw_when(when, translator, WHEN_PAPER)).encode(),
                plain_line(translator.translate(when.headline)),
            ),
        },
    }  # fmt: skip


def _fits(data: dict[str, Any], budget: int, spare_pt: float) -> bool:
    """Whether a paper is reckoned to keep to so many pages with some height to spare [pt]."""
    return pages_of(pieces_of(data, spare_pt)) <= budget


def _first(first: FirstScreen, translator: Translator) -> dict[str, Any]:
    """The first screen as the template takes it."""
    strip = tag("svg", first.ground, viewBox="0 0 600 40", width="600", height="40")
    alt = translator._("The ground along the ride; the table below tells the same.")
    return {
        **plain(
            {
                "title": first.title, "about": "   ".join(first.about),
                "headline": first.headline, "lead": first.lead, "rests": first.rests,
                "ends": [shortened(end, 16) for end in first.ends], "more": first.more,
                "cells": [dataclasses.asdict(cell) for cell in first.cells],
                "answers": [dataclasses.asdict(answer) for answer in first.answers],
                "marks": [{"share": m.share, "text": m.text} for m in _few(first.marks)],
                "rows": [
                    {"rank": row.rank if row.first else "", "kind": row.kind, "what": row.what,
                     "do": row.do, "whole": row.whole, "spans": [list(span) for span in row.spans]}
                    for row in first.rows
                ],
            }
        ),
        "shares": [
            {"name": s.name, "text": s.text, "svg": still(swatch(f"g-{s.kind}")).decode()}
            for s in first.shares
        ],
        "ground": drawing(still(strip), alt),
        "tall": first_pt(first),
    }  # fmt: skip


def _few(marks: tuple[Mark, ...]) -> list[Mark]:
    """Both ends and the middle: the axis is short on paper."""
    return [marks[k] for k in sorted({0, len(marks) // 2, len(marks) - 1}) if 0 <= k < len(marks)]


def drawing(svg: bytes, alt: str) -> dict[str, Any]:
    """A still as the templates take it; `wide` is its width in its own units."""
    shapes, labels = lifted(svg)
    wide, tall = map(float, shapes.split('viewBox="0 0 ', 1)[1].split('"', 1)[0].split())
    return {"svg": shapes, "alt": alt, "labels": labels, "wide": wide, "tall": tall}


def _texts(page: Page, translator: Translator) -> dict[str, Any]:
    """What is set in words beside the first screen, all sections among it and no parts."""
    told: dict[str, Any] = plain(
        {
            "lang": translator.lang,
            "title": page.first.title,
            "headline": page.first.headline,
            "more_findings": list(page.more_findings),
            "more_unknown": list(page.more_unknown),
            "table": _table(page, translator),
            "credit": page.credit,
            "credit_short": shortened(f"{page.first.title}. {page.credit}", 110),
            # Whom to thank for the map stands below it.
            "footer": [line for line in page.footer if line.rstrip(". ") not in page.credit],
            "texts": {
                "ground": translator._("Ground"),
                "answers": translator._("What hangs on the answer"),
                "along": translator._("Along the ride"),
                "map": translator._("Map"),
                "table": translator._("Section by section"),
                "more": translator._("Also good to know"),
                "unknown": translator._("Also not known"),
            },
        }
    )
    return told


def _filled(
    data: dict[str, Any], page: Page, report: Report, translator: Translator,
    fits: Callable[[dict[str, Any]], bool],
) -> dict[str, Any]:  # fmt: skip
    """The paper with the parts that there is room for, then the sections, all or none of them."""
    table = data["table"]
    data |= {"table": {**table, "rows": []}}
    parts, left = lay_parts(
        page.parts, report, translator, lambda parts: fits({**data, "parts": parts})
    )
    data |= {"parts": plain(parts)}
    if fits({**data, "table": table}):
        data |= {"table": table}
    elif table["rows"]:
        left.insert(0, translator._("Section by section"))
    said = translator._("In the report on screen: {parts}.", parts=translator.listing(left))
    return {**data, "left": plain(said) if left else ""}


def _signs(signs: list[Sign]) -> list[dict[str, str]]:
    return [{"svg": still(sign.drawn).decode(), "text": plain_line(sign.text)} for sign in signs]


def _table(page: Page, translator: Translator) -> dict[str, Any]:
    """The sections as a table."""
    columns = [
        ("span", translator.distance_unit), ("ground", translator._("Ground, how likely")),
        ("road", translator._("Road")), ("basis", translator._("Rests on")),
        ("time", translator._("Time")),
    ]  # fmt: skip
    if page.has_height:
        columns.append(("climb", f"{translator._('Climb')}, {translator.height_unit}"))
    rows = [[getattr(row, name) for name, _ in columns] for row in page.table]
    right = [k for k, (name, _) in enumerate(columns) if name in ("span", "time", "climb")]
    head = [title for _, title in columns]
    widths = column_widths(tuple(head), tuple(map(tuple, rows)))
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
    try:
        return bytes(typst.compile(folder / template, pdf_standards=["ua-1"], **options))
    except typst.TypstError as exc:
        why = str(exc)
    # A letter that no font here holds is an error under a standard; better a box than no paper.
    try:
        made = bytes(typst.compile(folder / template, **options))
    except typst.TypstError as exc:
        raise TerrainError(
            message("the PDF cannot be set ({reason})", reason=str(exc)),
            "",
            message("Write html instead."),
        ) from exc
    _log.warning(_NOT_UA, " ".join(why.split())[:160])
    return made


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
