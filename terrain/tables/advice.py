"""The numbers behind the advice: weights, limits, what ground asks of tyres and riders.

Each row names its source; what has none is marked as common practice.
"""

from __future__ import annotations

from dataclasses import dataclass

from terrain.tables.common import LUGGAGE_KG, PILLION_KG, RIDER_KG, UNMAPPED_P
from terrain.tables.common import PRACTICE as PRACTICE
from terrain.tables.heat import Measure, levels_c
from terrain.text.catalogue import N_
from terrain.values.trip import Rider

# Cautions that hold on every ride, whatever its ground: a page may fold them.
ALWAYS_SAID = frozenset({"zones", "licence", "insurance", "estimates"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Weight:
    """One line of the table behind a bike's fit. words : what it looks at, for people."""

    weight: float
    words: str
    source: str = PRACTICE


# In the order of the table. The operator may set other weights in the fleet file.
WEIGHTS: dict[str, Weight] = {
    "ground": Weight(weight=10.0, words="how the bike suits the ground, hour by hour"),
    "rider": Weight(weight=1.5, words="how much the bike asks of this rider"),
    "load": Weight(weight=1.0, words="seats, payload and luggage"),
    "repair": Weight(weight=4.0, words="mending it far from help, by parts and difficulty"),
    "reliability": Weight(weight=1.0, words="incidents per rental"),
    "heat": Weight(weight=0.5, words="engine heat on slow hot parts"),
    "range": Weight(weight=0.5, words="range against the longest way between pumps"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupModel:
    """When a ride is one for off-road setup.

    Off-road riding time is weighted: an hour of easy gravel asks less of tyres than an hour of
    mud. The weight of gravel and track grows with severity (0..5), by the knots below.

    gravel_knots, track_knots : (severity, weight), straight lines between
    gravel_usual, track_usual : severity where none is known; that of gravel weighs as gravel
        that is tagged does: .40 to .43 by length on each of six open extracts
    gravel_most, track_least : the hardest that gravel, the easiest that track can be
    soft_factor : more weight where the season makes ground soft, by risk
    share_limit : of the riding time; a tenth of the way on tracks is about a fifth of the time
    hours_limit_s : weighted off-road time above which the length of the rest does not matter
    least_limit_s : weighted off-road time below which a share says nothing, unless it is
        least_share or more: what 100 m of rough path take, which may as well be walked, or be a
        slip of the line (common practice, no source)
    hard_severity, hard_limit_s : ground that road tyres cannot do, and how much of it decides
    margin : share of a limit within which the answer is too close to call
    plausible : a ground less probable than this on a stretch is left out of "could turn out"
    plausible_harder : the same where nobody saw the ground, for what is harder than the likely
        one: road tyres on a track harm, an off-road setup on tarmac does not (one in twenty,
        common practice, no source)
    unmapped_p : probabilities of paved, gravel, track where no way is mapped
    way_level : share of the imagined worlds in which the choice of ways between such points moves
        the time no farther than the bounds allow for
    draws : imagined true worlds
    """

    gravel_knots: tuple[tuple[float, float], ...] = ((1.0, 0.25), (2.0, 0.40), (3.0, 0.80))
    track_knots: tuple[tuple[float, float], ...] = ((1.0, 0.60), (2.5, 1.0))
    gravel_usual: float = 2.0
    track_usual: float = 2.7
    gravel_most: float = 3.0
    track_least: float = 2.0
    soft_factor: tuple[tuple[str, float], ...] = (("doubtful", 1.25), ("confirm-first", 1.5))
    share_limit: float = 0.20
    hours_limit_s: float = 4.0 * 3600
    least_limit_s: float = 60.0
    least_share: float = 0.50
    hard_severity: float = 3.5
    hard_limit_s: float = 20.0 * 60
    margin: float = 0.05
    plausible: float = 0.12
    plausible_harder: float = 0.05
    unmapped_p: tuple[float, float, float] = UNMAPPED_P
    way_level: float = 0.95
    draws: int = 2000
    source: str = (
        "tyres by off-road share: under 10 % road, 10 to 40 % mixed, above half block "
        "(common practice, no source)"
    )

    def limit_share(self, ride_s: float) -> float:
        """The share of more riding time by which the limit of a ride so long grows."""
        if self.least_share * ride_s < self.least_limit_s:
            return self.least_share
        by_share = self.least_limit_s < self.share_limit * ride_s < self.hours_limit_s
        return self.share_limit if by_share else 0.0


SETUP = SetupModel()


@dataclass(frozen=True, slots=True, kw_only=True)
class TyreRow:
    """Tyres from a weighted off-road share of riding time on."""

    from_share: float
    tyres: str
    source: str = PRACTICE


TYRES: tuple[TyreRow, ...] = (
    TyreRow(from_share=0.0, tyres="road"),
    TyreRow(from_share=0.12, tyres=N_("mixed")),
    TyreRow(from_share=0.55, tyres=N_("block")),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BikeModel:
    """How bikes are told apart on the ground, the load and the way to help.

    ability_needed : (severity, off-road ability 0..1 that rides it at ease)
    short_loss : ease off-road falls as exp(-short_loss x ability that is lacking)
    slow_kph, fast_kph : below the one a bike's motorway ability does not matter, above the
        other it is all that matters
    dirt_manner : share of comfort on slow tarmac that a full off-road bike gives up
    enough_kw, power_loss : power that an open road asks for, and comfort lost without any
    depth_ease, depth_full_s, depth_loss : below this ease a bike is out of its depth, wholly at
        ease 0; that long out of it takes this share off the whole score
    mass_free_kg, mass_loss : heavier bikes lose this share of ease off-road per 100 kg
    person_kg, pillion_kg : with riding gear; luggage_kg by kind
    far_s, far_m : as far from help as counts: twice the operator's limit for a support vehicle
    rate_full : incidents per rental at which the score is 0
    clearance_mm : ground clearance that hard ground needs
    road_only, full_off_road : below the one a bike is for roads only, from the other on for any
        ground; shut_m : metres of ground tagged too rough for its kind that keep a bike out
    wrong_tyres : share of its ease on the ground left to a bike that cannot take the tyres advised
    """

    ability_needed: tuple[tuple[float, float], ...] = (
        (0.0, 0.0),
        (1.0, 0.15),
        (2.0, 0.40),
        (2.7, 0.70),
        (3.5, 0.82),
        (4.0, 0.90),
        (5.0, 1.0),
    )
    short_loss: float = 4.5
    slow_kph: float = 70.0
    fast_kph: float = 105.0
    dirt_manner: float = 0.45
    enough_kw: float = 15.0
    power_loss: float = 0.40
    depth_ease: float = 0.30
    depth_full_s: float = 3600.0
    depth_loss: float = 0.60
    mass_free_kg: float = 120.0
    mass_loss: float = 0.40
    person_kg: float = RIDER_KG
    pillion_kg: float = PILLION_KG
    luggage_kg: tuple[tuple[str, float], ...] = tuple(LUGGAGE_KG.items())
    far_s: float = 4.0 * 3600
    far_m: float = 200_000.0
    rate_full: float = 0.20
    clearance_mm: float = 220.0
    road_only: float = 0.30
    full_off_road: float = 0.80
    shut_m: float = 200.0
    wrong_tyres: float = 0.8
    source: str = PRACTICE


BIKES = BikeModel()


@dataclass(frozen=True, slots=True, kw_only=True)
class RiderLimits:
    """What a rider of each kind is at ease with, and where it goes beyond them.

    Pairs are (stretching from, beyond from). severity : 0..5, for ten minutes or more
    off_road_s : weighted off-road riding time in the longest day
    loose_grade_pct : grade of loose climbs; sand_s : riding time in sand
    fords : number; day_s : riding time of the longest day
    """

    rider: Rider
    severity: tuple[float, float]
    off_road_s: tuple[float, float]
    loose_grade_pct: tuple[float, float]
    sand_s: tuple[float, float]
    fords: tuple[int, int]
    day_s: tuple[float, float]
    source: str = PRACTICE


_H = 3600.0  # seconds, by definition
LOOSE_M = 100.0  # a shorter steep part on loose ground is no climb; common practice, no source
RIDERS: dict[Rider, RiderLimits] = {
    Rider.NOVICE: RiderLimits(
        rider=Rider.NOVICE, severity=(1.5, 2.5), off_road_s=(0.75 * _H, 2 * _H),
        loose_grade_pct=(6, 10), sand_s=(60, 0.25 * _H), fords=(1, 5), day_s=(6 * _H, 9 * _H),
    ),
    Rider.STEADY: RiderLimits(
        rider=Rider.STEADY, severity=(3.4, 3.9), off_road_s=(5 * _H, 8 * _H),
        loose_grade_pct=(10, 20), sand_s=(0.25 * _H, 3 * _H), fords=(4, 15),
        day_s=(8 * _H, 11 * _H),
    ),
    Rider.EXPERT: RiderLimits(
        rider=Rider.EXPERT, severity=(4.4, 5.0), off_road_s=(7 * _H, 10 * _H),
        loose_grade_pct=(18, 30), sand_s=(6 * _H, 9 * _H), fords=(8, 30), day_s=(9 * _H, 12 * _H),
    ),
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class GuideHelp:
    """What a guide adds to what a rider is at ease with, off tarmac; nothing to hours or heat.

    severity : ground harder by this much; grade_pct : loose climbs steeper by this much
    time, count : off-road and sand time, and fords, times this
    repair_left : share of a breakdown's weight far from help that is left
    """

    severity: float = 0.4
    grade_pct: float = 2.0
    time: float = 1.25
    count: float = 1.5
    repair_left: float = 0.5
    source: str = PRACTICE


GUIDE = GuideHelp()

# A day in the saddle that tires a person new to motorcycles: (stretching, beyond).
NEW_RIDER_DAY_S: tuple[float, float] = (5 * _H, 7 * _H)  # common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Altitude:
    """Heights that matter to people."""

    risk_m: float = 2450.0
    one_day_m: float = 2750.0
    source: str = "CDC travellers' health: risk above 2450 m; not above 2750 m in a day from low"


ALTITUDE = Altitude()


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatLimits:
    """Heat from which advice is given.

    heat_index_c : extreme caution, danger; extreme_index_c : extreme danger
    wbgt_c : rest often, no hard exercise, stop
    gear_air_c : air temperature at which full gear heats the body without end
    The levels are those of `terrain.tables.heat`.
    """

    heat_index_c: tuple[float, ...] = levels_c(Measure.INDEX)[1:3]
    extreme_index_c: float = levels_c(Measure.INDEX)[3]
    wbgt_c: tuple[float, ...] = levels_c(Measure.RIDING)[1:]
    gear_air_c: float = levels_c(Measure.AIR)[-1]
    source: str = (
        "heat index classes of the US NWS; WBGT steps of the Japan sports guide 2013; "
        "gear: de Rome et al. 2016"
    )


HEAT = HeatLimits()


@dataclass(frozen=True, slots=True, kw_only=True)
class Remoteness:
    """Steps of remoteness, by road to the nearest mechanic."""

    tools_m: float = 50_000.0
    tools_s: float = 3_600.0
    vehicle_m: float = 100_000.0
    vehicle_s: float = 7_200.0
    care_s: float = 3_600.0
    fuel_share: float = 0.6
    source: str = (
        "mechanic over 50 km or 1 h: tools; over 100 km or 2 h: support vehicle; fuel gap over "
        "60 % of range: plan fuel (common practice, no source); 60 min to care: "
        "Vanderschuren & McKune 2015"
    )


REMOTE = Remoteness()
