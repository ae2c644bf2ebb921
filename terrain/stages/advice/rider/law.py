"""What may forbid, limit or charge the ride, with where. Local law and signs decide."""

from __future__ import annotations

import numpy as np

from terrain.stages.advice.case import AdviceCase
from terrain.stages.advice.runs import StretchRun, runs_where
from terrain.stages.advice.words import advice_item
from terrain.text.message import message, road_called
from terrain.values.advice import SPOT_LAWS, AdviceItem, LawKind
from terrain.values.places import AreaKind, RideNode

_SOURCE = "map tags; OSM wiki, Key:access"
_MOST = 6
_BARRIER = LawKind.BARRIER.value
_APART_M = 200.0
_READS_APART_M = 1_000.0
_TUNNEL_M = 1_000.0  # common practice, no source


def list_law(case: AdviceCase) -> tuple[AdviceItem, ...]:
    """Every run and spot with its legal tag, the gravest kinds first.

    Of a kind with many runs the longest are told one by one and the others in one sentence.
    """
    found: list[AdviceItem] = []
    for kind in LawKind:
        runs = _runs(case, kind)
        told = _longest(runs) if kind.value in _RUN_KINDS else runs
        for run in told:
            named = _named(_name_of(case, kind, run))
            if kind.value not in _RUN_KINDS:
                # A way said to hold one is told only where the point itself is not mapped.
                if not any(_lies_on(spot, kind, run) for spot in case.nodes):
                    found.append(_spot(kind, run.from_m, named))
                continue
            found.append(
                advice_item(
                    kind.value, from_m=run.from_m, to_m=run.to_m, run_m=run.held_m(case),
                    from_at_m=run.from_m, named=named, n_more=len(runs) - len(told),
                    source=_SOURCE,
                )
            )  # fmt: skip
        if len(told) < len(runs):
            found.append(_others(kind, [run for run in runs if run not in told]))
        for spot in case.nodes:
            if spot.kind == kind.value and kind.value not in _RUN_KINDS:
                found.append(_spot(kind, spot.at_m, _named(spot.name)))
    return (*(said for said in found if said.code != _BARRIER), *_barriers(found))


def _runs(case: AdviceCase, kind: LawKind) -> list[StretchRun]:
    """The parts of the ride that the kind holds for, in riding order."""
    if kind.name not in AreaKind.__members__:
        tagged = np.array([kind in s.laws for s in case.stretches], dtype=bool)
        runs = runs_where(case, tagged)
        if kind is LawKind.TUNNEL:
            return [run for run in runs if run.held_m(case) >= _TUNNEL_M]
        return runs
    inside = [area for area in case.areas or () if area.kind.name == kind.name]
    return [StretchRun(from_m=area.from_m, to_m=area.to_m, rows=()) for area in inside]


def _name_of(case: AdviceCase, kind: LawKind, run: StretchRun) -> str | None:
    for area in case.areas or ():
        if (area.kind.name, area.from_m, area.to_m) == (kind.name, run.from_m, run.to_m):
            return area.name or None
    return next((road_called(s.name) for s in run.stretches(case) if s.name), None)


def _longest(runs: list[StretchRun]) -> list[StretchRun]:
    """The longest few, in riding order."""
    chosen = sorted(runs, key=lambda run: -run.length_m)[:_MOST]
    return sorted(chosen, key=lambda run: run.from_m)


def _others(kind: LawKind, runs: list[StretchRun]) -> AdviceItem:
    """The runs that are not told one by one: how many, how long, between where and where."""
    first, last = runs[0].from_m, runs[-1].to_m
    return advice_item(
        f"{kind.value}-more", from_m=first, to_m=last, n_more=len(runs),
        more_m=sum(run.length_m for run in runs), first_at_m=first, last_at_m=last,
        source=_SOURCE,
    )  # fmt: skip


def _barriers(found: list[AdviceItem]) -> list[AdviceItem]:
    """All barriers in one sentence; several at one place are one."""
    barriers = sorted((s for s in found if s.code == _BARRIER), key=lambda s: s.from_m or 0.0)
    apart: list[AdviceItem] = []
    for said in barriers:
        if not apart or (said.from_m or 0.0) - (apart[-1].from_m or 0.0) > _APART_M:
            apart.append(said)
    if len(apart) < 2:
        return apart
    # Counted all, but none told twice: far along a ride kilometres are told whole.
    places: list[float] = []
    for at in (said.from_m or 0.0 for said in apart):
        if not places or at - places[-1] >= _READS_APART_M:
            places.append(at)
    return [advice_item("barriers", from_m=apart[0].from_m, to_m=apart[-1].to_m,
                        n_spots=len(apart), spots_at_m=tuple(places), source=_SOURCE)]  # fmt: skip


_RUN_KINDS = frozenset(kind.value for kind in LawKind if kind not in SPOT_LAWS)


def _lies_on(spot: RideNode, kind: LawKind, run: StretchRun) -> bool:
    return spot.kind == kind.value and run.from_m - 50 <= spot.at_m <= run.to_m + 50


def _spot(kind: LawKind, at_m: float, named: str) -> AdviceItem:
    return advice_item(
        kind.value, from_m=at_m, to_m=at_m, here_at_m=at_m, named=named, source=_SOURCE
    )


def _named(name: str | None) -> str:
    return message(" ({road})", road=name) if name else ""
