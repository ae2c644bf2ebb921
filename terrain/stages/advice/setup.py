"""Road or off-road setup, from the distribution of off-road riding time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.calc.shares import interval
from terrain.stages.advice.burden import Burden, draw_worlds
from terrain.stages.advice.runs import Run, runs_where
from terrain.stages.advice.words import say
from terrain.tables.advice import PRACTICE, TYRES, SetupModel
from terrain.values.advice import AdviceInputs, Flip, Said, Setup, SetupChoice, Tyres
from terrain.values.arrays import BoolArray
from terrain.values.figures import N_
from terrain.values.ground import GroundKind, SeasonRisk
from terrain.values.sentences import joined, word

_MOST_RUNS = 3
_TOLD_S, _HARD = 300.0, 3.5
SOFT_M = 1_000.0  # less soft ground than this is not worth a reason
GROUND_WORDS = (N_("paved"), N_("gravel"), N_("track"))
THEN = {
    SetupChoice.ROAD: N_("road setup"),
    SetupChoice.OFF_ROAD: N_("off-road setup"),
    SetupChoice.ASK: N_("still open"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """Weighted and hard riding time if doubtful ground turns out the better, and the worse.

    Monotone in doubt: every ground that becomes plausible only widens them, and the most
    probable ground stays where it is when all probabilities draw nearer to one another.
    """

    ride_s: float
    off_low_s: float
    off_high_s: float
    hard_low_s: float
    hard_high_s: float


def bounds_of(burden: Burden, model: SetupModel) -> Bounds:
    off, hard = burden.likely_s()
    down = burden.leeway_s(model.shared_region, worse=False)
    up = burden.leeway_s(model.shared_region, worse=True)
    return Bounds(
        ride_s=burden.ride_s,
        off_low_s=max(0.0, off - down[0]),
        off_high_s=off + up[0],
        hard_low_s=max(0.0, hard - down[1]),
        hard_high_s=hard + up[1],
    )


def decide(burden: Burden, model: SetupModel) -> SetupChoice:
    """Firm only if doubtful ground could not well change it; less certainty is never firmer."""
    if not burden.ride_s > 0:
        return SetupChoice.ASK
    b = bounds_of(burden, model)
    if _is_off_road(b.off_low_s, b.hard_low_s, b.ride_s, model, 1 + model.margin):
        return SetupChoice.OFF_ROAD
    if not _is_off_road(b.off_high_s, b.hard_high_s, b.ride_s, model, 1 - model.margin):
        return SetupChoice.ROAD
    return SetupChoice.ASK


def _is_off_road(
    off_s: float, hard_s: float, ride_s: float, model: SetupModel, factor: float
) -> bool:
    return bool(off_s >= factor * _limit_s(ride_s, model) or hard_s >= factor * model.hard_limit_s)


def _limit_s(ride_s: float, model: SetupModel) -> float:
    return min(model.share_limit * ride_s, model.hours_limit_s)


def judge_setup(inputs: AdviceInputs, burden: Burden, model: SetupModel) -> Setup:
    """The setup with its probability, what it rests on and what would change it."""
    choice = decide(burden, model)
    ride_s = burden.ride_s
    if not ride_s > 0:
        zero = (0.0, 0.0, 0.0)
        return Setup(
            choice=choice, p_off_road=None, ride_s=0.0, off_road_s=zero, hard_s=zero,
            plausible_low_s=0.0, plausible_high_s=0.0, tyres=None, pressures=(),
            reasons=(say("setup-nothing"),), flips=(),
        )  # fmt: skip
    off, hard = draw_worlds(burden, model)
    is_off = (off >= _limit_s(ride_s, model)) | (hard >= model.hard_limit_s)
    expected = float((burden.time_s[:, None] * burden.weight * burden.p).sum())
    expected_hard = float((burden.time_s[:, None] * burden.hard * burden.p).sum())
    b = bounds_of(burden, model)
    tyres = _tyres(choice, expected / ride_s, expected_hard, model)
    return Setup(
        choice=choice,
        p_off_road=float(is_off.mean()),
        ride_s=ride_s,
        off_road_s=(expected, *interval(off, expected)),
        hard_s=(expected_hard, *interval(hard, expected_hard)),
        plausible_low_s=b.off_low_s,
        plausible_high_s=b.off_high_s,
        tyres=tyres,
        pressures=(),
        reasons=_reasons(inputs, burden, choice, b, expected, expected_hard, model),
        flips=flips(inputs, burden, choice, model),
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
    inputs: AdviceInputs,
    burden: Burden,
    choice: SetupChoice,
    b: Bounds,
    off_s: float,
    hard_s: float,
    model: SetupModel,
) -> tuple[Said, ...]:
    numbers = {
        "off_s": off_s,
        "ride_s": b.ride_s,
        "off_share": off_s / b.ride_s,
        "best_share": min(b.off_low_s, off_s) / b.ride_s,
        "worst_share": max(b.off_high_s, off_s) / b.ride_s,
        "limit_share": _limit_s(b.ride_s, model) / b.ride_s,
    }
    code = f"setup-{choice.value}"
    if choice is SetupChoice.ASK and not burden.doubtful.any():
        code = "setup-close"
    if choice is SetupChoice.OFF_ROAD and b.off_low_s < (1 + model.margin) * _limit_s(
        b.ride_s, model
    ):
        code, numbers = "setup-hard", {"hard_s": hard_s, "ride_s": b.ride_s}
    if choice is SetupChoice.ROAD and off_s < 0.01 * b.ride_s:
        code = "setup-road-paved"
    said = [say(code, **numbers, source=model.source)]
    said += [_off_road_words(inputs, run) for run in _worth_telling(inputs)]
    doubts = [r for r in doubt_runs(inputs, burden) if choice is not SetupChoice.ROAD]
    said += [_doubt_words(inputs, burden, run) for run in doubts[:_MOST_RUNS]]
    soft_m = soft_length_m(inputs, SeasonRisk.DOUBTFUL, SeasonRisk.CONFIRM_FIRST)
    if soft_m >= SOFT_M:
        said.append(say("season-weight", soft_m=soft_m, source=PRACTICE))
    return tuple(said)


def off_road_runs(inputs: AdviceInputs) -> list[Run]:
    """Runs whose most probable ground is not paved."""
    return runs_where(
        inputs,
        np.array([s.ground in (GroundKind.GRAVEL, GroundKind.TRACK) for s in inputs.stretches]),
    )


def doubt_runs(inputs: AdviceInputs, burden: Burden) -> list[Run]:
    """Runs whose ground is not settled, those that matter most first."""
    chosen = np.zeros(len(inputs.stretches), dtype=np.bool_)
    chosen[burden.row[burden.doubtful]] = True
    i = np.arange(len(burden.row))
    swing = burden.time_s * (burden.weight[i, burden.worse()] - burden.weight[i, burden.better()])
    return sorted(
        runs_where(inputs, chosen), key=lambda run: -float(swing[run.mask(burden.row)].sum())
    )


def _worth_telling(inputs: AdviceInputs) -> list[Run]:
    """The longest runs off tarmac; short ones only if they are hard."""
    return [
        run
        for n, run in enumerate(_by_time(inputs, off_road_runs(inputs)))
        if n == 0
        or run.time_s(inputs) >= _TOLD_S
        or any((s.severity or 0.0) >= _HARD for s in run.stretches(inputs))
    ]


def _by_time(inputs: AdviceInputs, runs: list[Run]) -> list[Run]:
    return sorted(runs, key=lambda run: -run.time_s(inputs))[:_MOST_RUNS]


def soft_length_m(inputs: AdviceInputs, *risks: SeasonRisk) -> float:
    return sum(s.length_m for s in inputs.stretches if s.season_risk in risks)


def _off_road_words(inputs: AdviceInputs, run: Run) -> Said:
    stretches = run.stretches(inputs)
    length = {
        kind: sum(s.length_m for s in stretches if s.ground is kind)
        for kind in (GroundKind.GRAVEL, GroundKind.TRACK)
    }
    ground = max(length, key=lambda kind: length[kind])
    worst = max((s.severity for s in stretches if s.severity is not None), default=None)
    return say(
        "off-road-run" if worst is None else "off-road-run-severity",
        from_m=run.from_m,
        to_m=run.to_m,
        run_m=run.length_m,
        ground=ground.value
        if min(length.values()) < 0.2 * sum(length.values())
        else N_("gravel and track"),
        from_at_m=run.from_m,
        run_s=run.time_s(inputs),
        severity=None if worst is None else round(worst),
    )


def _doubt_words(inputs: AdviceInputs, burden: Burden, run: Run) -> Said:
    mask = run.mask(burden.row)
    possible: list[bool] = np.any(burden.plausible[mask], axis=0).tolist()
    grounds = [word(text) for text, yes in zip(GROUND_WORDS, possible, strict=True) if yes]
    time = burden.time_s[mask]
    mean = (burden.p[mask] * time[:, None]).sum(axis=0) / time.sum()
    basis = {s.basis.value for s in run.stretches(inputs) if s.basis is not None}
    return say(
        "doubt-run",
        from_m=run.from_m,
        to_m=run.to_m,
        run_m=run.length_m,
        from_at_m=run.from_m,
        grounds=joined(grounds, "{first} or {then}"),
        evidence=N_("the map has no way there")
        if basis == {"unmapped"}
        else N_("the map has no surface for it")
        if "inferred" in basis
        else N_("its tags leave it open"),
        paved_share=float(mean[0]),
        gravel_share=float(mean[1]),
        track_share=float(mean[2]),
    )


# -- what would change it ------------------------------------------------------------------------


def flips(
    inputs: AdviceInputs, burden: Burden, choice: SetupChoice, model: SetupModel
) -> tuple[Flip, ...]:
    """Single runs that would change the answer if left out, better or worse than thought."""
    found: list[Flip] = []
    runs = {(r.from_m, r.to_m): r for r in (*doubt_runs(inputs, burden), *off_road_runs(inputs))}
    for run in _by_time(inputs, list(runs.values())):
        mask = run.mask(burden.row)
        if not mask.any() or mask.all():
            continue
        found += [
            _flip(code, run, then, ground)
            for code, then, ground in _outcomes(burden, mask, model)
            if then is not choice
        ]
    return tuple(found)


def _outcomes(
    burden: Burden, mask: BoolArray, model: SetupModel
) -> list[tuple[str, SetupChoice, str]]:
    better, worse = int(burden.better()[mask].min()), int(burden.worse()[mask].max())
    outcomes = [("flip-skip", decide(burden.without(mask), model), "")]
    if better != worse:
        for code, ground in (("flip-better", better), ("flip-worse", worse)):
            then = decide(burden.fixed(mask, ground), model)
            outcomes.append((code, then, GROUND_WORDS[ground]))
    elif worse < 2:
        outcomes.append(("flip-worse", decide(burden.fixed(mask, 2), model), GROUND_WORDS[2]))
    return outcomes


def _flip(code: str, run: Run, then: SetupChoice, ground: str) -> Flip:
    said = say(
        code,
        from_m=run.from_m,
        to_m=run.to_m,
        run_m=run.length_m,
        from_at_m=run.from_m,
        ground=ground,
    )
    return Flip(said=said, then=then)
