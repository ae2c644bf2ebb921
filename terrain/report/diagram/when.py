"""When to go, drawn: months down, hours of setting off across; prints in grey.

The height of ink in a cell is the share of the riding that is hot; its darker part is hotter. Every
colour is an attribute, which a page's classes override; the picture stands alone as well.
"""

from __future__ import annotations

from collections.abc import Iterator

from markupsafe import Markup

from terrain.report.drawing.svg import join, tag, text, text_width
from terrain.text.figures import MONTHS
from terrain.text.translator import Translator
from terrain.values.when import When, WhenCell, WhenMonth

_WIDTH = 1216.0
_CELL_W, _CELL_H, _PITCH_X, _PITCH_Y = 48.0, 28.0, 56.0, 36.0
_LEFT, _TOP = 96.0, 56.0
_DARK_H = 8.0  # height of the edge that says dark
_RAIN_W, _GROUND_W, _BAR_H = 84.0, 144.0, 18.0
_INK, _SOFT_INK, _EDGE, _GREY = "#1a1a1a", "#595959", "#8a8a8a", "#8a8a8a"
_WARM, _HOT = "#dba6c4", "#6d2450"
_LEAST_M = 500.0  # half of the km that is told


def draw_when(when: When, says: Translator) -> Markup:
    """The table as one SVG element, 1216 wide, drawn from typed values alone."""
    rain_x = _LEFT + _PITCH_X * len(when.hours) + 40.0
    height = _TOP + _PITCH_Y * 12 + 44.0
    label = says._("When to go: {headline}", headline=says.translate(when.headline))
    parts: list[Markup] = [_patterns(), *_heads(when, says, rain_x)]
    for row, month in enumerate(when.months):
        y = _TOP + _PITCH_Y * row
        parts += _month(when, month, y, says, rain_x)
    parts += _legend(when, says, height - 24.0)
    return tag(
        "svg", join(parts), xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {_WIDTH:g} {height:g}", width=_WIDTH, height=height, role="img",
        aria_label=label, class_="when",
        font_family="sans-serif",
    )  # fmt: skip


def _patterns() -> Markup:
    line = tag("rect", width=1.2, height=6, fill=_INK)
    soft = tag("pattern", join([tag("rect", width=6, height=6, fill="#ffffff"), line]),
               id="when-soft", width=6, height=6, patternUnits="userSpaceOnUse",
               patternTransform="rotate(45)")  # fmt: skip
    dot = tag("circle", cx=2, cy=2, r=1, fill=_SOFT_INK)
    ice = tag("pattern", join([tag("rect", width=5, height=5, fill="#ffffff"), dot]),
              id="when-ice", width=5, height=5, patternUnits="userSpaceOnUse")  # fmt: skip
    speck = tag("circle", cx=3, cy=3, r=0.8, fill=_EDGE)
    cold = tag("pattern", join([tag("rect", width=8, height=8, fill="#ffffff"), speck]),
               id="when-cold", width=8, height=8, patternUnits="userSpaceOnUse")  # fmt: skip
    return tag("defs", join([soft, ice, cold]))


def _heads(when: When, says: Translator, rain_x: float) -> Iterator[Markup]:
    bold = {"font_size": "14", "font_weight": "700", "fill": _INK}
    faint = {"font_size": "12", "fill": _SOFT_INK}
    yield text(_LEFT, 16, says._("Heat and cold, by the hour you set off"), **bold)
    yield text(rain_x, 16, says._("Rain"), **bold)
    yield text(rain_x, 40, says._("in the month"), **faint)
    yield text(rain_x + 150, 16, says._("Ground"), **bold)
    of = says.distance(when.length_m)
    yield text(rain_x + 150, 40, says._("of {length}: may be shut, or soft", length=of), **faint)
    for column, hour in enumerate(when.hours):
        yield text(_x(column) + _CELL_W / 2, 40, f"{hour:02d}", font_size="14", fill=_SOFT_INK,
                   text_anchor="middle")  # fmt: skip


def _x(column: int) -> float:
    return _LEFT + _PITCH_X * column


def _month(
    when: When, month: WhenMonth, y: float, says: Translator, rain_x: float
) -> Iterator[Markup]:
    best = any(cell.is_best for cell in month.cells)
    yield text(0, y + 19, says._(MONTHS[month.month - 1]), font_size="14", fill=_INK,
               font_weight="700" if best else None)  # fmt: skip
    for column, cell in enumerate(month.cells):
        yield from _cell(cell, _x(column), y, says)
    yield from _rain(when, month, rain_x, y + 5.0, says)
    yield from _ground(when, month, rain_x + 150, y + 5.0, says)


def _cell(cell: WhenCell, x: float, y: float, says: Translator) -> Iterator[Markup]:
    yield _box(x, y, _CELL_W, _CELL_H, "#ffffff", stroke=_EDGE)
    if cell.cold_share > 0:
        yield _from_base(x, y, cell.cold_share, "url(#when-cold)")
    if cell.ice_share > 0:
        yield _from_base(x, y, cell.ice_share, "url(#when-ice)")
    if cell.rest_share > 0:
        yield _from_base(x, y, cell.rest_share, _WARM, class_="t-2")
    if cell.hard_share > 0:
        yield _from_base(x, y, cell.hard_share, _HOT, class_="t-3")
    if cell.is_dark:
        yield _box(x, y, _CELL_W, _DARK_H, _INK)
        yield _box(x, y + _DARK_H, _CELL_W, 2.0, "#ffffff")
    if cell.is_best:
        yield tag("rect", x=x - 2, y=y - 2, width=_CELL_W + 4, height=_CELL_H + 4, fill="none",
                  stroke=_INK, stroke_width=3, class_="best")  # fmt: skip


