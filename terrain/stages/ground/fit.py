"""The ground of every way of a region, fitted to the region's own tags."""

from __future__ import annotations

import numpy as np

from terrain.stages.ground import tags
from terrain.tables.ground import TRUST
from terrain.values.arrays import FloatArray
from terrain.values.ground import BASES, Basis, WayGround
from terrain.values.views import PlacesView, RoadsView, WayTable


def fit_way_ground(roads: RoadsView, places: PlacesView) -> WayGround:
    """Probabilities of paved, gravel and track for each way, and what they rest on.

    Evidence, the strongest first: surface, tracktype, smoothness, class.
    """
    ways = roads.ways
    p = tags.class_expectation(ways.highway)
    graded = tags.tag_known(ways.tracktype, tags.TRACKTYPE_BY_VALUE)
    smooth = tags.tag_known(ways.smoothness, tags.SMOOTHNESS_BY_VALUE)
    surfaced = tags.tag_known(ways.surface, tags.SURFACE_BY_VALUE)
    age = tag_age_years(ways)
    for column, rows, known, power in (
        (ways.smoothness, tags.SMOOTHNESS_BY_VALUE, smooth, 1.0),
        (ways.tracktype, tags.TRACKTYPE_BY_VALUE, graded, 1.0),
        (ways.surface, tags.SURFACE_BY_VALUE, surfaced, TRUST.context),
    ):
        weights = tags.aged(tags.tag_weights(column, rows), age)
        p = tags.with_tag(p, weights, known, power)
    basis = np.full(len(ways), BASES.index(Basis.INFERRED), dtype=np.int8)
    basis[graded | smooth] = BASES.index(Basis.GRADED)
    basis[surfaced] = BASES.index(Basis.TAGGED)
    return WayGround(
        p=tags.bounded(p).astype(np.float32),
        basis=basis,
        clash=np.zeros(len(ways), dtype=np.int8),
        map_day=map_day(ways),
    )


def map_day(ways: WayTable) -> int:
    """Day of the newest edit of any way, days since 1970-01-01; -1 if none is known."""
    return int(ways.edited_day.max(initial=-1))


def tag_age_years(ways: WayTable) -> FloatArray:
    """Age of each way's last edit against the map's newest [a], shape (w,); NaN not known."""
    day = np.asarray(ways.edited_day, dtype=np.float64)
    age = (day.max(initial=-1.0) - day) / 365.25
    return np.where(day > 0, age, np.nan)
