"""`terrain notes`: check the operator's own ground notes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from terrain.values.ground import GroundNote

_file = click.Path(path_type=Path)


@click.group(name="notes", epilog="\b\nExample:\n  terrain notes check notes.csv")
def command() -> None:
    """Check the operator's own ground notes: what you saw on the road, kept with the map."""


@command.command(epilog="\b\nExample:\n  terrain notes check notes.csv")
@click.argument("file", type=_file)
def check(file: Path) -> None:
    """Check a notes file; every fault with its line and what to write instead.

    FILE is CSV (way_id or lon and lat; ground, severity, date, who, remark) or GeoJSON with
    lines or points and the same names as properties.
    """
    from terrain.inputs.notes import read_notes

    notes = read_notes(file)
    click.echo(f"{file.name} is in order: {_counted(len(notes), 'note')}.")
    for line in _summary(notes):
        click.echo(line)


def _summary(notes: Sequence[GroundNote]) -> list[str]:
    grounds = Counter(
        "severity only" if note.ground is None else note.ground.value for note in notes
    )
    places = Counter(
        "a way" if note.way_id is not None else "a spot" if len(note.line) == 1 else "a line"
        for note in notes
    )
    dates = [note.noted for note in notes if note.noted is not None]
    lines = [
        "Ground: " + ", ".join(f"{name} {n}" for name, n in grounds.most_common()),
        "About: " + ", ".join(f"{name} {n}" for name, n in places.most_common()),
    ]
    if dates:
        lines.append(f"Dates: {min(dates).isoformat()} to {max(dates).isoformat()}")
    undated = len(notes) - len(dates)
    if undated:
        lines.append(f"{_counted(undated, 'note')} without a date: taken as two years old.")
    return lines


def _counted(n: int, word: str) -> str:
    return f"{n} {word}" if n == 1 else f"{n} {word}s"