def _from_base(x: float, y: float, share: float, fill: str, class_: str | None = None) -> Markup:
    height = max(_CELL_H * min(share, 1.0), 1.0)
    return _box(x, y + _CELL_H - height, _CELL_W, height, fill, class_=class_)


def _box(
    x: float, y: float, width: float, height: float, fill: str,
    stroke: str | None = None, class_: str | None = None,
) -> Markup:  # fmt: skip
    return tag("rect", x=x, y=y, width=width, height=height, fill=fill, stroke=stroke,
               class_=class_)  # fmt: skip


def _rain(when: When, month: WhenMonth, x: float, y: float, says: Translator) -> Iterator[Markup]:
    most = max((m.rain_mm or 0.0 for m in when.months), default=0.0)
    if month.rain_mm is None:
        yield text(x, y + 14, says._("not known"), font_size="13", fill=_SOFT_INK)
        return
    width = _RAIN_W * month.rain_mm / most if most > 0 else 0.0
    yield _box(x, y, max(width, 1.0), _BAR_H, _GREY)
    yield text(x + width + 5, y + 14, says.length_mm(month.rain_mm), font_size="13", fill=_INK)


def _ground(when: When, month: WhenMonth, x: float, y: float, says: Translator) -> Iterator[Markup]:
    per_m = _GROUND_W / max(when.length_m, 1.0)
    shut, soft = month.shut_m * per_m, month.soft_m * per_m
    yield _box(x, y, _GROUND_W, _BAR_H, "#ffffff", stroke=_EDGE)
    if month.shut_m >= _LEAST_M:
        yield _box(x, y, shut, _BAR_H, _INK)
    if month.soft_m >= _LEAST_M:
        yield _box(x + shut, y, soft, _BAR_H, "url(#when-soft)")
    if month.season_unknown_m >= _LEAST_M:
        unknown = month.season_unknown_m * per_m
        yield tag("rect", x=x + shut + soft, y=y, width=min(unknown, _GROUND_W - shut - soft),
                  height=_BAR_H, fill="none", stroke=_INK, stroke_dasharray="2 3")  # fmt: skip
    rows = _ground_texts(month, says)
    for row, said in enumerate(rows):
        top = y + 14 if len(rows) == 1 else y + 8 + 14 * row
        yield text(x + _GROUND_W + 8, top, said, font_size="13", fill=_INK)


def _ground_texts(month: WhenMonth, says: Translator) -> list[str]:
    """What of the ride a month may shut or soften, and of what that is not known."""
    shut, soft = month.shut_m >= _LEAST_M, month.soft_m >= _LEAST_M
    rows = []
    if shut and soft:
        rows.append(says._("{shut} shut, {soft} soft", shut=says.distance_number(month.shut_m),
                            soft=says.distance(month.soft_m)))  # fmt: skip
    elif shut:
        rows.append(says._("{shut} shut", shut=says.distance(month.shut_m)))
    elif soft:
        rows.append(says._("none shut, {soft} soft", soft=says.distance(month.soft_m)))
    elif month.season_unknown_m < _LEAST_M:
        rows.append(says._("none shut"))
    if month.season_unknown_m >= _LEAST_M:
        rows.append(says._("{length} not known", length=says.distance(month.season_unknown_m)))
    return rows


def _legend(when: When, says: Translator, y: float) -> Iterator[Markup]:
    cells = [cell for month in when.months for cell in month.cells]
    keys = [(says._("the fuller, the more of the riding is hot: rest often"), _WARM, 0.5)]
    if any(cell.hard_share > 0 for cell in cells):
        keys.append((says._("hotter: no hard exercise"), _HOT, 0.4))
    if any(cell.cold_share > 0 for cell in cells):
        keys.append((says._("hands grow cold"), "url(#when-cold)", 1.0))
    if any(cell.ice_share > 0 for cell in cells):
        keys.append((says._("ice may lie"), "url(#when-ice)", 1.0))
    x = 1.0
    for label, fill, share in keys:
        yield _box(x, y, 20, 20, "#ffffff", stroke=_EDGE)
        yield _box(x, y + 20 * (1 - share), 20, 20 * share, fill)
        yield text(x + 26, y + 15, label, font_size="13", fill=_INK)
        x += 50 + text_width(label, 13.0)
    if any(cell.is_dark for cell in cells):
        label = says._("in the dark, or less than an hour of light left")
        yield _box(x, y, 20, 20, "#ffffff", stroke=_EDGE)
        yield _box(x, y, 20, 6, _INK)
        yield text(x + 26, y + 15, label, font_size="13", fill=_INK)
        x += 50 + text_width(label, 13.0)
    yield tag("rect", x=x + 1.5, y=y + 1.5, width=17, height=17, fill="none", stroke=_INK,
              stroke_width=3)  # fmt: skip
    yield text(x + 26, y + 15, says._("best"), font_size="13", fill=_INK)
