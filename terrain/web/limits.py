"""How often an address may ask: so many in a minute, then wait.

Counted in the database, so that several server processes behind one proxy count together.
"""

from __future__ import annotations

import hashlib
import time
from collections.abc import Sized

import sqlalchemy as sa

from terrain.errors import InputError
from terrain.text.message import message
from terrain.web.database import Database, add_row
from terrain.web.schema import asked

_WINDOW_S = 60.0


class Limits:
    """Counts requests by kind and address over the last minute."""

    def __init__(self, db: Database) -> None:
        self.db = db

    def wait_s(self, kind: str, address: str, most: int) -> int:
        """Count one request; 0 if it may go on, else the seconds to wait.

        Raises BusyError if it cannot be counted.
        """
        now = time.time()
        who = hashlib.sha256(f"{kind} {address}".encode()).hexdigest()
        lately = sa.and_(asked.c.who == who, asked.c.at > now - _WINDOW_S)
        with self.db.write() as conn:
            n, first = conn.execute(
                sa.select(sa.func.count(), sa.func.min(asked.c.at)).where(lately)
            ).one()
            if n >= most:
                return max(1, int(first + _WINDOW_S - now) + 1)
            add_row(conn, asked, who=who, at=now)
            return 0

    def forget_old(self, now: float) -> None:
        """Delete what no longer counts."""
        with self.db.write() as conn:
            conn.execute(asked.delete().where(asked.c.at <= now - _WINDOW_S))


def check_count(sent: Sized, most: int) -> None:
    """Raises InputError for more files than one upload may hold."""
    if len(sent) > most:
        raise InputError(
            message(
                "these are {n} files; up to {most} are taken", n=str(len(sent)), most=str(most)
            ),
            "",
            message("Choose fewer, or send them one after the other."),
        )
