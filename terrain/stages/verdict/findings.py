"""Everything a person must hear about a ride, by harm: what forbids, dangers, care, notes."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from terrain.stages.relief.gradient import parts_on
from terrain.stages.verdict import barred
from terrain.stages.verdict.parts import merged, pieces, place_of, sampled, total_m, where, within
from terrain.stages.verdict.weather import (
    cold,
    dark,
    engine,
    ferry,
    guess,
    heat,
    tunnel,
    water,
)
from terrain.tables.advice import LOOSE_M
from terrain.tables.verdict import LIMITS
from terrain.text.catalogue import N_
from terrain.text.message import Message, message, term
from terrain.values.advice import LawKind, RiderVerdict, SetupChoice
from terrain.values.ground import Basis, GroundKind, SeasonCause, SeasonRisk
from terrain.values.help import HelpKind, Remote
from terrain.values.plan import ProblemKind
from terrain.values.relief import Ramp
from terrain.values.report import Assessed
from terrain.values.trip import Wants
from terrain.values.verdict import (
    Finding,
    FindingKind,
    PerAudience,
    Rank,
    RidePart,
    for_all,
)

_LOOSE = (GroundKind.GRAVEL, GroundKind.TRACK)
_RANKS, _KINDS = tuple(Rank), tuple(FindingKind)


def list_findings(ride: Assessed) -> tuple[Finding, ...]:
    """All findings, the gravest rank first; then by kind, by size, and the first on the ride."""
    found = [item for finder in FINDERS for item in finder(ride)]
    return tuple(sorted(found, key=_order))


def _order(item: Finding) -> tuple[int, int, float, float]:
    return _RANKS.index(item.rank), _KINDS.index(item.kind), -item.size, item.from_m or 0.0


# -- help and fuel -------------------------------------------------------------------------------


def remote(ride: Assessed) -> Iterator[Finding]:
    """Far from a mechanic: as danger where that is more than usual for the region."""
    for unusual in (True, False):
        reached = [r for r in ride.help.remote
                   if r.unusual is unusual and r.nearest_s is not None]  # fmt: skip
        lost = [
            r for r in ride.help.remote
            if r.unusual is unusual and r.nearest_s is None and not ride.help.near_town(r)
        ]  # fmt: skip
        if reached:
            yield _far(reached, ride)
        # At a one-way road or at the edge of the map a few hundred metres are cut off: one walks.
        cut_off_m = sum(r.to_m - r.from_m for r in lost)
        if lost and (unusual or cut_off_m >= LIMITS.lost_m or _reaches_none(ride)):
            yield _unreached(lost, ride)


def _far(runs: list[Remote], ride: Assessed) -> Finding:
    worst = max(runs, key=lambda run: (run.nearest_s or 0.0, -run.from_m))
    parts = merged((run.from_m, run.to_m) for run in runs)
    return Finding(
        kind=FindingKind.REMOTE,
        rank=Rank.DANGER if worst.unusual else Rank.CARE,
        what=message(
            "Far from help: up to {far_m} and {far_s} to a mechanic in the map.",
            far_m=worst.nearest_m, far_s=worst.nearest_s,
        ),
        why=message("The way there takes a ferry: its hours and the wait come on top.")
        if worst.ferry_m
        else "",
        do=_ALONE,
        parts=parts,
        place=place_of(parts, ride.places),
        size=worst.nearest_s or 0.0,
    )  # fmt: skip


def _unreached(runs: list[Remote], ride: Assessed) -> Finding:
    parts = merged((run.from_m, run.to_m) for run in runs)
    what = message(
        "{run_m} from which no mechanic in the map (not the same as none) can be reached by road.",
        run_m=total_m(parts),
    )
    if _reaches_none(ride):
        what, parts = _no_mechanic(parts, ride)
    return Finding(
        kind=FindingKind.REMOTE,
        rank=Rank.DANGER
        if any(run.unusual for run in runs)
        else Rank.NOTE
        if _among_pumps(ride)
        else Rank.CARE,
        what=what,
        do=_ALONE,
        parts=parts,
        place=place_of(parts, ride.places),
        size=total_m(parts),
    )


def _among_pumps(ride: Assessed) -> bool:
    """Whether a pump is near wherever the ride goes: there are people, whatever the map lacks."""
    pump_m = ride.help.kind(HelpKind.FUEL).farthest_m
    return pump_m is not None and pump_m <= LIMITS.pump_m


def _reaches_none(ride: Assessed) -> bool:
    """Whether no mechanic can be reached from any of the ride."""
    along_m = ride.help.along.mechanic_m
    return bool(len(along_m)) and bool(np.isnan(along_m).all())


def _no_mechanic(
    runs: tuple[RidePart, ...], ride: Assessed
) -> tuple[Message, tuple[RidePart, ...]]:
    """That there is no mechanic, and how it is with towns: far, or none on the map either; and
    the parts that the last of it is said of."""
    help_, along = ride.help, ride.help.along
    in_runs = within(along.at_m, ((r.from_m, r.to_m) for r in runs))
    in_runs &= ~within(along.at_m, ride.places.outside)  # of towns there the map says nothing
    too_far = (along.town_s > help_.remote_limit_s) | (along.town_m > help_.remote_limit_m)
    far = sampled(along.at_m, in_runs & too_far)
    none = sampled(along.at_m, in_runs & np.isnan(along.town_s))
    whole_m = LIMITS.whole_share * (ride.match.length_m - ride.match.ferry_m)
    if total_m(none) >= whole_m:
        form, parts = _NEITHER, runs
    elif total_m(far) >= whole_m:
        form, parts = _TOWN_FAR, runs
    elif total_m(far) >= LIMITS.lost_m:
        form, parts = _PART_FAR, far
    elif total_m(none) >= LIMITS.lost_m:
        form, parts = _PART_NONE, none
    else:
        form, parts = _NO_MECHANIC, runs
    return message(form, run_m=total_m(parts)), parts


_NO_MECHANIC = N_(
    "No mechanic in the map (not the same as none) can be reached by road from any of this ride."
)
_NEITHER = N_(
    "Neither a mechanic nor a town in the map (not the same as none) can be reached by road from "
    "any of this ride."
)
_TOWN_FAR = N_(
    "No mechanic in the map (not the same as none) can be reached by road from any of this ride, "
    "and a town is far too."
)
_PART_FAR = N_(
    "No mechanic in the map (not the same as none) can be reached by road from any of this ride, "
    "and {run_m} of it lie far from a town too."
)
_PART_NONE = N_(
    "No mechanic in the map (not the same as none) can be reached by road from any of this ride, "
    "and no town from {run_m} of it."
)


_ALONE = PerAudience(
    rider=message("Carry tools and tubes; tell somebody when you will be out."),
    staff=message("Send tools and tubes along; agree when they will be out."),
    guide=message("Carry tools and tubes; tell the desk when you will be out."),
)


def fuel(ride: Assessed) -> Iterator[Finding]:
    """Legs that the tank does not reach."""
    dry = [p for p in ride.plan.problems if p.kind is ProblemKind.FUEL]
    if not dry:
        return
    parts = merged((p.from_m, p.to_m) for p in dry)
    longest = max(dry, key=lambda p: (p.to_m - p.from_m, -p.from_m))
    yield Finding(
        kind=FindingKind.FUEL,
        rank=Rank.DANGER,
        what=message("Fuel does not reach."),
        do=for_all(longest.text),
        parts=parts,
        place=place_of(parts, ride.places),
        size=longest.to_m - longest.from_m,
    )


def border(ride: Assessed) -> Iterator[Finding]:
    """Border posts on the way: whether a rented bike may cross is settled before it is booked."""
    posts = [(item.from_m, item.from_m) for item in ride.advice.law
             if item.code == LawKind.BORDER.value and item.from_m is not None]  # fmt: skip
    parts = merged(posts, LIMITS.near_m)
    if parts:
        yield Finding(
            kind=FindingKind.BORDER,
            rank=Rank.CARE,
            what=message("A border is crossed.", "{n} borders are crossed.", n=len(parts)),
            do=PerAudience(
                rider=message(
                    "Ask the rental desk whether the bike may leave the country and is insured "
                    "there; take passport and the bike's papers."
                ),
                staff=message(
                    "Say before they book whether the bike may leave the country and is insured "
                    "there; give its papers along."
                ),
                guide=message("Papers and insurance of each rider and bike; plan for the queue."),
            ),
            parts=parts,
            place=place_of(parts, ride.places),
            size=float(len(parts)),
        )


# -- ground --------------------------------------------------------------------------------------


_HARD_BEYOND = message("Only for riders used to it; ask how it is now, ride it in daylight.")
# To a rider whom the ride suits as a whole: short, or what the rider is used to.
_HARD_WITHIN = message(
    "Where it is hardest, look at it on foot first; ask how it is now, ride it in daylight."
)


def hard(ride: Assessed) -> Iterator[Finding]:
    """Hard riding in one piece, and track in one piece."""
    stretches = ride.ground.stretches
    yield from _impassable(ride)
    rough = where(stretches, lambda s: (s.severity or 0) >= LIMITS.hard_severity)
    longest = max(pieces(rough), key=_length, default=None)
    if longest is not None and longest.length_m >= LIMITS.hard_m:
        within = ride.advice.rider.verdict is RiderVerdict.WITHIN
        yield Finding(
            kind=FindingKind.HARD,
            rank=Rank.DANGER,
            what=_run(
                rough, N_("{run_m} of hard riding in one piece."),
                N_("{run_m} of hard riding, {piece_m} of it in one piece."),
            ),
            do=for_all(_HARD_WITHIN if within else _HARD_BEYOND),
            parts=rough,
            place=place_of(rough, ride.places),
            size=longest.length_m,
        )  # fmt: skip
    tracks = where(stretches, lambda s: s.ground is GroundKind.TRACK)
    longest = max(pieces(tracks), key=_length, default=None)
    if longest is not None and longest.length_m >= LIMITS.track_m:
        guessed = where(stretches, lambda s: s.ground is GroundKind.TRACK
                        and s.basis is Basis.INFERRED)  # fmt: skip
        likely = where(stretches, lambda s: s.ground is GroundKind.TRACK
                       and s.p is not None and s.p[2] >= LIMITS.likely_track)  # fmt: skip
        half_m = total_m(tracks) / 2
        one, several = (
            _MAY_BE_TRACK if total_m(guessed) >= half_m
            else _TRACK if total_m(likely) >= half_m else _OPEN_TRACK
        )  # fmt: skip
        yield Finding(
            kind=FindingKind.HARD,
            rank=Rank.CARE,
            what=_run(tracks, one, several),
            do=for_all(message("Ask how it is now; ride it in daylight.")),
            parts=tracks,
            place=place_of(tracks, ride.places),
            size=longest.length_m,
        )  # fmt: skip


def _impassable(ride: Assessed) -> Iterator[Finding]:
    """What a tag calls impassable for any wheels."""
    said = [item for item in ride.advice.cautions if item.code == "impassable"]
    parts = merged(span for item in said for span in item.places)
    if parts:
        yield Finding(
            kind=FindingKind.HARD,
            rank=Rank.DANGER,
            what=message("{run_m} are tagged as impassable for any wheels.", run_m=total_m(parts)),
            do=for_all(message("Go round, or ask somebody who has been there.")),
            parts=parts,
            place=place_of(parts, ride.places),
            size=np.inf,  # before what is only hard
        )


_TRACK = (
    N_("{run_m} of track in one piece."), N_("{run_m} of track, {piece_m} of it in one piece."),
)  # fmt: skip
_OPEN_TRACK = (
    N_("{run_m} in one piece may be track: its tags leave it open."),
    N_("{run_m} may be track, {piece_m} of it in one piece: its tags leave it open."),
)
_MAY_BE_TRACK = (
    N_("{run_m} in one piece may be track: no tag tells."),
    N_("{run_m} may be track, {piece_m} of it in one piece: no tag tells most of it."),
)


def _run(parts: tuple[RidePart, ...], one: str, several: str) -> Message:
    """How long it is in all, and its longest place: of several none is called one piece."""
    if len(parts) == 1:
        return message(one, run_m=total_m(parts))
    return message(several, run_m=total_m(parts), piece_m=max(map(_length, parts)))


def _length(part: RidePart) -> float:
    return part.length_m


_RAIN = (SeasonCause.RAIN, None)
_CAUSES = {
    SeasonCause.RAIN: N_("rain"),
    SeasonCause.THAW: N_("thaw"),
    SeasonCause.SNOW: N_("snow"),
    SeasonCause.FROST: N_("made for frost"),
    SeasonCause.TAGGED: N_("open at some season only, by the map"),
}


def season(ride: Assessed) -> Iterator[Finding]:
    """What the season may have shut, and what it may have softened, with what it comes of."""
    by_tag = (SeasonCause.TAGGED,)
    for risk, causes, rank, what, do in (
        (
            SeasonRisk.CONFIRM_FIRST,
            (*SeasonCause, None),
            Rank.DANGER,
            N_("{run_m} may be shut at this season ({causes})."),
            N_("Take it as shut until somebody local says it is open."),
        ),
        (
            SeasonRisk.DOUBTFUL,
            by_tag,
            Rank.CARE,
            N_("{run_m} are open at some season only, by the map."),
            N_("Ask whether it is open then; have another way."),
        ),
        (
            SeasonRisk.DOUBTFUL,
            tuple(cause for cause in (*SeasonCause, None) if cause not in by_tag),
            Rank.CARE,
            N_("{run_m} may be too soft to pass at this season ({causes})."),
            N_("Ask the day before; have another way."),
        ),
    ):
        risky = [s for s in ride.ground.stretches
                 if s.season_risk is risk and s.season_cause in causes]  # fmt: skip
        parts = merged((s.from_m, s.to_m) for s in risky)
        if total_m(parts) < LIMITS.season_m:
            continue
        by_rain = all(s.season_cause in _RAIN for s in risky)
        found = {s.season_cause or SeasonCause.RAIN for s in risky}
        told = tuple(term(_CAUSES[cause]) for cause in SeasonCause if cause in found)
        yield Finding(
            kind=FindingKind.SEASON,
            rank=_less(rank) if by_rain and total_m(parts) < LIMITS.soft_m else rank,
            what=message(what, run_m=total_m(parts), causes=told),
            do=for_all(message(do)),
            parts=parts,
            place=place_of(parts, ride.places),
            size=total_m(parts),
        )


def _less(rank: Rank) -> Rank:
    return _RANKS[_RANKS.index(rank) + 1]


def steep(ride: Assessed) -> Iterator[Finding]:
    """The steepest ramp on loose ground, and on firm ground, where it is long enough to be one."""
    relief, stretches = ride.relief, ride.ground.stretches
    sure = [(r.from_m, r.to_m, r.grade_pct) for r in relief.ramps if not r.doubtful]
    loose = [(s.from_m, s.to_m) for s in stretches if s.ground in _LOOSE]
    ramps = [part for part in parts_on(sure, loose, LOOSE_M) if part[2] >= LIMITS.loose_pct]
    if ramps:
        yield _loose_ramps(ramps, ride)
    hard = [(s.from_m, s.to_m) for s in stretches if s.ground not in _LOOSE]
    firm = [r for r in parts_on(sure, hard, LIMITS.firm_m) if r[2] >= LIMITS.steep_pct]
    if firm:
        yield _firm_ramp(max(firm, key=lambda ramp: (ramp[2], -ramp[0])), ride)
    if not ramps and not firm and relief.steepest:
        worst = max(relief.steepest, key=lambda r: abs(r.grade_pct))
        if abs(worst.grade_pct) >= LIMITS.loose_pct and worst.doubtful:
            yield _doubtful_ramp(worst, ride)


def _loose_ramps(ramps: list[tuple[float, float, float]], ride: Assessed) -> Finding:
    from_m, to_m, grade = max(ramps, key=lambda ramp: (ramp[2], -ramp[0]))
    parts = merged((a, b) for a, b, _ in ramps)
    return Finding(
        kind=FindingKind.STEEP,
        rank=Rank.DANGER if grade >= LIMITS.loose_danger_pct else Rank.CARE,
        what=message(
            "Steep on loose ground: {grade_pct} over {run_m}.",
            grade_pct=grade, run_m=to_m - from_m,
        ),
        # Beside several places the longest is told, which need not be the steepest.
        why=message("The steepest from {from_at_m}.", from_at_m=from_m) if parts[1:] else "",
        do=for_all(message("Low gear, no stop on the ramp.")),
        parts=parts,
        place=place_of(parts, ride.places),
        size=grade,
    )  # fmt: skip


def _firm_ramp(ramp: tuple[float, float, float], ride: Assessed) -> Finding:
    from_m, to_m, grade = ramp
    part = RidePart(from_m=from_m, to_m=to_m)
    return Finding(
        kind=FindingKind.STEEP,
        rank=Rank.NOTE,
        what=message("Steep: {grade_pct} over {run_m}.", grade_pct=grade, run_m=part.length_m),
        do=for_all(message("Low gear, no stop on the ramp.")),
        parts=(part,),
        place=place_of((part,), ride.places),
        size=grade,
    )


def _doubtful_ramp(ramp: Ramp, ride: Assessed) -> Finding:
    part = RidePart(from_m=ramp.from_m, to_m=ramp.to_m)
    if ramp.void:
        what = message("Heights are missing here: how steep it is is not known.")
    else:
        what = message(
            "Steep: {grade_pct} over {run_m} by the elevation model, likely too much.",
            grade_pct=abs(ramp.grade_pct), run_m=part.length_m,
        )  # fmt: skip
    return Finding(
        kind=FindingKind.STEEP,
        rank=Rank.NOTE,
        what=what,
        do=for_all(message("Ask somebody who has ridden it.")),
        parts=(part,),
        place=place_of((part,), ride.places),
        size=0.0,
    )


def wish(ride: Assessed) -> Iterator[Finding]:
    """That it is, or may be, another kind of trip than the rider came for."""
    form = _WISHES.get((ride.trip.wants, ride.advice.setup.choice))
    if form is None:
        return
    to_road = ride.trip.wants is Wants.ROAD
    yield Finding(
        kind=FindingKind.WISH,
        rank=Rank.CARE if to_road else Rank.NOTE,
        what=message(form),
        do=PerAudience(
            rider=message("Ask the rental desk for a way that stays on tarmac."),
            staff=message("Offer a way that stays on tarmac before they book."),
            guide=message("Tell them before the start, or lead a way on tarmac."),
        )
        if to_road
        else PerAudience(
            rider=message("Ask the rental desk for a way with more dirt."),
            staff=message("Offer a way with more dirt before they book."),
            guide=message("Tell them before the start, or lead a way with more dirt."),
        ),
    )


_WISHES: dict[tuple[Wants | None, SetupChoice], str] = {
    (Wants.ROAD, SetupChoice.OFF_ROAD): N_("A road trip is wanted; this is an off-road trip."),
    (Wants.ROAD, SetupChoice.ASK): N_("A road trip is wanted; this may not be one."),
    (Wants.OFF_ROAD, SetupChoice.ROAD): N_("An off-road trip is wanted; this is a road trip."),
    (Wants.OFF_ROAD, SetupChoice.ASK): N_("An off-road trip is wanted; this may not be one."),
}


FINDERS: tuple[Callable[[Assessed], Iterator[Finding]], ...] = (
    barred.closed, barred.no_bike, barred.booked_bike, barred.beyond_rider, barred.overload,
    dark, heat, cold, engine, remote, fuel, border, hard, water, season, steep, guess, wish, ferry,
    tunnel,
)  # fmt: skip
