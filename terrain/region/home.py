"""Where regions live, and what they may be called."""

from __future__ import annotations

import re
from pathlib import Path

from terrain.errors import UsageError
from terrain.text.message import message

_NAME = re.compile(r"[^\W_][\w.\-]{0,63}")
_RESERVED = frozenset(
    {"con", "prn", "aux", "nul", *(f"com{n}" for n in range(10)), *(f"lpt{n}" for n in range(10))}
)


def regions_folder(home: Path) -> Path:
    """The folder that holds one folder per region."""
    return home / "regions"


def is_region_name(name: str) -> bool:
    """True if the text may name a region: letters, digits, - _ . and no leading dot."""
    plain = _NAME.fullmatch(name) is not None and not name.endswith(".")
    return plain and name.split(".")[0].lower() not in _RESERVED


def checked_name(name: str) -> str:
    """The name itself; raises UsageError if it may not name a region."""
    if not is_region_name(name):
        raise UsageError(
            message("{name} cannot name a region", name=repr(name)),
            "",
            message(
                "Use letters, digits, '-', '_' and '.', starting with a letter or digit, 64 "
                "characters at most."
            ),
        )
    return name
