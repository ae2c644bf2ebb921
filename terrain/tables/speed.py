"""Plausible mean moving speeds by road class and ground, and what changes them.

Anchors: moving averages of guided rides, km/h: paved rural 55-70, mountain 35-50, good gravel
35-50, track 15-30, sand or mud 8-20; rider class +-25 % (common practice, no source). The split
by road class is ours, in the same spirit.
"""

from __future__ import annotations

from dataclasses import dataclass

from terrain.tables.common import UNMAPPED_P as UNMAPPED_P
from terrain.text.catalogue import N_

_GUIDES = N_("common practice, no source")


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadClassSpeed:
    """Mean moving speed of a steady rider on a straight, level road of the class [km/h]."""

    highway: str
    paved_kph: float
    gravel_kph: float
    track_kph: float
    source: str = _GUIDES


ROAD_CLASS_SPEEDS: tuple[RoadClassSpeed, ...] = (
    RoadClassSpeed(highway="motorway", paved_kph=105, gravel_kph=55, track_kph=30),
    RoadClassSpeed(highway="motorway_link", paved_kph=60, gravel_kph=45, track_kph=28),
    RoadClassSpeed(highway="trunk", paved_kph=82, gravel_kph=52, track_kph=30),
    RoadClassSpeed(highway="trunk_link", paved_kph=55, gravel_kph=42, track_kph=28),
    RoadClassSpeed(highway="primary", paved_kph=74, gravel_kph=50, track_kph=28),
    RoadClassSpeed(highway="primary_link", paved_kph=45, gravel_kph=38, track_kph=26),
    RoadClassSpeed(highway="secondary", paved_kph=68, gravel_kph=48, track_kph=28),
    RoadClassSpeed(highway="secondary_link", paved_kph=42, gravel_kph=36, track_kph=26),
    RoadClassSpeed(highway="tertiary", paved_kph=60, gravel_kph=45, track_kph=27),
    RoadClassSpeed(highway="tertiary_link", paved_kph=40, gravel_kph=35, track_kph=25),
    RoadClassSpeed(highway="unclassified", paved_kph=52, gravel_kph=42, track_kph=28),
    RoadClassSpeed(highway="road", paved_kph=45, gravel_kph=38, track_kph=25),
    RoadClassSpeed(highway="residential", paved_kph=30, gravel_kph=26, track_kph=20),
    RoadClassSpeed(highway="living_street", paved_kph=15, gravel_kph=15, track_kph=14),
    RoadClassSpeed(highway="pedestrian", paved_kph=8, gravel_kph=8, track_kph=8),
    RoadClassSpeed(highway="service", paved_kph=22, gravel_kph=20, track_kph=18),
    RoadClassSpeed(highway="track", paved_kph=38, gravel_kph=35, track_kph=27),
    RoadClassSpeed(highway="path", paved_kph=18, gravel_kph=16, track_kph=13),
    RoadClassSpeed(highway="bridleway", paved_kph=16, gravel_kph=14, track_kph=12),
    RoadClassSpeed(highway="cycleway", paved_kph=18, gravel_kph=16, track_kph=13),
    RoadClassSpeed(highway="footway", paved_kph=8, gravel_kph=8, track_kph=8),
    RoadClassSpeed(highway="steps", paved_kph=4, gravel_kph=4, track_kph=4),
)

# Off the map, or a class not listed: nothing is known of the road, so the band is wide.
UNKNOWN_CLASS = RoadClassSpeed(highway="", paved_kph=40, gravel_kph=34, track_kph=22)


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedModel:
    """The numbers of the speed model; each is common practice, no source, unless it says more.

    bend_s_deg : time lost per degree turned [s]; between the 0.032 of operating-speed models of
        cars and the 0.08 of 345 km of recorded motorcycle rides on Norwegian roads, where bends
        go with narrower roads and lower limits
    limit_share : mean moving speed as a share of the posted limit
    better_road_share : least share of the posted limit, on sealed roads of a lower class
    settled_kph : highest mean moving speed inside a settlement
    severity_loss : share of speed lost at severity 1, per ground (paved, gravel, track)
    severity_usual : severity assumed where none is known, per ground
    grade_free_pct, grade_loss_pct : grade up to which speed keeps, and loss per percent
        beyond it [% of speed per %], per ground; both uphill and down
    grade_least : the least share of speed that steepness leaves
    spread : standard deviation of the logarithm of pace, per ground; with correlation between
        stretches, since one rider on one day is slow or fast throughout
    """

    bend_s_deg: float = 0.050
    limit_share: float = 0.92
    better_road_share: float = 0.78
    settled_kph: float = 40.0
    severity_loss: tuple[float, float, float] = (0.5, 0.55, 0.68)
    severity_usual: tuple[float, float, float] = (0.1, 0.2, 0.3)
    grade_free_pct: tuple[float, float, float] = (7.0, 5.0, 5.0)
    grade_loss_pct: tuple[float, float, float] = (1.5, 2.5, 3.0)
    grade_least: float = 0.5
    spread: tuple[float, float, float] = (0.15, 0.20, 0.28)
    correlation: float = 0.5
    slowest_kph: float = 4.0
    source: str = _GUIDES


MODEL = SpeedModel()


@dataclass(frozen=True, slots=True, kw_only=True)
class Traveller:
    """Who drives: factors on speed per ground (paved, gravel, track), and a top speed.

    pace : factors on the time that results, learned from rides; spread : of the logarithm of one
        ride's time about it, shared by all its stretches; None takes the model's
    ten_min_sd : of the logarithm of ten minutes' riding about that, learned with it
    """

    name: str
    factor: tuple[float, float, float]
    top_kph: float
    pace: tuple[float, float, float] = (1.0, 1.0, 1.0)
    spread: tuple[float, float, float] | None = None
    ten_min_sd: float = 0.0
    source: str = _GUIDES


# A loaded van or pick-up with a trailer: sealed roads a little slower than a motorcycle, tracks
# much slower; whether it gets through at all is not this table's matter.
BREAKDOWN_VAN = Traveller(name="breakdown van", factor=(0.92, 0.80, 0.62), top_kph=95.0)

# Factors on speed by rider, pillion and luggage; common practice, no source.
RIDER_FACTORS: dict[str, tuple[float, float, float]] = {
    "novice": (0.90, 0.78, 0.75),
    "steady": (1.0, 1.0, 1.0),
    "expert": (1.05, 1.18, 1.25),
}
PILLION_FACTORS = (0.95, 0.85, 0.75)
LUGGAGE_FACTORS: dict[str, tuple[float, float, float]] = {
    "none": (1.0, 1.0, 1.0),
    "soft": (0.99, 0.97, 0.95),
    "boxes": (0.97, 0.92, 0.85),
}
RIDER_TOP_KPH = 110.0

FERRY_KPH = 15.0  # without a crossing time in the map; common practice, no source
