"""One JSON object a line on stderr; never a name, address, link or file name of a rider."""

from __future__ import annotations

import json
import sys
from contextlib import suppress
from datetime import UTC, datetime
from typing import Any


def say(event: str, **values: Any) -> None:
    """Write one line of the log."""
    at = datetime.now(UTC).isoformat(timespec="milliseconds")
    line = json.dumps({"at": at, "event": event, **values}, ensure_ascii=False, default=str)
    # A log on a full disk must not end what it tells of.
    with suppress(OSError, ValueError):
        print(line, file=sys.stderr, flush=True)
