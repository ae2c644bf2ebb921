"""What bookings are found by: words without accents and capitals, dates as people write them."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from datetime import date
from typing import Any

from terrain.text.catalogue import LANGUAGES
from terrain.text.translator import translator_for

_NAMES = ("ref", "customer", "email", "wanted")
# Letters that no accent can be taken from.
_LETTERS = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ð": "d", "ı": "i", "æ": "ae", "œ": "oe"})


def folded(text: str) -> str:
    """A text as it is searched: "Großer Ährenpaß" and "grosser ahrenpass" are the same."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    kept = "".join(char for char in plain if not unicodedata.combining(char))
    return kept.translate(_LETTERS)


def found_by(booking: Mapping[str, Any]) -> str:
    """The words of a booking's own columns, its days in every language among them."""
    parts = [str(booking.get(key) or "") for key in _NAMES]
    for key in ("starts_on", "ends_on"):
        if booking.get(key):
            day = date.fromisoformat(booking[key])
            parts += [day.isoformat(), f"{day:%d.%m.%Y}", f"{day:%d/%m/%Y}"]
            parts += [translator_for(lang).day(day) for lang in LANGUAGES]
    return folded(" ".join(dict.fromkeys(part for part in parts if part)))
