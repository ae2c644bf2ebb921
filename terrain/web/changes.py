"""What changed in a booking, detail by detail: for its history and for what is shown before.

A further rider is known by the name: another name is another rider.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
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
from terrain.web.details import Details
from terrain.web.trips import OneRider

_STATE, _NAME = N_("State"), N_("Name")
_RIDERS = {"joins": N_("One more rider"), "leaves": N_("One rider less")}
_YES, _NO = N_("yes"), N_("no")
_NOTHING = "–"
_LONGEST = 48  # an event's line has room for two of them


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One detail of a booking. field : its column; before, after : as the column holds them

    whose : the further rider that it is of, "" for the booking's own
    """

    field: str
    before: str | bool
    after: str | bool
    whose: str = ""

    @property
    def title(self) -> str:
        """The detail's name, to be translated."""
        if self.whose and self.field == "customer":
            return _NAME
        return _RIDERS.get(self.field) or DETAIL_TERMS.get(self.field, _STATE)

    def about(self, translator: Translator) -> str:
        """The detail's name, with the rider's before it."""
        title = translator._(self.title)
        return translator._("{name}: {what}", name=self.whose, what=title) if self.whose else title

    def was(self, translator: Translator) -> str:
        """What it was."""
        return translator.translate(_said(self.field, self.before))

    def becomes(self, translator: Translator) -> str:
        """What it becomes."""
        return translator.translate(_said(self.field, self.after))

    def told(self) -> Message:
        """For the history, on one line."""
        before, after = (_short(_said(self.field, x)) for x in (self.before, self.after))
        if self.whose:
            return message(
                "{name}, {field}: {before} → {after}", name=_short(self.whose),
                field=term(self.title), before=before, after=after,
            )  # fmt: skip
        return message(
            "{field}: {before} → {after}", field=term(self.title), before=before, after=after
        )


def changes_of(row: Any, told: Details) -> tuple[Change, ...]:
    """What of a booking's row would be another with these details."""
    return tuple(
        Change(field=key, before=getattr(row, key), after=value)
        for key, value in told.columns().items()
        if getattr(row, key) != value
    )


def rider_changes(was: Sequence[OneRider], now: Sequence[OneRider]) -> tuple[Change, ...]:
    """What of the further riders became another: who joins and leaves, and each one's details."""
    return tuple(_rider_changes(was, now))


def _rider_changes(was: Sequence[OneRider], now: Sequence[OneRider]) -> Iterator[Change]:
    pairs = same_riders([x.customer for x in was], [x.customer for x in now])
    for n, old in enumerate(was):
        if n not in pairs:
            yield Change(field="leaves", before=old.customer, after="")
    for at, rider in zip(pairs, now, strict=True):
        if at is None:
            yield Change(field="joins", before="", after=rider.customer)
        before = OneRider(customer=rider.customer) if at is None else was[at]
        old_columns, columns = before.columns(), rider.columns()
        for key, value in columns.items():
            if old_columns[key] != value:
                shown = "" if at is None else old_columns[key]
                yield Change(field=key, before=shown, after=value, whose=rider.customer)


def same_riders(kept: Sequence[str], names: Sequence[str]) -> list[int | None]:
    """Of each name the index of the one kept that it is, None for a new one; each of these once."""
    left = list(range(len(kept)))
    found: list[int | None] = []
    for name in names:
        mine = (n for n in left if kept[n].casefold() == name.casefold())
        found.append(next(mine, None))
        if found[-1] is not None:
            left.remove(found[-1])
    return found


def _said(field: str, value: str | bool) -> str:
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
