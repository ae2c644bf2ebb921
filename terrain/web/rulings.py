"""The desk's own decisions in place of the advice, and the guide's wishes: one of each a route.

Who decides after somebody else did, on a page from before, is told and overwrites nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from terrain.errors import InputError
from terrain.text.message import message
from terrain.text.plain import one_line
from terrain.values.advice import SetupChoice
from terrain.web.keys import digest
from terrain.web.schema import rulings

SETUPS = tuple(choice.value for choice in SetupChoice)
_NONE = "none"


class DecidedMeanwhile(Exception):
    """Somebody else decided since the page was made."""


def mark_of(row: Any) -> str:
    """A short text that is another one once the row was written anew; "none" for no row."""
    return _NONE if row is None else digest(f"{row.who} {row.made_at!r}")[:16]


def check_seen(seen: str, row: Any) -> None:
    """Raises DecidedMeanwhile if the page showed something else. seen : its mark; "" for none"""
    if seen and seen != mark_of(row):
        raise DecidedMeanwhile


def rulings_of(conn: Connection, route_ids: Sequence[int]) -> dict[int, Any]:
    """The decisions there are, by route."""
    chosen = sa.select(rulings).where(rulings.c.route_id.in_(route_ids))
    return {row.route_id: row for row in conn.execute(chosen)}


def decide(
    conn: Connection, route_id: int, typed: Mapping[str, str], *, who: str, now: float
) -> str:
    """Keep a decision, or withdraw it; returns the setup decided on, "" for none.

    Raises DecidedMeanwhile, and InputError for a decision without its reason.
    """
    check_seen(typed.get("seen", ""), rulings_of(conn, [route_id]).get(route_id))
    withdraws = "withdraw" in typed
    reason, setup = one_line(typed.get("reason", ""), 400), typed.get("setup", "")
    if not withdraws and (not reason or setup not in SETUPS):
        raise InputError(
            message("the decision has no reason"), "", message("Say why, in a sentence.")
        )
    conn.execute(rulings.delete().where(rulings.c.route_id == route_id))
    if withdraws:
        return ""
    conn.execute(
        rulings.insert().values(
            route_id=route_id, setup=setup, bike=one_line(typed.get("bike", ""), 80),
            reason=reason, who=who, made_at=now,
        )
    )  # fmt: skip
    return setup
