"""Settlements and what they offer, passes, springs and gates."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from terrain.values.arrays import FloatArray
from tests.island.frame import COLS, ROWS, STEP_M
from tests.island.land import Land
from tests.island.lines import lengths_m
from tests.island.names import ISLAND, ISLET, TOWNS, first_names, words
from tests.island.network import Network
from tests.island.noise import stream
from tests.island.roads import Line, ele_at

Tags = Mapping[str, str]

# What settlements offer, as the mean number of each by size: hamlet, village, small town, large
# town, main town.
_OFFERS: Final[tuple[tuple[Tags, tuple[float, ...]], ...]] = (
    ({"amenity": "fuel", "fuel:octane_95": "yes", "fuel:diesel": "yes"}, (0, 0.22, 1.2, 2.4, 6)),
    ({"amenity": "fuel"}, (0.02, 0.15, 0.3, 0.5, 1)),
    ({"shop": "motorcycle_repair"}, (0, 0.1, 0.45, 1.2, 3)),
    ({"shop": "motorcycle", "service:vehicle:motorcycle": "yes"}, (0, 0, 0.1, 0.6, 2)),
    ({"shop": "motorcycle"}, (0, 0, 0.1, 0.3, 1)),
    ({"shop": "car_repair"}, (0.02, 0.2, 0.9, 1.6, 4)),
    ({"shop": "car_repair", "service:vehicle:motorcycle": "yes"}, (0, 0.03, 0.15, 0.3, 1)),
    ({"shop": "tyres"}, (0, 0.05, 0.3, 0.8, 2)),
    ({"shop": "bicycle"}, (0, 0, 0.1, 0.5, 2)),
    ({"amenity": "drinking_water"}, (0.14, 0.4, 0.8, 1.5, 5)),
    ({"man_made": "water_tap", "drinking_water": "yes"}, (0.05, 0.1, 0.2, 0.2, 1)),
    ({"amenity": "clinic"}, (0, 0.06, 0.6, 1, 2)),
    ({"amenity": "doctors"}, (0, 0.12, 0.5, 1, 4)),
    ({"amenity": "pharmacy"}, (0, 0.15, 0.9, 1.6, 5)),
    ({"amenity": "police"}, (0, 0.06, 0.7, 1, 2)),
    ({"tourism": "guest_house"}, (0.04, 0.25, 1.2, 2, 5)),
    ({"tourism": "hotel"}, (0, 0.03, 0.5, 1.5, 5)),
    ({"amenity": "restaurant"}, (0.02, 0.3, 1.5, 3, 12)),
    ({"amenity": "cafe"}, (0.05, 0.3, 1, 2, 8)),
    ({"shop": "convenience"}, (0.2, 0.9, 2, 3, 9)),
    ({"shop": "supermarket"}, (0, 0, 0.4, 1, 3)),
)
_OFTEN_OPEN: Final = ("24/7", "Mo-Sa 07:00-18:00", "Mo-Su 06:00-21:00", "Mo-Fr 08:00-17:00")
_BY_SEA_LARGE: Final = (4, 7, 9, 11)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Places:
    """Tagged single points, buildings drawn as closed lines, and names for the roads.

    spots : shape (n, 2) with spot_tags
    buildings : closed lines with building_tags
    names : of each town, village and hamlet in the order of the network
    pass_names : names of the passes
    """

    spots: FloatArray
    spot_tags: tuple[Tags, ...]
    buildings: tuple[FloatArray, ...]
    building_tags: tuple[Tags, ...]
    names: tuple[str, ...]


def make_places(land: Land, network: Network, place: FloatArray, roads: list[Line]) -> Places:
    """Everything a rider may look for, near the roads of each settlement."""
    rng = stream("places")
    taken = first_names()
    names = (*TOWNS, *words("villages", len(network.hamlets), taken))
    spots: list[tuple[FloatArray, Tags]] = []
    buildings: list[tuple[FloatArray, Tags]] = []
    corners = np.concatenate([ln.xy for ln in roads if ln.kind not in ("path", "ferry", "track")])
    for k, spot in enumerate((*network.towns, *network.hamlets)):
        size = _size(k, spot.kind)
        here = place[spot.node]
        spots.append((here + 6, _settlement(names[k], size, rng)))
        near = corners[np.hypot(*(corners - here).T) < (250, 450, 700, 900, 1500)[size]]
        _offer(near if len(near) else here[None], size, spots, buildings, rng)
    islet = np.argwhere(land.islet).mean(axis=0)
    spots.append((np.array((-1500.0, 1200.0)), {"place": "island", "name": ISLAND}))
    spots.append((_board_xy(islet), {"place": "island", "name": ISLET}))
    spots.append((place[network.towns[0].node] + (35, -20), _rental_yard("Harbour rental yard")))
    spots.append((place[network.towns[14].node] + (-30, 25), _rental_yard("Hill rental yard")))
    _hospitals(network, place, names, buildings)
    spots.extend(_passes(land, roads, taken))
    spots.extend(_springs(land, roads, taken, rng))
    return Places(
        spots=np.round([s[0] for s in spots], 2),
        spot_tags=tuple(s[1] for s in spots),
        buildings=tuple(b[0] for b in buildings),
        building_tags=tuple(b[1] for b in buildings),
        names=names,
    )


def _board_xy(row_col: FloatArray) -> FloatArray:
    return np.array(
        ((row_col[1] - (COLS - 1) / 2) * STEP_M, (row_col[0] - (ROWS - 1) / 2) * STEP_M)
    )


def _size(k: int, kind: str) -> int:
    if kind == "town":
        return 4 if k == 0 else 3 if k in _BY_SEA_LARGE else 2
    return 1 if kind == "village" else 0


def _settlement(name: str, size: int, rng: np.random.Generator) -> Tags:
    people = (60, 700, 4200, 14_000, 71_000)[size] * (0.55 + 0.9 * rng.random())
    tags = {"place": ("hamlet", "village", "village", "town", "town")[size], "name": name}
    if people > 10_000:
        tags["place"] = "town"
    if rng.random() < (0.45, 0.7, 0.95, 1.0, 1.0)[size]:
        tags["population"] = str(int(people))
    return tags


def _offer(
    near: FloatArray,
    size: int,
    spots: list[tuple[FloatArray, Tags]],
    buildings: list[tuple[FloatArray, Tags]],
    rng: np.random.Generator,
) -> None:
    for offer, means in _OFFERS:
        mean = means[size]
        for _ in range(int(mean) + int(rng.random() < mean - int(mean))):
            turn = 2 * np.pi * rng.random()
            side = (9 + 14 * rng.random()) * np.array([np.cos(turn), np.sin(turn)])
            xy = near[int(rng.random() * len(near))] + side
            tags = dict(offer)
            if rng.random() < 0.3:
                tags["opening_hours"] = _OFTEN_OPEN[int(rng.random() * len(_OFTEN_OPEN))]
            if rng.random() < 0.15 and "shop" in tags:
                buildings.append((_square(xy, 7), {"building": "yes", **tags}))
            else:
                spots.append((xy, tags))


def _square(xy: FloatArray, half_m: float) -> FloatArray:
    corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1)]) * half_m
    return np.round(xy + corners, 2)


def _rental_yard(name: str) -> Tags:
    return {"amenity": "motorcycle_rental", "name": name, "shop": "motorcycle_repair"}


def _hospitals(
    network: Network,
    place: FloatArray,
    names: tuple[str, ...],
    buildings: list[tuple[FloatArray, Tags]],
) -> None:
    for k, emergency in ((0, "yes"), (7, "yes"), (9, "no"), (4, "")):
        tags = {"building": "hospital", "amenity": "hospital", "name": f"{names[k]} Hospital"}
        if emergency:
            tags["emergency"] = emergency
        else:
            # Drawn as a relation: see the island's drawing.
            tags = {"building": "yes"}
        buildings.append((_square(place[network.towns[k].node] + (70, 90), 28), tags))


def _passes(land: Land, roads: list[Line], taken: set[str]) -> list[tuple[FloatArray, Tags]]:
    """The high points of roads over the range, apart from each other."""
    found: list[tuple[float, FloatArray]] = []
    for line in roads:
        if line.kind not in ("secondary", "tertiary", "unclassified", "track"):
            continue
        ele = ele_at(land, line.xy)
        k = int(np.argmax(ele))
        along = lengths_m(line.xy)
        if not 0 < k < len(ele) - 1 or ele[k] < 320:
            continue
        # Both sides must fall well below the top within the line.
        low = min(ele[:k].min(), ele[k:].min()), max(ele[:k].min(), ele[k:].min())
        if ele[k] - low[1] > 45 and along[-1] > 1500:
            found.append((float(ele[k]), line.xy[k]))
    chosen: list[tuple[float, FloatArray]] = []
    for ele_m, xy in sorted(found, key=lambda item: (-item[0], item[1][0])):
        if all(np.hypot(*(xy - other)) > 1800 for _, other in chosen):
            chosen.append((ele_m, xy))
    names = words("passes", len(chosen), taken)
    rng = stream("pass heights")
    spots: list[tuple[FloatArray, Tags]] = []
    for (ele_m, xy), name in zip(chosen, names, strict=True):
        tags = {"mountain_pass": "yes", "natural": "saddle", "name": f"{name} Pass"}
        if rng.random() < 0.85:
            tags["ele"] = f"{ele_m + 8 * (rng.random() - 0.5):.0f}"
        spots.append((xy, tags))
    return spots


def _springs(
    land: Land, roads: list[Line], taken: set[str], rng: np.random.Generator
) -> list[tuple[FloatArray, Tags]]:
    """Springs, camp sites and mountain huts by lesser roads in the hills."""
    points = np.concatenate([ln.xy for ln in roads if ln.kind in ("track", "unclassified")])
    high = points[ele_at(land, points) > 350]
    spots: list[tuple[FloatArray, Tags]] = []
    for _ in range(26):
        tags = {"natural": "spring"}
        luck = rng.random()
        if luck < 0.6:
            tags["drinking_water"] = "yes" if luck < 0.42 else "no"
        spots.append((high[int(rng.random() * len(high))] + 12, tags))
    for name, kind in zip(
        words("camps", 9, taken), ["camp_site"] * 6 + ["alpine_hut"] * 3, strict=True
    ):
        word = "Camp" if kind == "camp_site" else "Hut"
        xy = (points if kind == "camp_site" else high)[int(rng.random() * len(high))]
        spots.append((xy - 15, {"tourism": kind, "name": f"{name} {word}"}))
    return spots
