"""Military and protected areas from OSM extracts."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely

from terrain.region.pbf import UNITS, UNKNOWN
from terrain.region.place_tags import area_kind
from terrain.region.tags import Tags
from terrain.values.arrays import FloatArray, Int32Array
from terrain.values.places import AreaKind, AreasView

# Relations of these types are areas: OSM wiki, Relation:multipolygon and Relation:boundary.
_AREA_TYPES = ("multipolygon", "boundary")
_TOLERANCE_DEG = 1e-4  # about 10 m: corners this small are left out


@dataclass(slots=True)
class RawAreas:
    """Areas as read, each once, small corners left out; those whose rings do not close, as at the
    edge of an extract, are left out."""

    kinds: list[AreaKind] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    rings: list[tuple[int, FloatArray]] = field(default_factory=list)
    _seen: set[tuple[str, int]] = field(default_factory=set)

    def add_way(self, osm_id: int, tags: Tags, line: Int32Array) -> None:
        """A way that closes is an area, if its tags do not say otherwise.

        line : lon, lat of its nodes [1e-7 deg], shape (n, 2)
        """
        if tags.get("area") != "no":
            self._add(("w", osm_id), tags, [line])

    def add_relation(self, osm_id: int, tags: Tags, ways: list[Int32Array | None]) -> None:
        """An area whose rings are made of ways; None for those the file does not hold."""
        held = [line for line in ways if line is not None]
        if tags.get("type") in _AREA_TYPES and held and len(held) == len(ways):
            self._add(("r", osm_id), tags, held)

    def _add(self, key: tuple[str, int], tags: Tags, lines: list[Int32Array]) -> None:
        kind = area_kind(tags)
        if kind is None or key in self._seen:
            return
        shape = _shape(lines)
        if shape is None:
            return
        self._seen.add(key)
        for polygon in shapely.get_parts(shapely.simplify(shape, _TOLERANCE_DEG)):
            if not polygon.is_empty:
                self.rings += [
                    (len(self.kinds), shapely.get_coordinates(ring))
                    for ring in (polygon.exterior, *polygon.interiors)
                ]
        self.kinds.append(kind)
        self.names.append(tags.get("name", ""))

    def build(self) -> AreasView:
        """All areas read."""
        points = np.concatenate([xy for _, xy in self.rings]) if self.rings else np.zeros((0, 2))
        return AreasView(
            kind=np.array(self.kinds, np.int8), name=tuple(self.names),
            ring_area=np.array([area for area, _ in self.rings], np.int32),
            ring_start=np.concatenate([[0], np.cumsum([len(xy) for _, xy in self.rings])])
            .astype(np.int64),
            lon=points[:, 0].copy(), lat=points[:, 1].copy(),
        )  # fmt: skip


def _shape(lines: list[Int32Array]) -> shapely.Geometry | None:
    """The area that lines close round, holes left open; None where they do not close.

    lines : lon, lat of each [1e-7 deg], shape (n, 2)
    """
    if any(len(line) < 2 or (line[:, 0] == UNKNOWN).any() for line in lines):
        return None
    _, times = np.unique(
        [line[end] for line in lines for end in (0, -1)], axis=0, return_counts=True
    )
    if (times % 2).any():
        return None
    # Cut where lines cross or run twice, so that a spike or a loop hides no area.
    drawn = shapely.unary_union([shapely.LineString(line / UNITS) for line in lines])
    shape = shapely.build_area(drawn)
    return None if shapely.is_empty(shape) else shape
