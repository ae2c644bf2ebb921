"""A value with texts, for tests of the store."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Some texts."""

    text: tuple[str, ...]
