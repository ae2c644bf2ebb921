"""Severity worked by hand from the rows of tables/ground_severity."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.stages.ways.severity import severity_of
from terrain.stages.ways.tags import SURFACE_BY_VALUE, TRACKTYPE_BY_VALUE
from terrain.values.views import WayFlag
from tests.stages.ground.handmade import DrawnWay, way_table

_PAVED, _GRAVEL, _TRACK = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
# Six tenths gravel, four tenths track: 2.3, and a quarter of the deviation of 0.49 for caution.
_EITHER = (0.0, 0.6, 0.4)
_NAN = (np.nan,) * 3


def _severity(
    p: tuple[float, float, float], *, grade: float | None = None, flags: int = 0, **tags: str
) -> int:
    tags = {key.replace("__", ":"): value for key, value in tags.items()}
    table = way_table([DrawnWay(way_id=1, start=(0, 0), end=(9, 0), tags=tags, flags=flags)])
    grades = None if grade is None else np.array([grade])
    return int(severity_of(table, np.array([0]), np.array([p]), grades)[0])


@pytest.mark.parametrize(
    ("p", "level"),
    [(_PAVED, 0), (_GRAVEL, 2), (_TRACK, 3), (_EITHER, 2), ((0.0, 0.5, 0.5), 3),
     # 0.1 and 2.9 by halves: 1.5 and a quarter of 1.4.
     ((0.5, 0.0, 0.5), 2), ((0.7, 0.0, 0.3), 1), (_NAN, -1)],
)  # fmt: skip
def test_ground_alone(p: tuple[float, float, float], level: int) -> None:
    assert _severity(p) == level


@pytest.mark.parametrize(
    ("more", "p", "level"),
    [
        ({"flags": int(WayFlag.FORD)}, _TRACK, 4),
        ({"flags": int(WayFlag.FORD)}, _PAVED, 1),
        ({"flags": int(WayFlag.FOUR_WD_ONLY)}, _GRAVEL, 4),
        ({"flags": int(WayFlag.FOUR_WD_ONLY) | int(WayFlag.FORD)}, _GRAVEL, 4),
        # Under 2.5 m and unsealed: 0.4 more.
        ({"width": "2.4"}, _EITHER, 3),
        ({"width": "2.5"}, _EITHER, 2),
        ({"width": "1.0"}, _PAVED, 0),
        # 3 and 0.4 a step, from scale 1 on.
        ({"mtb__scale": "0"}, _PAVED, 0),
        ({"mtb__scale": "1"}, _PAVED, 3),
        ({"mtb__scale": "2"}, _PAVED, 4),
        ({"mtb__scale": "6"}, _PAVED, 5),
        # A level for each 6 % beyond 8, whole on a track, 0.7 on gravel, 0.15 on tarmac.
        ({"grade": 8.0}, _TRACK, 3),
        ({"grade": 14.0}, _TRACK, 4),
        ({"grade": -14.0}, _TRACK, 4),
        ({"grade": 14.0}, _GRAVEL, 3),
        ({"grade": 14.0}, _PAVED, 0),
        ({"grade": 40.0}, _PAVED, 1),
        ({"grade": 40.0}, _TRACK, 5),
        ({"grade": float("nan")}, _TRACK, 3),
        ({"flags": int(WayFlag.FORD)}, _NAN, -1),
    ],
)
def test_what_adds_to_it(
    more: dict[str, object], p: tuple[float, float, float], level: int
) -> None:
    assert _severity(p, **more) == level  # type: ignore[arg-type]


def test_of_surface_and_grade_the_harder_weighs_six_tenths() -> None:
    surfaces = {v: row.severity for v, row in SURFACE_BY_VALUE.items()}
    grades = {v: row.severity for v, row in TRACKTYPE_BY_VALUE.items()}
    seen = set()
    for surface in ("asphalt", "gravel", "ground", "sand"):
        for grade in ("grade1", "grade3", "grade5"):
            a, b = surfaces[surface], grades[grade]
            want = int(np.floor(0.6 * max(a, b) + 0.4 * min(a, b) + 0.5))
            assert _severity(_TRACK, surface=surface, tracktype=grade) == want
            seen.add(want)
        assert _severity(_TRACK, surface=surface) == int(np.floor(surfaces[surface] + 0.5))
    assert len(seen) >= 3


def test_of_several_surfaces_the_hardest_counts_and_nonsense_does_not() -> None:
    assert _severity(_TRACK, surface="asphalt;sand") == _severity(_TRACK, surface="sand")
    assert _severity(_TRACK, surface="sand;asphalt") == _severity(_TRACK, surface="sand")
    assert _severity(_TRACK, surface="nonsense") == _severity(_TRACK) == 3


def test_smoothness_weighs_six_tenths_and_whole_where_it_stops_cars() -> None:
    """impassable is 5 whatever the surface once was; excellent draws a track down."""
    assert _severity(_PAVED, surface="asphalt", smoothness="impassable") == 5
    assert _severity(_TRACK, smoothness="excellent") < _severity(_TRACK)
    assert _severity(_GRAVEL, smoothness="impassable") == 5
