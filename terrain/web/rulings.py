"""The desk's own decisions in place of the advice, and the guide's wishes.

A decision holds for everybody on a route; one for a single rider takes its place for that one. Who
decides after somebody else did, on a page from before, is told and overwrites nothing.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from terrain.errors import InputError
from terrain.text.message import message
from terrain.text.plain import one_line
from terrain.values.advice import SetupChoice
from terrain.values.verdict import StaffDecision
from terrain.web.bookings import Standing
from terrain.web.database import add_row
from terrain.web.keys import digest
from terrain.web.schema import rider_rulings, rulings
from terrain.web.summary import Summary

SETUPS = tuple(choice.value for choice in SetupChoice)
#: Whose a decision is: everybody's, that of who booked, or of the further rider of a number.
EVERYBODY, WHO_BOOKED = "", "0"
_NONE = "none"

Rulings = Mapping[tuple[int, str], Any]


class DecidedMeanwhile(Exception):
    """Somebody else decided since the page was made."""


def mark_of(row: Any) -> str:
    """A short text that is another one once the row was written anew; "none" for no row."""
    return _NONE if row is None else digest(f"{row.who} {row.made_at!r}")[:16]


def check_seen(seen: str, row: Any) -> None:
    """Raises DecidedMeanwhile if the page showed something else. seen : its mark; "" for none"""
    if seen and seen != mark_of(row):
        raise DecidedMeanwhile


def rulings_of(conn: Connection, route_ids: Sequence[int]) -> dict[tuple[int, str], Any]:
    """The decisions there are, by route and whose they are."""
    found = {}
    for row in conn.execute(sa.select(rulings).where(rulings.c.route_id.in_(route_ids))):
        found[row.route_id, EVERYBODY] = row
    own = sa.select(rider_rulings).where(rider_rulings.c.route_id.in_(route_ids))
    for row in conn.execute(own):
        found[row.route_id, WHO_BOOKED if row.rider_id is None else str(row.rider_id)] = row
    return found


def decision_of(row: Any) -> StaffDecision | None:
    """A decision as reports are made with it."""
    if row is None:
        return None
    return StaffDecision(
        setup=SetupChoice(row.setup), bike=row.bike, reason=row.reason, who=row.who,
        unix_s=row.made_at,
    )  # fmt: skip


def own_decisions(
    found: Rulings, route_id: int, riders: Sequence[str]
) -> tuple[StaffDecision | None, ...]:
    """Each rider's own decision; empty if nobody has one."""
    own = tuple(decision_of(found.get((route_id, whose))) for whose in riders)
    return own if any(own) else ()


def leaves_open(row: Standing, found: Rulings, riders: Sequence[str]) -> bool:
    """Whether some rider's setup is still to be asked about, as the last report has it."""
    kept = () if row.summary is None else row.summary.group
    return any(
        rider.setup == SetupChoice.ASK.value and (row.route_id, whose) not in found
        for whose, rider in zip(riders, kept, strict=False)
    )


def barred_bikes(told: Summary | None, whose: str, riders: Sequence[str]) -> frozenset[str]:
    """Names of classes that must not go with this rider, or with any of them; riders : by whose."""
    if told is None:
        return frozenset()
    each = [told.excluded] if not told.group else [rider.excluded for rider in told.group]
    if whose != EVERYBODY:
        each = [out for out, own in zip(each, riders, strict=False) if own == whose]
    return frozenset(name for out in each for name in out)


def kept_as(conn: Connection, route_id: int, whose: str) -> tuple[sa.Table, list[int]]:
    """The table of such a decision, and the key of the one there is in a list."""
    if whose == EVERYBODY:
        return rulings, [route_id]
    row = rulings_of(conn, [route_id]).get((route_id, whose))
    return rider_rulings, [] if row is None else [row.id]


def decide(
    conn: Connection, route_id: int, typed: Mapping[str, str], *, who: str, now: float,
    whose: str = EVERYBODY, barred: Collection[str] = (),
) -> str:  # fmt: skip
    """Keep a decision, or withdraw it; returns the setup decided on, "" for none.

    barred : names of classes that must not go. Raises DecidedMeanwhile, and InputError for a
    decision without its reason or for such a class.
    """
    check_seen(typed.get("seen", ""), rulings_of(conn, [route_id]).get((route_id, whose)))
    withdraws = "withdraw" in typed
    reason, setup = one_line(typed.get("reason", ""), 400), typed.get("setup", "")
    if not withdraws and (not reason or setup not in SETUPS):
        raise InputError(
            message("the decision has no reason"), "", message("Say why, in a sentence.")
        )
    if not withdraws and typed.get("bike") in barred:
        raise InputError(
            message("the bike put first must not go on this ride"), "",
            message("Choose another, or leave it as reckoned."),
        )  # fmt: skip
    table, ids = kept_as(conn, route_id, whose)
    conn.execute(table.delete().where(next(iter(table.primary_key.columns)).in_(ids)))
    if withdraws:
        return ""
    own = {} if whose == EVERYBODY else {"rider_id": None if whose == WHO_BOOKED else int(whose)}
    add_row(
        conn, table, route_id=route_id, setup=setup, bike=one_line(typed.get("bike", ""), 80),
        reason=reason, who=who, made_at=now, **own,
    )  # fmt: skip
    return setup
