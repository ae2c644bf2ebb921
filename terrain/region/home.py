"""Where regions live, and what they may be called."""

from __future__ import annotations

import re
import sys
from collections.abc import Mapping
from pathlib import Path

from terrain.errors import UsageError

HOME_VARIABLE = "TERRAIN_HOME"
_NAME = re.compile(r"[^\W_][\w.\-]{0,63}")
_RESERVED = frozenset(
    {"con", "prn", "aux", "nul", *(f"com{n}" for n in range(10)), *(f"lpt{n}" for n in range(10))}
)


def home_folder(environ: Mapping[str, str], platform: str = sys.platform) -> Path:
    """The folder for regions and web data: TERRAIN_HOME, else the user's data folder.

    By the platform's convention: %LOCALAPPDATA% on Windows, ~/Library/Application Support on
    macOS, $XDG_DATA_HOME or ~/.local/share elsewhere (XDG Base Directory Specification).
    """
    if chosen := environ.get(HOME_VARIABLE):
        return Path(chosen).expanduser()
    user = Path(environ["HOME"]) if environ.get("HOME") else Path.home()
    if platform == "win32":
        local = environ.get("LOCALAPPDATA")
        return (Path(local) if local else user / "AppData" / "Local") / "terrain"
    if platform == "darwin":
        return user / "Library" / "Application Support" / "terrain"
    data = environ.get("XDG_DATA_HOME", "")
    # The specification tells programs to ignore a relative path here.
    base = Path(data) if Path(data).is_absolute() else user / ".local" / "share"
    return base / "terrain"


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
            f"{name!r} cannot name a region",
            "",
            "Use letters, digits, '-', '_' and '.', starting with a letter or digit, "
            "64 characters at most.",
        )
    return name
