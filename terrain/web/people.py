"""Who may do what: accounts, sessions and tokens."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from terrain.errors import InputError
from terrain.text.catalogue import LANGUAGES
from terrain.text.message import message
from terrain.text.plain import one_line
from terrain.web.database import add_row, change_rows
from terrain.web.keys import check_password, digest, hash_password, new_secret
from terrain.web.schema import resets, sessions, tokens, users

RESET_S = 3 * 86_400.0  # how long a link for a new password works


class Role(StrEnum):
    """What a person is at the desk; each may also do what those before may."""

    GUIDE = "guide"
    STAFF = "staff"
    ADMIN = "admin"

    def may(self, needed: Role) -> bool:
        order = list(Role)
        return order.index(self) >= order.index(needed)


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Someone signed in."""

    id: int
    name: str
    role: Role
    csrf: str
    session: str
    lang: str = ""


def has_accounts(conn: Connection) -> bool:
    """True if anybody may sign in."""
    return conn.execute(sa.select(users.c.id).where(users.c.active).limit(1)).first() is not None


def add_user(conn: Connection, name: str, role: Role, password: str, now: float) -> None:
    """A new account. Raises InputError if the name is taken or the password is weak."""
    name = one_line(name, 80)
    if not name:
        raise InputError(message("the account has no name"))
    if _named(conn, name) is not None:
        raise InputError(
            message("there is already an account {name}", name=repr(name)),
            "",
            message("Take another name."),
        )
    add_row(
        conn, users, name=name, role=role.value, password=hash_password(password, name),
        active=True, created_at=now,
    )  # fmt: skip


def _named(conn: Connection, name: str) -> Any:
    """The account of a name, however it is written; None if there is none.

    Two that differ in case alone, of a time when that was told apart, are found as written.
    """
    wanted = one_line(name, 80)
    rows = [
        row for row in conn.execute(sa.select(users)) if row.name.casefold() == wanted.casefold()
    ]
    return next((row for row in rows if row.name == wanted), rows[0] if rows else None)


def name_of(conn: Connection, user_id: int) -> str:
    """The name of an account; "" if there is none."""
    return str(conn.execute(sa.select(users.c.name).where(users.c.id == user_id)).scalar() or "")


def reset_password(conn: Connection, name: str, password: str) -> None:
    """A new password for an account that is there, which may sign in again; its sessions end.

    Raises InputError if there is no such account or the password is weak.
    """
    row = _named(conn, name)
    if row is None:
        raise InputError(
            message("there is no account {name}", name=repr(name)), "",
            message("Make it without --reset."),
        )  # fmt: skip
    change_password(conn, row.id, row.name, password)
    change_rows(conn, users, users.c.id == row.id, active=True)


def new_reset_link(conn: Connection, user_id: int, now: float) -> tuple[str, str] | None:
    """The name of an account and the secret of a link by which its owner sets a new password.

    None if there is no such account. A link before it ends.
    """
    name = name_of(conn, user_id)
    if not name:
        return None
    secret = new_secret()
    conn.execute(resets.delete().where(resets.c.user_id == user_id))
    add_row(conn, resets, hash=digest(secret), user_id=user_id, made_at=now)
    return name, secret


def by_reset_link(conn: Connection, secret: str, now: float) -> Any:
    """The account whose password the link may set; None if it leads nowhere any more."""
    return conn.execute(
        sa.select(users)
        .join(resets, resets.c.user_id == users.c.id)
        .where(resets.c.hash == digest(secret), resets.c.made_at > now - RESET_S)
        .where(users.c.active.is_(True))
    ).first()


def use_reset_link(conn: Connection, account: Any, password: str) -> None:
    """Set the new password; the link ends with it. Raises InputError for a weak one."""
    change_password(conn, account.id, account.name, password)
    conn.execute(resets.delete().where(resets.c.user_id == account.id))


def change_role(conn: Connection, user_id: int, role: Role) -> None:
    """Another role for an account; its sessions end."""
    change_rows(conn, users, users.c.id == user_id, role=role.value)
    conn.execute(sessions.delete().where(sessions.c.user_id == user_id))


def change_password(conn: Connection, user_id: int, name: str, password: str) -> None:
    """A new password; every session of the account ends."""
    change_rows(conn, users, users.c.id == user_id, password=hash_password(password, name))
    conn.execute(sessions.delete().where(sessions.c.user_id == user_id))


def change_language(conn: Connection, user_id: int, lang: str) -> None:
    """The language of the desk for an account; the browser's if empty or not known."""
    lang = lang if lang in LANGUAGES else ""
    change_rows(conn, users, users.c.id == user_id, lang=lang)


def set_active(conn: Connection, user_id: int, active: bool) -> None:
    """Let an account in or keep it out; its sessions end."""
    change_rows(conn, users, users.c.id == user_id, active=active)
    conn.execute(sessions.delete().where(sessions.c.user_id == user_id))


def account_of(conn: Connection, name: str, password: str) -> int | None:
    """The account's id if name and password are right; as slow for a name that is not there."""
    row = _named(conn, name)
    row = row if row is not None and row.active else None
    right = check_password(row.password if row else "", password)
    return int(row.id) if row and right else None


def open_session(conn: Connection, user_id: int, now: float) -> str:
    """A new session; returns the secret for the cookie."""
    secret = new_secret()
    add_row(
        conn, sessions, hash=digest(secret), user_id=user_id, csrf=secrets.token_urlsafe(24),
        created_at=now, seen_at=now,
    )  # fmt: skip
    return secret


def person_of(
    conn: Connection, secret: str, now: float, *, idle_s: float, whole_s: float
) -> tuple[Person, bool] | None:
    """The person of a session, and whether its last use should be written down again."""
    row = conn.execute(
        sa.select(sessions, users.c.name, users.c.role, users.c.lang)
        .join(users, users.c.id == sessions.c.user_id)
        .where(sessions.c.hash == digest(secret), users.c.active.is_(True))
    ).first()
    if row is None or now - row.seen_at > idle_s or now - row.created_at > whole_s:
        return None
    person = Person(
        id=row.user_id, name=row.name, role=Role(row.role), csrf=row.csrf, session=row.hash,
        lang=row.lang,
    )  # fmt: skip
    return person, now - row.seen_at > 60.0


def touch_session(conn: Connection, session: str, now: float) -> None:
    change_rows(conn, sessions, sessions.c.hash == session, seen_at=now)


def end_session(conn: Connection, session: str) -> None:
    conn.execute(sessions.delete().where(sessions.c.hash == session))


def add_token(conn: Connection, name: str, now: float) -> str:
    """A token for another program; returned once, kept as a hash."""
    secret = new_secret()
    add_row(conn, tokens, name=name, hash=digest(secret), created_at=now)
    return secret


def drop_token(conn: Connection, token_id: int) -> str:
    """Let a token open nothing any more; returns its name, "" if there was none."""
    mine = tokens.c.id == token_id
    name = conn.execute(sa.select(tokens.c.name).where(mine)).scalar()
    conn.execute(tokens.delete().where(mine))
    return str(name or "")


def token_name(conn: Connection, secret: str) -> str | None:
    """Whose token it is, or None."""
    name = conn.execute(sa.select(tokens.c.name).where(tokens.c.hash == digest(secret))).scalar()
    return None if name is None else str(name)
