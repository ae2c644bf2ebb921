"""When to go, drawn: months down, hours of setting off across; prints in grey.

The height of ink in a cell is the share of the riding that is hot; its darker part is hotter. Every
colour is an attribute of the one table of inks: the picture stands alone as well as on a page.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from markupsafe import Markup

from terrain.report.drawing.ink import LIGHT
from terrain.report.drawing.svg import attrs, boxes, join, tag, text, text_width
from terrain.text.figures import MONTHS
from terrain.text.translator import Translator
from terrain.values.when import When, WhenCell, WhenMonth

_TOP = 52.0
_DARK_SHARE = 0.28  # of a cell's height: the edge that says dark
_RAIN_W, _GROUND_W, _BAR_H = 84.0, 144.0, 18.0
_LEAST_M = 500.0  # half of the km that is told
_FRAME, _DARK, _EDGE, _BEST = "frame", "dark", "edge", "best"
_LAYERS = (_FRAME, "cold", "ice", "warm", "hot", _DARK, _EDGE, _BEST)  # the lowest first


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Sizes of the table [px].

    bare : without rain and ground beside the months
    variables : inks are the page's own variables, light or dark; else the light colours
    """

    width: float
    cell_w: float
    cell_h: float
    pitch_x: float
    pitch_y: float
    left: float
    bare: bool = False
    variables: bool = False

    def ink(self, name: str) -> str:
        return f"var(--{name})" if self.variables else LIGHT[name]


ALONE = Grid(width=1216.0, cell_w=48.0, cell_h=28.0, pitch_x=56.0, pitch_y=36.0, left=96.0)
PAGE = Grid(
    width=1056.0, cell_w=42.0, cell_h=20.0, pitch_x=48.0, pitch_y=26.0, left=96.0, variables=True
)
PHONE = Grid(
    width=343.0, cell_w=23.0, cell_h=20.0, pitch_x=27.0, pitch_y=26.0, left=74.0, bare=True,
    variables=True,
)  # fmt: skip
PAPER = Grid(width=680.0, cell_w=20.0, cell_h=14.0, pitch_x=23.0, pitch_y=18.0, left=70.0)


def draw_when(when: When, says: Translator, grid: Grid = ALONE) -> Markup:
    """The table as one SVG element, drawn from typed values alone."""
    rain_x = grid.left + grid.pitch_x * len(when.hours) + 24.0
    foot = _TOP + grid.pitch_y * 12 + 8.0
    keys = _placed_keys(when, says, grid)
    height = foot + 24.0 * (1 + max(row for _, row, *_ in keys))
    said = " ".join(filter(None, (says.translate(when.forbids), says.translate(when.headline))))
    label = says._("When to go: {headline}", headline=said)
    parts: list[Markup] = [_patterns(grid), *_heads(when, says, grid, rain_x)]
    for row, month in enumerate(when.months):
        y = _TOP + grid.pitch_y * row
        parts += _month(when, month, y, says, grid, rain_x)
    parts += _cells(when, grid)
    parts += _legend(keys, foot, grid)
    return tag(
        "svg", join(parts), xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {grid.width:g} {height:g}", width=grid.width, height=height, role="img",
        aria_label=label, class_="when bare" if grid.bare else "when",
        font_family="sans-serif",
    )  # fmt: skip


def _patterns(grid: Grid) -> Markup:
    """Hatch for soft ground, dots for ice, specks for cold; the names hold for one drawing."""
    paper, ink = grid.ink("paper"), grid.ink("ink")
    line = tag("rect", width=1.2, height=6, fill=ink)
    soft = tag("pattern", join([tag("rect", width=6, height=6, fill=paper), line]),
               id=_name("soft", grid), width=6, height=6, patternUnits="userSpaceOnUse",
               patternTransform="rotate(45)")  # fmt: skip
    dot = tag("circle", cx=2, cy=2, r=1, fill=grid.ink("soft"))
    ice = tag("pattern", join([tag("rect", width=5, height=5, fill=paper), dot]),
              id=_name("ice", grid), width=5, height=5, patternUnits="userSpaceOnUse")  # fmt: skip
    speck = tag("circle", cx=3, cy=3, r=0.8, fill=grid.ink("danger"))
    cold = tag("pattern", join([tag("rect", width=8, height=8, fill=paper), speck]),
               id=_name("cold", grid), width=8, height=8,
               patternUnits="userSpaceOnUse")  # fmt: skip
    return tag("defs", join([soft, ice, cold]))


