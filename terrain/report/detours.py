"""Which other ways round decide something."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from terrain.values.detours import Detour, DetourKind
from terrain.values.report import Report
from terrain.values.verdict import FindingKind, Rank, RidePart

_COVERS = 0.8  # share of a part that a way round must spare to count (common practice, no source)
_KINDS = (FindingKind.CLOSED, FindingKind.BEYOND_RIDER, FindingKind.HARD, FindingKind.SEASON)


def deciding_detours(report: Report) -> tuple[Detour, ...]:
    """Ways by road round a part that forbids or endangers the ride, or decides its setup."""
    parts = tuple(_parts(report))
    return tuple(
        way
        for way in report.assessed.plan.detours
        if way.kind is DetourKind.ROAD and any(_spares(way, part) for part in parts)
    )


def _parts(report: Report) -> Iterator[RidePart]:
    for item in report.verdict.of(Rank.FORBIDDEN, Rank.DANGER):
        if item.kind in _KINDS:
            yield from item.parts
    yield from _left_out(report)


def _left_out(report: Report) -> Iterable[RidePart]:
    """Parts without which the setup would be another."""
    for flip in report.assessed.advice.setup.flips:
        said = flip.said
        if said.code == "flip-skip" and said.from_m is not None and said.to_m is not None:
            yield RidePart(from_m=said.from_m, to_m=said.to_m)


def _spares(way: Detour, part: RidePart) -> bool:
    spared = min(way.to_m, part.to_m) - max(way.from_m, part.from_m)
    return spared >= _COVERS * max(part.length_m, 1.0)
