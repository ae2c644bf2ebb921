"""Road or off-road setup, from the distribution of off-road riding time."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from terrain.calc.shares import interval
from terrain.stages.advice.burden import OffRoadTime
from terrain.stages.advice.case import AdviceCase, AdviceStretch
from terrain.stages.advice.runs import (
    StretchRun,
    by_time,
    doubt_runs,
    off_road_runs,
    where,
    where_in_doubt,
)
from terrain.stages.advice.setup.decide import (
    GROUND_WORDS,
    Bounds,
    bounds_of,
    decide,
    limit_s,
    limits_s,
)
from terrain.stages.advice.setup.flips import flips
from terrain.stages.advice.setup.worlds import draw_worlds
from terrain.stages.advice.words import advice_item
from terrain.tables.advice import PRACTICE, TYRES, SetupModel
from terrain.text.catalogue import N_
from terrain.text.message import join_messages, term
from terrain.text.terms import SETUP_THEN_TERMS
from terrain.values.advice import AdviceItem, Setup, SetupChoice, Tyres
from terrain.values.ground import GroundKind, SeasonCause, SeasonRisk

# Common practice, no source.
_MOST_RUNS = 3
_LEAST_S, _TOLD_S, _HARD, _DOUBT_S = 60.0, 300.0, 3.5, 120.0
_LIKELY = 0.8  # from this probability on, an open answer says which way it leans
SOFT_M = 1_000.0  # less soft ground than this is not worth a reason


def judge_setup(case: AdviceCase, burden: OffRoadTime, model: SetupModel) -> Setup:
    """The setup with its probability, what it rests on and what would change it."""
    choice = decide(burden, model)
    ride_s = burden.ride_s
    if not ride_s > 0:
        zero = (0.0, 0.0, 0.0)
        return Setup(
            choice=choice, p_off_road=None, ride_s=0.0, off_road_s=zero, hard_s=zero,
            plausible_low_s=0.0, plausible_high_s=0.0, tyres=None, pressures=(),
            reasons=(advice_item("setup-nothing"),), flips=(),
        )  # fmt: skip
    worlds = draw_worlds(burden, model)
    is_off = (worlds.off_s >= limits_s(worlds.ride_s, model)) | (
        worlds.hard_s >= model.hard_limit_s
    )
    p_off_road = float(is_off.mean())
    expected, expected_hard = burden.expected_s()
    b = bounds_of(burden, model)
    tyres = _tyres(choice, expected / ride_s, expected_hard, model)
    return Setup(
        choice=choice,
        p_off_road=p_off_road,
        ride_s=ride_s,
        off_road_s=(expected, *interval(worlds.off_on_s, expected)),
        hard_s=(expected_hard, *interval(worlds.hard_s, expected_hard)),
        plausible_low_s=b.off_low_s,
        plausible_high_s=b.off_high_s,
        tyres=tyres,
        pressures=(),
        reasons=_reasons(case, burden, choice, b, p_off_road, expected, expected_hard, model),
        flips=flips(case, burden, choice, model),
    )


def _tyres(choice: SetupChoice, share: float, hard_s: float, model: SetupModel) -> Tyres | None:
    if choice is SetupChoice.ASK:
        return None
    fitted = [Tyres(row.tyres) for row in TYRES if share >= row.from_share][-1]
    if choice is SetupChoice.ROAD:
        return Tyres.ROAD if fitted is Tyres.ROAD else Tyres.MIXED
    if fitted is Tyres.BLOCK or hard_s >= 3 * model.hard_limit_s:
        return Tyres.BLOCK
    return Tyres.MIXED


# -- reasons -------------------------------------------------------------------------------------


def _reasons(
    case: AdviceCase,
    burden: OffRoadTime,
    choice: SetupChoice,
    b: Bounds,
    p_off_road: float,
    off_s: float,
    hard_s: float,
    model: SetupModel,
) -> tuple[AdviceItem, ...]:
    said = [_first(case, burden, choice, b, p_off_road, off_s, hard_s, model)]
    if choice is not SetupChoice.ASK and burden.gaps:
        said.append(advice_item("any-way", **_guessed(case), source=model.source))
    said += [_off_road_words(case, run) for run in _worth_telling(case)]
    if choice is SetupChoice.ASK:
        if decide(burden.as_laid(), model) is SetupChoice.ASK:
            doubts = [r for r in doubt_runs(case, burden) if r.time_s(case) >= _DOUBT_S]
            said += [_doubt_words(case, burden, run) for run in doubts[:_MOST_RUNS]]
        said.append(advice_item("ask-else", source=PRACTICE))
    softening = (SeasonRisk.DOUBTFUL, SeasonRisk.CONFIRM_FIRST)
    soft_m = sum(
        s.length_m
        for s in case.stretches
        # Rain softens; snow and seasons shut. A sealed road does not soften.
        if s.season_risk in softening
        and s.season_cause in (None, SeasonCause.RAIN)
        and s.ground is not GroundKind.PAVED
    )
    if soft_m >= SOFT_M:
        said.append(advice_item("season-weight", soft_m=soft_m, source=PRACTICE))
    return tuple(said)


def _first(
    case: AdviceCase,
    burden: OffRoadTime,
    choice: SetupChoice,
    b: Bounds,
    p_off_road: float,
    off_s: float,
    hard_s: float,
    model: SetupModel,
) -> AdviceItem:
    """The choice in one sentence, with the numbers that decided it."""
    limit = limit_s(b.ride_s, model)
    numbers = {
        "off_s": off_s,
        "ride_s": b.ride_s,
        "off_share": off_s / b.ride_s,
        "best_share": min(b.off_low_s, off_s) / b.ride_s,
        "worst_share": min(1.0, max(b.off_high_s, off_s) / b.ride_s),
        "limit_share": limit / b.ride_s,
    }
    code = f"setup-{choice.value}"
    as_laid = decide(burden.as_laid(), model)
    if choice is SetupChoice.ASK and as_laid is not choice:
        code = "setup-guessed"
        numbers |= _guessed(case)
        return advice_item(
            code, **numbers, as_guessed=SETUP_THEN_TERMS[as_laid], source=model.source
        )
    if choice is SetupChoice.ASK and not burden.doubtful.any() and not burden.gaps:
        code = "setup-close"
    elif choice is SetupChoice.ASK and max(p_off_road, 1 - p_off_road) >= _LIKELY:
        off = p_off_road >= _LIKELY
        code = "setup-ask-off-road" if off else "setup-ask-road"
        numbers["p_share"] = p_off_road if off else 1 - p_off_road
    if choice is SetupChoice.OFF_ROAD and b.off_low_s < (1 + model.margin) * limit:
        code, numbers = "setup-hard", {"hard_s": hard_s, "ride_s": b.ride_s}
    if choice is SetupChoice.ROAD and off_s < 0.01 * b.ride_s:
        code = "setup-road-paved"
    elif choice is SetupChoice.ROAD and limit > model.share_limit * b.ride_s:
        code = "setup-road-short"
    return advice_item(code, **numbers, source=model.source)


def _guessed(case: AdviceCase) -> dict[str, float]:
    """How much of the ride lies between points too far apart to show the way."""
    return {"guessed_m": sum(b - a for a, b in case.gaps), "length_m": case.length_m}


def _worth_telling(case: AdviceCase) -> list[StretchRun]:
    """The longest runs off tarmac; short ones only if they are hard."""
    return [
        run
        for n, run in enumerate(by_time(case, off_road_runs(case))[:_MOST_RUNS])
        if (n == 0 and run.time_s(case) >= _LEAST_S)
        or run.time_s(case) >= _TOLD_S
        or any((s.severity or 0.0) >= _HARD for s in run.stretches(case))
    ]


def soft_length_m(case: AdviceCase, *risks: SeasonRisk) -> float:
    return sum(s.length_m for s in case.stretches if s.season_risk in risks)


def _off_road_words(case: AdviceCase, run: StretchRun) -> AdviceItem:
    stretches = run.stretches(case)
    worst = max((s.severity for s in stretches if s.severity is not None), default=None)
    return advice_item(
        "off-road-run" if worst is None else "off-road-run-severity",
        from_m=run.from_m,
        to_m=run.to_m,
        run_m=run.held_m(case),
        ground=_called(stretches),
        from_at_m=run.from_m,
        near=where(case, run),
        run_s=run.time_s(case),
        severity=None if worst is None else round(worst),
    )


def _called(stretches: Sequence[AdviceStretch]) -> str:
    """What a run off tarmac is called."""
    gravel, track = (
        sum(s.length_m for s in stretches if s.ground is kind)
        for kind in (GroundKind.GRAVEL, GroundKind.TRACK)
    )
    broken = sum(s.length_m for s in stretches if s.broken)
    if broken >= gravel + track:
        return N_("broken paved road")
    other = min(gravel, track) / (gravel + track)
    if other >= 0.2:
        return N_("gravel and track")
    if other == 0:
        return (GroundKind.GRAVEL if gravel else GroundKind.TRACK).value
    if gravel > track:
        return N_("gravel and track, most of it gravel")
    return N_("gravel and track, most of it track")


def _doubt_words(case: AdviceCase, burden: OffRoadTime, run: StretchRun) -> AdviceItem:
    mask = run.mask(burden.row)
    possible: list[bool] = np.any(burden.plausible[mask], axis=0).tolist()
    grounds = [term(text) for text, yes in zip(GROUND_WORDS, possible, strict=True) if yes]
    time = burden.time_s[mask]
    mean = (burden.p[mask] * time[:, None]).sum(axis=0) / time.sum()
    basis = {s.basis.value for s in run.stretches(case) if s.basis is not None}
    return advice_item(
        "doubt-run",
        from_m=run.from_m,
        to_m=run.to_m,
        run_m=run.length_m,
        from_at_m=run.from_m,
        near=where_in_doubt(case, run),
        grounds=join_messages(grounds, "{first} or {then}")
        if len(grounds) < 3
        else N_("anything from paved to track"),
        evidence=N_("the map has no way there")
        if basis == {"unmapped"}
        else N_("the map has no surface for it")
        if "inferred" in basis and not basis & {"tagged", "graded"}
        else N_("the map has no surface for it, or tags that leave it open")
        if "inferred" in basis
        else N_("its tags leave it open"),
        paved_share=float(mean[0]),
        gravel_share=float(mean[1]),
        track_share=float(mean[2]),
    )
