"""Passwords, links and tokens: made from the system's randomness, kept only as hashes."""

from __future__ import annotations

import hashlib
import secrets
from functools import cache
from typing import TYPE_CHECKING

from terrain.errors import InputError
from terrain.text.message import Message, message

if TYPE_CHECKING:
    from argon2 import PasswordHasher

LINK_BYTES = 32  # 256 bits; OWASP ASVS 5.0, 7.2.3 asks for 128
_SHORTEST, _LONGEST = 12, 128


def new_secret() -> str:
    """A link, session or token that nobody can guess."""
    return secrets.token_urlsafe(LINK_BYTES)


def digest(secret: str) -> str:
    """What is kept of a secret of 256 random bits; it needs no slow hash."""
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()


@cache
def _hasher() -> PasswordHasher:
    from argon2 import PasswordHasher

    # OWASP Password Storage Cheat Sheet: argon2id with 19 MiB, 2 passes, 1 lane.
    return PasswordHasher(time_cost=2, memory_cost=19_456, parallelism=1)


def hash_password(password: str, name: str) -> str:
    """The argon2id hash of a new password.

    Raises InputError for one that is too short or easy to guess.
    """
    if not _SHORTEST <= len(password) <= _LONGEST:
        raise InputError(
            message(
                "the password has to have {least} to {most} characters",
                least=str(_SHORTEST),
                most=str(_LONGEST),
            )
        )
    reason = _why_guessable(password, name)
    if reason:
        raise InputError(
            message("the password is easy to guess: {reason}", reason=reason), "",
            message("Take four or five odd words."),
        )  # fmt: skip
    return _hasher().hash(password)


_ENOUGH = 3  # of zxcvbn's 0 to 4: more than 10^8 guesses, which are slow ones here
_LOOKED_AT = 72  # characters; more tell the estimator nothing
_REASONS = {
    "dictionary": message("most of it is a word, a name or a password that many use"),
    "user_inputs": message("most of it is the name of the account"),
    "spatial": message("most of it is a row of keys"),
    "sequence": message("most of it is a row of letters or digits"),
    "repeat": message("most of it repeats"),
    "date": message("most of it is a date"),
    "regex": message("most of it is a date"),
    "bruteforce": message("it is too short for such characters"),
}


def _why_guessable(password: str, name: str) -> Message | None:
    """What makes a password guessable, in words; None for a good one, whatever it holds.

    Source: zxcvbn (Wheeler 2016, USENIX Security), by the part of it that is longest.
    """
    from zxcvbn import zxcvbn

    told = zxcvbn(password[:_LOOKED_AT], user_inputs=[name, *name.split()])
    if told["score"] >= _ENOUGH:
        return None
    part = max(told["sequence"], key=lambda found: len(found["token"]))
    kind = part.get("dictionary_name", "")
    return _REASONS["user_inputs" if kind == "user_inputs" else part["pattern"]]


def check_password(stored: str, password: str) -> bool:
    """Whether the password is the one that was stored; takes as long for an empty `stored`."""
    from argon2.exceptions import InvalidHashError, VerificationError

    try:
        return _hasher().verify(stored or _decoy(), password[: 4 * _LONGEST]) and bool(stored)
    except (VerificationError, InvalidHashError):
        return False


@cache
def _decoy() -> str:
    return _hasher().hash(secrets.token_urlsafe(16))
