"""The lanes of the clock and of the stops, in words at their time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from markupsafe import Markup

from terrain.report.diagram.lanes import SIZE
from terrain.report.drawing.scale import DiagramRow
from terrain.report.drawing.svg import join, num, tag, text, text_width
from terrain.text.catalogue import N_
from terrain.text.plain import shortened
from terrain.text.terms import STOP_TERMS
from terrain.text.translator import Translator
from terrain.values.plan import Day, Stop, StopKind, clock

_SHORT = {StopKind.CHECK: N_("check")}
_TIER_PX = 16.0


def day_light(day: Day, translator: Translator) -> str:
    """How long before dark a day ends, or after it; "" without a date."""
    left_s = day.before_dark_s
    if day.is_dark:
        return translator._("in the dark")
    if left_s is None:
        return ""
    form = N_("{time} before dark") if left_s >= 0 else N_("{time} after dark")
    return translator._(form, time=translator.duration(abs(left_s)))


def stop_name(stop: Stop, translator: Translator) -> str:
    """Where a stop is: its place, or the place it lies near."""
    return (
        shortened(translator.translate(stop.name), 60) if stop.name else translator._("by the road")
    )


def stop_words(stop: Stop, translator: Translator) -> str:
    """ "12:25 lunch, check": when, and all it is for."""
    kinds = ", ".join(translator._(_SHORT.get(kind, STOP_TERMS[kind])) for kind in stop.kinds)
    return f"{translator.hour(clock(stop.arrive_s))} {kinds}"


def clock_knots(day: Day, stops: Sequence[Stop]) -> tuple[np.ndarray, np.ndarray]:
    """Local times [s] and where the ride then is [m], from setting off to the day's end."""
    at, time = [day.from_m], [day.start_s]
    for stop in sorted(stops, key=lambda item: item.arrive_s):
        if stop.day == day.number and day.from_m <= stop.at_m <= day.to_m:
            at += [stop.at_m, stop.at_m]
            time += [stop.arrive_s, stop.arrive_s + stop.stay_s]
    at.append(day.to_m)
    time.append(day.end_s)
    return np.maximum.accumulate(np.array(time)), np.maximum.accumulate(np.array(at))


def draw_clock(row: DiagramRow, day: Day, stops: Sequence[Stop], translator: Translator) -> Markup:
    """Setting off and arrival in bold, whole hours between."""
    time, at = clock_knots(day, stops)
    first, last = translator.hour(clock(day.start_s)), translator.hour(clock(day.end_s))
    parts = [
        text(0, 11, first, class_="strong"),
        text(row.width, 11, last, class_="strong", text_anchor="end"),
    ]
    taken = [(0.0, text_width(first, 13)), (row.width - text_width(last, 13), row.width)]
    ticks = ""
    for hour in range(int(day.start_s // 3600) + 1, int(day.end_s // 3600) + 1):
        x = row.x(float(np.interp(hour * 3600.0, time, at)))
        ticks += f"M{num(x)} 15v4"
        if all(x > b + 12 or x < a - 12 for a, b in taken):
            parts.append(text(x, 11, f"{hour % 24:02d}", class_="tick", text_anchor="middle"))
            taken.append((x - 7, x + 7))
    parts.append(tag("path", class_="axis", d=f"M0 19h{num(row.width)}{ticks}"))
    return join(parts)


@dataclass(frozen=True, slots=True)
class StopLabel:
    """A stop's words, placed: x of the stop and of their edges, tier and side."""

    x: float
    left: float
    right: float
    tier: int
    words: str
    flip: bool

    def meets(self, other: StopLabel) -> bool:
        """The words of both lie on each other, or the line of one runs through the other's."""
        if self.tier == other.tier:
            return self.left < other.right + 4 and other.left < self.right + 4
        above, below = (self, other) if self.tier < other.tier else (other, self)
        return above.left - 2 < below.x < above.right + 2


def place_stops(row: DiagramRow, stops: Sequence[Stop], translator: Translator) -> list[StopLabel]:
    """The stops of a row in few tiers, their words apart and beside all lines where that can be."""
    tried = []
    for is_chain in (False, True):
        labels = _sided(row, stops, translator, is_chain)
        for left_first in (False, True):
            tried.append(_tiered(labels, left_first))
            if not _clashes(tried[-1]):
                return tried[-1]
    return min(tried, key=_clashes)


def _sided(
    row: DiagramRow, stops: Sequence[Stop], translator: Translator, is_chain: bool
) -> list[StopLabel]:
    """The words right of their lines; left at the row's end, and, in a chain, where they would
    run over the line of a later stop whose words stand left."""
    labels: list[StopLabel] = []
    edge = row.width
    for stop in reversed(stops):
        words, x = stop_words(stop, translator), row.x(stop.at_m)
        wide = text_width(words, SIZE)
        flip = x + 4 + wide > edge
        if flip and is_chain:
            edge = x - 4
        left = x - 5 - wide if flip else x + 4
        labels.append(StopLabel(x=x, left=left, right=left + wide, tier=0, words=words, flip=flip))
    return labels[::-1]


def _tiered(labels: Sequence[StopLabel], left_first: bool) -> list[StopLabel]:
    """Each in the first tier where it meets none before it; words that stand right of their line
    from the last stop on, those left of it from the first: so lines come down beside them."""

    def turn(item: StopLabel) -> tuple[bool, float]:
        return item.flip is not left_first, item.x if item.flip else -item.x

    done: list[StopLabel] = []
    for label in sorted(labels, key=turn):
        tiers = [replace(label, tier=tier) for tier in range(len(done) + 1)]
        free = (item for item in tiers if not any(map(item.meets, done)))
        done.append(next(free, tiers[-1]))
    return sorted(done, key=lambda item: item.x)


def _clashes(labels: Sequence[StopLabel]) -> int:
    return sum(one.meets(two) for one, two in combinations(labels, 2))


def stops_height(placed: Sequence[StopLabel]) -> float:
    """Room for the tiers used [px]."""
    return _TIER_PX * (1 + max((item.tier for item in placed), default=0)) + 4


def draw_stops(placed: Sequence[StopLabel]) -> Markup:
    """A line down from the clock for each stop, and its words beside it."""
    parts = []
    for item in placed:
        foot = _TIER_PX * (item.tier + 1)
        parts.append(tag("path", class_="stop", d=f"M{num(item.x)} 0V{num(foot)}"))
    for item in placed:
        y = _TIER_PX * item.tier + 12
        if item.flip:
            parts.append(text(item.x - 5, y, item.words, class_="over", text_anchor="end"))
        else:
            parts.append(text(item.left, y, item.words, class_="over"))
    return join(parts)
