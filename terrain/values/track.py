"""A recorded ride: where somebody was, and when."""

from __future__ import annotations

from dataclasses import dataclass

from terrain.values.arrays import Columns, FloatArray, Int32Array
from terrain.values.route import Problem


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Track(Columns):
    """A recording in the order it was made, already freed of fixes that cannot be right.

    time_s : seconds since 1970-01-01 UTC, shape (n,), n >= 2, always rising
    lon, lat : WGS 84 degrees, shape (n,); longitudes run on past 180 rather than jump
    ele_m : heights of the file [m], shape (n,); NaN where it gave none
    piece : shape (n,), never falling; a new number where the clock or the place leapt, so that
        the time between the two fixes says nothing
    problems : what was odd in the file and what was done
    source : file name as shown to people
    """

    name: str
    time_s: FloatArray
    lon: FloatArray
    lat: FloatArray
    ele_m: FloatArray
    piece: Int32Array
    problems: tuple[Problem, ...] = ()
    source: str = ""

    def __post_init__(self) -> None:
        Columns.__post_init__(self)
        if len(self.time_s) < 2:
            raise ValueError("a track needs two fixes or more")
        if not (self.time_s[1:] > self.time_s[:-1]).all():
            raise ValueError("the times of a track must rise")

    @property
    def n_fixes(self) -> int:
        return len(self.time_s)
