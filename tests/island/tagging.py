"""What mappers wrote: tags as incomplete, uneven and now and then wrong as in real data.

Shares follow the real extracts looked at while this was written: surface on nearly all main
roads but on a fifth to a half of the lesser ones, tracktype mostly on tracks, smoothness rare.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from terrain.values.arrays import FloatArray, IntArray
from tests.island.ground import GRAVEL, PAVED, TRACK, TrueGround
from tests.island.noise import smooth_field, stream
from tests.island.roads import field_at
from tests.island.ways import Way

# Share of ways with a surface tag where mapping is of the usual quality.
_SURFACE_SHARE: Final[Mapping[str, float]] = {
    "trunk": 0.95, "trunk_link": 0.9, "primary": 0.93, "secondary": 0.88, "tertiary": 0.72,
    "unclassified": 0.49, "residential": 0.34, "living_street": 0.3, "service": 0.13,
    "track": 0.36, "path": 0.22,
}  # fmt: skip
_PAVED_WORDS: Final = ("paved", "asphalt")
_GENERIC: Final = 0.10
# Share of surface tags that are wrong: many eyes see the main roads.
_WRONG: Final = 0.035
_WRONG_MAIN: Final = 0.008
_ODD: Final = 0.008
_TYPED: Final[Mapping[str, tuple[str, ...]]] = {
    "asphalt": ("Asphalt", "asphalt;unpaved", "tarmac"),
    "gravel": ("gravle", "gravel;dirt"),
    "compacted": ("compacted_gravel",),
    "dirt": ("dirt/sand", "earth"),
}
_SMOOTHNESS: Final = (
    ("excellent", "good", "good", "intermediate", "bad"),
    ("intermediate", "bad", "bad", "very_bad"),
    ("very_bad", "very_bad", "horrible", "horrible", "very_horrible"),
)
# Days since 1970 of the first and last edits: 2014-02-01 to 2026-11-20.
_FIRST_DAY: Final = 16_102
_LAST_DAY: Final = 20_777


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tagged:
    """Tags of every way, the day of its last edit (since 1970) and its version."""

    tags: tuple[Mapping[str, str], ...]
    edited_day: IntArray
    version: IntArray


def tag_ways(ways: tuple[Way, ...], ground: TrueGround) -> Tagged:
    """The ways as mappers left them."""
    middle = np.array([w.xy[len(w.xy) // 2] for w in ways])
    # Mappers work area by area: where one was keen, most things are tagged.
    keen = 0.95 * field_at(smooth_field("mappers", 8000, 2), middle)
    rng = stream("tags")
    tags = []
    for k, way in enumerate(ways):
        made = _class_tags(way)
        if way.kind != "ferry":
            _surface_tags(made, way, k, ground, float(keen[k]), rng)
            _grade_tags(made, way, k, ground, float(keen[k]), rng)
            _road_tags(made, way, ground, k, rng)
            _limits(made, way, ground, k, rng)
        tags.append(made)
    day, version = _edits(middle, rng)
    return Tagged(tags=tuple(tags), edited_day=day, version=version)


def _class_tags(way: Way) -> dict[str, str]:
    return {**({} if way.kind == "ferry" else {"highway": way.kind}), **way.tags}


def _likely(share: float, keen: float, rng: np.random.Generator) -> bool:
    """A draw with a share moved up or down by how keen the mappers of the place are."""
    odds = share / (1 - share) * np.exp(1.5 * keen)
    return bool(rng.random() < odds / (1 + odds))


def _surface_tags(
    made: dict[str, str],
    way: Way,
    k: int,
    ground: TrueGround,
    keen: float,
    rng: np.random.Generator,
) -> None:
    share = _SURFACE_SHARE.get(way.kind, 0.3)
    if not _likely(share, keen, rng):
        return
    surface = ground.surface[k]
    luck = rng.random()
    wrong = _WRONG_MAIN if way.kind in ("trunk", "primary", "secondary") else _WRONG
    if luck < wrong:
        # Resealed or worn since it was mapped, or misread from above.
        surface = ("gravel", "asphalt", "unpaved")[ground.ground[k]]
    elif luck < wrong + _ODD:
        options = _TYPED.get(surface, (surface,))
        surface = options[int(rng.random() * len(options))]
    elif luck < wrong + _ODD + _GENERIC:
        surface = "paved" if ground.ground[k] == PAVED else "unpaved"
    elif surface == "compacted" and rng.random() < 0.35:
        surface = "gravel"
    elif surface == "dirt" and rng.random() < 0.5:
        surface = "ground" if rng.random() < 0.8 else "earth"
    elif surface == "chipseal" and rng.random() < 0.6:
        surface = "asphalt"
    made["surface"] = surface


def _grade_tags(
    made: dict[str, str],
    way: Way,
    k: int,
    ground: TrueGround,
    keen: float,
    rng: np.random.Generator,
) -> None:
    true = int(ground.ground[k])
    if way.kind == "track" and _likely(0.42, keen, rng):
        grade = (1.0, 2.1, 3.9)[true] + 1.1 * (rng.random() + rng.random() - 1)
        made["tracktype"] = f"grade{int(np.clip(np.round(grade), 1, 5))}"
    elif way.kind in ("unclassified", "service") and rng.random() < 0.05:
        made["tracktype"] = f"grade{(1, 2, 4)[true]}"
    if "surface" in made and rng.random() < 0.014:
        # Tags of two mappers that cannot both be right.
        made["tracktype"] = "grade5" if made["surface"] in _PAVED_WORDS else "grade1"
    if _likely(0.07 if way.kind not in ("track", "path") else 0.10, keen, rng):
        words = _SMOOTHNESS[true]
        made["smoothness"] = words[int(rng.random() * len(words))]
    if true == TRACK and way.kind in ("path", "track") and rng.random() < 0.05:
        made["mtb:scale"] = str(int(rng.random() * 4))


def _road_tags(
    made: dict[str, str], way: Way, ground: TrueGround, k: int, rng: np.random.Generator
) -> None:
    main = way.kind in ("trunk", "primary", "secondary", "tertiary")
    true = int(ground.ground[k])
    if "lanes" not in made and rng.random() < (0.55 if main else 0.08):
        made["lanes"] = "2" if main else "1"
    if rng.random() < (0.15 if main else 0.09):
        wide = {"primary": 6.8, "secondary": 6.0, "tertiary": 5.2, "unclassified": 4.2}
        width = wide.get(way.kind, 3.0) * (0.85 + 0.3 * rng.random()) * (1, 0.92, 0.8)[true]
        made["width"] = f"{width:.1f}" if rng.random() < 0.8 else f"{width:.1f} m"
    if main and rng.random() < 0.5:
        limit = {"trunk": "80", "primary": "70", "secondary": "60", "tertiary": "50"}[way.kind]
        made["maxspeed"] = limit
    if way.part == "street" and rng.random() < 0.08:
        made["maxspeed"] = "40"
    if way.part == "street" and rng.random() < 0.12:
        made["lit"] = "yes"
    if ground.steep_pct[k] > 22 and rng.random() < 0.04:
        made["incline"] = f"{(-1) ** int(rng.random() * 2) * int(8 + 14 * rng.random())}%"


def _limits(
    made: dict[str, str], way: Way, ground: TrueGround, k: int, rng: np.random.Generator
) -> None:
    """Who may go, and when."""
    true = int(ground.ground[k])
    if way.kind == "track" and way.part == "through":
        luck = rng.random()
        if true == TRACK and luck < 0.06:
            made["4wd_only"] = "yes"
        elif luck < 0.10:
            made["access"] = ("private", "forestry", "agricultural", "permissive")[
                int(rng.random() * 4)
            ]
        elif luck < 0.13:
            made["motor_vehicle"] = ("destination", "no", "yes")[int(rng.random() * 3)]
        elif luck < 0.14:
            made["motorcycle"] = ("no", "yes", "designated")[int(rng.random() * 3)]
    if true != PAVED and way.kind in ("track", "unclassified"):
        luck = rng.random()
        if luck < 0.045:
            made["seasonal"] = "dry_season"
        elif luck < 0.055:
            made["motor_vehicle:conditional"] = "no @ (Jun-Oct)"
        elif luck < 0.06 and true == GRAVEL:
            made["surface:conditional"] = "mud @ wet"
    if way.kind == "path" and rng.random() < 0.08:
        made["motor_vehicle"] = "no" if rng.random() < 0.7 else "yes"


def _edits(middle: FloatArray, rng: np.random.Generator) -> tuple[IntArray, IntArray]:
    """Days of last edits, near each other where one mapper worked, and versions."""
    area = field_at(smooth_field("edit days", 6000, 2), middle)
    n = len(middle)
    at = np.clip(0.55 + 0.4 * area + 0.5 * (rng.random(n) - 0.5), 0, 1)
    fresh = rng.random(n) < 0.15
    at = np.where(fresh, 1 - 0.1 * rng.random(n), at)
    day = (_FIRST_DAY + at * (_LAST_DAY - _FIRST_DAY)).astype(np.int64)
    version = 1 + (12 * rng.random(n) ** 3 * (0.3 + at)).astype(np.int64)
    return day, version
