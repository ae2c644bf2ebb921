"""Which other ways round spare what stands against a ride, and whether that decides it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from terrain.tables.verdict import LIMITS
from terrain.text.translator import Translator
from terrain.values.detours import Detour, DetourKind
from terrain.values.report import Report
from terrain.values.verdict import Finding, FindingKind, Rank, RidePart

_COVERS = 0.8  # share of a part that a way round must spare to count (common practice, no source)
_KINDS = (FindingKind.CLOSED, FindingKind.BEYOND_RIDER, FindingKind.HARD, FindingKind.SEASON)


class ToldDetours(NamedTuple):
    """Ways round as they are told, under a title that says no more of them than holds."""

    title: str
    ways: tuple[Detour, ...]


def sparing_detours(report: Report) -> tuple[Detour, ...]:
    """Ways by road round a part that forbids or endangers the ride, or decides its setup."""
    parts = tuple(_parts(report))
    return tuple(
        way
        for way in report.assessed.plan.detours
        if way.kind is DetourKind.ROAD and any(_spares(way, part) for part in parts)
    )


def told_detours(report: Report, translator: Translator, *, most: int | None = None) -> ToldDetours:
    """The ways that spare something: those that decide the ride each by itself, if any does; else
    all, told as deciding it together only if nothing is left that stands against it.

    most : no more than so many are told
    """
    ways = sparing_detours(report)
    alone = tuple(way for way in ways if _decide(report, (way,)))
    shown = (alone or ways)[:most]
    if alone:
        title = translator._("A way round that decides it:")
    elif len(shown) > 1 and _decide(report, shown):
        title = translator._("Ways round that decide it together:")
    else:
        title = translator.n_("A way round part of it:", "Ways round parts of it:", len(shown))
    return ToldDetours(title, shown)


def _decide(report: Report, ways: Sequence[Detour]) -> bool:
    """Whether nothing stands against a ride that goes all of these ways; where nothing forbids it,
    a way without which its setup would be another decides too."""
    forbidden = report.verdict.forbidden
    if not forbidden and any(_spares(way, part) for way in ways for part in _left_out(report)):
        return True
    against = forbidden or _of_kinds(report.verdict.of(Rank.DANGER))
    return bool(against) and all(_is_spared(item, ways) for item in against)


def _is_spared(item: Finding, ways: Sequence[Detour]) -> bool:
    if item.kind not in _KINDS or not item.parts:
        return False
    left_m = sum(
        part.length_m for part in item.parts if not any(_spares(way, part) for way in ways)
    )
    # So little of what is closed forbids nothing.
    return left_m < LIMITS.barred_m if item.kind is FindingKind.CLOSED else left_m <= 0.0


def _of_kinds(items: Iterable[Finding]) -> tuple[Finding, ...]:
    return tuple(item for item in items if item.kind in _KINDS)


def _parts(report: Report) -> Iterator[RidePart]:
    for item in _of_kinds(report.verdict.of(Rank.FORBIDDEN, Rank.DANGER)):
        yield from item.parts
    yield from _left_out(report)


def _left_out(report: Report) -> Iterator[RidePart]:
    """Parts without which the setup would be another."""
    for flip in report.assessed.advice.setup.flips:
        said = flip.said
        if said.code == "flip-skip" and said.from_m is not None and said.to_m is not None:
            yield RidePart(from_m=said.from_m, to_m=said.to_m)


def _spares(way: Detour, part: RidePart) -> bool:
    spared = min(way.to_m, part.to_m) - max(way.from_m, part.from_m)
    return spared >= _COVERS * max(part.length_m, 1.0)
