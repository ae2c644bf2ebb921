"""The way table: what each distinct set of tags means, handed to the ways that carry it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from terrain.region import tags as meaning
from terrain.region.columns import category_from, codes_of, numbers, texts_from
from terrain.region.scan import RawWays
from terrain.region.tags import Tags
from terrain.values.arrays import BoolArray, IntArray
from terrain.values.views import WayFlag, WayTable


def _width_m(tags: Tags) -> float:
    return meaning.within(meaning.length_m(tags.get("width", tags.get("est_width"))), 0.1, 100)


def _maxspeed_kph(tags: Tags) -> float:
    text = tags.get("maxspeed:motorcycle", tags.get("maxspeed"))
    return meaning.within(meaning.speed_kph(text), 1, 300)


_NUMBERS: dict[str, tuple[str, Callable[[Tags], float]]] = {
    "width_m": ("float32", _width_m),
    "lanes": ("float32", lambda t: meaning.within(meaning.number(t.get("lanes")), 0.5, 20)),
    "incline_pct": ("float32", lambda t: meaning.incline_pct(t.get("incline"))),
    "maxspeed_kph": ("float32", _maxspeed_kph),
    "oneway": ("int8", meaning.oneway),
    "mtb_scale": ("int8", lambda t: meaning.leading_int(t.get("mtb:scale"), 0, 6, -1)),
    "ferry_s": ("float32", meaning.ferry_s),
    "flags": ("int32", meaning.way_flags),
}
_TEXTS: dict[str, Callable[[Tags], str | None]] = {
    "highway": meaning.way_class,
    "surface": lambda t: t.get("surface"),
    "tracktype": lambda t: t.get("tracktype"),
    "smoothness": lambda t: t.get("smoothness"),
    "access": meaning.motor_access,
    "closed_by": meaning.closing_tag,
    "service": lambda t: t.get("service"),
    "seasonal": lambda t: t.get("seasonal"),
}


def build_way_table(ways: RawWays, rows: IntArray, *, barrier: BoolArray) -> WayTable:
    """The table of the chosen raw rows, in their order.

    barrier : True for rows with a barrier node that may stop a motorcycle
    """
    sets = [dict(tag_set) for tag_set in ways.tag_sets]
    which = numbers(ways.tag_set, "int64", rows)
    columns: dict[str, Any] = {
        name: np.array([read(tags) for tags in sets], dtype)[which]
        for name, (dtype, read) in _NUMBERS.items()
    }
    columns["flags"][barrier] |= int(WayFlag.BARRIER)
    for name, text_of in _TEXTS.items():
        codes, known = codes_of([text_of(tags) for tags in sets])
        columns[name] = category_from(codes[which], known)
    codes, known = codes_of([meaning.conditional(tags) for tags in sets])
    edited_day = numbers(ways.edited_day, "int32", rows)
    return WayTable(
        way_id=numbers(ways.way_id, "int64", rows),
        edited_day=np.where(edited_day > 0, edited_day, np.int32(-1)),
        name=ways.name.build(rows),
        ref=ways.ref.build(rows),
        conditional=texts_from(codes[which], known),
        **columns,
    )
