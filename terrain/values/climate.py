"""What the climate is at a place in a month: means of many years, never a forecast."""

from __future__ import annotations

from dataclasses import dataclass

from terrain.values.arrays import BoolArray, Columns, Float32Array, FloatArray, freeze_fields


@dataclass(frozen=True, slots=True, kw_only=True)
class Climate:
    """Monthly climate of one place.

    tmean_c, tmax_c, tmin_c : means of the month, of its daily maxima and of its daily minima
    tmax_low_c, tmax_high_c : 90 % band of the mean daily maximum, from errors measured at
        weather stations; single days lie outside it
    rain_mm : mean rain of the month; vapour_g_m3 : mean water vapour near the ground; None if
        not known
    basis : what the figures rest on
    """

    tmean_c: float
    tmax_c: float
    tmin_c: float
    tmax_low_c: float
    tmax_high_c: float
    rain_mm: float | None
    vapour_g_m3: float | None
    basis: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClimateYear(Columns):
    """Climate of n places over the year, arrays (n, 12), January first; NaN where not known.

    Columns as in Climate. height_known : (n,), False where the mean height of the country round
    stands in for the place's own; ground_m : (n,), the height taken [m]; gridded : (n,),
    True where the operator's own grids serve.
    """

    tmean_c: FloatArray
    tmax_c: FloatArray
    tmin_c: FloatArray
    tmax_low_c: FloatArray
    tmax_high_c: FloatArray
    rain_mm: FloatArray
    vapour_g_m3: FloatArray
    height_known: BoolArray
    ground_m: FloatArray
    gridded: BoolArray

    def __len__(self) -> int:
        return len(self.tmean_c)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClimateGrid:
    """An operator's own monthly grids, rows from the north, cell centres.

    tmax_c, tmin_c : (12, rows, columns), NaN where empty
    ele_m : (rows, columns) height that the temperatures hold for; NaN where not given
    west, north : centre of the first cell [deg]; step_lon, step_lat > 0 [deg]
    source : as the operator calls it
    """

    tmax_c: Float32Array
    tmin_c: Float32Array
    ele_m: Float32Array
    west: float
    north: float
    step_lon: float
    step_lat: float
    source: str = ""

    def __post_init__(self) -> None:
        freeze_fields(self, ("tmax_c", "tmin_c"), 12)
        freeze_fields(self, ("ele_m",))
        if self.step_lon <= 0 or self.step_lat <= 0:
            raise ValueError("grid steps must be above zero")
