"""What the package may say, looked for once by each process: it takes seconds."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from terrain.text import build


@cache
def said(folder: Path = build.PACKAGE) -> frozenset[build.Key]:
    """All messages of the code of a folder and its templates."""
    return frozenset(build.messages(folder))
