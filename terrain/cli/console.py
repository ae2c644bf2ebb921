"""What a command tells the terminal: progress on stderr, results on stdout."""

from __future__ import annotations

import shutil
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Protocol


class Step(Protocol):
    """Told how far a job has come."""

    def __call__(self, what: str, done: float | None = None) -> None: ...


def _quiet(what: str, done: float | None = None) -> None:
    return None


@contextmanager
def cleared_up() -> Iterator[None]:
    """While this holds, being told to end (SIGTERM) is as Ctrl-C: what is half done is removed."""

    def end(*_: object) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, end)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


@contextmanager
def progress(title: str) -> Iterator[Step]:
    """A progress line on stderr while the block runs, if stderr is a terminal; else nothing.

    The block gets a function step(what, done) with done from 0 to 1, or None if not known.
    """
    if sys.stderr is None or not sys.stderr.isatty():  # None: closed by the caller
        yield _quiet
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(bar_width=24), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(title, total=None)

        def step(what: str, done: float | None = None) -> None:
            bar.update(
                task,
                description=what,
                total=None if done is None else 1.0,
                completed=0.0 if done is None else done,
            )

        yield step


def width() -> int:
    """Columns for a summary: the terminal's, within 60 to 100; 80 where there is none."""
    return max(60, min(100, shutil.get_terminal_size((80, 24)).columns))


def colourful() -> bool:
    """True if stdout takes colours and the user has not refused them (https://no-color.org)."""
    import os

    return (
        sys.stdout is not None
        and sys.stdout.isatty()
        and not os.environ.get("NO_COLOR")
        and os.environ.get("TERM") != "dumb"
    )


def called() -> str:
    """How to call terrain here: by its path where the shell would not find it by name."""
    program = Path(sys.argv[0])
    found = shutil.which("terrain") is not None or program.name != "terrain"
    return "terrain" if found else str(program)
