"""How well the reports did, as the database keeps it: reasons keep their form and numbers."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache

from pydantic import TypeAdapter

from terrain.text.message import Message
from terrain.text.packed import message_from_json, message_json
from terrain.values.hindsight import Hindsight


@cache
def _form() -> TypeAdapter[Hindsight]:
    return TypeAdapter(Hindsight)


def stored_hindsight(told: Hindsight) -> str:
    """As text; the reasons beside it, with their numbers."""
    reasons = [
        message_json(miss.reason) if isinstance(miss.reason, Message) else None
        for miss in told.misses
    ]
    return json.dumps([_form().dump_python(told, mode="json"), reasons], ensure_ascii=False)


def hindsight_from(text: str) -> Hindsight | None:
    """What `stored_hindsight` made; None of an empty text."""
    if not text:
        return None
    facts, reasons = json.loads(text)
    told = _form().validate_python(facts)
    misses = (
        miss if reason is None else replace(miss, reason=message_from_json(reason))
        for miss, reason in zip(told.misses, reasons, strict=True)
    )
    return replace(told, misses=tuple(misses))
