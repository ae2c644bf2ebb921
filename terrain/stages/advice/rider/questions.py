"""The two or three questions that would decide it, and what follows from each answer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from terrain.stages.advice.burden import OffRoadTime
from terrain.stages.advice.case import AdviceCase
from terrain.stages.advice.rider.fit import beyond_part
from terrain.stages.advice.runs import (
    StretchRun,
    by_time,
    doubt_runs,
    is_same,
    listed,
    near,
    off_road_runs,
    runs_where,
    where,
    where_in_doubt,
)
from terrain.stages.advice.setup.decide import GROUND_WORDS, decide
from terrain.stages.advice.setup.gaps import telling_gaps
from terrain.stages.advice.words import advice_item
from terrain.tables.advice import PRACTICE, SetupModel
from terrain.text.terms import SETUP_THEN_TERMS
from terrain.values.advice import AdviceItem, RiderFit, SetupChoice
from terrain.values.answers import Reply
from terrain.values.arrays import joined_spans
from terrain.values.ground import GroundKind, SeasonRisk

# Common practice, no source.
_MOST = 3
_MOST_TRIED = 15  # doubtful runs beyond these matter too little to ask about
_MOST_PARTS = 5  # more parts than this nobody answers for one by one
_WHOLE = 0.95  # a run this share of the ride is the ride: leaving it out is no question
_SKIPPED = 0.4  # a longer share of the ride is not left out, it is another ride


def ask(
    case: AdviceCase, burden: OffRoadTime, choice: SetupChoice, rider: RiderFit, model: SetupModel
) -> tuple[AdviceItem, ...]:
    """Questions for the customer, the most telling first."""
    laid = burden.as_laid()
    as_laid = decide(laid, model)
    said: list[AdviceItem] = []
    if choice is SetupChoice.ASK and burden.gaps and as_laid is not choice:
        said.append(_which_way(case, burden, as_laid, model) or _track(case, as_laid))
    elif choice is SetupChoice.ASK:
        said += _about_ground(case, laid, model)
        if burden.gaps:
            said.append(_track(case, as_laid))
    elif choice is SetupChoice.OFF_ROAD:
        said += _worth_skipping(case, burden, model)
    asked = (*_beyond(case, rider, said), *_most_telling(said))
    return (*(item for item in asked if not _answered(case, item)), *_month(case))


def _most_telling(said: list[AdviceItem]) -> list[AdviceItem]:
    """The first few, one about the ground among them: who rides every part can only tell that."""
    ground = next((item for item in said if item.code not in _ABOUT_RIDING), None)
    if ground is None or ground in said[:_MOST]:
        return said[:_MOST]
    return [*said[: _MOST - 1], ground]


def _answered(case: AdviceCase, item: AdviceItem) -> bool:
    """Whether somebody said already if that part is ridden; then only its ground may be asked."""
    if item.code not in _ABOUT_RIDING or item.from_m is None or item.to_m is None:
        return False
    riding = (Reply.KEEP, Reply.LEAVE)
    return any(
        part.reply in riding and part.covers(item.from_m, item.to_m) for part in case.trip.answers
    )


_ABOUT_RIDING = frozenset(("ride-this-run", "skip-this-run", "rider-below-run"))


def _which_way(
    case: AdviceCase, burden: OffRoadTime, as_laid: SetupChoice, model: SetupModel
) -> AdviceItem | None:
    """The fewest gaps between points that leave it open; None if they are many."""
    keys = telling_gaps(burden, model, worse=as_laid is SetupChoice.ROAD)
    for n in range(1, _MOST_PARTS + 1):
        if n < len(keys) and decide(burden.as_laid_in(keys[:n]), model) is not as_laid:
            continue
        # Told as they are drawn: gaps that meet at a point are one part of the way.
        asked = joined_spans(gap for gap in case.gaps if round(gap[0]) in keys[:n])
        if len(asked) == 1:
            from_m, to_m = asked[0]
            return advice_item(
                "which-way", from_m=from_m, to_m=to_m, run_m=to_m - from_m, from_at_m=from_m,
                to_at_m=to_m, near=near(case, from_m), as_guessed=SETUP_THEN_TERMS[as_laid],
            )  # fmt: skip
        runs = [StretchRun(from_m=a, to_m=b, rows=()) for a, b in asked]
        return advice_item(
            "which-ways", n_gaps=len(runs), parts=listed(case, runs),
            as_guessed=SETUP_THEN_TERMS[as_laid],
        ).over(asked)  # fmt: skip
    return None


def _track(case: AdviceCase, as_laid: SetupChoice) -> AdviceItem:
    """A file with few points is the cheapest doubt to settle: the rider has the whole track."""
    from_m, to_m = max(case.gaps, key=lambda gap: gap[1] - gap[0])
    return advice_item(
        "send-track", from_m=from_m, to_m=to_m, guessed_m=sum(b - a for a, b in case.gaps),
        n_gaps=len(case.gaps), longest_m=to_m - from_m, from_at_m=from_m,
        near=near(case, from_m), as_guessed=SETUP_THEN_TERMS[as_laid],
    )  # fmt: skip


def _about_ground(case: AdviceCase, burden: OffRoadTime, model: SetupModel) -> list[AdviceItem]:
    """Single parts that decide it alone; else the fewest that decide it together."""
    runs = doubt_runs(case, burden)[:_MOST_TRIED]
    answers = [_answers(burden, [run], model) for run in runs]
    said: list[AdviceItem] = []
    late: list[AdviceItem] = []  # whoever leaves most of the ride out rides another: asked last
    for run, (good, bad) in zip(runs[:_MOST], answers, strict=False):
        most = run.length_m > _SKIPPED * case.length_m
        (late if most else said).extend(_leaving_out(case, burden, run, model))
        if SetupChoice.ASK not in (good, bad) and good is not bad:
            said.append(_which(case, burden, run, good, bad))
    if not any(item.code == "which-ground" for item in said):
        said += (
            _together(case, burden, runs, model)
            or _any_of(case, burden, runs, answers)
            or _all_of(case, burden, runs, model)
        )
    asked = [item.places[0] for item in (*said, *late) if len(item.places) == 1]
    more = _worth_skipping(case, burden, model)
    return [
        *said,
        *(m for m in more if not any(is_same(a, b) for a in asked for b in m.places)), *late,
    ]  # fmt: skip


def _answers(
    burden: OffRoadTime, runs: list[StretchRun], model: SetupModel
) -> tuple[SetupChoice, SetupChoice]:
    """The setup if these runs turn out for the better, and for the worse."""
    mask = np.isin(burden.row, [row for run in runs for row in run.rows])
    better, worse = burden.better(), burden.worse()
    return (
        decide(burden.settled(mask, better), model),
        decide(burden.settled(mask, worse), model),
    )


def _leaving_out(
    case: AdviceCase, burden: OffRoadTime, run: StretchRun, model: SetupModel
) -> list[AdviceItem]:
    if run.length_m >= _WHOLE * case.length_m:
        return []
    without = decide(burden.without(run.mask(burden.row)), model)
    # The way round is most often tarmac: an off-road answer without it might not last.
    if without is not SetupChoice.ROAD:
        return []
    return [
        advice_item("ride-this-run", from_m=run.from_m, to_m=run.to_m, run_m=run.length_m,
            from_at_m=run.from_m, near=where(case, run), without=SETUP_THEN_TERMS[without])
    ]  # fmt: skip


def _grounds(burden: OffRoadTime, run: StretchRun) -> tuple[str, str]:
    """What a run is at its best and at its worst."""
    mask = run.mask(burden.row)
    return (
        GROUND_WORDS[int(burden.better()[mask].min())],
        GROUND_WORDS[int(burden.worse()[mask].max())],
    )


def _which(
    case: AdviceCase, burden: OffRoadTime, run: StretchRun, good: SetupChoice, bad: SetupChoice
) -> AdviceItem:
    better, worse = _grounds(burden, run)
    return advice_item(
        "which-ground", from_m=run.from_m, to_m=run.to_m, run_m=run.length_m,
        from_at_m=run.from_m, near=where_in_doubt(case, run), better=better,
        if_better=SETUP_THEN_TERMS[good], worse=worse, if_worse=SETUP_THEN_TERMS[bad],
    )  # fmt: skip


def _together(
    case: AdviceCase, burden: OffRoadTime, runs: list[StretchRun], model: SetupModel
) -> list[AdviceItem]:
    """The fewest doubtful runs that decide it, whatever the answer."""
    for n in range(2, len(runs) + 1):
        good, bad = _answers(burden, runs[:n], model)
        if SetupChoice.ASK in (good, bad) or good is bad:
            continue
        asked = runs[:n]
        return [
            advice_item(
                "which-parts" if n <= _MOST_PARTS else "which-parts-many",
                n_parts=n,
                run_m=sum(r.held_m(case) for r in asked),
                parts=listed(case, asked[:_MOST_PARTS]),
                if_better=SETUP_THEN_TERMS[good],
                if_worse=SETUP_THEN_TERMS[bad],
            ).over(_spans(asked))
        ]
    return []


def _any_of(
    case: AdviceCase,
    burden: OffRoadTime,
    runs: list[StretchRun],
    answers: list[tuple[SetupChoice, SetupChoice]],
) -> list[AdviceItem]:
    """Runs of which each alone decides it, but in one direction only."""
    for end in (1, 0):
        telling = [
            run
            for run, answer in zip(runs, answers, strict=True)
            if answer[end] is not SetupChoice.ASK
        ][:_MOST]
        if not telling:
            continue
        then = next(a[end] for r, a in zip(runs, answers, strict=True) if r is telling[0])
        ground = _grounds(burden, telling[0])[end]
        code = "which-one" if len(telling) == 1 else "which-any"
        item = advice_item(code, parts=listed(case, telling), n_parts=len(telling), ground=ground,
                           then=SETUP_THEN_TERMS[then])  # fmt: skip
        return [item.over(_spans(telling))]
    return []


def _all_of(
    case: AdviceCase, burden: OffRoadTime, runs: list[StretchRun], model: SetupModel
) -> list[AdviceItem]:
    """The fewest runs that decide it if they are all good, or all bad."""
    for n in range(2, len(runs) + 1):
        good, bad = _answers(burden, runs[:n], model)
        if good is bad:
            continue
        asked, is_good = runs[:n], good is not SetupChoice.ASK
        return [
            advice_item(
                "which-parts-good" if is_good else "which-parts-bad",
                n_parts=n,
                run_m=sum(r.held_m(case) for r in asked),
                parts=listed(case, asked[:_MOST_PARTS]),
                then=SETUP_THEN_TERMS[good if is_good else bad],
            ).over(_spans(asked))
        ]
    return []


def _worth_skipping(case: AdviceCase, burden: OffRoadTime, model: SetupModel) -> list[AdviceItem]:
    """Short runs without which road setup would do."""
    said: list[AdviceItem] = []
    for run in by_time(case, off_road_runs(case))[:_MOST_TRIED]:
        mask = run.mask(burden.row)
        if not mask.any() or run.length_m > _SKIPPED * case.length_m or mask.all():
            continue
        without = decide(burden.without(mask), model)
        if without is SetupChoice.ROAD:
            said.append(
                advice_item(
                    "skip-this-run", from_m=run.from_m, to_m=run.to_m, run_m=run.length_m,
                    from_at_m=run.from_m, near=where(case, run), without=SETUP_THEN_TERMS[without],
                )
            )  # fmt: skip
    return said


def _beyond(case: AdviceCase, rider: RiderFit, said: list[AdviceItem]) -> list[AdviceItem]:
    """The part that is beyond the rider, if the ride could do without it."""
    part = beyond_part(case, rider)
    if part is None or any(item.from_m == part[0] for item in said):
        return []
    from_m, to_m = part
    return [
        advice_item(
            "rider-below-run",
            from_m=from_m,
            to_m=to_m,
            run_m=to_m - from_m,
            from_at_m=from_m,
            near=near(case, from_m),
            rider=rider.rider,
            source=PRACTICE,
        )
    ]


def _month(case: AdviceCase) -> list[AdviceItem]:
    if case.month is not None:
        return []
    soft = [
        s.ground is GroundKind.TRACK or s.season_risk not in (None, SeasonRisk.NONE)
        for s in case.stretches
    ]
    runs = runs_where(case, np.array(soft, dtype=np.bool_))
    length = sum(s.length_m for run in runs for s in run.stretches(case))
    if length < 1000:
        return []
    return [advice_item("month-unknown", from_m=runs[0].from_m, to_m=runs[-1].to_m, soft_m=length,
                source=PRACTICE)]  # fmt: skip


def _spans(runs: Iterable[StretchRun]) -> Iterator[tuple[float, float]]:
    return ((run.from_m, run.to_m) for run in runs)
