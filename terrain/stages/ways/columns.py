"""What is known of a way apart from its surface, as the columns of the model."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from terrain.stages.ways import tags
from terrain.stages.ways.shape import (
    RANKS,
    ROAD,
    SERVICE,
    TERTIARY,
    TRACK,
    UNCLASSIFIED,
    Shape,
)
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.views import Category, Texts, WayFlag, WayTable

GRADES = ("grade1", "grade2", "grade3", "grade4", "grade5")
SMOOTH = ("excellent", "good", "intermediate", "bad", "very_bad", "horrible", "very_horrible")
_SERVICES = ("driveway", "alley", "parking_aisle")
_FLAGS = ("LIT", "BRIDGE", "TUNNEL", "FORD", "FOUR_WD_ONLY", "ROUNDABOUT")
#: Who may ride says something of what lies there, and each kind of it something else: a road
#: for foresters is seldom sealed, a closed street in a town is.
_ACCESS = {
    "farm or forest only": ("agricultural", "forestry", "agricultural_forestry"),
    "private": ("private", "permit", "residents", "members", "employees", "students"),
    "customers or delivery": ("customers", "delivery"),
    "destination": ("destination",),
    "closed": ("no", "military", "emergency", "restricted"),
    "closed but to buses": ("bus", "psv", "taxi"),
}
#: Main roads, minor roads and tracks differ in what a fact says about them.
KINDS = ("main", "minor", "track")
_NAME_WEIGHT = 3.0  # a name's own class counts as this many other roads named alike


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WayFeatures:
    """Everything the model is told of each way, shape (w,).

    kind : index in KINDS; grade, smooth : index in GRADES, SMOOTH, -1 not tagged
    alike : how much more sealed the class table makes the roads whose name starts alike [logit]
    age : years between the way's last edit and the map, over 4, less 0.5; 0 not known
    """

    ways: WayTable
    shape: Shape
    kind: IntArray
    grade: IntArray
    smooth: IntArray
    alike: FloatArray
    age: FloatArray


def way_facts(ways: WayTable, shape: Shape) -> WayFeatures:
    return WayFeatures(
        ways=ways,
        shape=shape,
        kind=np.where(shape.rank <= TERTIARY, 0, np.where(shape.rank == TRACK, 2, 1)),
        grade=_index(ways.tracktype, GRADES),
        smooth=_index(ways.smoothness, SMOOTH),
        alike=_named_alike(ways, shape.road),
        age=_age(ways),
    )


def column_names() -> tuple[str, ...]:
    """The columns in order."""
    fixed = (
        *(f"class {name}" for name in RANKS[: TRACK + 1]),
        "link",
        *(f"tracktype {name}" for name in GRADES),
        "graded track",
        *(f"smoothness {name}" for name in SMOOTH),
        "1 lane", "2 lanes", "under 3 m", "3 to 5 m", "5 m and over",
        "to 20 km/h", "to 50 km/h", "over 50 km/h", "one way", "mtb:scale",
        *(name.lower().replace("_", " ") for name in _FLAGS),
        *(f"access {name}" for name in _ACCESS),
        *(f"service {name}" for name in _SERVICES),
    )  # fmt: skip
    return (*fixed, *(f"{fact}, {kind}" for kind in KINDS for fact in _BY_KIND))


_BY_KIND = (
    "named", "numbered", "streets near", "streets around", "roads near", "tracks near",
    "far from a place", "dead end", "long", "winding", "old edit", "named alike",
    "meets a main road", "meets a through road", "meets a street",
    "joins through roads", "joins roads at both ends",
)  # fmt: skip


def columns(facts: WayFeatures, rows: IntArray, *, graded: bool) -> FloatArray:
    """The columns of the given ways, shape (len(rows), len(column_names())).

    graded : with False, tracktype and smoothness are left out as if not tagged
    """
    ways, shape = facts.ways, facts.shape
    rank = np.minimum(shape.rank[rows], ROAD + 1)
    rank = np.where(shape.rank[rows] > TRACK, ROAD, rank)
    grade = facts.grade[rows] if graded else np.full(len(rows), -1)
    smooth = facts.smooth[rows] if graded else np.full(len(rows), -1)
    kind = facts.kind[rows]
    flags = ways.flags[rows]
    width = np.nan_to_num(ways.width_m[rows], nan=0.0)
    speed = np.nan_to_num(ways.maxspeed_kph[rows], nan=0.0)
    lanes = np.nan_to_num(ways.lanes[rows], nan=0.0)
    service = _index(ways.service, _SERVICES)[rows]
    access = _access(ways.access)[rows]
    fixed: list[BoolArray | FloatArray] = [
        *(rank == r for r in range(TRACK + 1)),
        shape.link[rows],
        *(grade == g for g in range(len(GRADES))),
        (grade >= 0) & (kind == 2),
        *(smooth == s for s in range(len(SMOOTH))),
        lanes == 1, lanes >= 2,
        (width > 0) & (width < 3), (width >= 3) & (width < 5), width >= 5,
        (speed > 0) & (speed <= 20), (speed > 20) & (speed <= 50), speed > 50,
        ways.oneway[rows] != 0, ways.mtb_scale[rows] >= 0,
        *((flags & WayFlag[name]) != 0 for name in _FLAGS),
        *(access == a for a in range(len(_ACCESS))),
        *(service == s for s in range(len(_SERVICES))),
    ]  # fmt: skip
    by_kind = _by_kind(facts, rows)
    both = [fact * (kind == k) for k in range(len(KINDS)) for fact in by_kind]
    return np.stack([np.asarray(c, dtype=np.float64) for c in (*fixed, *both)], axis=1)


def _by_kind(facts: WayFeatures, rows: IntArray) -> Sequence[FloatArray]:
    ways, shape = facts.ways, facts.shape
    touched, through = shape.touched[rows], shape.through[rows]
    told: list[FloatArray | BoolArray] = [
        ways.name.codes[rows] >= 0,
        ways.ref.codes[rows] >= 0,
        shape.urban[rows],
        shape.urban_wide[rows],
        shape.dense[rows] - 1.5,
        shape.tracks[rows],
        shape.place[rows],
        shape.dead[rows],
        np.clip(np.log(shape.length_m[rows] / 300), -2.0, 2.5),
        shape.winding[rows],
        facts.age[rows],
        facts.alike[rows],
        touched < TERTIARY,
        (touched >= TERTIARY) & (touched <= UNCLASSIFIED),
        (touched > UNCLASSIFIED) & (touched <= SERVICE),
        through <= UNCLASSIFIED,
        (through > UNCLASSIFIED) & (through <= TRACK),
    ]
    return [np.asarray(t, dtype=np.float64) for t in told]


def _index(column: Category, values: Sequence[str]) -> IntArray:
    words = [tags.first_word(value) for value in column.values]
    table = [values.index(word) if word in values else -1 for word in words]
    return np.asarray([*table, -1], dtype=np.int64)[column.codes]


def _access(column: Category) -> IntArray:
    """Kind of access by the first word of the value, -1 for open, other and not tagged."""
    kind = {word: k for k, words in enumerate(_ACCESS.values()) for word in words}
    table = [kind.get(tags.first_word(value), -1) for value in column.values]
    return np.asarray([*table, -1], dtype=np.int64)[column.codes]


def _age(ways: WayTable) -> FloatArray:
    day = np.asarray(ways.edited_day, dtype=np.float64)
    years = (day.max(initial=0.0) - day) / 365.25
    return np.where(day > 0, np.clip(years, 0.0, 8.0) / 4 - 0.5, 0.0)


def _named_alike(ways: WayTable, road: BoolArray) -> FloatArray:
    paved = tags.class_expectation(ways.highway)[:, 0]
    expected = np.log((1 - paved) / paved)
    word = name_words(ways.name)
    known = (word >= 0) & road
    count = np.bincount(word[known], minlength=len(ways.name.start))
    total = np.bincount(word[known], weights=expected[known], minlength=len(count))
    others = np.where(known, count[word] - 1, 0)
    rest = np.where(known, total[word] - expected, 0.0)
    mean = (rest + _NAME_WEIGHT * expected) / (others + _NAME_WEIGHT)
    return np.where(known, mean - expected, 0.0)


def name_words(name: Texts) -> IntArray:
    """Number of each name's kind of road: its first word, or the end of a single word."""
    seen: dict[str, int] = {}
    table = []
    blob = bytes(name.blob)
    for a, b in zip(name.start[:-1], name.start[1:], strict=True):
        words = blob[a:b].decode("utf-8", "replace").lower().split()
        key = words[0] if len(words) > 1 else "-" + words[0][-5:] if words else ""
        table.append(seen.setdefault(key, len(seen)) if key else -1)
    return np.asarray([*table, -1], dtype=np.int64)[name.codes]
