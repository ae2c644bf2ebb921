"""Hairpins counted on drawn lines whose bends are known."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.calc.geodesy import along_m
from terrain.stages.relief.gradient import hairpins_m

LAT = 42.5
M_LAT = 111_195.0
M_LON = M_LAT * np.cos(np.radians(LAT))


def line(*parts: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """at_m, lon, lat of a line given in metres."""
    xy = np.concatenate(parts)
    lon, lat = 1.5 + xy[:, 0] / M_LON, LAT + xy[:, 1] / M_LAT
    return along_m(lon, lat), lon, lat


def arc(x: float, y: float, radius: float, from_deg: float, to_deg: float) -> np.ndarray:
    n = max(int(abs(to_deg - from_deg) / 20), 2)
    angle = np.radians(np.linspace(from_deg, to_deg, n + 1))
    return np.column_stack([x + radius * np.cos(angle), y + radius * np.sin(angle)])


def serpentine(bends: int, radius: float, straight_m: float = 120.0) -> np.ndarray:
    """Straights joined by half circles, to the right and to the left in turn."""
    parts = [np.array([[0.0, 0.0]])]
    for i in range(bends):
        y = (2 * i + 1) * radius
        if i % 2 == 0:
            parts.append(arc(straight_m, y, radius, -90, 90))
        else:
            parts.append(arc(0.0, y, radius, 270, 90))
    parts.append(np.array([[straight_m if bends % 2 == 0 else 0.0, 2 * bends * radius]]))
    return np.concatenate(parts)


@pytest.mark.parametrize("bends", [1, 2, 7, 20])
@pytest.mark.parametrize("radius", [6.0, 12.0, 20.0])
def test_each_half_circle_of_a_serpentine_counts_once(bends: int, radius: float) -> None:
    assert len(hairpins_m(*line(serpentine(bends, radius)))) == bends


def test_positions_lie_in_the_bends() -> None:
    at, lon, lat = line(serpentine(2, 12.0))
    found = hairpins_m(at, lon, lat)
    half = np.pi * 12
    assert found == pytest.approx([120 + half / 2, 240 + 1.5 * half], abs=20)


def test_closely_following_bends_count_as_two() -> None:
    assert len(hairpins_m(*line(serpentine(2, 8.0, straight_m=30.0)))) == 2


def test_wide_bends_corners_and_straights_are_no_hairpins() -> None:
    assert len(hairpins_m(*line(serpentine(3, 60.0)))) == 0
    corner = np.array([[0, 0], [200, 0], [200, 200], [400, 200.0]])
    assert len(hairpins_m(*line(corner))) == 0
    assert len(hairpins_m(*line(np.array([[0, 0], [900, 10.0]])))) == 0


def test_turning_round_on_the_spot_is_no_hairpin() -> None:
    there_and_back = np.array([[0, 0], [150, 0], [300, 0], [150, 0.5], [0, 0.5]])
    assert len(hairpins_m(*line(there_and_back))) == 0


def test_parts_left_out_do_not_count() -> None:
    at, lon, lat = line(serpentine(2, 12.0))
    assert len(hairpins_m(at, lon, lat, left_out=at > at[-1] / 2)) == 1
    assert len(hairpins_m(at, lon, lat, left_out=np.ones(len(at), dtype=bool))) == 0


def test_spacing_of_the_points_does_not_matter() -> None:
    xy = serpentine(9, 15.0)
    along = np.r_[0, np.cumsum(np.hypot(*np.diff(xy, axis=0).T))]
    for spacing in (2.0, 5.0, 10.0):
        at = np.arange(0, along[-1], spacing)
        thin = np.column_stack([np.interp(at, along, xy[:, k]) for k in (0, 1)])
        assert len(hairpins_m(*line(thin))) == 9


def test_no_line_no_hairpins() -> None:
    for n in (0, 1, 2):
        point = np.zeros(n)
        assert len(hairpins_m(np.arange(n) * 5.0, point, point)) == 0
    # The same place drawn many times.
    assert len(hairpins_m(np.zeros(5), np.ones(5), np.ones(5))) == 0
