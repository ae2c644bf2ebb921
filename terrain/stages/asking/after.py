"""Which parts of a ride to ask about once it was ridden: where the map is silent."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from terrain.text.message import message, road_called
from terrain.values.answers import AfterPart
from terrain.values.ground import Basis, GroundKind, Stretch
from terrain.values.report import Assessed

# What is worth a question after a ride, and what does not split a part: common practice, no source.
_MOST = 3
_LEAST_M = 400.0
_BRIDGED_M = 300.0
_SURE = 0.9  # as witnesses are checked by
_SILENT = (Basis.INFERRED, Basis.GRADED)


def ask_after(ride: Assessed) -> tuple[AfterPart, ...]:
    """The longest parts whose ground is an estimate, and as many whose ground the map knows well,
    in riding order: by those a witness is checked, who else would not be believed."""
    doubtful = _asked_once(_longest(ride, lambda s: s.basis in _SILENT and _chance(s) < _SURE))
    known: list[list[Stretch]] = []
    for ground in _CHECKS:
        known += _longest(ride, partial(_is_surely, ground))
    runs = (*doubtful, *_asked_once(known)) if doubtful else ()
    return tuple(_part(ride, run) for run in sorted(runs, key=lambda run: run[0].from_m))


# Off tarmac first: there a rider looks at what he rides on.
_CHECKS = (GroundKind.TRACK, GroundKind.GRAVEL, GroundKind.PAVED)


def _longest(ride: Assessed, wanted: Callable[[Stretch], bool]) -> list[list[Stretch]]:
    runs: list[list[Stretch]] = []
    for stretch in ride.ground.stretches:
        if not (stretch.way_id is not None and stretch.way_id >= 0 and wanted(stretch)):
            continue
        if runs and stretch.from_m - runs[-1][-1].to_m <= _BRIDGED_M:
            runs[-1].append(stretch)
        else:
            runs.append([stretch])
    longest = sorted(runs, key=lambda run: run[0].from_m - run[-1].to_m)
    return [run for run in longest if run[-1].to_m - run[0].from_m >= _LEAST_M]


def _asked_once(runs: list[list[Stretch]]) -> list[list[Stretch]]:
    """The first runs, without those whose ways the ride passes a second time."""
    kept: list[list[Stretch]] = []
    seen: set[int | None] = set()
    for run in runs:
        ways = {stretch.way_id for stretch in run}
        if len(kept) < _MOST and not ways & seen:
            kept.append(run)
            seen |= ways
    return kept


def _is_surely(ground: GroundKind, stretch: Stretch) -> bool:
    return stretch.ground is ground and _chance(stretch) >= _SURE


def _chance(stretch: Stretch) -> float:
    return 0.0 if stretch.p is None else max(stretch.p)


def _part(ride: Assessed, run: list[Stretch]) -> AfterPart:
    from_m, to_m = run[0].from_m, run[-1].to_m
    road = next((s.name for s in run if s.name), None)
    place = ride.places.near((from_m + to_m) / 2)
    near = message(" (near {place})", place=place) if place and place != road else ""
    text = message("{run_m} from {from_at_m}{near}", run_m=to_m - from_m, from_at_m=from_m,
                   near=near)  # fmt: skip
    if road:
        text = message("{road}: {part}", road=road_called(road), part=text)
    ways = tuple(dict.fromkeys(s.way_id for s in run if s.way_id is not None))
    return AfterPart(from_m=from_m, to_m=to_m, way_ids=ways, text=text)
