"""From what on a finding forbids, endangers or is worth care, and how sure is called sure.

A row's `source` says where its numbers come from.
"""

from __future__ import annotations

from dataclasses import dataclass

from terrain.tables.common import PRACTICE


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingLimits:
    """From where on each finding counts; the higher limit of two is the graver rank.

    barred_m : summed length closed to motorcycles or open only with permission, to forbid it;
        less is care; under push_m it is a note: one pushes the bike, or the line cuts a corner
    hard_m : of the longest piece of ground of severity `hard_severity` or more, a danger
    track_m : of the longest piece of track, care; likely_track : chance from which it is called so
    same_gate_m : barriers closer than this are told as one
    lost_m : summed length from which no mechanic can be reached, though from the rest one can be
    pump_m : farthest way to a pump of a ride that is among people, where the map has no workshop
    season_m : summed length that the season may have shut (danger) or softened (care)
    soft_m : summed length that rain may have softened below which it is a rank less: one looks at
        it on foot, and turns round
    dark_m : length off tarmac ridden after dusk that makes a late arrival a danger
    steep_pct : grade on firm ground over `firm_m` and more, a note: heights of 90 m cells, 10 m off
        at either end, make a ramp of any 100 m; loose_pct : on loose ground, care;
        loose_danger_pct : on loose ground, a danger
    tunnel_m : of a tunnel that no tag calls lit, care: eyes need half a minute in the dark
    chill_c, chill_danger_c : wind chill at riding speed, care and danger
    frost_c, frost_share : air at which a wet road is ice, and the share of the ride on which it
        makes a danger; snow_mm : of rain forecast for such a day, which then falls as snow or ice
    hot_air_c : air below which the lowest level of heat goes without saying
    near_m : parts of one finding closer than this are one part
    whole_share : a piece of this share of a finding and more is told as the whole of it
    gap_m : length without a road, a tag or a drawn line that is worth naming as not known
    off_map_share : share of the ride without a road on the map from which on it is told beside what
        holds for the rest alone
    guessed_share : share of the ride routed between far-apart points from which on the ways
        between them must be spoken of
    sure_p : probability from which the ground of a stretch counts as settled
    doubt_m, doubt_share : the least length, and share of the ride, of a doubtful part that is named
    old_map_days : age of the map from which what happened since is named as not known
    poor_fit : fit of the bike asked for below which it is care, not a note
    """

    barred_m: float = 300.0
    push_m: float = 100.0
    hard_m: float = 300.0
    hard_severity: int = 4
    track_m: float = 300.0
    likely_track: float = 0.8
    same_gate_m: float = 50.0
    lost_m: float = 1000.0
    pump_m: float = 10_000.0
    season_m: float = 200.0
    soft_m: float = 1000.0
    dark_m: float = 500.0
    steep_pct: float = 12.0
    firm_m: float = 200.0
    loose_pct: float = 10.0
    loose_danger_pct: float = 18.0
    tunnel_m: float = 500.0
    chill_c: float = 0.0
    chill_danger_c: float = -10.0
    frost_c: float = 0.0
    frost_share: float = 0.5
    snow_mm: float = 1.0
    hot_air_c: float = 30.0
    near_m: float = 400.0
    whole_share: float = 0.95
    gap_m: float = 50.0
    off_map_share: float = 0.05
    guessed_share: float = 0.3
    sure_p: float = 0.8
    doubt_m: float = 1000.0
    doubt_share: float = 0.02
    poor_fit: float = 0.5
    old_map_days: int = 366
    source: str = PRACTICE


LIMITS = FindingLimits()


@dataclass(frozen=True, slots=True, kw_only=True)
class SurenessStep:
    """From this probability of being right on, the answer is called so (value of Sureness)."""

    from_p: float
    sureness: str
    source: str = PRACTICE


_MEASURED = "chosen so that a word is right as often as it says (tests/bench/certainty.py)"
SURENESS: tuple[SurenessStep, ...] = (
    SurenessStep(from_p=0.99, sureness="nearly-certain", source=_MEASURED),
    SurenessStep(from_p=0.97, sureness="very-likely", source=_MEASURED),
    SurenessStep(from_p=0.75, sureness="likely", source=_MEASURED),
    SurenessStep(from_p=0.0, sureness="not-certain"),
)

#: Codes of the advice's questions on the way between far-apart points.
ABOUT_WAY = frozenset(("which-way", "which-ways", "send-track"))
#: Codes of the advice's questions whose answer may change the setup.
DECIDING = ABOUT_WAY | frozenset(
    (
        "ride-this-run", "which-ground", "which-one",
        "which-any", "which-parts", "which-parts-many", "which-parts-good", "which-parts-bad",
        "skip-this-run",
    )
)  # fmt: skip

#: A section shorter than this joins its neighbour [m]; more sections than this no person reads.
SECTION_SHORTEST_M = 200.0  # common practice, no source
MOST_SECTIONS = 60  # common practice, no source
