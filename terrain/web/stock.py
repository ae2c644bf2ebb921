"""What a desk judges routes with, by sums in its database: regions, fleet and learned file.

The server that started or changed last tells; a worker, here or on another machine, takes only
jobs that it would judge with the same.
"""

from __future__ import annotations

import hashlib
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from terrain.errors import RegionError, TerrainError
from terrain.text.message import Message, message
from terrain.web.database import Database
from terrain.web.schema import stock
from terrain.web.settings import WebSettings

if TYPE_CHECKING:
    from terrain.region.region import Region
    from terrain.values.route import Route

Bbox = tuple[float, float, float, float]
_REGION, _FILE, _SETTING = "region", "file", "setting"


class ElsewhereError(TerrainError):
    """The job is for a machine that has the desk's own regions and files."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """A region, file or setting by its sum. bbox : of a region [deg], else None"""

    kind: str
    name: str
    sum: str
    bbox: Bbox | None = None


def own_stock(settings: WebSettings) -> tuple[Item, ...]:
    """What lies in this home; a damaged region counts as none."""
    from terrain.region.region import open_folder, open_region, region_folders

    found = [
        Item(kind=_FILE, name=name, sum="" if path is None else _sum_of(path))
        for name, path in (("fleet", settings.fleet_file), ("learned", settings.learned_file))
    ]
    chosen = Path(settings.region).name  # a folder may lie elsewhere on another machine
    found.append(Item(kind=_SETTING, name="region", sum=chosen))
    regions: list[Region] = []
    folders = [None] if settings.region else region_folders(settings.home)
    for folder in folders:
        try:
            regions.append(
                open_region(settings.region, settings.home) if folder is None
                else open_folder(folder)
            )  # fmt: skip
        except RegionError:
            continue
    found += [
        Item(kind=_REGION, name=one.info.name, sum=_region_sum(one), bbox=one.info.bbox)
        for one in regions
    ]
    return tuple(found)


def _sum_of(path: Path) -> str:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return "unreadable"


def _region_sum(region: Region) -> str:
    """Of all but when and by whom it was built: the same map built twice is the same."""
    from terrain.region.changed import CHANGED
    from terrain.region.pack import read_manifest

    whole = hashlib.sha256()
    for name, (_, digest) in sorted(read_manifest(region.pack).items()):
        if not name.startswith(("info/", f"{CHANGED}/")):
            whole.update(f"{name} {digest}\n".encode())
    return whole.hexdigest()


def tell_stock(db: Database, items: Sequence[Item]) -> None:
    """Put in the database what the desk judges with, in place of what stood there."""
    rows = []
    for item in items:
        west, south, east, north = item.bbox or (None,) * 4
        rows.append(
            {"kind": item.kind, "name": item.name, "sum": item.sum, "west": west, "south": south,
             "east": east, "north": north, "told_at": time.time()}
        )  # fmt: skip
    with db.write() as conn:
        conn.execute(stock.delete())
        conn.execute(stock.insert(), rows)


def told_stock(conn: Connection) -> tuple[Item, ...]:
    """What the desk judges with; empty if no server has told yet."""
    return tuple(
        Item(
            kind=row.kind, name=row.name, sum=row.sum,
            bbox=None if row.west is None else (row.west, row.south, row.east, row.north),
        )
        for row in conn.execute(sa.select(stock))
    )  # fmt: skip


def region_for(route: Route, settings: WebSettings, told: Sequence[Item]) -> Region:
    """The region that the desk judges the route with.

    told : what the desk has, empty if it is not known
    Raises ElsewhereError if this machine lacks it or has another, RegionError as `find_region`.
    """
    from terrain import flow
    from terrain.region.cover import holds

    own = {(item.kind, item.name): item.sum for item in own_stock(settings)} if told else {}
    lacking = [item for item in told if own.get((item.kind, item.name)) != item.sum]
    for item in lacking:
        if item.bbox is None or settings.region or holds(item.bbox, route):
            raise ElsewhereError(_lacking(item, own))
    if settings.region:
        return flow.open_region(settings.region, settings.home)
    region = flow.find_region(route, settings.home)
    if told and region.info.name not in {x.name for x in told if x.kind == _REGION}:
        raise ElsewhereError(
            message("region {name} is none of the desk's", name=repr(region.info.name))
        )
    return region


def _lacking(item: Item, own: dict[tuple[str, str], str]) -> Message:
    if item.kind == _SETTING:
        return message("the setting {name} differs from the desk's", name=item.name)
    if item.kind == _FILE:
        return message("the {name} file differs from the desk's", name=item.name)
    if (item.kind, item.name) in own:
        return message("region {name} differs from the desk's", name=repr(item.name))
    return message("region {name} of the desk is not on this machine", name=repr(item.name))
