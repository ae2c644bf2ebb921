"""When rain or snow makes a road doubtful.

wet_mm : a month of 60 mm or more is wet: the dry-month limit of Koppen's tropical climates
    (Peel et al. 2007, Hydrol. Earth Syst. Sci. 11:1633, criteria table). Used for all climates,
    because the question is wet ground, not the climate's class: ours.
heavy_mm : above 200 mm assume closed until confirmed (common practice, no source).
softness : earth roads that do not shed water soften, rut and soon cannot be passed (PIARC road
    maintenance handbook, vol. 2, 1994); the shares per ground are common practice, no source.
An all-season road is passable all year with short interruptions (World Bank rural access index):
sealed and gravel roads are taken as such, earth is not.
dry_mm : in a month of less rain than this soft ground is dry (common practice, no source).
frost_c : where a month's mean is at or below this, what falls is mostly snow and wet ground freezes
    at night: rain softens nothing there, frost and thaw may (common practice, no source).
summer_c : a road tagged as open in summer is open, and one open in winter gone, where a month's
    mean is 10 C or more: the limit of Koppen's polar climates, which have no such month (Peel et
    al. 2007); used for these tags: ours.
snow_c : snow lies for weeks where a month's mean is -3 C or less: the limit Koppen drew for
    lasting snow cover (Peel et al. 2007 on his C/D boundary); thaw_c : what fell lies into the
    next month unless that is warmer than 3 C; ploughed_below_m : under 800 m streets and roads
    from tertiary up are taken to be ploughed (common practice, no source). Where the road's own
    height is not known these are taken as ploughed, and others as if they lay at the sea: snow is
    told by the height of the road or by its latitude, never by the mean height of a country.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonRules:
    """softness : how much of paved, gravel, track softens, 0..1, where no tag tells more
    by_wet : the same for a tagged surface, by tables.ground.Wet
    by_grade : the same for tracktype grade1 to grade5
    soft, partly : softness from which a road as a whole, or in places, is soft after rain
    """

    wet_mm: float = 60.0
    heavy_mm: float = 200.0
    dry_mm: float = 5.0
    frost_c: float = 0.0
    summer_c: float = 10.0
    snow_c: float = -3.0
    thaw_c: float = 3.0
    ploughed_below_m: float = 800.0
    softness: tuple[float, float, float] = (0.0, 0.12, 0.85)
    by_hard: float = 0.0
    by_firm: float = 0.12
    by_soft: float = 1.0
    by_grade: tuple[float, ...] = (0.0, 0.15, 0.5, 0.85, 1.0)
    soft: float = 0.40
    partly: float = 0.10
    source: str = "see the top of the module"


SEASON = SeasonRules()
