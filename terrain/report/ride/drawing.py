"""Plan and ride one above the other on one axis, as SVG.

Lanes: ground (of the plan, or of the ride if there was none), the way ridden, slower or faster than
expected, the clock with rests below it, and how far the riding fell behind. Colours are classes
that the page defines; the picture is drawn once for a wide page and once for a phone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from markupsafe import Markup

from terrain.report.drawing.scale import nice_step
from terrain.report.drawing.svg import boxes, join, num, polyline, tag, text, text_width
from terrain.text.translator import Translator
from terrain.values.arrays import FloatArray
from terrain.values.ground import GroundKind
from terrain.values.ridden import PlanStretch, Ridden, RiddenPart

WIDE, PHONE = 1120.0, 360.0
_GROUND_H, _LANE_GAP, _BAR_H = 40.0, 26.0, 30.0
_BINS_PX = 56.0  # of a bar of slower and faster, at least
_MOST_RATIO = 0.6
_NARROW_PX = 10.0
_STEP_H = 13.0
_RIGHT = 100.0  # beside the axis: "−12 h 20 min" in bold


@dataclass(frozen=True, slots=True, kw_only=True)
class _Frame:
    """x of the axis' start, pixels a metre, and how ride places become places on the axis."""

    left: float
    width: float
    length_m: float
    ride_m: FloatArray
    axis_m: FloatArray
    head: bool

    def x(self, axis_m: float) -> float:
        return self.left + self.width * axis_m / max(self.length_m, 1.0)

    def of_ride(self, ride_m: float) -> float:
        return self.x(float(np.interp(ride_m, self.ride_m, self.axis_m)))


def _frame(ride: Ridden, wide: float) -> _Frame:
    head = wide >= 700.0
    left = 124.0 if head else 4.0
    plan = ride.plan
    ride_m, axis_m, length = np.array([0.0, ride.length_m]), np.array([0.0, ride.length_m]), 0.0
    if plan is not None and len(plan.anchors) > 1:
        pairs = np.array(plan.anchors)
        ride_m, axis_m = pairs[:, 0], np.maximum.accumulate(pairs[:, 1])
        length = plan.length_m
    return _Frame(
        left=left, width=wide - left - (_RIGHT if head else 8.0), length_m=length or ride.length_m,
        ride_m=ride_m, axis_m=axis_m, head=head,
    )  # fmt: skip


def draw_ride(ride: Ridden, say: Translator, wide: float = WIDE) -> Markup:
    """The picture as one <svg>, `wide` pixels wide."""
    frame = _frame(ride, wide)
    rows: Sequence[PlanStretch | RiddenPart] = ride.parts
    if ride.plan is not None and ride.plan.stretches:
        rows = ride.plan.stretches
    title = say._("Planned ground") if ride.plan is not None else say._("Ground")
    parts: list[Markup] = []
    y = 20.0
    parts += _head(frame, y, title)
    parts.append(_ground(rows, frame, y + 8.0))
    y += 8.0 + _GROUND_H + _LANE_GAP
    if ride.plan is not None:
        parts += _head(frame, y, say._("Way ridden"))
        parts += _way(ride, frame, y + 22.0, say)
        y += 22.0 + _LANE_GAP
    parts += _head(frame, y, say._("Slower or faster"))
    parts += _pace(ride, frame, y + 14.0 + _BAR_H, say)
    y += 14.0 + 2.0 * _BAR_H + _LANE_GAP
    parts += _head(frame, y, say._("Clock"))
    lines, height = _clock(ride, frame, y + 30.0, say)
    parts += lines
    y += 30.0 + height + _LANE_GAP
    parts += _head(frame, y, say._("Behind"))
    parts += _behind(ride, frame, y + 14.0 + _BAR_H, say)
    y += 14.0 + _BAR_H + 4.0
    parts += _axis(frame, y, say)
    return tag(
        "svg", join(parts), viewBox=f"0 0 {num(wide)} {num(y + 26.0)}", role="img",
        class_="ride-drawing", aria_label=say._("Plan and ride on one axis"),
    )  # fmt: skip


def _head(frame: _Frame, y: float, name: str) -> Iterator[Markup]:
    x, below = (0.0, 16.0) if frame.head else (frame.left, -2.0)
    yield text(x, y + below, name, class_="lane")


def _ground(rows: Sequence[PlanStretch | RiddenPart], frame: _Frame, y: float) -> Markup:
    """Columns split by chance: track from the base, gravel on it, paved above."""
    drawn: dict[str, list[tuple[float, float, float, float]]] = {}
    for row in rows:
        x, wide = frame.x(row.from_m), frame.x(row.to_m) - frame.x(row.from_m)
        if row.p is None:
            kind = "ferry" if row.ground is GroundKind.FERRY else "unmapped"
            drawn.setdefault(kind, []).append((x, y, wide, _GROUND_H))
            continue
        top = y
        for kind, share in zip(("paved", "gravel", "track"), row.p, strict=True):
            height = share * _GROUND_H
            if height >= 0.3:
                drawn.setdefault(kind, []).append((x, top, wide, height))
            top += height
    paths = [tag("path", d=boxes(rects), class_=f"r-{kind}") for kind, rects in drawn.items()]
    edge = tag("rect", x=frame.left, y=y, width=frame.width, height=_GROUND_H, class_="r-frame")
    half = frame.left, y + _GROUND_H / 2
    line = tag("path", d=f"M{num(half[0])} {num(half[1])}h{num(frame.width)}", class_="r-half")
    return join([*paths, line, edge])


