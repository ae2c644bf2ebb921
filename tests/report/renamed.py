"""Reports whose names are replaced, to see what writers make of any text."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import cycle

from terrain.values.report import Report


def renamed(report: Report, *names: str, title: str | None = None) -> Report:
    """The report with route, roads, places and stops bearing these names in turn."""
    ring = cycle(names)
    assessed = report.assessed
    around = assessed.places.surroundings
    places = replace(
        assessed.places,
        surroundings=replace(
            around,
            places=tuple(replace(p, name=next(ring)) for p in around.places),
            towns=tuple(replace(p, name=next(ring)) for p in around.towns),
        ),
        near_names=tuple(next(ring) if name else "" for name in assessed.places.near_names),
    )
    stretches = tuple(
        replace(s, name=next(ring)) if s.name else s for s in assessed.ground.stretches
    )
    plan = replace(
        assessed.plan,
        stops=tuple(replace(s, name=next(ring)) for s in assessed.plan.stops),
    )
    verdict = replace(
        report.verdict,
        sections=tuple(
            replace(s, names=tuple(_some(ring, len(s.names)))) for s in report.verdict.sections
        ),
        findings=tuple(
            replace(f, place=next(ring)) if f.place else f for f in report.verdict.findings
        ),
    )
    named = replace(
        assessed,
        route=replace(assessed.route, name=names[0] if title is None else title),
        places=places,
        ground=replace(assessed.ground, stretches=stretches),
        plan=plan,
    )
    return replace(report, assessed=named, verdict=verdict)


def _some(ring: Iterator[str], n: int) -> Iterator[str]:
    return (next(ring) for _ in range(n))
