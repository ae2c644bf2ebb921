"""From pieces to stretches: runs with one way and one ground, each with its evidence."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise

import numpy as np

from terrain.stages.ground.cuts import KINDS, NOTED, Grounds, RidePieces
from terrain.stages.ground.notes import AppliedNote
from terrain.stages.ground.season import Season, season_words
from terrain.stages.ground.words import severity_tags, severity_words, way_evidence_of
from terrain.text.message import Message, join_messages, message
from terrain.values.arrays import BoolArray, FloatArray, Int8Array
from terrain.values.ground import (
    BASES,
    LAND_GROUNDS,
    Evidence,
    GroundKind,
    SeasonRisk,
    Severity,
    Stretch,
    WayGround,
)
from terrain.values.match import Match
from terrain.values.views import WayTable

_RISKS = tuple(SeasonRisk)
_OFF_LAND = {
    GroundKind.FERRY: message("A ferry on the map."),
    GroundKind.UNMAPPED: message(
        "No mapped way is near the line, so nothing is known of the ground."
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Judged:
    """Everything known of each piece of a ride, shape (k,).

    mean_c : mean of the month [C], None where not known
    by_days : where rain_mm is the wetness of the days before, by a forecast; None for nowhere
    """

    cuts: RidePieces
    ground: Grounds
    season: Season
    severity: Int8Array
    rain_mm: FloatArray | None
    mean_c: FloatArray | None
    month: int | None
    by_days: BoolArray | None
    held: Sequence[AppliedNote]


#: The evidence of a way for its probabilities, basis and note.
_Told = Callable[[int, tuple[float, float, float], int, int], Evidence]


def make_stretches(
    match: Match, ways: WayTable, way_ground: WayGround, judged: Judged
) -> tuple[Stretch, ...]:
    """The ride's stretches, in order and without gaps.

    Pieces in a row with the same way, ground and note are one stretch: their probabilities are
    the same, and it gets their worst severity and their worst season risk.
    """
    cuts = judged.cuts
    key = np.stack([cuts.way, judged.ground.kind, cuts.note], axis=1)
    first = np.flatnonzero(np.r_[True, np.any(key[1:] != key[:-1], axis=1)][: len(key)])
    # A long ride comes by the same way again.
    tagged = {way: severity_tags(ways, way) for way in set(cuts.way.tolist())}

    @cache
    def told(way: int, p: tuple[float, float, float], code: int, note: int) -> Evidence:
        held = judged.held[note] if note >= 0 else None
        return way_evidence_of(ways, way_ground, way, p, BASES[code], held)

    return tuple(
        _stretch(match, ways, told, tagged, judged, range(*run))
        for run in pairwise([*first.tolist(), len(key)])
    )


def _stretch(
    match: Match,
    ways: WayTable,
    told: _Told,
    tagged: Mapping[int, tuple[Message, ...]],
    judged: Judged,
    run: range,
) -> Stretch:
    """tagged : what the tags of each way say of how hard it is"""
    cuts, i = judged.cuts, run.start
    way = int(cuts.way[i])
    ground = KINDS[int(judged.ground.kind[i])]
    code = int(judged.ground.basis[i])
    paved, gravel, track = judged.ground.p[i].tolist()
    p = (paved, gravel, track) if ground in LAND_GROUNDS else None
    worst_at = _worst_season(judged.season, run)
    noted = cuts.note[i] >= 0 and judged.held[int(cuts.note[i])].note.severity is not None
    worst = int(judged.severity[i : run.stop].max())
    severity = Severity(worst) if worst >= 0 else None
    return Stretch(
        from_m=float(cuts.from_m[i]),
        to_m=float(cuts.to_m[run[-1]]),
        way=way,
        way_id=int(match.way_id[cuts.leg[i]]) if way >= 0 else None,
        highway=ways.highway.text(way) if way >= 0 else None,
        surface=ways.surface.text(way) if way >= 0 else None,
        name=(ways.name.text(way) or ways.ref.text(way)) if way >= 0 else None,
        ground=ground,
        p=p,
        basis=None if code < 0 else BASES[code],
        season_risk=judged.season.risks[worst_at],
        severity=severity,
        evidence=_evidence(told, judged, i, p, worst_at, severity, tagged[way]),
        season_cause=judged.season.causes[worst_at],
        severity_tagged=bool(tagged[way]) or bool(noted),
    )


def _evidence(
    told: _Told,
    judged: Judged,
    i: int,
    p: tuple[float, float, float] | None,
    worst_at: int,
    severity: Severity | None,
    tagged: tuple[Message, ...],
) -> Evidence:
    """i : the stretch's first piece; tagged : what the tags say of how hard it is"""
    if p is None:
        return Evidence(text=_OFF_LAND[KINDS[int(judged.ground.kind[i])]])
    note = int(judged.cuts.note[i])
    code = int(judged.ground.basis[i])
    of_way = told(int(judged.cuts.way[i]), p, code, note)
    text = of_way.text
    if note >= 0 and code != NOTED and judged.held[note].note.ground is not None:
        text = join_messages((text, message("Your note is too old to decide.")))
    rain = None if judged.rain_mm is None else float(judged.rain_mm[i])
    season = judged.season
    mean = None if judged.mean_c is None else float(judged.mean_c[worst_at])
    return replace(
        of_way,
        text=text,
        season=season_words(
            season.risks[worst_at],
            rain,
            judged.month,
            mean,
            season.causes[worst_at],
            by_days=judged.by_days is not None and bool(judged.by_days[i]),
        ),
        ride=severity_words(severity, tagged),
    )


def _worst_season(season: Season, run: range) -> int:
    """The piece with the worst season risk; the coldest way to say it is the first."""
    known = [j for j in run if season.risks[j] is not None]
    return max(known, key=lambda j: _RISKS.index(season.risks[j]), default=run.start)
