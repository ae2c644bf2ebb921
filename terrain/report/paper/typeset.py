"""The report set in type for paper: A4, tagged, fonts inside.

The data reach typst as input, never as source, so names keep their letters and do nothing else.
"""

from __future__ import annotations

import dataclasses
import json
import logging
import re
from datetime import datetime
from functools import cache
from importlib.resources import files
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from terrain.errors import TerrainError
from terrain.report.diagram.diagram import diagram_notes, render_rows
from terrain.report.diagram.legend import Sign, diagram_key, map_key
from terrain.report.drawing.map import PAPER, map_shapes, render_map
from terrain.report.drawing.scale import fold
from terrain.report.drawing.stills import lifted, still, still_map, still_row
from terrain.report.page.page import Page, make_page
from terrain.report.paper.layout import column_widths, lay_parts
from terrain.text.plain import plain_line, shortened
from terrain.text.translator import Translator
from terrain.values.report import Facts, Report

_log = logging.getLogger(__name__)
_NOT_UA = (
    "The PDF is tagged but not marked as PDF/UA: %s. Letters that no font here holds stand as "
    "boxes; for Chinese, Japanese and Korean names: pip install 'terrain[cjk]'."
)
_LONG_WORD = re.compile(r"[^\s<>]{45,}")
_LONGEST_ROW_M = 170_000.0
_ROW_PX = 860.0  # so that letters come out at six points, and two rows on one page
_MOST_SECTIONS = 40

_FONT_PACKAGES = ("fontpkg_noto_sans", "fontpkg_noto_sans_arabic")
# Fonts for Chinese, Japanese and Korean names come as an extra.
_FONT_EXTRAS = ("cvttf_NotoSansCJK_Regular",)


def render_pdf(
    report: Report, translator: Translator, audience: str = "rider", facts: Facts | None = None
) -> bytes:
    """The report as PDF/UA-1; the same report gives the same bytes.

    facts : the report as its JSON, if it is at hand
    Raises TerrainError if it cannot be set.
    """
    facts = facts or report.to_dict()
    page = make_page(facts, translator, audience, most_sections=_MOST_SECTIONS)
    data = _data(report, facts, page, translator)
    return typeset("report.typ", data, datetime.fromisoformat(facts["made_at"]))


def _data(
    report: Report, facts: dict[str, Any], page: Page, translator: Translator
) -> dict[str, Any]:
    cut = list(page.cut)
    folded = fold(facts["route"]["length_m"], longest_m=_LONGEST_ROW_M, width=_ROW_PX)
    rows = render_rows(facts, cut, translator, folded)
    pairs = list(zip(rows[::2], rows[1::2], strict=True))
    alt = translator._("Diagram of the ride; the table of sections tells the same.")
    drawings = [drawing(still_row(names, strip), alt) for names, strip in pairs]
    around = report.assessed.places.surroundings
    shapes = map_shapes(report.assessed.match, around, cut, PAPER)
    drawn = render_map(report.assessed.match, around, cut, translator, page.credit, PAPER, PAPER)
    drawings.append(drawing(still_map(shapes, drawn), translator._("Map of the ride, north up.")))
    return {
        **_texts(page, facts, translator),
        "n_rows": len(pairs),
        "key": _signs(diagram_key(facts, translator)),
        "map_key": _signs(map_key(cut, set(around.rank.tolist()), translator)),
        "drawings": drawings,
        "diagram_notes": plain(diagram_notes(facts, translator)),
    }


def drawing(svg: bytes, alt: str) -> dict[str, Any]:
    """A still as the templates take it; `wide` is its width in its own units."""
    shapes, labels = lifted(svg)
    wide = float(shapes.split('viewBox="0 0 ', 1)[1].split(" ", 1)[0])
    return {"svg": shapes, "alt": alt, "labels": labels, "wide": wide}


def _texts(page: Page, facts: dict[str, Any], translator: Translator) -> dict[str, Any]:
    told: dict[str, Any] = plain(
        {
            "lang": translator.lang,
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
            "table": _table(page, translator),
            **lay_parts(page.parts, facts, translator),
            "credit": page.credit,
            "credit_short": shortened(f"{page.title}. {page.credit}", 110),
            "footer": list(page.footer),
            "texts": {
                "ground": translator._("Ground"),
                "setup": translator._("Setup and bike"),
                "unknown": translator._("What we do not know"),
                "along": translator._("Along the ride"),
                "map": translator._("Map"),
                "table": translator._("Section by section"),
            },
        }
    )
    return told


def _signs(signs: list[Sign]) -> list[dict[str, str]]:
    return [{"svg": still(sign.drawn).decode(), "text": plain_line(sign.text)} for sign in signs]


def _table(page: Page, translator: Translator) -> dict[str, Any]:
    columns = [("span", translator.distance_unit), ("ground", translator._("Ground, how likely"))]
    columns += [("road", translator._("Road")), ("basis", translator._("Rests on"))]
    if page.has_speed:
        columns.append(("time", translator._("Time")))
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
        raise TerrainError(f"the PDF cannot be set ({exc})", "", "Write html instead.") from exc
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
