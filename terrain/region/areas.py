"""Military and protected areas from OSM extracts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import osmium
import shapely

from terrain.values.places import AreaKind, AreasView

# Tags of areas: OSM wiki, Key:military, Tag:boundary=protected_area, Tag:leisure=nature_reserve.
# Bunkers and memorials keep no road closed, so they are not here.
_MILITARY = frozenset({
    "airfield", "barracks", "base", "danger_area", "exclusion_zone", "naval_base",
    "nuclear_explosion_site", "range", "training_area",
})  # fmt: skip
_PROTECTED = {
    ("boundary", "protected_area"),
    ("boundary", "national_park"),
    ("leisure", "nature_reserve"),
}
# What the reader puts together; a map has a hundred other areas for each of these.
_WANTED = (
    ("landuse", "military"),
    *(("military", value) for value in sorted(_MILITARY)),
    *sorted(_PROTECTED),
)
_TOLERANCE_DEG = 1e-4  # about 10 m: corners this small are left out


def area_kind(tags: Mapping[str, str]) -> AreaKind | None:
    """What an area with these tags is; None if it limits no ride."""
    if tags.get("landuse") == "military" or tags.get("military") in _MILITARY:
        return AreaKind.MILITARY
    if any(tags.get(key) == value for key, value in _PROTECTED):
        return AreaKind.PROTECTED
    return None


def read_areas(paths: Iterable[Path]) -> AreasView | None:
    """The areas of one or several extracts that may overlap, each once, small corners left out.

    Areas whose rings do not close, as at the edge of an extract, are left out. None if the areas
    of a file cannot be put together, as where its objects are not in the order of their ids or it
    is no map at all, which reading its roads tells.
    """
    try:
        return _read_areas(paths)
    except (RuntimeError, ValueError, OSError):
        return None


def _read_areas(paths: Iterable[Path]) -> AreasView:
    kinds: list[AreaKind] = []
    names: list[str] = []
    rings: list[tuple[int, np.ndarray]] = []
    seen: set[int] = set()
    for path in paths:
        for key, tags, shape in _shapes(path):
            kind = area_kind(tags)
            if kind is None or key in seen:
                continue
            seen.add(key)
            for polygon in shapely.get_parts(shapely.simplify(shape, _TOLERANCE_DEG)):
                if polygon.is_empty:
                    continue
                rings += [
                    (len(kinds), shapely.get_coordinates(ring))
                    for ring in (polygon.exterior, *polygon.interiors)
                ]
            kinds.append(kind)
            names.append(tags.get("name", ""))
    points = np.concatenate([xy for _, xy in rings]) if rings else np.zeros((0, 2))
    return AreasView(
        kind=np.array(kinds, np.int8), name=tuple(names),
        ring_area=np.array([area for area, _ in rings], np.int32),
        ring_start=np.concatenate([[0], np.cumsum([len(xy) for _, xy in rings])]).astype(np.int64),
        lon=points[:, 0].copy(), lat=points[:, 1].copy(),
    )  # fmt: skip


def _shapes(path: Path) -> Iterable[tuple[int, dict[str, str], shapely.Geometry]]:
    wanted = osmium.filter.TagFilter(*_WANTED)
    reader = (
        osmium.FileProcessor(path)
        .with_areas(wanted)
        .with_filter(osmium.filter.EntityFilter(osmium.osm.AREA))
        .with_filter(wanted)
    )
    factory = osmium.geom.WKBFactory()
    for item in reader:
        tags = {tag.k: tag.v for tag in item.tags}
        if not isinstance(item, osmium.osm.Area) or area_kind(tags) is None:
            continue
        try:
            wkb: Any = factory.create_multipolygon(item)  # text of hexadecimal digits
        except RuntimeError:  # its rings do not close
            continue
        shape: Any = shapely.from_wkb(wkb, on_invalid="ignore")
        if shape is not None:
            yield item.id, tags, shape
