"""The ride running down a phone's page: ground, no way out and help beside clock and stops."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from markupsafe import Markup

from terrain.report.diagram import help as ways
from terrain.report.diagram.diagram import DayDrawing, closed_parts, day_about
from terrain.report.diagram.plan import stop_words
from terrain.report.drawing.columns import ground_columns
from terrain.report.drawing.scale import nice_step
from terrain.report.drawing.svg import boxes, join, num, tag, text, text_width, trace
from terrain.text.catalogue import N_
from terrain.text.plain import shortened
from terrain.text.translator import Translator
from terrain.values.ground import LAND_GROUNDS, Stretch
from terrain.values.plan import Day
from terrain.values.report import Report

WIDTH = 343.0
_PX_PER_KM = 6.5
_KM, _GROUND, _CLOSED, _COMMIT, _HELP, _SAID = 34.0, 52.0, 8.0, 14.0, 44.0, 176.0
_LEAST, _LINE, _HEAD, _FOOT = 160.0, 18.0, 36.0, 20.0
_MOST_PX = 3_200.0
_HOUR_S = 3_600.0
_NARROW_PX = 3.0  # of ground: 460 m
_PLACE = 4  # of all that is said beside the ride the last to find room
_TALLEST_PART = 975.0  # of a day, 150 km
_FAR, _FAR_PLACE = 108.0, 27.0  # that words may stand from their spot
_BOLD = 1.12  # as wide as plain letters at most


def render_downs(report: Report, translator: Translator) -> list[DayDrawing]:
    """A drawing for each day, and for each part of a long day, all to one scale, start on top."""
    days: tuple[Day | None, ...] = report.assessed.plan.days or (None,)
    whole_m = max(report.assessed.match.length_m, 1.0)
    height = min(max(whole_m / 1000.0 * _PX_PER_KM, _LEAST), _MOST_PX)
    px_per_m = height / whole_m
    return [
        _part_of_day(report, translator, day, span, px_per_m * (span[1] - span[0]))
        for day in days
        for span in _parts(*((0.0, whole_m) if day is None else (day.from_m, day.to_m)), px_per_m)
    ]


def _parts(from_m: float, to_m: float, px_per_m: float) -> list[tuple[float, float]]:
    """A day in as few parts of one length as a hand can scroll through."""
    n = max(math.ceil((to_m - from_m) * px_per_m / _TALLEST_PART), 1)
    cuts = np.linspace(from_m, to_m, n + 1).tolist()
    return list(pairwise(cuts))


def _part_of_day(
    report: Report, translator: Translator, day: Day | None, span: tuple[float, float], tall: float
) -> DayDrawing:
    begins = day is not None and span[0] == day.from_m
    several = len(report.assessed.plan.days) > 1
    return DayDrawing(
        title=translator._("Day {n}", n=day.number) if several and day else "",
        span=translator.km_range(*span),
        about=day_about(day, translator) if day and begins else "",
        svg=render_down(report, translator, span=span, height=max(tall, 2 * _LINE)),
        height=tall,
    )


def render_down(
    report: Report,
    translator: Translator,
    *,
    height: float,
    span: tuple[float, float] | None = None,
    width: float = WIDTH,
    deepest: float = math.inf,
) -> Markup:
    """One drawing of a part of the ride, its start on top.

    height : of its axis [px]; span : of the part to draw [m], the whole ride if None
    deepest : how far down words may reach from where the axis begins [px]
    """
    from_m, to_m = span or (0.0, report.assessed.match.length_m)
    length_m = max(to_m - from_m, 1.0)
    down = _Down(from_m=from_m, to_m=from_m + length_m, px_per_m=height / length_m, width=width)
    closed = [(_KM + _GROUND + 2, *span_y, 5.0) for p in closed_parts(report)
              if (span_y := down.clip(p.from_m, p.to_m))]  # fmt: skip
    words, reach = _words(report, down, translator, deepest)
    parts = [
        *_marks(down, translator),
        *_ground(report.assessed.ground.stretches, down),
        tag("path", class_="closed",
            d=boxes([(x, y, wide, max(tall, 2.0)) for x, y, tall, wide in closed])),
        *_commits(report, down),
        *_help(report, down, translator),
        *words,
        _hits(report, down),
    ]  # fmt: skip
    inner = tag("g", join(parts), transform=f"translate(0 {_HEAD:.0f})")
    tall = max(height + _FOOT, reach) + _HEAD
    return tag(
        "svg", join([*_heads(report, translator), inner]), class_="downward",
        viewBox=f"0 0 {width:.0f} {tall:.0f}", width=f"{width:.0f}", height=f"{tall:.0f}",
    )  # fmt: skip


def _heads(report: Report, translator: Translator) -> list[Markup]:
    """What stands in each column."""
    ground = translator._("Ground")
    wide = text_width(ground, 13.0) * _BOLD
    left = min(_KM, _HELP_X - 6 - wide)
    heads = [
        text(0, 16, translator.distance_unit, class_="d"),
        text(max(left, 22.0), 16, ground, class_="lane"),
        text(_SAID, 16, translator._("Clock, places, stops"), class_="lane"),
    ]
    if ways.help_curve(report.assessed.help) is not None:
        heads.append(text(_HELP_X, 16, translator._("Help"), class_="lane"))
    return heads


_HELP_X = _KM + _GROUND + _CLOSED + _COMMIT + 8


@dataclass(frozen=True, slots=True, kw_only=True)
class _Down:
    """The axis: metres from_m to to_m, drawn at px_per_m down from y = 0."""

    from_m: float
    to_m: float
    px_per_m: float
    width: float

    @property
    def height(self) -> float:
        return (self.to_m - self.from_m) * self.px_per_m

    def y(self, at_m: float) -> float:
        return (at_m - self.from_m) * self.px_per_m

    def holds(self, at_m: float) -> bool:
        return self.from_m <= at_m <= self.to_m

    def clip(self, from_m: float, to_m: float) -> tuple[float, float] | None:
        """y and height of what of a span lies on the axis; None if nothing does."""
        a, b = max(from_m, self.from_m), min(to_m, self.to_m)
        return (self.y(a), (b - a) * self.px_per_m) if b > a else None


def _marks(down: _Down, translator: Translator) -> list[Markup]:
    unit = translator.distance_unit_m
    step = nice_step((down.to_m - down.from_m) / unit, max(int(down.height / 60), 2))
    ticks, parts = "", []
    first = math.ceil(down.from_m / unit / step - 1e-9)
    for k in range(first, int(down.to_m / unit / step + 1e-9) + 1):
        y = down.y(k * step * unit)
        ticks += f"M{num(_KM - 5)} {num(y)}h5"
        label = translator.number(k * step, 0 if step >= 1 or not k else 1)
        parts.append(text(_KM - 8, y + 4, label, class_="d", text_anchor="end"))
    return [tag("path", class_="axis", d=ticks), *parts]


def _ground(stretches: Sequence[Stretch], down: _Down) -> list[Markup]:
    rows: dict[str, list[tuple[float, float, float, float]]] = {}
    hard_first = [f"g-{kind.value}" for kind in reversed(LAND_GROUNDS)]
    end = 0.0
    for top, tall, p, other in ground_columns(down, stretches, _NARROW_PX):
        end = top + tall
        if p is None:
            rows.setdefault(f"g-{other}", []).append((_KM, top, _GROUND, tall))
            continue
        left = _KM
        for kind, share in zip(hard_first, reversed(p), strict=True):
            wide = share * _GROUND
            if wide >= 0.4:
                rows.setdefault(kind, []).append((left, top, wide, tall))
            left += wide
    drawn = [tag("path", class_=kind, d=boxes(found)) for kind, found in rows.items()]
    frame = boxes([(_KM, 0.0, _GROUND, end)])
    half = f"M{num(_KM + _GROUND / 2)} 0V{num(end)}"
    return [
        *drawn,
        tag("path", class_="halo", d=half),
        tag("path", class_="half", d=half),
        tag("path", class_="frame", d=frame),
    ]


def _commits(report: Report, down: _Down) -> list[Markup]:
    x = _KM + _GROUND + _CLOSED + 8
    bars = cuts = ""
    for start, way in ways.commits(report.assessed.help.exits):
        span = down.clip(start, start + way.commit_m)
        if span is None:
            continue
        a, b = span[0], span[0] + span[1]
        bars += f"M{num(x)} {num(a)}V{num(b)}"
        cuts += f"M{num(x - 5)} {num(a)}h10M{num(x - 5)} {num(b)}h10"
    if not bars:
        return []
    return [tag("path", class_="commit", d=bars), tag("path", class_="cut", d=cuts)]


def _help(report: Report, down: _Down, translator: Translator) -> list[Markup]:
    curve = ways.help_curve(report.assessed.help)
    if curve is None:
        return []
    x0 = _HELP_X
    time_s, at_m = curve[0], report.assessed.help.along.at_m
    top_s = max(float(np.nanmax(time_s)), 4_500.0)
    known = np.isfinite(time_s) & (at_m >= down.from_m) & (at_m <= down.to_m)
    if not known.any():
        return []
    y = (at_m[known] - down.from_m) * down.px_per_m
    x = x0 + time_s[known] / top_s * _HELP
    line = trace(x, y)
    area = line + f"H{num(x0)}V{num(float(y[0]))}z"
    k = int(np.argmax(time_s[known]))
    hour = x0 + _HOUR_S / top_s * _HELP
    return [
        tag("path", class_="h-limit", d=f"M{num(hour)} 0V{num(down.height)}"),
        text(hour, down.height + 14, translator.duration(_HOUR_S), class_="note",
             text_anchor="middle"),
        tag("path", class_="h-area", d=area),
        tag("path", class_="h-line", d=line),
        tag("path", class_="base", d=f"M{num(x0)} 0V{num(down.height)}"),
        tag("circle", class_="h-spot", cx=float(x[k]), cy=float(y[k]), r=2.5),
    ]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Said:
    """Words beside the ride: where, how much they matter (0 the most), and lines with a class."""

    at_m: float
    order: int
    lines: tuple[tuple[str, str], ...]


def _said(report: Report, down: _Down, translator: Translator) -> Iterator[_Said]:
    """Stops, decisions, what is closed, the farthest from help, and places."""
    assessed, _ = report.assessed, translator._
    # A night stands at the end of its day and not at the start of the next.
    day = next((d.number for d in assessed.plan.days if d.from_m <= down.from_m < d.to_m), None)
    whole = down.from_m <= 0.0 and down.to_m >= assessed.match.length_m
    for stop in assessed.plan.stops:
        if whole or stop.day == day:
            yield _Said(at_m=stop.at_m, order=1, lines=((stop_words(stop, translator), "stop13"),))
    for start, way in ways.commits(assessed.help.exits):
        length, time = translator.distance(way.commit_m), translator.duration(way.commit_s)
        lines = (
            (_("No way out for {length}", length=length), "stop13"),
            (_("{time}: decide here", time=time), "d"),
        )
        yield _Said(at_m=start, order=0, lines=lines)
    for part in closed_parts(report):
        from_m, to_m = max(part.from_m, down.from_m), min(part.to_m, down.to_m)
        if to_m - from_m >= max(0.03 * (down.to_m - down.from_m), 500.0):
            words = _("closed for {length}", length=translator.distance(to_m - from_m))
            yield _Said(at_m=from_m, order=2, lines=((words, "d"),))
    yield from _farthest(report, down, translator)
    for place in assessed.places.surroundings.places:
        if place.kind in ("city", "town", "village", "pass"):
            name = shortened(place.name, 40)
            yield _Said(at_m=place.at_m, order=_PLACE, lines=((name, "place13"),))


def _farthest(report: Report, down: _Down, translator: Translator) -> Iterator[_Said]:
    curve, at_m = ways.help_curve(report.assessed.help), report.assessed.help.along.at_m
    if curve is None:
        return
    time_s, mechanic = curve
    known = np.flatnonzero(np.isfinite(time_s) & (at_m >= down.from_m) & (at_m <= down.to_m))
    if not len(known):
        return
    k = int(known[np.argmax(time_s[known])])
    form = N_("{time} to a mechanic") if mechanic else N_("{time} to a town")
    words = translator._(form, time=translator.duration(float(time_s[k])))
    yield _Said(at_m=float(at_m[k]), order=3, lines=((words, "help13"),))


def _words(
    report: Report, down: _Down, translator: Translator, deepest: float
) -> tuple[list[Markup], float]:
    """What is said beside the ride, apart from each other, and how far down it reaches [px].

    What finds no room near its spot is left out, places first: they are near others that stand
    there.
    """
    found = [
        _Label(
            item=item,
            y=down.y(item.at_m),
            lines=[
                (line, kind if not number else f"{kind} more")
                for words, kind in item.lines
                for number, line in enumerate(
                    wrapped(words, (down.width - _SAID) / (_BOLD if kind == "stop13" else 1.0))
                )
            ],
        )
        for item in _said(report, down, translator)
        if down.holds(item.at_m)
    ]
    kept, tops = _near_their_spots(found, deepest)
    parts = []
    for label, top in zip(kept, tops, strict=True):
        parts.append(
            tag("path", class_="leader",
                d=f"M{num(_SAID - 10)} {num(label.y)}L{num(_SAID - 3)} {num(top)}")
        )  # fmt: skip
        for number, (line, kind) in enumerate(label.lines):
            parts.append(text(_SAID, top + 4 + number * _LINE, line, class_=kind))
    return parts, max((a + b.height for a, b in zip(tops, kept, strict=True)), default=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Label:
    """What is said of a spot, in lines that fit; y : of the spot [px]."""

    item: _Said
    y: float
    lines: list[tuple[str, str]]

    @property
    def height(self) -> float:
        return len(self.lines) * _LINE

    @property
    def farthest(self) -> float:
        """How far from its spot it may stand [px]."""
        return _FAR_PLACE if self.item.order == _PLACE else _FAR


def _near_their_spots(found: list[_Label], deepest: float) -> tuple[list[_Label], list[float]]:
    """Down the ride what of the labels can stand near its spot, and their tops."""
    kept: list[_Label] = []
    tops: list[float] = []
    for more in (found, *([one] for one in sorted(found, key=lambda one: (one.item.order, one.y)))):
        tried = sorted([*kept, *more], key=lambda one: (one.y, one.item.order))
        spots = stacked([one.y for one in tried], [one.height for one in tried])
        if all(
            abs(top - one.y) <= one.farthest and top + one.height <= deepest
            for one, top in zip(tried, spots, strict=True)
        ):
            kept, tops = tried, spots
            if len(kept) == len(found):
                break
    return kept, tops


def stacked(wanted: Sequence[float], height: Sequence[float]) -> list[float]:
    """Tops of boxes one below the other in the given order, none above 0, as near as can be to the
    wanted ones, which rise (least squares by pooling neighbours that meet)."""
    # Of each run of boxes that touch: the sum of the tops that would suit its first, how many there
    # are, and how tall they are.
    runs: list[tuple[float, int, float]] = []
    for top, tall in zip(wanted, height, strict=True):
        total, n, deep = top, 1, tall
        while runs and _start(runs[-1]) + runs[-1][2] > _start((total, n, deep)):
            before = runs.pop()
            total, n, deep = before[0] + total - n * before[2], before[1] + n, before[2] + deep
        runs.append((total, n, deep))
    tops: list[float] = []
    for run in runs:
        at = _start(run)
        for tall in height[len(tops) : len(tops) + run[1]]:
            tops.append(at)
            at += tall
    return tops


def _start(run: tuple[float, int, float]) -> float:
    return max(run[0] / run[1], 0.0)


def wrapped(words: str, room: float) -> list[str]:
    """A label of 13 px in lines of at most `room` px; a longer word stands alone, cut."""
    lines: list[str] = []
    for word in words.split(" "):
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(joined, 13.0) <= room:
            lines[-1] = joined
            continue
        lines.append(word)
        while text_width(lines[-1], 13.0) > room:
            lines[-1] = lines[-1].removesuffix("…")[:-1] + "…"
    return lines


def _hits(report: Report, down: _Down) -> Markup:
    """What the finger meets: one clear band a section."""
    found = ((s.number, down.clip(s.from_m, s.to_m)) for s in report.verdict.sections)
    return Markup(
        "".join(
            f'<rect class="hit" data-s="{number}" x="0" y="{num(span[0])}" '
            f'width="{num(down.width)}" height="{num(span[1])}"/>'
            for number, span in found
            if span is not None
        )
    )
