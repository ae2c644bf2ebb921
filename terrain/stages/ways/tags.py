"""Map tags as evidence: from texts to weights of paved, gravel, track."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Protocol

import numpy as np

from terrain.tables.ground import (
    CLASS_UNKNOWN,
    CLASSES,
    SMOOTHNESS,
    SURFACES,
    TRACKTYPES,
    TRUST,
    Weights,
)
from terrain.text.catalogue import N_
from terrain.text.message import Message, message, term
from terrain.text.terms import EVENNESS_TERMS, GRADE_TERMS, SURFACE_TERMS
from terrain.values.arrays import BoolArray, FloatArray, Int8Array
from terrain.values.ground import Clash
from terrain.values.views import Category, WayTable


class TagRow(Protocol):
    """A row of a tag table."""

    @property
    def value(self) -> str: ...

    @property
    def weights(self) -> Weights: ...


SURFACE_BY_VALUE = {row.value: row for row in SURFACES}
TRACKTYPE_BY_VALUE = {row.value: row for row in TRACKTYPES}
SMOOTHNESS_BY_VALUE = {row.value: row for row in SMOOTHNESS}
CLASS_BY_VALUE = {row.value: row for row in CLASSES}

_FLAT = (1.0, 1.0, 1.0)


def first_word(value: str) -> str:
    """The first of several values ("asphalt;gravel"), in the spelling of the tables."""
    return value.split(";")[0].strip().lower().replace(" ", "_")


def tag_weights(column: Category, rows: Mapping[str, TagRow]) -> FloatArray:
    """Weights of paved, gravel, track for each way, shape (w, 3); 1, 1, 1 if the tag is absent.

    Of several values ("asphalt;gravel") the way is some of each: their weights are averaged.
    """
    table = [_weights_of(value, rows) for value in column.values]
    table.append(_FLAT)  # code -1
    return np.asarray(table, dtype=np.float64)[column.codes]


def tag_known(column: Category, rows: Mapping[str, TagRow]) -> BoolArray:
    """Which ways carry a value of the table, shape (w,)."""
    table = [any(word in rows for word in _words(value)) for value in column.values]
    return np.asarray([*table, False], dtype=np.bool_)[column.codes]


def _words(value: str) -> Sequence[str]:
    return [first_word(part) for part in value.split(";")]


def _weights_of(value: str, rows: Mapping[str, TagRow]) -> Weights:
    known = [rows[word].weights for word in _words(value) if word in rows]
    if not known:
        return _FLAT
    mean = np.mean(np.asarray(known), axis=0)
    return (float(mean[0]), float(mean[1]), float(mean[2]))


def class_expectation(highway: Category) -> FloatArray:
    """The worldwide table's probabilities for each way, shape (w, 3)."""
    table = [CLASS_BY_VALUE.get(value, CLASS_UNKNOWN).expect for value in highway.values]
    table.append(CLASS_UNKNOWN.expect)
    return np.asarray(table, dtype=np.float64)[highway.codes]


def changed_since(years: FloatArray, per_year: float) -> FloatArray:
    """Chance that something changed within `years` at `per_year`; NaN years count as none."""
    return np.asarray(1 - np.exp(-per_year * np.nan_to_num(np.maximum(years, 0.0))))


def aged(weights: FloatArray, age_years: FloatArray, per_year: float) -> FloatArray:
    """Weights of a tag seen `age_years` ago: the older, the more alike they become.

    With the chance that the ground changed since, the tag says nothing: its weights are then
    their mean. age_years : [a], shape (w,); NaN counts as new.
    """
    mean = weights.mean(axis=1, keepdims=True)
    changed = changed_since(age_years, per_year)
    return np.asarray(weights + (mean - weights) * changed[:, None], dtype=np.float64)


def bounded(p: FloatArray, least: float) -> FloatArray:
    """Probabilities scaled to sum 1 with none below `least`."""
    p = p / p.sum(axis=1, keepdims=True)
    n = p.shape[1]
    return np.asarray(least + (1 - n * least) * p, dtype=np.float64)


def with_tag(p: FloatArray, weights: FloatArray, known: BoolArray, power: float) -> FloatArray:
    """Estimates `p` sharpened by a tag where `known`; the estimate counts with `power`."""
    told = np.power(p, power) * weights
    told /= told.sum(axis=1, keepdims=True)
    return np.where(known[:, None], told, p)


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
    tables: dict[str, tuple[Category, Mapping[str, TagRow]]] = {
        "surface": (ways.surface, SURFACE_BY_VALUE),
        "tracktype": (ways.tracktype, TRACKTYPE_BY_VALUE),
        "smoothness": (ways.smoothness, SMOOTHNESS_BY_VALUE),
    }
    weights = {key: tag_weights(*table) for key, table in tables.items()}
    known = {key: tag_known(*table) for key, table in tables.items()}
    out = np.zeros(len(ways), dtype=np.int8)
    for bit, (one, two) in _SAID.items():
        apart = _apart(weights[one], weights[two]) & known[one] & known[two]
        if two == "smoothness":
            apart &= _sealed(weights[one]) | _sealed(weights[two])
        out |= np.where(apart, np.int8(bit.value), np.int8(0))
    return out


@lru_cache(maxsize=1024)  # a long ride has few values and many stretches
def tag_words(key: str, value: str) -> Message:
    """What a tag of a way says of its ground, in words: nobody rides by keys.

    key : surface, tracktype or smoothness
    """
    form, terms = _TAG_WORDS.get(key, _TAG_WORDS["smoothness"])
    words = dict.fromkeys(part.strip() for part in value.split(";"))
    return message(
        form, what=tuple(term(terms.get(first_word(w), w.replace("_", " "))) for w in words if w)
    )


_TAG_WORDS: dict[str, tuple[str, Mapping[str, str]]] = {
    "surface": (N_("surface: {what}"), SURFACE_TERMS),
    "tracktype": (N_("firmness: {what}"), GRADE_TERMS),
    "smoothness": (N_("evenness: {what}"), EVENNESS_TERMS),
}


def clash_words(ways: WayTable, way: int, clash: int) -> tuple[str, ...]:
    """Each contradiction of a way in words."""
    return tuple(
        message(
            "{one} does not fit {other}",
            one=tag_words(one, getattr(ways, one).text(way) or ""),
            other=tag_words(two, getattr(ways, two).text(way) or ""),
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
