"""Tags of one way that do not fit each other."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from terrain.stages.ground import tags
from terrain.tables.ground import TRUST
from terrain.values.arrays import BoolArray, FloatArray, Int8Array
from terrain.values.ground import Clash
from terrain.values.sentences import sentence
from terrain.values.views import Category, WayTable

_SAID = {
    Clash.SURFACE_TRACKTYPE: ("surface", "tracktype"),
    Clash.SURFACE_SMOOTHNESS: ("surface", "smoothness"),
    Clash.TRACKTYPE_SMOOTHNESS: ("tracktype", "smoothness"),
}


def find_clashes(ways: WayTable) -> Int8Array:
    """Bits of Clash for each way, shape (w,).

    Two tags clash if the grounds they name hardly overlap (TRUST.clash_overlap): asphalt with
    grade5, mud with excellent smoothness. Gravel may be washed out to any smoothness: between
    unsealed grounds smoothness contradicts nothing.
    """
    tables: dict[str, tuple[Category, Mapping[str, tags.TagRow]]] = {
        "surface": (ways.surface, tags.SURFACE_BY_VALUE),
        "tracktype": (ways.tracktype, tags.TRACKTYPE_BY_VALUE),
        "smoothness": (ways.smoothness, tags.SMOOTHNESS_BY_VALUE),
    }
    weights = {key: tags.tag_weights(*table) for key, table in tables.items()}
    known = {key: tags.tag_known(*table) for key, table in tables.items()}
    out = np.zeros(len(ways), dtype=np.int8)
    for bit, (one, two) in _SAID.items():
        apart = _apart(weights[one], weights[two]) & known[one] & known[two]
        if two == "smoothness":
            apart &= _sealed(weights[one]) | _sealed(weights[two])
        out |= np.where(apart, np.int8(bit.value), np.int8(0))
    return out


def clash_words(ways: WayTable, way: int, clash: int) -> tuple[str, ...]:
    """Each contradiction of a way in words."""
    return tuple(
        sentence(
            "{one} does not fit {other}",
            one=f"{one}={getattr(ways, one).text(way)}",
            other=f"{two}={getattr(ways, two).text(way)}",
        )
        for bit, (one, two) in _SAID.items()
        if clash & bit
    )


def _sealed(weights: FloatArray) -> BoolArray:
    return np.asarray(np.argmax(weights, axis=1) == 0)


def _apart(one: FloatArray, two: FloatArray) -> BoolArray:
    share_one = one / one.sum(axis=1, keepdims=True)
    share_two = two / two.sum(axis=1, keepdims=True)
    overlap = np.minimum(share_one, share_two).sum(axis=1)
    return np.asarray(overlap < TRUST.clash_overlap)
