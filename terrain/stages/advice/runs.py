"""Runs of the ride that people talk about: "the 31 km from km 40"."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.stages.advice.burden import Burden
from terrain.text.message import Sentence, sentence
from terrain.values.advice import AdviceInputs, AdviceStretch
from terrain.values.arrays import BoolArray

_BRIDGED_M = 1_500.0  # what lies between two parts of a run without splitting it
_BRIDGED_SHARE = 0.15


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Run:
    """A run of stretches; rows : index of each in the inputs' stretches (bridged ones left out)."""

    from_m: float
    to_m: float
    rows: tuple[int, ...]

    @property
    def length_m(self) -> float:
        return self.to_m - self.from_m

    def time_s(self, inputs: AdviceInputs) -> float:
        return float(sum(inputs.stretches[i].time_s for i in self.rows))

    def stretches(self, inputs: AdviceInputs) -> list[AdviceStretch]:
        return [inputs.stretches[i] for i in self.rows]

    def mask(self, rows: np.ndarray) -> BoolArray:
        """True for the entries of `rows` (stretch indices) that belong to the run."""
        return np.isin(rows, self.rows)


def runs_where(inputs: AdviceInputs, chosen: BoolArray) -> list[Run]:
    """Runs of the chosen stretches in riding order; small interruptions are bridged."""
    runs: list[list[int]] = []
    for i in np.flatnonzero(chosen).tolist():
        if runs and _joins(inputs, runs[-1], i):
            runs[-1].append(i)
        else:
            runs.append([i])
    return [
        Run(
            from_m=inputs.stretches[rows[0]].from_m,
            to_m=inputs.stretches[rows[-1]].to_m,
            rows=tuple(rows),
        )
        for rows in runs
    ]


def _joins(inputs: AdviceInputs, run: list[int], i: int) -> bool:
    gap = inputs.stretches[i].from_m - inputs.stretches[run[-1]].to_m
    length = inputs.stretches[run[-1]].to_m - inputs.stretches[run[0]].from_m
    return gap <= max(_BRIDGED_M, _BRIDGED_SHARE * length)


_AROUND_M = 5_000.0  # a place this far along the ride still tells where a run begins


def off_road_runs(inputs: AdviceInputs) -> list[Run]:
    """Runs that most probably ride as gravel or track."""
    return runs_where(inputs, np.array([s.off_tarmac for s in inputs.stretches]))


def doubt_runs(inputs: AdviceInputs, burden: Burden) -> list[Run]:
    """Runs whose ground is not settled, those that matter most first."""
    chosen = np.zeros(len(inputs.stretches), dtype=np.bool_)
    chosen[burden.row[burden.doubtful]] = True
    i = np.arange(len(burden.row))
    swing = burden.time_s * (burden.weight[i, burden.worse()] - burden.weight[i, burden.better()])
    return sorted(
        runs_where(inputs, chosen), key=lambda run: -float(swing[run.mask(burden.row)].sum())
    )


def by_time(inputs: AdviceInputs, runs: list[Run]) -> list[Run]:
    """The runs, those that take longest first."""
    return sorted(runs, key=lambda run: -run.time_s(inputs))


def where(inputs: AdviceInputs, run: Run) -> str:
    """The road's name and the nearest place's, to be found again on any map; "" for none.

    Begins with a space, to follow "from km 31".
    """
    road = next((s.name for s in run.stretches(inputs) if s.name), None)
    return near(inputs, run.from_m, road)


def near(inputs: AdviceInputs, at_m: float, road: str | None = None) -> str:
    """The road's name, if given, and the place nearest to a position; "" for none."""
    away = {p.name: abs(p.at_m - at_m) for p in inputs.places if p.name and p.name != road}
    place = min(away, key=lambda name: away[name], default=None)
    if place is not None and away[place] > _AROUND_M:
        place = None
    if road and place:
        return sentence(" ({road}, near {place})", road=road, place=place)
    if road:
        return sentence(" ({road})", road=road)
    return sentence(" (near {place})", place=place) if place else ""


def listed(inputs: AdviceInputs, runs: list[Run]) -> tuple[Sentence, ...]:
    """Each run with its length and place, in riding order."""
    return tuple(
        sentence(
            "{run_m} from {from_at_m}{near}", run_m=run.length_m, from_at_m=run.from_m,
            near=where(inputs, run),
        )
        for run in sorted(runs, key=lambda run: run.from_m)
    )  # fmt: skip