def _way(ride: Ridden, frame: _Frame, y: float, say: Translator) -> Iterator[Markup]:
    """The ride as a thick line: an arch where it left the plan, a gap where it left some out."""
    assert ride.plan is not None
    ends = [frame.of_ride(0.0)]
    arches: list[Markup] = []
    taken = frame.left
    starts = [frame.x(item.plan_from_m) for item in ride.plan.leavings]
    for i, item in enumerate(ride.plan.leavings):
        a, b = frame.x(item.plan_from_m), frame.x(item.plan_to_m)
        if b - a < _NARROW_PX:
            a, b = (a + b - _NARROW_PX) / 2, (a + b + _NARROW_PX) / 2
        a = max(a, ends[-1])
        b = max(b, a)
        ends += [a, b]
        arches.append(tag("path", d=f"M{num(a)} {num(y)}H{num(b)}", class_="r-missed"))
        ridden_m, left_m = item.to_m - item.from_m, item.plan_to_m - item.plan_from_m
        if ridden_m > 0.0:
            arch = f"M{num(a)} {num(y)}C{num(a)} {num(y - 18)} {num(b)} {num(y - 18)} {num(b)} "
            arches.append(tag("path", d=f"{arch}{num(y)}", class_="r-way"))
        told = (
            say.say("{ridden_m} for {left_m}", ridden_m=ridden_m, left_m=max(left_m, 0.0))
            if ridden_m > 0.0
            else say.say("{left_m} left out", left_m=left_m)
        )
        wide = text_width(told, 12.0) + 6.0
        free = (starts[i + 1] if i + 1 < len(starts) else frame.left + frame.width) - 4.0
        if b + wide < free:
            arches.append(text(b + 6.0, y - 7.0, told))
            taken = b + wide
        elif a - wide > taken:
            arches.append(text(a - 6.0, y - 7.0, told, text_anchor="end"))
            taken = b
        else:
            taken = b
    ends.append(frame.of_ride(ride.length_m))
    runs = [
        f"M{num(a)} {num(y)}H{num(max(b, a))}" for a, b in zip(ends[::2], ends[1::2], strict=True)
    ]
    yield tag("path", d="".join(runs), class_="r-way")
    yield from arches


def _bins(ride: Ridden, frame: _Frame) -> Iterator[tuple[float, float, float, str]]:
    """(from_m, to_m, time over expected, main ground) of parts of the ride of like length."""
    n = max(int(frame.width / _BINS_PX), 1)
    each = ride.length_m / n
    row: list[RiddenPart] = []
    for part in ride.parts:
        if part.moving_s is None or part.p is None:
            continue
        if row and (part.to_m - row[0].from_m > each * 1.5 or part.from_m - row[-1].to_m > each):
            yield _bin(row)
            row = []
        row.append(part)
        if part.to_m - row[0].from_m >= each:
            yield _bin(row)
            row = []
    if row:
        yield _bin(row)


def _bin(row: list[RiddenPart]) -> tuple[float, float, float, str]:
    moving = sum(part.moving_s or 0.0 for part in row)
    expected = sum(part.expected_s for part in row)
    length: dict[str, float] = {}
    for part in row:
        length[part.ground.value] = length.get(part.ground.value, 0.0) + part.length_m
    ground = max(length, key=lambda kind: length[kind])
    return row[0].from_m, row[-1].to_m, moving / max(expected, 1.0), ground


def _pace(ride: Ridden, frame: _Frame, y: float, say: Translator) -> Iterator[Markup]:
    yield tag("path", d=f"M{num(frame.left)} {num(y)}h{num(frame.width)}", class_="r-axis")
    for from_m, to_m, ratio, ground in _bins(ride, frame):
        a, b = frame.of_ride(from_m), frame.of_ride(to_m)
        height = min(abs(ratio - 1.0), _MOST_RATIO) / _MOST_RATIO * _BAR_H
        top = y - height if ratio > 1.0 else y
        if b - a < 1.0 or height < 0.5:
            continue
        yield tag("rect", x=a, y=top, width=b - a, height=height, class_=f"r-bar r-{ground}")
        told = f"{'+' if ratio > 1.0 else '−'}{say.percent(abs(ratio - 1.0))}"
        if text_width(told, 12.0) < b - a - 2.0 and abs(ratio - 1.0) >= 0.03:
            below = top - 3.0 if ratio > 1.0 else top + height + 12.0
            yield text((a + b) / 2, below, told, text_anchor="middle")


