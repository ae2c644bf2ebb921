"""A program in a terminal, which asks and is answered."""

from __future__ import annotations

import os
import pty
import select
import signal
import sys
import threading
import time
from contextlib import suppress
from pathlib import Path


class Terminal:
    """A program in a terminal of its own."""

    def __init__(self, words: list[str], home: Path) -> None:
        self.pid, self.fd = pty.fork()
        if self.pid == 0:
            os.environ["TERRAIN_HOME"] = str(home)
            os.execv(sys.executable, [sys.executable, "-m", "terrain", *words])
        self.text = ""

    def wait_for(self, wanted: str, count: int = 1, longest_s: float = 60.0) -> None:
        """Read until the program has said `wanted` so many times."""
        end = time.monotonic() + longest_s
        while self.text.count(wanted) < count:
            assert time.monotonic() < end, self.text
            if select.select([self.fd], [], [], 0.2)[0]:
                self.text += os.read(self.fd, 4096).decode()

    def answer(self, text: str) -> None:
        os.write(self.fd, f"{text}\n".encode())

    def read_on(self) -> None:
        """Read what it says from now on, so that it never waits for its terminal."""
        threading.Thread(target=self._drain, daemon=True).start()

    def _drain(self) -> None:
        with suppress(OSError):  # the program ended
            while data := os.read(self.fd, 4096):
                self.text += data.decode(errors="replace")

    def end(self) -> None:
        os.kill(self.pid, signal.SIGTERM)
        os.waitpid(self.pid, 0)
        os.close(self.fd)
