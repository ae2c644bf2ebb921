"""Names and numbers of roads and rivers."""

from __future__ import annotations

from typing import Final

import numpy as np

from terrain.values.arrays import FloatArray
from tests.island.ground import TrueGround
from tests.island.names import first_names, words
from tests.island.noise import stream
from tests.island.ways import Way

_NAMED: Final = {
    "primary": 0.8, "trunk": 1.0, "secondary": 0.8, "tertiary": 0.5, "unclassified": 0.25,
    "residential": 0.45, "living_street": 0.5, "track": 0.06, "service": 0.02, "path": 0.08,
}  # fmt: skip
_NUMBERED: Final = {"primary": 0.97, "trunk": 1.0, "secondary": 0.95, "tertiary": 0.6}
_STREET: Final = ("Street", "Lane", "Row", "Rise")


def name_roads(
    ways: tuple[Way, ...],
    tags: list[dict[str, str]],
    ground: TrueGround,
    settlements: FloatArray,
    names: tuple[str, ...],
) -> None:
    """Give the ways' tags their names and numbers; ways of one road mostly share them.

    settlements : places of the settlements on the board, shape (s, 2), with their names
    """
    rng = stream("road names")
    middle = np.array([w.xy[len(w.xy) // 2] for w in ways])
    gap = np.hypot(*(middle[:, None] - settlements[None]).transpose(2, 0, 1))
    nearest = gap.argmin(axis=1)
    street_words = words("streets", 160, first_names())
    for k, way in enumerate(ways):
        if way.kind == "ferry":
            tags[k]["name"] = "Ulenambe Strait Ferry"
            continue
        number = _number(way, int(ground.district[k]))
        if number and rng.random() < _NUMBERED[way.kind]:
            tags[k]["ref"] = number
        named = rng.random() < _NAMED.get(way.kind, 0.0)
        if not named or "junction" in way.tags:
            continue
        if way.part == "street":
            word = street_words[(way.line * 7) % len(street_words)]
            tags[k]["name"] = f"{word} {_STREET[way.line % len(_STREET)]}"
        else:
            tags[k]["name"] = _road_name(way, names[nearest[k]])


def _number(way: Way, district: int) -> str:
    if way.kind in ("primary", "trunk"):
        return "R1"
    if way.kind == "secondary":
        return f"R{2 + district % 5}"
    if way.kind == "tertiary":
        return f"R{10 + district}{1 + way.line % 4}"
    return ""


def _road_name(way: Way, near: str) -> str:
    if way.part == "old road":
        return "Old Pass Road"
    if way.kind == "primary":
        return "Coast Road"
    if way.kind == "trunk":
        return "Harbour Highway"
    if way.kind == "track":
        return f"{near} Track"
    if way.kind == "path":
        return f"{near} Path"
    return f"{near} Road"
