"""What would change the answer: parts left out, better or worse ground, another way, more of it."""

from __future__ import annotations

import numpy as np

from terrain.stages.advice.burden import OffRoadTime
from terrain.stages.advice.case import AdviceCase
from terrain.stages.advice.runs import (
    by_time,
    doubt_runs,
    is_same,
    off_road_runs,
    where,
    where_in_doubt,
)
from terrain.stages.advice.setup.decide import GROUND_WORDS, bounds_of, decide, limit_s, may_turn
from terrain.stages.advice.words import advice_item
from terrain.tables.advice import SetupModel
from terrain.values.advice import Flip, SetupChoice
from terrain.values.arrays import BoolArray

# Common practice, no source.
_MOST_RUNS = 3
_NEARLY_ALL = 0.9  # common practice, no source
_LEAST_TOLD_S = 300.0  # less of riding is no measure of anything: common practice, no source


def flips(
    case: AdviceCase, burden: OffRoadTime, choice: SetupChoice, model: SetupModel
) -> tuple[Flip, ...]:
    """What would change the answer, the likeliest first."""
    found = [*_by_way(burden, choice, model), *_by_run(case, burden, choice, model)]
    if choice is SetupChoice.ASK:
        found += _by_all(case, burden, model)
    else:
        found += _by_amount(burden, choice, model)
    return tuple(found)


def _by_way(burden: OffRoadTime, choice: SetupChoice, model: SetupModel) -> list[Flip]:
    """If the way is the one that was taken for it."""
    then = decide(burden.as_laid(), model)
    if not burden.gaps or then is choice:
        return []
    return [Flip(said=advice_item("flip-as-guessed", guessed_s=burden.guessed_s), then=then)]


def _by_run(
    case: AdviceCase, burden: OffRoadTime, choice: SetupChoice, model: SetupModel
) -> list[Flip]:
    """Single runs that would change it if left out, better or worse than thought."""
    doubtful = doubt_runs(case, burden)
    runs = [*doubtful]
    for run in by_time(case, off_road_runs(case)):
        if not any(is_same((run.from_m, run.to_m), (a.from_m, a.to_m)) for a in doubtful):
            runs.append(run)
    found: list[Flip] = []
    told, bounds = 0, bounds_of(burden, model)
    for n, run in enumerate(runs):
        if told == _MOST_RUNS:
            break
        mask = run.mask(burden.row)
        if not mask.any() or not may_turn(burden, mask, choice, bounds, model):
            continue
        changes = [
            (code, then, ground)
            for code, then, ground in _outcomes(burden, mask, model)
            # What is left of a ride without nearly all of it tells nothing.
            if code != "flip-skip" or run.length_m < _NEARLY_ALL * case.length_m
            if then is not choice and then is not SetupChoice.ASK
        ]
        told += bool(changes)
        found += [
            Flip(
                said=advice_item(
                    code, from_m=run.from_m, to_m=run.to_m, run_m=run.length_m,
                    from_at_m=run.from_m, ground=ground,
                    near=(where_in_doubt if n < len(doubtful) and code != "flip-skip" else where)(
                        case, run
                    ),
                ),
                then=then,
            )
            for code, then, ground in changes
        ]  # fmt: skip
    return found


def _outcomes(
    burden: OffRoadTime, mask: BoolArray, model: SetupModel
) -> list[tuple[str, SetupChoice, str]]:
    better, worse = int(burden.better()[mask].min()), int(burden.worse()[mask].max())
    # What is left of a ride without all of it tells nothing.
    outcomes = [] if mask.all() else [("flip-skip", decide(burden.without(mask), model), "")]
    if better != worse:
        for code, ground in (("flip-better", better), ("flip-worse", worse)):
            then = decide(burden.fixed(mask, ground), model)
            outcomes.append((code, then, GROUND_WORDS[ground]))
    elif worse < 2:
        then = decide(burden.fixed(mask, 2), model)
        outcomes.append(("flip-map-wrong", then, GROUND_WORDS[2]))
    return outcomes


def _by_all(case: AdviceCase, burden: OffRoadTime, model: SetupModel) -> list[Flip]:
    """If all that is open turns out the one way or the other."""
    runs = doubt_runs(case, burden)
    laid = burden.as_laid()
    if len(runs) < 2 or decide(laid, model) is not SetupChoice.ASK:
        return []
    mask = np.isin(burden.row, [row for run in runs for row in run.rows])
    n, held_m = len(runs), sum(run.held_m(case) for run in runs)
    outcomes = (
        ("flip-all-better", decide(laid.settled(mask, laid.better()), model)),
        ("flip-all-worse", decide(laid.settled(mask, laid.worse()), model)),
    )
    return [
        Flip(said=advice_item(code, n_parts=n, run_m=held_m), then=then)
        for code, then in outcomes
        if then is not SetupChoice.ASK
    ]


def _by_amount(burden: OffRoadTime, choice: SetupChoice, model: SetupModel) -> list[Flip]:
    """How far the answer is from its limit."""
    b, limit = bounds_of(burden, model), limit_s(burden.ride_s, model)
    off_s = burden.expected_s()[0]
    if max(limit, off_s) < _LEAST_TOLD_S:
        return []
    if choice is SetupChoice.ROAD:
        said = advice_item("flip-more", limit_s=limit, off_s=off_s)
        return [Flip(said=said, then=SetupChoice.OFF_ROAD)]
    by_share = b.hard_low_s < model.hard_limit_s
    if choice is SetupChoice.OFF_ROAD and by_share:
        said = advice_item("flip-less", limit_s=limit, off_s=off_s)
        return [Flip(said=said, then=SetupChoice.ROAD)]
    return []
