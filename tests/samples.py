"""What the reports on the sample routes say, as sums and counts: `python -m tests.samples`.

A change of the code that changes any number or text of these reports shows as a changed line of
`tests/sample_figures.json`, to be looked at and told in the commit. It says that something
changed, never that it is right: for that there are the tests beside it.
"""

from __future__ import annotations

import hashlib
import json
import math
import tempfile
from collections import defaultdict
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import terrain
from terrain.demo.region import ensure_demo_region

FIGURES = Path(__file__).with_name("sample_figures.json")
ROUTES = Path(__file__).resolve().parents[1] / "sample_routes"
#: Each route is ridden as one of these, in turn.
TRIPS = (
    terrain.Trip(depart=datetime(2027, 7, 14, 8), rider="novice", pillion=True, luggage="soft"),
    terrain.Trip(depart=datetime(2027, 1, 14, 8), rider="expert", guided=True),
    terrain.Trip(),
    terrain.Trip(depart=datetime(2027, 4, 2, 11), rider="steady", luggage="boxes"),
    terrain.Trip(depart=datetime(2027, 10, 20, 7), rider="steady", pillion=True),
)
# A map ages to the day of a report on a ride without a date, so that day is fixed.
_MADE_AT = datetime(2027, 2, 1, 9, tzinfo=UTC)
_LEFT_OUT = frozenset({"terrain_version", "made_at", "messages", "region"})


def figures_of(home: Path) -> dict[str, dict[str, Any]]:
    """Per sample route: sums and counts of all its report's numbers, and marks of its texts."""
    ensure_demo_region(home)
    region = terrain.open_region(home / "regions" / "island")
    told = {}
    for path, trip in zip(sorted(ROUTES.glob("*.gpx")), TRIPS, strict=True):
        report = terrain.assess(terrain.read_route(path), region, trip=trip, made_at=_MADE_AT)
        facts = report.to_dict()
        told[path.stem] = _summed({k: v for k, v in facts.items() if k not in _LEFT_OUT})
    return told


def _summed(facts: Mapping[str, Any]) -> dict[str, Any]:
    numbers: dict[str, list[float]] = defaultdict(list)
    texts: dict[str, list[str]] = defaultdict(list)
    for key, value in _leaves("", facts):
        if isinstance(value, int | float):
            numbers[key].append(float(value))
        else:
            texts[key].append(str(value))
    return {
        **{key: [len(v), _short(_weighted(v))] for key, v in sorted(numbers.items())},
        **{key: [len(v), _mark(v)] for key, v in sorted(texts.items())},
    }


def _leaves(key: str, value: Any) -> Iterator[tuple[str, Any]]:
    if isinstance(value, Mapping):
        for name, inner in value.items():
            yield from _leaves(f"{key}.{name}" if key else str(name), inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _leaves(f"{key}[]", inner)
    else:
        yield key, value


def _weighted(values: list[float]) -> float:
    """A sum in which one order of the same numbers differs from another."""
    return math.fsum(value * (1 + i % 7) for i, value in enumerate(values))


def _short(value: float) -> float:
    return float(f"{value:.7g}")


def _mark(texts: list[str]) -> str:
    return hashlib.sha256("\n".join(texts).encode()).hexdigest()[:8]


def written(figures: Mapping[str, Mapping[str, Any]]) -> str:
    """The figures as JSON, a line each, so that a difference shows what changed."""
    blocks = []
    for route, rows in figures.items():
        lines = ",\n".join(f"  {json.dumps(key)}: {json.dumps(row)}" for key, row in rows.items())
        blocks.append(f"{json.dumps(route)}: {{\n{lines}\n}}")
    return "{\n" + ",\n".join(blocks) + "\n}\n"


def main() -> None:
    with tempfile.TemporaryDirectory() as home:
        FIGURES.write_text(written(figures_of(Path(home))), encoding="utf-8")


if __name__ == "__main__":
    main()
