"""Which region a page draws its map of."""

from __future__ import annotations

from terrain.errors import RegionError
from terrain.region.region import Region, open_folder, open_region, region_folders
from terrain.web.settings import WebSettings


def map_region(settings: WebSettings) -> Region | None:
    """The operator's region, or the first there is; None if there is none to draw."""
    try:
        if settings.region:
            return open_region(settings.region, settings.home)
        folders = region_folders(settings.home)
        return open_folder(folders[0]) if folders else None
    except RegionError:
        return None
