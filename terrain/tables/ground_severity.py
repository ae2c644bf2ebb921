"""How hard ground is to ride: six levels of our own, and what adds to them.

The levels and their numbers are common practice, no source; what each tag value starts from is
in terrain/tables/ground.py and follows the first vehicle that gets through (OSM wiki,
Key:smoothness) and firmness (OSM wiki, Key:tracktype).
"""

from __future__ import annotations

from dataclasses import dataclass

from terrain.text.catalogue import N_

_PRACTICE = N_("common practice, no source")


@dataclass(frozen=True, slots=True, kw_only=True)
class SeverityRow:
    """One level: its name, the ground, and what it means for two riders."""

    level: int
    name: str
    ground: str
    loaded: str
    novice: str
    source: str = _PRACTICE


SEVERITIES: tuple[SeverityRow, ...] = (
    SeverityRow(
        level=0,
        name="smooth",
        ground=N_("sealed and even"),
        loaded=N_("no different from any road"),
        novice=N_("no different from any road"),
    ),
    SeverityRow(
        level=1,
        name="easy",
        ground=N_("worn or cobbled road, hard-packed gravel"),
        loaded=N_("slower, nothing to fear; take care when wet"),
        novice=N_("can be ridden on the first day, slowly"),
    ),
    SeverityRow(
        level=2,
        name="loose",
        ground=N_("gravel road with ruts, washboard or loose stones in places"),
        loaded=N_("standing up helps; brake early; road tyres slide"),
        novice=N_("tiring; half speed; not for long with luggage or a passenger"),
    ),
    SeverityRow(
        level=3,
        name="rough",
        ground=N_("stony or earth track, ruts, some soft patches, shallow fords"),
        loaded=N_("heavy bikes need a practised rider; soft luggage only"),
        novice=N_("likely to fall over; only short pieces, with help near"),
    ),
    SeverityRow(
        level=4,
        name="hard",
        ground=N_("deep ruts, sand, big loose stones or rock steps"),
        loaded=N_("not with a loaded or heavy bike"),
        novice=N_("not for a novice"),
    ),
    SeverityRow(
        level=5,
        name="extreme",
        ground=N_("rock steps, deep sand or mud, hardly a way at all"),
        loaded=N_("light off-road bikes only, never alone"),
        novice=N_("not for a novice"),
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SeverityRules:
    """What makes up the severity of a stretch.

    usual : severity of paved, gravel, track where no tag tells more
    spread : how many standard deviations of the unknown ground are added: cautious, not worst
    harder : weight of the harder of surface and grade where both are tagged
    by_smoothness : weight of smoothness where it is tagged; the rest goes to the others
    broken : smoothness from this severity on (very_bad: no car but one of high clearance gets
        through, OSM wiki, Key:smoothness) counts whole, whatever the surface
    ford, narrow, narrow_m : added for a ford, and for an unsealed way under narrow_m
    four_wd_only, mtb, mtb_step : least severity of 4wd_only ways, of mtb:scale 1, and per step
    steep_from_pct, steep_step_pct : grade from which, and per how much more, one level is added
    steep_share : how far steepness counts on paved, gravel, track
    """

    usual: tuple[float, float, float] = (0.1, 1.9, 2.9)
    spread: float = 0.25
    harder: float = 0.6
    by_smoothness: float = 0.6
    broken: float = 2.8
    ford: float = 1.0
    narrow: float = 0.4
    narrow_m: float = 2.5
    four_wd_only: float = 3.6
    mtb: float = 3.0
    mtb_step: float = 0.4
    steep_from_pct: float = 8.0
    steep_step_pct: float = 6.0
    steep_share: tuple[float, float, float] = (0.15, 0.7, 1.0)
    source: str = _PRACTICE


RULES = SeverityRules()
