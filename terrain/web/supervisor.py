"""Keeps the worker processes running, and the data no longer than they may be kept."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from contextlib import suppress

from terrain.errors import TerrainError
from terrain.web.database import Database
from terrain.web.limits import Limits
from terrain.web.log import say
from terrain.web.retention import forget_old
from terrain.web.settings import WebSettings
from terrain.web.signals import held_signals
from terrain.web.stock import Item, own_stock, tell_stock

_LOOK_S = 0.5
_TIDY_S = 3600.0
_TELL_S = 2.0
_FIRST_PAUSE_S, _LONGEST_PAUSE_S = 1.0, 60.0  # before a worker that failed is replaced
_STOP_S = 10.0
# Each thread of glibc's keeps what it freed to itself: few share it (mallopt(3), M_ARENA_MAX).
_LEAN = {"MALLOC_ARENA_MAX": "2"}
_MANY = 3  # failures in a row that are no chance


class Supervisor:
    """Starts workers, starts them again when they die, and tidies once an hour."""

    def __init__(
        self, db: Database, settings: WebSettings, command: tuple[str, ...] | None = None,
        *, tells: bool = True,
    ) -> None:  # fmt: skip
        """tells : whether this machine's regions and files are the desk's own"""
        self.db = db
        self.settings = settings
        self.command = command or (sys.executable, "-m", "terrain.web.worker")
        self._workers: list[subprocess.Popen[bytes]] = []
        self.tells = tells
        self._told: tuple[Item, ...] | None = None
        self._failed = 0  # workers in a row that ended by a fault of their own
        self._started = self._not_before = 0.0
        self._end = threading.Event()
        self._thread: threading.Thread | None = None

    @property
    def fails(self) -> bool:
        """Whether workers end by themselves again and again."""
        return self._failed >= _MANY

    def start(self) -> None:
        """Begin, in a thread of its own."""
        self._end.clear()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """End all workers, which hand back the jobs they are at."""
        self._end.set()
        if self._thread is not None:
            self._thread.join()
        for worker in self._workers:
            _end_input(worker)
        until = time.monotonic() + _STOP_S
        for worker in self._workers:
            try:
                worker.wait(max(0.1, until - time.monotonic()))
            except subprocess.TimeoutExpired:
                worker.kill()
                worker.wait()

    def _run(self) -> None:
        tidied, started, told = -_TIDY_S, 0.0, -_TELL_S
        while not self._end.is_set():
            now = time.monotonic()
            try:
                if self.tells and now - told > _TELL_S:
                    told = now
                    self._tell()
                if now - started > _LOOK_S:
                    started = now
                    self._fill_up()
                if now - tidied > _TIDY_S:
                    tidied = now
                    self._tidy()
            except Exception as exc:
                # A server without this thread looks well and does no work.
                say("supervisor failed", error=type(exc).__name__)
            self._end.wait(_LOOK_S)

    def _fill_up(self) -> None:
        for worker in [w for w in self._workers if w.poll() is not None]:
            say("worker ended", status=worker.returncode)
            self._workers.remove(worker)
            _end_input(worker)
            # One that was killed (status below 0) is replaced at once; one that fails by itself
            # would fail again, so each in a row waits twice as long.
            lasted = time.monotonic() - self._started > _LONGEST_PAUSE_S
            self._failed = 0 if worker.returncode <= 0 or lasted else self._failed + 1
            if self._failed:
                pause_s = min(_FIRST_PAUSE_S * 2.0 ** (self._failed - 1), _LONGEST_PAUSE_S)
                self._not_before = time.monotonic() + pause_s
        if time.monotonic() < self._not_before:
            return
        while len(self._workers) < self.settings.workers:
            self._workers.append(self._start_one())
            self._started = time.monotonic()

    def _start_one(self) -> subprocess.Popen[bytes]:
        # Settings go through a pipe: a database's password is not for the list of processes.
        with held_signals():
            worker = subprocess.Popen(
                self.command, stdin=subprocess.PIPE, env={**os.environ, **_LEAN}
            )
        assert worker.stdin is not None
        try:
            worker.stdin.write(self.settings.to_json().encode() + b"\n")
            worker.stdin.flush()
        except OSError:
            say("worker did not start")
        return worker

    def _tell(self) -> None:
        """Tell workers, also those elsewhere, what routes are judged with here."""
        items = own_stock(self.settings)
        if items != self._told:
            tell_stock(self.db, items)
            self._told = items

    def _tidy(self) -> None:
        try:
            gone = forget_old(
                self.db, self.settings.keep_days, time.time(),
                keep_tracks_days=self.settings.keep_tracks_days,
            )  # fmt: skip
            Limits(self.db).forget_old(time.time())
        except TerrainError as exc:
            say("tidying waits", error=exc.what)
        else:
            if gone:
                say("old bookings deleted", n=gone)


def _end_input(worker: subprocess.Popen[bytes]) -> None:
    # A worker that died early has left its settings unread in the pipe.
    with suppress(OSError):
        if worker.stdin:
            worker.stdin.close()