def _clock_knots(ride: Ridden) -> tuple[FloatArray, FloatArray]:
    """Clock time from the start at places along the ride."""
    at = np.array([0.0, *(part.to_m for part in ride.parts)])
    return at, np.array([0.0, *(part.clock_s for part in ride.parts)])


def _clock(ride: Ridden, frame: _Frame, y: float, say: Translator) -> tuple[list[Markup], float]:
    """Whole hours above the line, rests below it; the parts and how much room the rests take."""
    start, end = (datetime.fromisoformat(t) for t in (ride.start_time, ride.end_time))
    at_m, clock_s = _clock_knots(ride)
    right = frame.left + frame.width
    parts = [tag("path", d=f"M{num(frame.left)} {num(y)}h{num(frame.width)}", class_="r-axis")]
    parts.append(text(frame.left + 2.0, y - 6.0, say.hour(f"{start:%H:%M}")))
    parts.append(
        text(right - 2.0, y - 6.0, say.hour(f"{end:%H:%M}"), text_anchor="end", class_="strong")
    )
    first = 3_600 - (start.minute * 60 + start.second)
    free_x = frame.left + 52.0
    for hour in range(first, int(clock_s[-1]), 3_600):
        x = frame.of_ride(float(np.interp(hour, clock_s, at_m)))
        parts.append(tag("path", d=f"M{num(x)} {num(y - 4)}v4", class_="r-axis"))
        if x - 10.0 > free_x and x < right - 60.0:
            moment = (start.hour + 1 + (hour - first) // 3_600) % 24
            parts.append(text(x, y - 7.0, f"{moment:02d}", text_anchor="middle", class_="strong"))
            free_x = x + 12.0
    rows = [-1.0, -1.0, -1.0]
    used = 0
    for stop in ride.stops:
        x = frame.of_ride(stop.at_m)
        told = say.say(
            "{clock}, {standing_s}", clock=say.hour(stop.from_time[11:16]),
            standing_s=stop.standing_s,
        )  # fmt: skip
        wide = text_width(told, 12.0)
        flip = x + 5.0 + wide > right
        start_x = x - 5.0 - wide if flip else x
        row = next((i for i, free in enumerate(rows) if start_x > free), None)
        parts.append(tag("path", d=f"M{num(x)} {num(y)}v{num(10.0)}", class_="r-rest"))
        if row is None:
            continue
        used = max(used, row + 1)
        under = y + 12.0 + _STEP_H * row + 2.0
        parts.append(tag("path", d=f"M{num(x)} {num(y)}V{num(under)}", class_="r-rest"))
        anchor = "end" if flip else "start"
        parts.append(text(x - 5.0 if flip else x + 5.0, under, told, text_anchor=anchor))
        rows[row] = x + 12.0 + (0.0 if flip else wide)
    return parts, 12.0 + _STEP_H * used


def _behind(ride: Ridden, frame: _Frame, y: float, say: Translator) -> Iterator[Markup]:
    """Riding time beyond the expected so far, rests left out."""
    known = [part for part in ride.parts if part.moving_s is not None]
    late = np.cumsum([0.0, *((part.moving_s or 0.0) - part.expected_s for part in known)])
    x = np.array([frame.of_ride(m) for m in (0.0, *(part.to_m for part in known))])
    most = max(float(np.abs(late).max()), 300.0)
    top = y - late / most * _BAR_H * (1.0 if late.min() >= 0.0 else 0.5)
    base = y if late.min() >= 0.0 else y - 0.5 * _BAR_H
    top = top if late.min() >= 0.0 else base - late / most * 0.5 * _BAR_H
    yield tag(
        "path", class_="r-late",
        d=polyline(np.r_[x[0], x, x[-1]], np.r_[base, top, base]) + "z",
    )  # fmt: skip
    yield tag("path", d=f"M{num(frame.left)} {num(base)}h{num(frame.width)}", class_="r-axis")
    minutes = say.duration(abs(float(late[-1])))
    told = f"{'+' if late[-1] >= 0.0 else '−'}{minutes}"
    if frame.head:
        yield text(frame.left + frame.width + 6.0, float(top[-1]) + 4.0, told, class_="strong")
    else:
        yield text(
            frame.left + frame.width, y - _BAR_H - 2.0, told, text_anchor="end", class_="strong"
        )


def _axis(frame: _Frame, y: float, say: Translator) -> Iterator[Markup]:
    unit = say.distance_unit_m
    step = nice_step(frame.length_m / unit, int(frame.width / 90.0))
    yield tag("path", d=f"M{num(frame.left)} {num(y)}h{num(frame.width)}", class_="r-axis")
    for value in np.arange(0.0, frame.length_m / unit + 1e-9, step):
        x = frame.x(float(value) * unit)
        yield tag("path", d=f"M{num(x)} {num(y)}v4", class_="r-axis")
        yield text(x, y + 17.0, say.number(float(value), 0 if step >= 1 else 1),
                   text_anchor="middle" if value else "start")  # fmt: skip
    if frame.head:
        yield text(0.0, y + 17.0, say.distance_unit, class_="lane")
