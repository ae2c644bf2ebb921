"""A pack holds nothing that only its own build reads."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np

import terrain
from terrain.region.region import Region, open_region
from terrain.values.climate import ClimateGrid

# Asking for a number of rows, or for a copy, is no use of what the rows hold.
_NO_USE = frozenset({"__len__", "n_nodes", "n_edges", "replace", "_replace"})


def _arrays(value: object, path: str = "") -> Iterator[str]:
    for field in fields(value):  # type: ignore[arg-type]
        held, name = getattr(value, field.name), f"{path}{field.name}"
        if isinstance(held, np.ndarray):
            yield name
        elif is_dataclass(held):
            yield from _arrays(held, f"{name}.")


def _watched(value: Any, read: set[str], path: str = "") -> Any:
    """A copy of a frozen value that notes which of its arrays are asked for."""
    cls = type(value)
    held = {field.name: getattr(value, field.name) for field in fields(value)}
    arrays = {name for name, item in held.items() if isinstance(item, np.ndarray)}

    def note(self: object, name: str) -> object:
        if name in arrays and sys._getframe(1).f_code.co_name not in _NO_USE:
            read.add(f"{path}{name}")
        return cls.__getattribute__(self, name)

    watched = type(cls.__name__, (cls,), {"__slots__": (), "__getattribute__": note})
    copy = object.__new__(watched)
    for name, item in held.items():
        inner = _watched(item, read, f"{path}{name}.") if is_dataclass(item) else item
        object.__setattr__(copy, name, inner)
    return copy


def _own_climate(region: Region) -> ClimateGrid:
    """Grids of an operator's own over the whole region."""
    west, _, east, north = region.info.bbox
    shape = (12, 8, 8)
    return ClimateGrid(
        tmax_c=np.full(shape, 31, np.float32), tmin_c=np.full(shape, 20, np.float32),
        ele_m=np.full(shape[1:], 200, np.float32), west=west, north=north,
        step_lon=(east - west) / 7, step_lat=0.2,
    )  # fmt: skip


def test_every_array_of_a_pack_is_read_by_more_than_its_build(island_home: Path) -> None:
    region = open_region("island", island_home)
    region = replace(region, climate=_own_climate(region))
    read: set[str] = set()
    watched = _watched(region, read)
    trip = terrain.Trip(depart=datetime(2027, 3, 14, 7, 30), rider="steady")
    for path in sorted((island_home / "demo" / "routes").glob("*.gpx")):
        terrain.assess(terrain.read_route(path), watched, trip)
    watched.to_geodataframe()
    west, south, _, _ = region.info.bbox
    watched.to_networkx((west, south, west + 0.1, south + 0.1))
    held = set(_arrays(region))
    assert {"roads.ways.surface.codes", "help.van_s.cost", "climate.ele_m"} <= held
    assert held - read == set()
