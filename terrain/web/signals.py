"""The signals that stop a desk: a worker waits for them in a thread of its own."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager

STOPS = (signal.SIGINT, signal.SIGTERM)
_CAN = hasattr(signal, "pthread_sigmask")


def hold_signals() -> None:
    """Hold back what stops a process, for this thread and those it starts from now on."""
    if _CAN:
        signal.pthread_sigmask(signal.SIG_BLOCK, STOPS)


@contextmanager
def held_signals() -> Iterator[None]:
    """A process started in here holds them back from its first moment on.

    A terminal sends Ctrl-C to all processes at once, and one that still loads its modules would
    answer with a traceback.
    """
    if not _CAN:
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, STOPS)
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
