"""What changed in a booking, detail by detail: for its history and for what is shown before."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from terrain.text.catalogue import LANG_NAMES, N_
from terrain.text.message import Message, message, term
from terrain.text.terms import (
    BAG_TERMS,
    DETAIL_TERMS,
    EXPERIENCE_TERMS,
    RIDING_TERMS,
    STATE_TERMS,
    WANTS_TERMS,
)
from terrain.text.translator import Translator

_STATE = N_("State")
_YES, _NO = N_("yes"), N_("no")
_NOTHING = "–"
_LONGEST = 48  # an event's line has room for two of them


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One detail of a booking. field : its column; before, after : as the column holds them"""

    field: str
    before: Any
    after: Any

    @property
    def title(self) -> str:
        """The detail's name, to be translated."""
        return DETAIL_TERMS.get(self.field, _STATE)

    def was(self, translator: Translator) -> str:
        """What it was."""
        return translator.translate(_said(self.field, self.before))

    def becomes(self, translator: Translator) -> str:
        """What it becomes."""
        return translator.translate(_said(self.field, self.after))

    def told(self) -> Message:
        """For the history, on one line."""
        return message(
            "{field}: {before} → {after}", field=term(self.title),
            before=_short(_said(self.field, self.before)),
            after=_short(_said(self.field, self.after)),
        )  # fmt: skip


def changes_of(row: Any, told: Mapping[str, Any]) -> tuple[Change, ...]:
    """What of a booking's row would be another with these columns."""
    return tuple(
        Change(field=key, before=getattr(row, key), after=value)
        for key, value in told.items()
        if getattr(row, key) != value
    )


def _said(field: str, value: Any) -> str:
    """The value in words, to be translated where it is one of ours."""
    if isinstance(value, bool):
        return term(_YES if value else _NO)
    words = _WORDS.get(field, {})
    return term(words[value]) if value in words else str(value) or _NOTHING


_WORDS: dict[str, Mapping[str, str]] = {
    "state": STATE_TERMS, "rider": EXPERIENCE_TERMS, "luggage": BAG_TERMS, "lang": LANG_NAMES,
    "riding": RIDING_TERMS, "wants": WANTS_TERMS,
}  # fmt: skip


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 1]}…"
