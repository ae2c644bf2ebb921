"""A worker keeps little of what a report used."""

from __future__ import annotations

import platform
import subprocess
import sys
from pathlib import Path

import pytest

from terrain.web.supervisor import Supervisor
from tests.web.conftest import Office

pytestmark = pytest.mark.skipif(
    platform.libc_ver()[0] != "glibc", reason="measures what glibc keeps"
)

# Small parts between others that stay, freed again: of itself the library keeps their pages.
_USES = """
import ctypes
from pathlib import Path
from terrain.web.worker import give_memory_back
libc = ctypes.CDLL(None)
libc.malloc.restype = ctypes.c_void_p
def anon_mb():
    return int(Path("/proc/self/status").read_text().partition("RssAnon:")[2].split()[0]) / 1024
begun = anon_mb()
parts = [libc.malloc(20_000) for _ in range(5_000)]
for part in parts:
    ctypes.memset(part, 1, 20_000)
for i, part in enumerate(parts):
    if i % 10:
        libc.free(ctypes.c_void_p(part))
kept = anon_mb() - begun
give_memory_back()
print(kept, anon_mb() - begun)
"""


def test_memory_goes_back_to_the_system() -> None:
    done = subprocess.run([sys.executable, "-c", _USES], capture_output=True, text=True, check=True)
    kept, left = map(float, done.stdout.split())
    assert kept > 60 and left < 40, done.stdout


# A compiler that is loaded, lets go of its code, and is asked again.
_COMPILES = """
from pathlib import Path
import numba
from terrain.web.worker import give_memory_back
def file_mb():
    return int(Path("/proc/self/status").read_text().partition("RssFile:")[2].split()[0]) / 1024
assert numba.njit(lambda x: x + 1)(1) == 2
begun = file_mb()
give_memory_back()
left = file_mb()
assert numba.njit(lambda x: x * 3)(2) == 6
print(begun, left)
"""


def test_code_at_rest_is_let_go_and_comes_again() -> None:
    done = subprocess.run(
        [sys.executable, "-c", _COMPILES], capture_output=True, text=True, check=True
    )
    begun, left = map(float, done.stdout.split())
    assert left < begun - 30, done.stdout


def test_each_job_gives_its_memory_back(office: Office, monkeypatch: pytest.MonkeyPatch) -> None:
    given: list[bool] = []
    monkeypatch.setattr("terrain.web.worker.give_memory_back", lambda: given.append(True))
    office.send(office.booking("K1"))
    office.send(office.booking("K2"))
    assert office.work() == len(given) == 2


def test_workers_start_with_few_stores_of_memory(office: Office, tmp_path: Path) -> None:
    told = tmp_path / "told"
    code = (
        "import os, sys; sys.stdin.read(); from pathlib import Path; "
        f"Path({str(told)!r}).write_text(os.environ['MALLOC_ARENA_MAX'])"
    )
    supervisor = Supervisor(office.db, office.settings, (sys.executable, "-c", code))
    with supervisor._start_one():
        pass  # its input ends, and so does it
    assert told.read_text() == "2"
