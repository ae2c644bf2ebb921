"""Road trip or off-road trip? Ground, relief, heat and help along a planned motorcycle route.

The names below are the whole public interface; each loads what it needs on first use.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from terrain.errors import (
        FleetError,
        HelpersError,
        InputError,
        MapDataError,
        NotesError,
        PlanError,
        RegionDamaged,
        RegionError,
        RegionMissing,
        RegionNotCovering,
        RouteError,
        TerrainError,
        UsageError,
    )

__version__ = "0.1.0"

_ERRORS = (
    "FleetError",
    "HelpersError",
    "InputError",
    "MapDataError",
    "NotesError",
    "PlanError",
    "RegionDamaged",
    "RegionError",
    "RegionMissing",
    "RegionNotCovering",
    "RouteError",
    "TerrainError",
    "UsageError",
)

_HOME_OF: dict[str, str] = {
    **dict.fromkeys(_ERRORS, "terrain.errors"),
}

__all__ = ["__version__", *sorted(_HOME_OF)]  # noqa: PLE0604


def __getattr__(name: str) -> Any:
    home = _HOME_OF.get(name)
    if home is None:
        raise AttributeError(f"module 'terrain' has no attribute {name!r}")
    value = getattr(import_module(home), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
