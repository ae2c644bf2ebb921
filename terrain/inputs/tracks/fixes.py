"""What every format of a recording is read into, before anything is checked."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.values.arrays import Columns, FloatArray, Int32Array
from terrain.values.route import Problem


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fixes(Columns):
    """The fixes of a file in its own order, shape (n,) each.

    time_s : seconds since 1970-01-01 UTC, NaN where not given; lon, lat [deg], NaN where lost
    ele_m : NaN where not given
    part : number of the unbroken piece of the file (track segment) that a fix stands in
    group : number of the track that a fix stands in; of two tracks one may be another rider's
    problems : what was odd so far
    """

    name: str
    time_s: FloatArray
    lon: FloatArray
    lat: FloatArray
    ele_m: FloatArray
    part: Int32Array
    group: Int32Array
    problems: tuple[Problem, ...] = ()

    def __len__(self) -> int:
        return len(self.time_s)


def plain_fixes(
    name: str,
    time_s: list[float] | FloatArray,
    lon: list[float] | FloatArray,
    lat: list[float] | FloatArray,
    ele_m: list[float] | FloatArray,
    problems: tuple[Problem, ...] = (),
) -> Fixes:
    """Fixes of one piece of one recording."""
    n = len(time_s)
    return Fixes(
        name=name,
        time_s=np.asarray(time_s, dtype=np.float64),
        lon=np.asarray(lon, dtype=np.float64),
        lat=np.asarray(lat, dtype=np.float64),
        ele_m=np.asarray(ele_m, dtype=np.float64),
        part=np.zeros(n, dtype=np.int32),
        group=np.zeros(n, dtype=np.int32),
        problems=problems,
    )
