"""Areas of the island where a ride is limited: closed training land, and a park round the crest."""

from __future__ import annotations

from typing import Final

import numpy as np

from terrain.values.arrays import FloatArray
from tests.island.frame import cell_x_m, cell_y_m
from tests.island.land import Land
from tests.island.works import ZONE

_CORNERS: Final = 36
_PARK_M: Final = 5_000.0


def limited_areas(land: Land) -> list[tuple[FloatArray, dict[str, str]]]:
    """The ring of each area [m east, m north], shape (n, 2), its last point the first; its tags."""
    east, north, radius = ZONE
    row, col = np.unravel_index(int(np.argmax(land.ele_m)), land.ele_m.shape)
    crest = (float(cell_x_m()[col]), float(cell_y_m()[row]))
    return [
        (
            _ring((east * 1000, north * 1000), radius * 1000),
            {"landuse": "military", "military": "training_area"},
        ),
        (_ring(crest, _PARK_M), {"boundary": "national_park", "name": "Crest National Park"}),
    ]


def _ring(centre: tuple[float, float], radius_m: float) -> FloatArray:
    turn = 2 * np.pi * np.arange(_CORNERS) / _CORNERS
    xy = np.round(np.column_stack([np.cos(turn), np.sin(turn)]) * radius_m) + np.round(centre)
    return np.concatenate([xy, xy[:1]])