def _name(texture: str, grid: Grid) -> str:
    """A page holds two of these drawings, and a pattern in a hidden one is not painted."""
    return f"when-{texture}-small" if grid.bare else f"when-{texture}"


def _textured(texture: str, grid: Grid) -> str:
    return f"url(#{_name(texture, grid)})"


def _heads(when: When, says: Translator, grid: Grid, rain_x: float) -> Iterator[Markup]:
    bold = {"font_size": "13", "font_weight": "700", "fill": grid.ink("ink")}
    faint = {"font_size": "12", "fill": grid.ink("soft")}
    title_x = 0.0 if grid.left < ALONE.left else grid.left
    yield text(title_x, 16, says._("Heat and cold, by the hour you set off"), **bold)
    for column, hour in enumerate(when.hours):
        x = grid.left + grid.pitch_x * column + grid.cell_w / 2
        yield text(x, 40, f"{hour:02d}", font_size="13", fill=grid.ink("soft"),
                   text_anchor="middle")  # fmt: skip
    if grid.bare:
        return
    yield text(rain_x, 16, says._("Rain"), **bold)
    yield text(rain_x, 40, says._("in the month"), **faint)
    yield text(rain_x + 150, 16, says._("Ground"), **bold)
    of = says.distance(when.length_m)
    yield text(rain_x + 150, 40, says._("of {length}: may be shut, or soft", length=of), **faint)


def _month(
    when: When, month: WhenMonth, y: float, says: Translator, grid: Grid, rain_x: float
) -> Iterator[Markup]:
    best = any(cell.is_best for cell in month.cells)
    yield text(0, y + grid.cell_h / 2 + 5, says._(MONTHS[month.month - 1]), font_size="13",
               fill=grid.ink("ink"), font_weight="700" if best else None)  # fmt: skip
    if not grid.bare:
        bar_h = min(_BAR_H, grid.cell_h)
        top = y + (grid.cell_h - bar_h) / 2
        yield from _rain(when, month, rain_x, top, bar_h, says, grid)
        yield from _ground(when, month, rain_x + 150, top, bar_h, says, grid)


def _cells(when: When, grid: Grid) -> Iterator[Markup]:
    """All cells, a path for each ink: no cell lies on another, so inks may be laid one by one."""
    rows: dict[str, list[tuple[float, float, float, float]]] = {name: [] for name in _LAYERS}
    for row, month in enumerate(when.months):
        for column, cell in enumerate(month.cells):
            x, y = grid.left + grid.pitch_x * column, _TOP + grid.pitch_y * row
            for name, share in _layers(cell):
                tall = max(grid.cell_h * min(share, 1.0), 1.0)
                rows[name].append((x, y + grid.cell_h - tall, grid.cell_w, tall))
            if cell.is_dark:
                edge = _DARK_SHARE * grid.cell_h
                rows[_DARK].append((x, y, grid.cell_w, edge))
                rows[_EDGE].append((x, y + edge, grid.cell_w, 1.5))
            if cell.is_best:
                rows[_BEST].append((x - 1.5, y - 1.5, grid.cell_w + 3, grid.cell_h + 3))
    for name, found in rows.items():
        if found:
            yield Markup(f'<path d="{boxes(found)}"{_drawn(name, grid)}/>')


def _layers(cell: WhenCell) -> Iterator[tuple[str, float]]:
    """The inks that fill a cell from its foot, and how much of it."""
    yield _FRAME, 1.0
    shares = (cell.cold_share, cell.ice_share, cell.rest_share, cell.hard_share)
    for name, share in zip(("cold", "ice", "warm", "hot"), shares, strict=True):
        if share > 0:
            yield name, share


def _drawn(name: str, grid: Grid) -> str:
    if name == _FRAME:
        return attrs(fill=grid.ink("paper"), stroke=grid.ink("care"), class_="cells")
    if name == _BEST:
        return attrs(fill="none", stroke=grid.ink("ink"), stroke_width=3, class_="best")
    if name in ("cold", "ice"):
        return attrs(fill=_textured(name, grid), class_=name)
    return attrs(fill=grid.ink({_DARK: "ink", _EDGE: "paper"}.get(name, name)), class_=name)


