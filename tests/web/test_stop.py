"""Stopping a desk: quiet, at once, and the report that is being made is handed back."""

from __future__ import annotations

import os
import signal
import sys
import time
from pathlib import Path

import httpx2
import pytest
import sqlalchemy as sa

from terrain.web import schema
from tests.web.standin import GPX
from tests.web.test_server import Server

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")


class _Slow(Server):
    make_s = 120.0
    workers = 1


def _job(server: Server) -> tuple[str, int]:
    with server.db.read() as conn:
        row = conn.execute(sa.select(schema.jobs.c.state, schema.jobs.c.tries)).one()
    return str(row.state), int(row.tries)


@pytest.mark.parametrize("sent", [signal.SIGINT, signal.SIGTERM])
def test_a_stop_is_quiet_and_hands_the_job_back_at_once(tmp_path: Path, sent: int) -> None:
    """Ctrl-C in a terminal and a service manager's stop reach the workers too."""
    server = _Slow(tmp_path)
    server.start()
    assert server.process is not None
    (link,) = server.links(1)
    httpx2.post(link, data={"rider": "steady"}, files={"files": ("a.gpx", GPX)}, timeout=30)
    until = time.monotonic() + 60
    while _job(server)[0] != "running" and time.monotonic() < until:
        time.sleep(0.1)
    assert _job(server) == ("running", 1)
    os.killpg(server.process.pid, sent)
    began = time.monotonic()
    server.process.wait(30)
    assert time.monotonic() - began < 8
    assert _job(server) == ("waiting", 0)
    said = (tmp_path / "log").read_text()
    assert "Traceback" not in said and "KeyboardInterrupt" not in said, said[-2000:]
    server.stop()
