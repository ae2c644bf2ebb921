"""What the surroundings of the program may set, read once and passed down."""

from __future__ import annotations

import difflib
import os
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from terrain.errors import UsageError
from terrain.text.message import message

_YES = frozenset({"1", "true", "yes", "on"})
_NO = frozenset({"", "0", "false", "no", "off"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Settings of one run.

    home : folder of regions, fleet file and web data (TERRAIN_HOME)
    debug : show the traceback of an unforeseen error (TERRAIN_DEBUG)
    map_index : address of a mirror's index of map extracts (TERRAIN_MAP_INDEX)
    forecast : address of a weather service (TERRAIN_FORECAST), asked only where a report is to hold
        a forecast; forecast_credit : whom to name for it (TERRAIN_FORECAST_CREDIT)
    tile_server : where elevation tiles are fetched from, None for the usual (TERRAIN_TILE_SERVER)
    """

    home: Path
    debug: bool = False
    tile_server: str | None = None
    map_index: str | None = None
    forecast: str | None = None
    forecast_credit: str = ""

    @property
    def regions(self) -> Path:
        """The folder that holds one folder per region."""
        return self.home / "regions"

    @classmethod
    def from_env(cls, environ: Mapping[str, str] | None = None) -> Settings:
        """Settings from TERRAIN_* variables; the process's own environment by default.

        Raises UsageError for a TERRAIN_* name that is not known, naming the nearest right one.
        """
        env = os.environ if environ is None else environ
        for key in sorted(env):
            # The web application checks its own.
            if key.startswith("TERRAIN_WEB_"):
                continue
            if key.startswith("TERRAIN_") and key not in KNOWN_KEYS:
                raise _unknown_key(key)
        home = env.get("TERRAIN_HOME", "").strip()
        return cls(
            home=Path(home).expanduser() if home else default_home(env, sys.platform),
            debug=_flag("TERRAIN_DEBUG", env.get("TERRAIN_DEBUG", "")),
            tile_server=env.get("TERRAIN_TILE_SERVER", "").strip() or None,
            map_index=env.get("TERRAIN_MAP_INDEX", "").strip() or None,
            forecast=env.get("TERRAIN_FORECAST", "").strip() or None,
            forecast_credit=env.get("TERRAIN_FORECAST_CREDIT", "").strip(),
        )


KNOWN_KEYS: tuple[str, ...] = (
    "TERRAIN_HOME",
    "TERRAIN_DEBUG",
    "TERRAIN_FORECAST",
    "TERRAIN_FORECAST_CREDIT",
    "TERRAIN_MAP_INDEX",
    "TERRAIN_TILE_SERVER",
)


def default_home(environ: Mapping[str, str], platform: str) -> Path:
    """The user's data folder by the platform's convention, with `terrain` below it.

    Source: XDG Base Directory Specification 0.8 (Linux and others), Apple's File System
    Programming Guide (macOS), Known Folders (Windows).
    """
    if platform == "win32":
        base = environ.get("LOCALAPPDATA")
        return (Path(base) if base else Path.home() / "AppData" / "Local") / "terrain"
    if platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "terrain"
    base = environ.get("XDG_DATA_HOME", "")
    # The specification: a relative path there is to be ignored.
    if base and Path(base).is_absolute():
        return Path(base) / "terrain"
    return Path.home() / ".local" / "share" / "terrain"


def _flag(key: str, text: str) -> bool:
    word = text.strip().lower()
    if word in _YES:
        return True
    if word in _NO:
        return False
    raise UsageError(
        message("{text} is neither yes nor no", text=repr(text)), key, message("Use 1 or 0.")
    )


def _unknown_key(key: str) -> UsageError:
    near = difflib.get_close_matches(key, KNOWN_KEYS, n=1, cutoff=0.0)
    return UsageError(
        message("this setting is not known"),
        key,
        message("Did you mean {near}? Otherwise unset it.", near=str(near[0])),
    )
