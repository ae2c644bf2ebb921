"""Runs of the ride that people talk about: "the 31 km from km 40"."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.stages.advice.burden import OffRoadTime
from terrain.stages.advice.case import AdviceCase, AdviceStretch
from terrain.text.message import Message, message, road_called
from terrain.values.arrays import BoolArray

# Common practice, no source.
_SAME = 0.8  # runs that share so much of the longer are one to whoever is asked about them
_BRIDGED_M = 1_500.0  # what lies between two parts of a run without splitting it
_BRIDGED_SHARE = 0.15
_ALL_HELD = 0.95  # a run that holds so much of what it spans is told as all of it


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StretchRun:
    """A run of stretches; rows : index of each in the case' stretches (bridged ones left out)."""

    from_m: float
    to_m: float
    rows: tuple[int, ...]

    @property
    def length_m(self) -> float:
        return self.to_m - self.from_m

    def held_m(self, case: AdviceCase) -> float:
        """Length of its stretches: what is bridged between them is not counted."""
        return sum(s.length_m for s in self.stretches(case)) if self.rows else self.length_m

    def time_s(self, case: AdviceCase) -> float:
        return float(sum(case.stretches[i].time_s for i in self.rows))

    def stretches(self, case: AdviceCase) -> list[AdviceStretch]:
        return [case.stretches[i] for i in self.rows]

    def mask(self, rows: np.ndarray) -> BoolArray:
        """True for the entries of `rows` (stretch indices) that belong to the run."""
        return np.isin(rows, self.rows)


def is_same(a: tuple[float, float], b: tuple[float, float]) -> bool:
    """Whether two parts of the ride, from and to, are one to a person."""
    both = min(a[1], b[1]) - max(a[0], b[0])
    return both >= _SAME * max(a[1] - a[0], b[1] - b[0])


def runs_where(case: AdviceCase, chosen: BoolArray) -> list[StretchRun]:
    """Runs of the chosen stretches in riding order; small interruptions are bridged."""
    runs: list[list[int]] = []
    for i in np.flatnonzero(chosen).tolist():
        if runs and _joins(case, runs[-1], i):
            runs[-1].append(i)
        else:
            runs.append([i])
    return [
        StretchRun(
            from_m=case.stretches[rows[0]].from_m,
            to_m=case.stretches[rows[-1]].to_m,
            rows=tuple(rows),
        )
        for rows in runs
    ]


def _joins(case: AdviceCase, run: list[int], i: int) -> bool:
    gap = case.stretches[i].from_m - case.stretches[run[-1]].to_m
    length = case.stretches[run[-1]].to_m - case.stretches[run[0]].from_m
    return gap <= max(_BRIDGED_M, _BRIDGED_SHARE * length)


def off_road_runs(case: AdviceCase) -> list[StretchRun]:
    """Runs that most probably ride as gravel or track."""
    return runs_where(case, np.array([s.off_tarmac for s in case.stretches]))


def doubt_runs(case: AdviceCase, burden: OffRoadTime) -> list[StretchRun]:
    """Runs whose ground is not settled, those that matter most first."""
    chosen = np.zeros(len(case.stretches), dtype=np.bool_)
    chosen[burden.row[burden.doubtful]] = True
    i = np.arange(len(burden.row))
    swing = burden.time_s * (burden.weight[i, burden.worse()] - burden.weight[i, burden.better()])
    return sorted(
        runs_where(case, chosen), key=lambda run: -float(swing[run.mask(burden.row)].sum())
    )


def by_time(case: AdviceCase, runs: list[StretchRun]) -> list[StretchRun]:
    """The runs, those that take longest first."""
    return sorted(runs, key=lambda run: -run.time_s(case))


def where(case: AdviceCase, run: StretchRun) -> str:
    """The road's name and the nearest place's, to be found again on any map; "" for none.

    Begins with a space, to follow "from km 31".
    """
    return near(case, run.from_m, _road(case, run))


def _road(case: AdviceCase, run: StretchRun) -> str | None:
    """The name of the road that a run begins on, or that most of it is."""
    stretches = run.stretches(case)
    if stretches and stretches[0].name:
        return stretches[0].name
    metres: dict[str, float] = {}
    for s in stretches:
        if s.name:
            metres[s.name] = metres.get(s.name, 0.0) + s.length_m
    longest = max(metres, key=lambda name: metres[name], default=None)
    return longest if longest and metres[longest] > run.held_m(case) / 2 else None


def where_in_doubt(case: AdviceCase, run: StretchRun) -> str:
    """`where` for a run in doubt, with how much of it is, if what is bridged is not."""
    held_m = run.held_m(case)
    if held_m >= _ALL_HELD * run.length_m:
        return where(case, run)
    road = _road(case, run)
    place = case.places.near(run.from_m) if case.places is not None else ""
    if road and place and place != road:
        return message(
            " ({road}, near {place}; {held_m} in doubt)", road=road_called(road), place=place,
            held_m=held_m,
        )  # fmt: skip
    if road:
        return message(" ({road}; {held_m} in doubt)", road=road_called(road), held_m=held_m)
    if place:
        return message(" (near {place}; {held_m} in doubt)", place=place, held_m=held_m)
    return message(" ({held_m} in doubt)", held_m=held_m)


def near(case: AdviceCase, at_m: float, road: str | None = None) -> str:
    """The road's name, if given, and the place nearest to a position; "" for none."""
    place = case.places.near(at_m) if case.places is not None else ""
    if place == road:
        place = ""
    road = road_called(road) if road else None
    if road and place:
        return message(" ({road}, near {place})", road=road, place=place)
    if road:
        return message(" ({road})", road=road)
    return message(" (near {place})", place=place) if place else ""


def listed(case: AdviceCase, runs: list[StretchRun]) -> tuple[Message, ...]:
    """Each run with its length and place, in riding order."""
    return tuple(
        message(
            "{run_m} from {from_at_m}{near}", run_m=run.length_m, from_at_m=run.from_m,
            near=where_in_doubt(case, run),
        )
        for run in sorted(runs, key=lambda run: run.from_m)
    )  # fmt: skip
