"""Messages as the database keeps them: each page says them in its reader's language."""

from __future__ import annotations

import json
from typing import Any

from terrain.text.message import Message, message, term
from terrain.text.packed import message_from_json, message_json


def told_fault(what: str, where: str = "", fix: str = "", detail: str = "") -> str:
    """Why a job failed, in the form it is kept in: each page says it in its language."""
    parts = (what, where, fix, detail)
    return json.dumps(
        [message_json(part) if isinstance(part, Message) else part for part in parts],
        ensure_ascii=False,
    )


def stored_text(part: Any) -> str:
    """A part of a fault as it was stored; desks kept plain English before."""
    return message_from_json(part) if isinstance(part, dict) else term(part)


def stored_event(what: Message) -> str:
    """A message of the history on one line; its numbers are terms."""
    if not what.numbers:
        return str(what)
    return json.dumps(
        [what.message, {name: str(value) for name, value in what.numbers}], ensure_ascii=False
    )


def event_message(stored: str) -> Message:
    """What was done, of `stored_event`; desks kept plain English before."""
    if not stored.startswith("["):
        return term(stored)
    form, numbers = json.loads(stored)
    return message(form, **{name: term(value) for name, value in numbers.items()})
