"""A Postgres of Debian's packages, started for the tests and thrown away."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path


class Postgres:
    """A cluster in a folder of its own, reached through a socket there."""

    def __init__(self, programs: Path) -> None:
        self.programs = programs
        self.n = 0
        # A socket's path may be no longer than about 100 characters.
        self.folder = Path(tempfile.mkdtemp(prefix="pg-"))
        self.as_user = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
        if self.as_user:
            shutil.chown(self.folder, "postgres")
        self._run("initdb", "-D", str(self.folder / "db"), "-A", "trust", "--no-sync")
        options = f"-k {self.folder} -h '' -c fsync=off"
        self._run("pg_ctl", "-D", str(self.folder / "db"), "-o", options, "-w", "start",
                  "-l", str(self.folder / "log"))  # fmt: skip
        user = "postgres" if self.as_user else os.environ.get("USER", "postgres")
        self.url = f"postgresql://{user}@/postgres?host={self.folder}"

    def fresh(self) -> str:
        """The URL of a new, empty database."""
        import psycopg

        self.n += 1
        with psycopg.connect(self.url, autocommit=True) as conn:
            conn.execute(f"CREATE DATABASE desk{self.n}")
        return self.url.replace("/postgres?", f"/desk{self.n}?")

    def stop(self) -> None:
        self._run("pg_ctl", "-D", str(self.folder / "db"), "-m", "immediate", "stop")
        shutil.rmtree(self.folder, ignore_errors=True)

    def _run(self, name: str, *options: str) -> None:
        command = [*self.as_user, str(self.programs / name), *options]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, cwd="/", timeout=60)


def programs() -> Path | None:
    """The folder of the newest server's programs, if there is one that can be started here."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    if not found or (os.geteuid() == 0 and shutil.which("runuser") is None):
        return None
    return found[-1].parent
