"""Runs of the ride that people talk about: "the 31 km from km 40"."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

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
