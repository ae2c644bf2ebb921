"""One JSON object a line on stderr; never a name, address, link or file name of a rider."""

from __future__ import annotations

import json
import sys
import traceback
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

_FRAMES = 8


def say(event: str, **values: Any) -> None:
    """Write one line of the log."""
    at = datetime.now(UTC).isoformat(timespec="milliseconds")
    line = json.dumps({"at": at, "event": event, **values}, ensure_ascii=False, default=str)
    # A log on a full disk must not end what it tells of.
    with suppress(OSError, ValueError):
        # Text and line end in one: workers write to the same place.
        sys.stderr.write(line + "\n")
        sys.stderr.flush()


def say_unforeseen(event: str, exc: BaseException, **values: Any) -> None:
    """An unforeseen error by kind and by the places in the code it came through, the last first.

    Its text is left out: it may hold a person's data. No line of source and no path either.
    """
    frames = traceback.extract_tb(exc.__traceback__)[-_FRAMES:]
    came_by = [f"{Path(f.filename).name}:{f.lineno} {f.name}" for f in reversed(frames)]
    cause = exc.__cause__
    if cause is not None:
        values["cause"] = type(cause).__name__
    say(event, error=type(exc).__name__, where=came_by, **values)
