"""Which region a page draws its map of."""

from __future__ import annotations

from typing import TYPE_CHECKING

from terrain.errors import RegionError
from terrain.region.home import regions_folder
from terrain.web.settings import WebSettings

if TYPE_CHECKING:
    from terrain.region.region import Region


def map_region(settings: WebSettings) -> Region | None:
    """The operator's region, or the first there is; None if there is none to draw."""
    from terrain.region.region import open_folder, open_region, region_folders

    try:
        if settings.region:
            return open_region(settings.region, settings.home)
        folders = region_folders(settings.home)
        return open_folder(folders[0]) if folders else None
    except RegionError:
        return None


def has_region(settings: WebSettings) -> bool:
    """Whether there is likely a region to draw; looks at names alone."""
    folder = regions_folder(settings.home)
    return bool(settings.region) or (folder.is_dir() and any(folder.iterdir()))
