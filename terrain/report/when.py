"""When to go on a terminal: eighty columns, readable without colour."""

from __future__ import annotations

import textwrap

from terrain.report.terminal import Style
from terrain.text.figures import MONTHS
from terrain.text.plain import plain_line
from terrain.text.translator import Translator
from terrain.values.when import When, WhenCell

_BLOCKS = " ▁▂▃▄▅▆▇█"
_CELL = 4


def render_when(when: When, says: Translator, style: Style) -> str:
    """The answer, its reasons, and the table, without a final line break.

    A cell holds two columns of ink, as high as the share of the riding that is hot and that is
    hotter; brackets stand round the best, and a d after those in the dark.
    """
    lines = [style.faint(_title(when, says, style.width)), ""]
    if when.forbids:
        told = f"{says.translate(when.forbids)} {says._('No month changes that.')}"
        lines += [style.bold(line) for line in _wrap(told, style.width)]
    strong = style.faint if when.forbids else style.bold
    lines += [strong(line) for line in _wrap(says.translate(when.headline), style.width)]
    lines += _wrap(" ".join(says.translate_all(when.lead)), style.width)
    lines += ["", *_table(when, says, style), ""]
    lines += _wrap(_key(when, says), style.width)
    lines += _wrap(" ".join(says.translate_all(when.notes)), style.width)
    return "\n".join(line.rstrip() for line in lines).replace("\u00a0", " ").replace("\u202f", " ")


def _title(when: When, says: Translator, width: int) -> str:
    days = says.n_("{n} day", "{n} days", when.n_days)
    saddle = says._("{time} in the saddle", time=says.duration(when.riding_s))
    tail = f"  {says.distance(when.length_m)}, {saddle}, {days}, {plain_line(when.region)[:24]}"
    name = plain_line(when.route)
    most = max(width - len(tail), 8)
    return (name if len(name) <= most else name[: most - 1] + "…") + tail


def _wrap(text: str, width: int) -> list[str]:
    held = plain_line(text).replace("\u00a0", "\ue000").replace("\u202f", "\ue001")
    lines = textwrap.wrap(held, width, break_on_hyphens=False)
    return [line.replace("\ue000", " ").replace("\ue001", " ") for line in lines]


def _grounds(when: When, says: Translator) -> list[list[str]]:
    """Columns of what falls, shuts, softens and is not known, each with its head."""
    rain = ["?" if m.rain_mm is None else says.length_mm(m.rain_mm) for m in when.months]
    columns = [[says._("Rain"), *rain]]
    known: list[tuple[str, list[float]]] = [
        (says._("shut"), [m.shut_m for m in when.months]),
        (says._("softened"), [m.soft_m for m in when.months]),
        ("?", [m.season_unknown_m for m in when.months]),
    ]
    for head, lengths in known:
        if head != "?" or any(lengths):
            columns.append([head, *(says.distance(m) if m >= 1 else "0" for m in lengths)])
    return columns


def _table(when: When, says: Translator, style: Style) -> list[str]:
    columns = _grounds(when, says)
    wide = [max(map(len, column)) for column in columns]
    rows = [
        " ".join(f"{cell:>{n}}" for cell, n in zip(row, wide, strict=True))
        for row in zip(*columns, strict=True)
    ]
    names = [says._(name) for name in MONTHS]
    left = min(max(map(len, names)), style.width - 1 - _CELL * len(when.hours) - len(rows[0]))
    hours = "".join(f" {hour:02d} " for hour in when.hours)
    lines = [style.faint(f"{'':{left}}{hours} {rows[0]}")]
    for name, month, row in zip(names, when.months, rows[1:], strict=True):
        cells = "".join(_cell(cell) for cell in month.cells)
        line = f"{name[:left]:{left}}{cells} {row}"
        lines.append(style.bold(line) if any(c.is_best for c in month.cells) else line)
    return lines


def _cell(cell: WhenCell) -> str:
    ink = _ink(cell.rest_share) + _ink(cell.hard_share)
    if cell.rest_share <= 0 and cell.cold_share > 0:
        ink = _cold(cell.cold_share, "·") if cell.ice_share <= 0 else _cold(cell.ice_share, "*")
    before, after = ("[", "]") if cell.is_best else (" ", "d" if cell.is_dark else " ")
    return f"{before}{ink}{after}"


def _cold(share: float, sign: str) -> str:
    return 2 * sign if share >= 0.5 else f" {sign}"


def _ink(share: float) -> str:
    """A column of ink; anything above nothing shows."""
    if share <= 0:
        return _BLOCKS[0]
    return _BLOCKS[max(1, min(8, round(8 * share)))]


def _key(when: When, says: Translator) -> str:
    cells = [cell for month in when.months for cell in month.cells]
    keys = [says._("{sign} share of the riding that is hot: rest often", sign="▄")]
    if any(c.hard_share > 0 for c in cells):
        keys.append(says._("the second column: hotter, no hard exercise"))
    if any(c.cold_share > 0 for c in cells):
        keys.append(says._("{sign} hands grow cold", sign="·"))
    if any(c.ice_share > 0 for c in cells):
        keys.append(says._("{sign} ice may lie", sign="*"))
    if any(c.is_dark for c in cells):
        keys.append(says._("{sign} in the dark, or less than an hour of light left", sign="d"))
    if any(m.season_unknown_m >= 1 or m.rain_mm is None for m in when.months):
        keys.append(says._("{sign} not known", sign="?"))
    return says.in_a_row([*keys, says._("{sign} best", sign="[ ]")]) + "."
