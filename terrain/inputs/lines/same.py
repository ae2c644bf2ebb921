"""Whether lines of one file are the same ground: first their ends, then what lies between.

A group is the parts of one track or route, in order.
"""

from __future__ import annotations

from array import array

import numpy as np
import shapely

from terrain.inputs.lines.lines import Part
from terrain.values.arrays import FloatArray, even_rows

NEAR_M = 500.0  # two ends this close are the same place: a car park, a village
_BESIDE_M = 250.0  # a line this close is the same ground drawn on another map
_DEGREE_M = 111_320.0  # one of latitude, and of longitude on the equator
_MOST_DRAWN = 20_000  # points of a line that tell where it runs

Group = tuple[Part, ...]


class Taken:
    """The groups taken so far, in order, to compare the next one with."""

    def __init__(self) -> None:
        self.groups: list[Group] = []
        self._ends = array("d")  # lon, lat of the first and of the last point of each
        self._lon, self._lat = array("d"), array("d")  # of all points

    def add(self, group: Group) -> None:
        first, last = group[0], group[-1]
        self.groups.append(group)
        self._ends.extend((first.lon[0], first.lat[0], last.lon[-1], last.lat[-1]))
        for part in group:
            self._lon.frombytes(part.lon.tobytes())
            self._lat.frombytes(part.lat.tobytes())

    def all_parts(self) -> Group:
        """All parts as one line."""
        return tuple(part for group in self.groups for part in group)

    def twin(self, group: Group) -> Group | None:
        """The first group that is the same trip, None if there is none."""
        ends = np.array(self._ends).reshape(-1, 4)
        for k in np.flatnonzero(_same_ends(group, ends)).tolist():
            if _same_ground(group, self.groups[k]):
                return self.groups[k]
        return None

    def is_whole(self, group: Group) -> bool:
        """Whether a group is the same trip as all groups one after another."""
        ends = np.array([*self._ends[:2], *self._ends[-2:]]).reshape(1, 4)
        return bool(_same_ends(group, ends)[0]) and _same_ground(group, self.all_parts())

    def leaves_and_comes_back(self, group: Group) -> bool:
        """Whether a group leaves the line of all groups and comes back to it further on."""
        first, last = group[0], group[-1]
        rows = even_rows(len(self._lon), _MOST_DRAWN)
        origin = float(first.lon[0]), float(first.lat[0])
        line = _flat(np.array(self._lon)[rows], np.array(self._lat)[rows], origin)
        ends = _flat(
            np.array([first.lon[0], last.lon[-1]]), np.array([first.lat[0], last.lat[-1]]), origin
        )
        left, back = (_nearest(line, end) for end in ends)
        return max(left[0], back[0]) <= NEAR_M and back[1] - left[1] > 2 * NEAR_M


def _same_ends(group: Group, ends: FloatArray) -> FloatArray:
    """Whether both ends lie near those of each line, shape (n,).

    ends : lon, lat of the first and of the last point, shape (n, 4)
    """
    first, last = group[0], group[-1]
    return np.asarray(
        (_apart_m(ends[:, :2], first.lon[0], first.lat[0]) <= NEAR_M)
        & (_apart_m(ends[:, 2:], last.lon[-1], last.lat[-1]) <= NEAR_M)
    )


def _apart_m(spots: FloatArray, lon: float, lat: float) -> FloatArray:
    return np.asarray(np.hypot(*_flat(spots[:, 0], spots[:, 1], (lon, lat)).T))


def _flat(lon: FloatArray, lat: FloatArray, origin: tuple[float, float]) -> FloatArray:
    """Metres east and north of an origin, shape (n, 2)."""
    lon0, lat0 = origin
    # Longitudes relative to the origin, so that 180 degrees is no edge.
    east = (lon - lon0 + 540.0) % 360.0 - 180.0
    return np.stack((east * _DEGREE_M * np.cos(np.radians(lat0)), (lat - lat0) * _DEGREE_M), axis=1)


def _nearest(line: FloatArray, spot: FloatArray) -> tuple[float, float]:
    """Distance of a spot from a line of points, shape (n, 2), and how far along it is nearest."""
    step = np.diff(line, axis=0)
    length2 = (step**2).sum(axis=1)
    share = ((spot - line[:-1]) * step).sum(axis=1) / np.maximum(length2, 1e-12)
    share = np.clip(share, 0.0, 1.0)
    apart = np.hypot(*(line[:-1] + share[:, None] * step - spot).T)
    k = int(apart.argmin())
    length = np.sqrt(length2)
    return float(apart[k]), float(length[:k].sum() + share[k] * length[k])


# -- two lines with the same ends ----------------------------------------------------------------


def _same_ground(group: Group, other: Group) -> bool:
    """Same ground in the same direction. Route points need only lie along the track."""
    origin = float(group[0].lon[0]), float(group[0].lat[0])
    a, b = _joined(group, origin), _joined(other, origin)
    sparse, dense = (a, b) if len(a) <= len(b) else (b, a)
    if not _along(sparse, dense):
        return False
    if group[0].kind != other[0].kind:
        return True
    return _along(dense, sparse) and _ratio(_length_m(a), _length_m(b)) > 0.9


def _joined(group: Group, origin: tuple[float, float]) -> FloatArray:
    lon = np.concatenate([part.lon for part in group])
    return _flat(lon, np.concatenate([part.lat for part in group]), origin)


def _along(line: FloatArray, other: FloatArray) -> bool:
    """Whether nearly all points of a line lie beside another, and run in its direction."""
    points = shapely.points(line[even_rows(len(line), 400)])
    drawn = shapely.LineString(other[even_rows(len(other), _MOST_DRAWN)])
    if np.mean(shapely.distance(points, drawn) <= _BESIDE_M) < 0.9:
        return False
    if len(points) < 4:
        return True
    forward = np.diff(shapely.line_locate_point(drawn, points)) >= 0
    return bool(forward.mean() > 0.6)


def _length_m(line: FloatArray) -> float:
    drawn = line[even_rows(len(line), _MOST_DRAWN)]
    return float(np.hypot(*np.diff(drawn, axis=0).T).sum())


def _ratio(x: float, y: float) -> float:
    return min(x, y) / max(x, y) if max(x, y) > 0 else 1.0