def _box(
    x: float, y: float, width: float, height: float, fill: str, stroke: str | None = None
) -> Markup:
    return tag("rect", x=x, y=y, width=width, height=height, fill=fill, stroke=stroke)


def _rain(
    when: When, month: WhenMonth, x: float, y: float, bar_h: float, says: Translator, grid: Grid
) -> Iterator[Markup]:
    most = max((m.rain_mm or 0.0 for m in when.months), default=0.0)
    said = {"font_size": "13", "fill": grid.ink("ink")}
    if month.rain_mm is None:
        yield text(x, y + bar_h / 2 + 5, says._("not known"), **said)
        return
    width = _RAIN_W * month.rain_mm / most if most > 0 else 0.0
    yield _box(x, y, max(width, 1.0), bar_h, grid.ink("care"))
    yield text(x + width + 5, y + bar_h / 2 + 5, says.length_mm(month.rain_mm), **said)


def _ground(
    when: When, month: WhenMonth, x: float, y: float, bar_h: float, says: Translator, grid: Grid
) -> Iterator[Markup]:
    room = _GROUND_W if grid is not PAPER else 60.0
    per_m = room / max(when.length_m, 1.0)
    shut, soft = month.shut_m * per_m, month.soft_m * per_m
    yield _box(x, y, room, bar_h, grid.ink("paper"), grid.ink("care"))
    if month.shut_m >= _LEAST_M:
        yield _box(x, y, shut, bar_h, grid.ink("ink"))
    if month.soft_m >= _LEAST_M:
        yield _box(x + shut, y, soft, bar_h, _textured("soft", grid))
    if month.season_unknown_m >= _LEAST_M:
        unknown = month.season_unknown_m * per_m
        yield tag("rect", x=x + shut + soft, y=y, width=min(unknown, room - shut - soft),
                  height=bar_h, fill="none", stroke=grid.ink("ink"),
                  stroke_dasharray="2 3")  # fmt: skip
    told = ", ".join(_ground_texts(month, says))
    yield text(x + room + 8, y + bar_h / 2 + 5, told, font_size="13", fill=grid.ink("ink"))


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


_Key = tuple[float, int, str, str, float]  # x, row, words, fill and its share of the box


def _placed_keys(when: When, says: Translator, grid: Grid) -> list[_Key]:
    """The key in as many rows as it needs."""
    cells = [cell for month in when.months for cell in month.cells]
    keys = [
        (says._("the fuller, the more of the riding is hot: rest often"), grid.ink("warm"), 0.5)
    ]
    if any(cell.hard_share > 0 for cell in cells):
        keys.append((says._("hotter: no hard exercise"), grid.ink("hot"), 0.4))
    if any(cell.cold_share > 0 for cell in cells):
        keys.append((says._("hands grow cold"), _textured("cold", grid), 1.0))
    if any(cell.ice_share > 0 for cell in cells):
        keys.append((says._("ice may lie"), _textured("ice", grid), 1.0))
    if any(cell.is_dark for cell in cells):
        keys.append((says._("in the dark, or less than an hour of light left"), _DARK, 0.3))
    keys.append((says._("best"), _BEST, 0.0))
    placed: list[_Key] = []
    x, row = 1.0, 0
    for words, fill, share in keys:
        wide = 42.0 + text_width(words, 13.0)
        if x > 1.0 and x + wide > grid.width:
            x, row = 1.0, row + 1
        placed.append((x, row, words, fill, share))
        x += wide
    return placed


def _legend(keys: list[_Key], foot: float, grid: Grid) -> Iterator[Markup]:
    for x, row, words, fill, share in keys:
        y = foot + 24.0 * row
        if fill == _BEST:
            yield tag("rect", x=x + 1.5, y=y + 1.5, width=13, height=13, fill="none",
                      stroke=grid.ink("ink"), stroke_width=3)  # fmt: skip
        else:
            yield _box(x, y, 16, 16, grid.ink("paper"), grid.ink("care"))
            top = y if fill == _DARK else y + 16 * (1 - share)
            yield _box(x, top, 16, 16 * share, grid.ink("ink") if fill == _DARK else fill)
        yield text(x + 22, y + 13, words, font_size="13", fill=grid.ink("ink"))
