"""The two or three questions that would decide it."""

from __future__ import annotations

import numpy as np

from terrain.stages.advice.burden import Burden
from terrain.stages.advice.runs import Run, runs_where
from terrain.stages.advice.setup import (
    GROUND_WORDS,
    THEN,
    decide,
    doubt_runs,
    off_road_runs,
)
from terrain.stages.advice.words import say
from terrain.tables.advice import PRACTICE, SetupModel
from terrain.values.advice import AdviceInputs, Said, SetupChoice
from terrain.values.ground import GroundKind, SeasonRisk

_MOST = 3
_AROUND_M = 5_000.0  # a place this far along the ride still tells where a run begins
_WHOLE = 0.95  # a run this share of the ride is the ride: leaving it out is no question


def ask(
    inputs: AdviceInputs, burden: Burden, choice: SetupChoice, model: SetupModel
) -> tuple[Said, ...]:
    """Questions for the customer, the most telling first."""
    said: list[Said] = []
    if choice is SetupChoice.ASK:
        runs = doubt_runs(inputs, burden)
        for run in runs[:_MOST]:
            said += _about(inputs, burden, run, model)
        if not said and runs:
            said += _together(burden, runs, model)
        if len(said) < _MOST:
            said += _worth_skipping(inputs, burden, model, share=0.4)
    elif choice is SetupChoice.OFF_ROAD:
        said += _worth_skipping(inputs, burden, model, share=0.25)
    return (*said[:_MOST], *_month(inputs))


def _about(inputs: AdviceInputs, burden: Burden, run: Run, model: SetupModel) -> list[Said]:
    """Questions about one doubtful run, as far as their answers would decide anything."""
    mask = run.mask(burden.row)
    better, worse = int(burden.better()[mask].min()), int(burden.worse()[mask].max())
    if_better = decide(burden.fixed(mask, better), model)
    if_worse = decide(burden.fixed(mask, worse), model)
    said = []
    if run.length_m < _WHOLE * inputs.length_m:
        without = decide(burden.without(mask), model)
        if without is not if_worse:
            said.append(
                say(
                    "ride-this-run", from_m=run.from_m, to_m=run.to_m, run_m=run.length_m,
                    from_at_m=run.from_m, near=_near(inputs, run), without=THEN[without],
                    with_=THEN[if_worse],
                )
            )  # fmt: skip
    if if_better is not if_worse:
        said.append(
            say(
                "which-ground", from_m=run.from_m, to_m=run.to_m, run_m=run.length_m,
                from_at_m=run.from_m, near=_near(inputs, run),
                better=GROUND_WORDS[better], if_better=THEN[if_better],
                worse=GROUND_WORDS[worse], if_worse=THEN[if_worse],
            )
        )  # fmt: skip
    return said


def _together(burden: Burden, runs: list[Run], model: SetupModel) -> list[Said]:
    """Several doubtful runs that only together decide: the fewest that do."""
    mask = np.zeros(len(burden.row), dtype=np.bool_)
    for n, run in enumerate(runs, start=1):
        mask |= run.mask(burden.row)
        if_better = decide(burden.settled(mask, burden.better()), model)
        if_worse = decide(burden.settled(mask, burden.worse()), model)
        if n < 2 or (if_better is SetupChoice.ASK and if_worse is SetupChoice.ASK):
            continue
        asked = sorted(runs[:n], key=lambda r: r.from_m)
        longest = max(asked, key=lambda r: r.length_m)
        return [
            say(
                "which-parts", from_m=asked[0].from_m, to_m=asked[-1].to_m, n_parts=n,
                run_m=sum(r.length_m for r in asked), from_at_m=asked[0].from_m,
                longest_m=longest.length_m, longest_at_m=longest.from_m,
                if_better=THEN[if_better], if_worse=THEN[if_worse],
            )
        ]  # fmt: skip
    return []


def _worth_skipping(
    inputs: AdviceInputs, burden: Burden, model: SetupModel, *, share: float
) -> list[Said]:
    """Short runs without which road setup would do."""
    said: list[Said] = []
    for run in off_road_runs(inputs):
        mask = run.mask(burden.row)
        if not mask.any() or run.length_m > share * inputs.length_m or mask.all():
            continue
        without = decide(burden.without(mask), model)
        if without is SetupChoice.ROAD:
            said.append(
                say(
                    "skip-this-run", from_m=run.from_m, to_m=run.to_m, run_m=run.length_m,
                    from_at_m=run.from_m, near=_near(inputs, run), without=THEN[without],
                )
            )  # fmt: skip
    return said


def _month(inputs: AdviceInputs) -> list[Said]:
    if inputs.month is not None:
        return []
    soft = [
        s.ground is GroundKind.TRACK or s.season_risk not in (None, SeasonRisk.NONE)
        for s in inputs.stretches
    ]
    runs = runs_where(inputs, np.array(soft, dtype=np.bool_))
    length = sum(s.length_m for run in runs for s in run.stretches(inputs))
    if length < 1000:
        return []
    return [say("month-unknown", from_m=runs[0].from_m, to_m=runs[-1].to_m, soft_m=length,
                source=PRACTICE)]  # fmt: skip


def _near(inputs: AdviceInputs, run: Run) -> str:
    """The road's name and the nearest place's, to be found again on any map."""
    names = [s.name for s in run.stretches(inputs) if s.name][:1]
    away = {p.name: abs(p.at_m - run.from_m) for p in inputs.places if p.name}
    nearest = min(away, key=lambda name: away[name], default=None)
    if nearest is not None and away[nearest] <= _AROUND_M:
        names.append(nearest)
    return f" ({', '.join(dict.fromkeys(names))})" if names else ""
