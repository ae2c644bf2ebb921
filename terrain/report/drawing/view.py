"""How large a map is, and where on it a position lies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.calc.geodesy import metres_per_degree
from terrain.values.arrays import FloatArray
from terrain.values.match import Match


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """How large a map is [px], and how many distance marks it has room for.

    numbered : its labels are numbers, whose words stand below
    """

    name: str
    width: float
    shortest: float
    tallest: float
    margin: float
    marks: int
    numbered: bool = False


WIDE = Sheet(name="large", width=1056.0, shortest=360.0, tallest=640.0, margin=40.0, marks=12)
PHONE = Sheet(
    name="small", width=358.0, shortest=448.0, tallest=520.0, margin=26.0, marks=5, numbered=True
)
PAPER = Sheet(name="paper", width=680.0, shortest=240.0, tallest=364.0, margin=30.0, marks=8)


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """From degrees to pixels; north is up."""

    west: float
    north: float
    px_lon: float
    px_lat: float
    width: float
    height: float
    px_per_m: float

    def x(self, lon: FloatArray) -> FloatArray:
        return (np.asarray(lon) - self.west) * self.px_lon

    def y(self, lat: FloatArray) -> FloatArray:
        return (self.north - np.asarray(lat)) * self.px_lat

    def spot(self, lon: float, lat: float) -> tuple[float, float]:
        return (lon - self.west) * self.px_lon, (self.north - lat) * self.px_lat

    def shows(self, lon: float, lat: float, inset: float = 0.0) -> bool:
        x, y = self.spot(lon, lat)
        return inset <= x <= self.width - inset and inset <= y <= self.height - inset


def view_of(match: Match, sheet: Sheet, share: float = 1.0) -> View:
    """The view that holds the whole ride.

    share : of the sheet's inner room that the ride takes; the rest is left for words
    """
    lon, lat = match.lon, match.lat
    m_lon, m_lat = metres_per_degree(float((lat.max() + lat.min()) / 2))
    wide, tall = max(float(np.ptp(lon)) * m_lon, 500.0), max(float(np.ptp(lat)) * m_lat, 500.0)
    inner = sheet.width - 2 * sheet.margin, sheet.tallest - 2 * sheet.margin
    px_per_m = share * min(inner[0] / wide, inner[1] / tall)
    height = min(max(tall * px_per_m / share + 2 * sheet.margin, sheet.shortest), sheet.tallest)
    mid_lon, mid_lat = float(lon.max() + lon.min()) / 2, float(lat.max() + lat.min()) / 2
    return View(
        west=mid_lon - sheet.width / 2 / (px_per_m * m_lon),
        north=mid_lat + height / 2 / (px_per_m * m_lat),
        px_lon=px_per_m * m_lon,
        px_lat=px_per_m * m_lat,
        width=sheet.width,
        height=height,
        px_per_m=px_per_m,
    )
