"""One table over many reports: a row a route, a failed one with its error."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from terrain.report.findings import verdict
from terrain.report.sections import LAND
from terrain.text.figures import whole_percents
from terrain.text.plain import csv_cell, plain_line
from terrain.text.translator import Translator

Facts = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What one table keeps of a report, so that many need not be held at once.

    file : as shown; error : why there is no report, else ""
    cells : by column, for the spreadsheet; length, shares, answer : as told in a terminal
    """

    file: str
    error: str
    cells: Mapping[str, Any]
    length: str = ""
    shares: tuple[str, ...] = ()
    answer: str = ""


def summary_row(file: str, facts: Facts | None, error: str, translator: Translator) -> Row:
    """The row of a report, or of a file that gave none."""
    if facts is None:
        return Row(file=file, error=error, cells={})
    return Row(
        file=file,
        error=error,
        cells=_cells(facts, translator),
        length=translator.distance_number(facts["route"]["length_m"]),
        shares=tuple(_shares(facts["ground"]["shares"], translator)),
        answer=plain_line(verdict(facts, translator).headline()),
    )


_COLUMNS = (
    "file", "error", "route", "length_km", "paved", "paved_low", "paved_high", "gravel", "track",
    "track_low", "track_high", "known_share", "unmapped_km", "riding_h", "setup", "p_off_road",
    "bike", "verdict",
)  # fmt: skip


def summary_csv(rows: Sequence[Row]) -> bytes:
    """The table for a spreadsheet; empty cells are not known."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(_COLUMNS)
    for row in rows:
        cells = {"file": row.file, "error": row.error, **row.cells}
        writer.writerow([csv_cell(_blank(cells.get(key))) for key in _COLUMNS])
    return out.getvalue().encode("utf-8-sig")


def _blank(value: object) -> object:
    return "" if value is None else value


def _cells(facts: Facts, translator: Translator) -> dict[str, Any]:
    shares, basis = facts["ground"]["shares"], facts["ground"]["basis"]
    cells: dict[str, Any] = {
        "route": facts["route"]["name"],
        "length_km": round(facts["route"]["length_m"] / 1000, 1),
        "known_share": round(basis["tagged"] + basis["graded"] + basis["noted"], 3),
        "unmapped_km": round(facts["match"]["unmapped_m"] / 1000, 1),
        "riding_h": round(facts["speed"]["riding_s"] / 3600, 2) if facts.get("speed") else None,
        "verdict": verdict(facts, translator).sentence(translator),
    }
    for kind in LAND:
        if shares[kind] is not None:
            cells |= {kind: shares[kind]["best"], f"{kind}_low": shares[kind]["low"]}
            cells[f"{kind}_high"] = shares[kind]["high"]
    advice = facts["advice"]
    if advice is not None:
        cells |= {"setup": advice["setup"]["choice"], "p_off_road": advice["setup"]["p_off_road"]}
        cells["bike"] = advice["bikes"][0]["class"] if advice["bikes"] else None
    return cells


def summary_lines(rows: Sequence[Row], translator: Translator, width: int) -> list[str]:
    """The table for a terminal: file, length, shares, setup or error."""
    name_width = max([12, *(len(plain_line(row.file)) for row in rows)])
    name_width = min(name_width, max(12, width - 48))
    head = (
        f"{translator._('route'):<{name_width}} {translator.distance_unit:>6} "
        f"{translator._('paved'):>7} "
        f"{translator._('gravel'):>7} {translator._('track'):>7}  {translator._('answer')}"
    )
    lines = [head]
    for row in rows:
        name = plain_line(row.file)
        name = name if len(name) <= name_width else "…" + name[-(name_width - 1) :]
        if row.error:
            lines.append(f"{name:<{name_width}} {plain_line(row.error)}")
            continue
        figures = " ".join(f"{text:>7}" for text in row.shares)
        lines.append(f"{name:<{name_width}} {row.length:>6} {figures}  {row.answer}")
    return lines


def _shares(shares: dict[str, dict[str, float] | None], translator: Translator) -> list[str]:
    known = [share["best"] for kind in LAND if (share := shares[kind]) is not None]
    if len(known) < len(LAND):
        return ["?"] * len(LAND)
    return [f"{translator.number(whole)} %" for whole in whole_percents(known)]
