"""How often an address may ask: so many in a minute, then wait."""

from __future__ import annotations

import threading
import time

_WINDOW_S = 60.0
_MOST_KEYS = 20_000


class Limits:
    """Counts requests by kind and address over the last minute, in this process."""

    def __init__(self) -> None:
        self._seen: dict[tuple[str, str], list[float]] = {}
        self._lock = threading.Lock()

    def wait_s(self, kind: str, address: str, most: int) -> int:
        """Count one request; 0 if it may go on, else the seconds to wait."""
        now = time.monotonic()
        with self._lock:
            if len(self._seen) > _MOST_KEYS:
                self._forget(now)
            times = self._seen.setdefault((kind, address), [])
            while times and times[0] <= now - _WINDOW_S:
                times.pop(0)
            if len(times) >= most:
                return max(1, int(times[0] + _WINDOW_S - now) + 1)
            times.append(now)
            return 0

    def _forget(self, now: float) -> None:
        old = [key for key, times in self._seen.items() if not times or times[-1] < now - _WINDOW_S]
        for key in old:
            del self._seen[key]
        if len(self._seen) > _MOST_KEYS:
            self._seen.clear()
