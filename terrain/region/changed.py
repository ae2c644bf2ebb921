"""Which ways of a region updates changed, and when; kept with the region."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from terrain.region.store import load_value
from terrain.values.arrays import BoolArray, Columns, FloatArray, IntArray
from terrain.values.views import Category, WayTable

CHANGED = "changed"
_KEPT_S = 400 * 86400.0  # a booking is over by then


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChangedWays(Columns):
    """Ids of ways, and when an update last changed or took away each [s since 1970 UTC]."""

    way_id: IntArray
    at_s: FloatArray

    def since(self, at_s: float) -> IntArray:
        return self.way_id[self.at_s > at_s]


NONE_CHANGED = ChangedWays(way_id=np.zeros(0, np.int64), at_s=np.zeros(0))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WayChanges:
    """Ids of the ways that came, went, or are tagged otherwise; rising."""

    new: IntArray
    gone: IntArray
    changed: IntArray


def changed_ways(pack: Path) -> ChangedWays:
    """What the updates of a pack changed. Raises RegionDamaged."""
    folder = pack / CHANGED
    return load_value(folder, ChangedWays) if folder.is_dir() else NONE_CHANGED


def compare_ways(was: WayTable, now: WayTable) -> WayChanges:
    """What a report would say differently of the ways of a road graph."""
    both, in_was, in_now = np.intersect1d(
        was.way_id, now.way_id, assume_unique=True, return_indices=True
    )
    differs = was.flags[in_was] != now.flags[in_now]
    for old, new in _columns(was, now):
        differs |= _differs(old, new, in_was, in_now)
    return WayChanges(
        new=np.sort(np.delete(now.way_id, in_now)),
        gone=np.sort(np.delete(was.way_id, in_was)),
        changed=both[differs],
    )


def _columns(was: WayTable, now: WayTable) -> Iterator[tuple[Category, Category]]:
    for name in ("highway", "surface", "tracktype", "smoothness", "access"):
        yield getattr(was, name), getattr(now, name)


def _differs(old: Category, new: Category, in_old: IntArray, in_new: IntArray) -> BoolArray:
    """Whether the texts of rows differ; the codes of two tables mean different texts."""
    number = {text: i for i, text in enumerate(dict.fromkeys((*old.values, *new.values)))}

    def same_codes(column: Category) -> IntArray:
        return np.array([*(number[text] for text in column.values), -1], dtype=np.int64)

    return np.asarray(
        same_codes(old)[old.codes[in_old]] != same_codes(new)[new.codes[in_new]], dtype=np.bool_
    )


def carried_on(was: ChangedWays, changes: WayChanges, at_s: float) -> ChangedWays:
    """The log with one more update; a way that came was on no report, so it is left out."""
    ids = np.concatenate([changes.changed, changes.gone])
    old = ~np.isin(was.way_id, ids) & (was.at_s > at_s - _KEPT_S)
    return ChangedWays(
        way_id=np.concatenate([was.way_id[old], ids]),
        at_s=np.concatenate([was.at_s[old], np.full(len(ids), at_s)]),
    )
