"""Which region a page draws its map of."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from terrain.errors import InputError, RegionError, TerrainError
from terrain.region.home import regions_folder
from terrain.text.message import message
from terrain.web.points import Point
from terrain.web.schema import routes
from terrain.web.settings import WebSettings

if TYPE_CHECKING:
    from terrain.region.region import Region


@dataclass(frozen=True, slots=True, kw_only=True)
class MapChoice:
    """The region a page draws, None if there is none or it has to be asked for; all there are."""

    region: Region | None
    names: tuple[str, ...]

    @property
    def name(self) -> str:
        return "" if self.region is None else self.region.info.name

    @property
    def asks(self) -> bool:
        return self.region is None and len(self.names) > 1


def choose_map(settings: WebSettings, asked: str = "", points: Sequence[Point] = ()) -> MapChoice:
    """The operator's region, the only one, the one asked for, or the one in which a point lies.

    points : what is drawn, or where the booking's route begins
    """
    from terrain.region.region import open_region, region_folders

    sound = _sound(region_folders(settings.home))
    if settings.region:
        with suppress(RegionError):
            return MapChoice(region=open_region(settings.region, settings.home), names=())
        return MapChoice(region=None, names=())
    names = tuple(region.info.name for region in sound)
    if len(sound) == 1:
        return MapChoice(region=sound[0], names=names)
    for region in sound:
        if region.info.name == asked:
            return MapChoice(region=region, names=names)
    for region in sound:
        west, south, east, north = region.info.bbox
        if any(west <= lon <= east and south <= lat <= north for lon, lat in points[:1]):
            return MapChoice(region=region, names=names)
    return MapChoice(region=None, names=names)


def check_on_map(settings: WebSettings, points: Sequence[Point]) -> None:
    """Raises InputError for a place outside every map of the desk: it would count for no ride."""
    from terrain.region.region import open_region, region_folders

    sound = _sound(region_folders(settings.home))
    if settings.region:
        with suppress(RegionError):
            sound = [open_region(settings.region, settings.home)]
    boxes = [region.info.bbox for region in sound]
    if boxes and not any(
        west <= lon <= east and south <= lat <= north
        for west, south, east, north in boxes for lon, lat in points
    ):  # fmt: skip
        raise InputError(
            message("the place lies on no map of this desk"), "",
            message("Tap the map, or write longitude, then latitude."),
        )  # fmt: skip


def _sound(folders: Sequence[Path]) -> list[Region]:
    """The regions that open; a damaged one is told of elsewhere."""
    from terrain.region.region import open_folder

    found = []
    for folder in folders:
        with suppress(RegionError):
            found.append(open_folder(folder))
    return found


def route_start(conn: Connection, booking_id: int) -> list[Point]:
    """Where a booking's present route begins; empty without one, or if it cannot be read."""
    from terrain.inputs.lines import parse_route

    row = conn.execute(
        sa.select(routes.c.name, routes.c.content)
        .where(routes.c.booking_id == booking_id, routes.c.current.is_(True))
        .order_by(routes.c.id)
        .limit(1)
    ).first()
    if row is None:
        return []
    with suppress(TerrainError):
        route = parse_route(bytes(row.content), row.name)
        return [(float(route.lon[0]), float(route.lat[0]))]
    return []


def has_region(settings: WebSettings) -> bool:
    """Whether there is likely a region to draw; looks at names alone."""
    folder = regions_folder(settings.home)
    return bool(settings.region) or (folder.is_dir() and any(folder.iterdir()))
