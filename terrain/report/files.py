"""Files of reports: written whole or not at all; and those that come with the package."""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Iterable
from functools import cache
from importlib.resources import files
from pathlib import Path

from terrain.errors import TerrainError
from terrain.text.message import Message, message

_OUT = message("Choose another folder with --out.")
# Ends of the names of route files, packed or not.
_ENDS = re.compile(
    r"(\.(kml|kmz|geojson[ls]?|json|gpkg|csv|polyline[56]?|txt|gz|zip))+$", re.IGNORECASE
)


@cache
def asset(name: str) -> str:
    """A template, style or script of the reports, by its name."""
    return (files("terrain.report") / "templates" / name).read_text(encoding="utf-8")


def write_whole(path: Path, data: bytes, fix: Message = _OUT) -> None:
    """Put the data in place in one step: a reader sees the old file or the new, never half.

    fix : what to do where the place cannot be written to
    Raises TerrainError if it cannot be written; the old file is then untouched.
    """
    temporary = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name[:40]}.")
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(temporary).chmod(0o644)
        Path(temporary).replace(path)
    except OSError as exc:
        if temporary is not None:
            Path(temporary).unlink(missing_ok=True)
        reason = exc.strerror or type(exc).__name__
        raise TerrainError(
            message("the file cannot be written ({reason})", reason=str(reason)),
            str(path),
            fix,
        ) from exc


def safe_stem(name: str) -> str:
    """A file name's stem that is plain on every system: letters, digits, - _ and dots inside."""
    stem = re.sub(r"[^\w.\-]+", "-", name).strip("-. ")
    return stem[:80] or "route"


def route_stem(name: str) -> str:
    """The stem of a route's reports, by the name of its file."""
    return safe_stem(_ENDS.sub("", name.split(".gpx")[0]) or name)


def distinct_stems(names: Iterable[str]) -> list[str]:
    """A stem for each route file, none twice, folders told by hyphens."""
    taken: set[str] = set()
    stems = []
    for name in names:
        base = route_stem(name)
        stem, n = base, 2
        while stem.lower() in taken:
            stem, n = f"{base}-{n}", n + 1
        taken.add(stem.lower())
        stems.append(stem)
    return stems
