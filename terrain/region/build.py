"""Building a region: every step in order, aside, put in place at the end in one step."""

from __future__ import annotations

from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import numpy as np

from terrain.errors import UsageError
from terrain.region.disk import remove_tree
from terrain.region.home import checked_name, regions_folder
from terrain.region.info import OSM_ATTRIBUTION, RegionInfo
from terrain.region.osm import MapData, read_osm
from terrain.region.pack import (
    CURRENT,
    adopt_pack,
    build_lock,
    check_pack,
    clear_packs,
    current_pack,
    new_pack,
    seal_pack,
)
from terrain.region.scan import Progress
from terrain.region.store import save_value
from terrain.values.views import RoadsView, WayFlag


def no_progress(step: str, share: float | None) -> None:
    """Takes no notice."""


def build_region(
    name: str,
    osm_paths: tuple[Path, ...],
    dem_paths: tuple[Path, ...] = (),
    *,
    replace: bool = False,
    home: Path,
    progress: Progress = no_progress,
) -> Path:
    """Make a region from OSM extracts and elevation tiles; its folder.

    progress : called with the step at hand and the share of it done, None if not known
    All or nothing: until the last step the old region, if any, stays as it was.
    Raises UsageError for a bad name or a region that is there without `replace`, MapDataError
    for input that cannot be used, TerrainError if the disk refuses.
    """
    folder = regions_folder(home) / checked_name(name)
    if (folder / CURRENT).exists() and not replace:
        raise UsageError(
            f"there is a region {name!r} already",
            str(folder),
            "Give --replace to build it anew, or choose another name.",
        )
    if not osm_paths:
        raise UsageError("no map extract was given", "", "Give one or more with --osm FILE.")
    with build_lock(folder):
        _clear_leftovers(folder)
        pack = new_pack(folder)
        try:
            _fill_pack(pack, name, osm_paths, dem_paths, progress)
            progress("Putting the region in place", None)
            seal_pack(pack)
            check_pack(pack, contents=True)
            adopt_pack(folder, pack)
        except BaseException:
            if not _in_use(folder, pack):
                remove_tree(pack)
            raise
    return folder


def _clear_leftovers(folder: Path) -> None:
    """Remove what builds that died left behind."""
    keep = current_pack(folder).name if (folder / CURRENT).exists() else None
    clear_packs(folder, keep=keep)


def _in_use(folder: Path, pack: Path) -> bool:
    return (folder / CURRENT).exists() and current_pack(folder) == pack


def _fill_pack(
    pack: Path,
    name: str,
    osm_paths: tuple[Path, ...],
    dem_paths: tuple[Path, ...],
    progress: Progress,
) -> None:
    """The steps of a build, in order; each reads what the ones before it made."""
    data = read_osm(osm_paths, progress)
    progress("Writing the roads", None)
    save_value(pack / "roads", data.roads)
    save_value(pack / "places", data.places)
    sources = tuple(path.name for path in (*osm_paths, *dem_paths))
    save_value(pack / "info", _info(name, data, sources))


def _info(name: str, data: MapData, sources: tuple[str, ...]) -> RegionInfo:
    roads = data.roads
    on_land = (roads.ways.flags[roads.edge_way] & int(WayFlag.FERRY)) == 0
    return RegionInfo(
        name=name,
        map_date=data.map_date,
        bbox=roads_bbox(roads),
        attribution=(OSM_ATTRIBUTION,),
        built_at=datetime.now(UTC).isoformat(timespec="seconds"),
        terrain_version=_version(),
        sources=sources,
        n_ways=len(roads.ways),
        n_edges=roads.n_edges,
        n_places=len(data.places),
        road_m=float(roads.edge_length_m[on_land].sum()),
    )


def roads_bbox(roads: RoadsView) -> tuple[float, float, float, float]:
    """West, south, east, north of all points [deg]."""
    low_lon, low_lat = np.min(roads.pt_lon), np.min(roads.pt_lat)
    return float(low_lon), float(low_lat), float(np.max(roads.pt_lon)), float(np.max(roads.pt_lat))


def _version() -> str:
    try:
        return version("terrain")
    except PackageNotFoundError:
        return "unknown"
