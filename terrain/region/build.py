"""Building a region: every step in order, aside, put in place at the end in one step."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import partial
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import numpy as np

from terrain.errors import RegionError, TerrainError, UsageError
from terrain.region.changed import CHANGED, carried_on, changed_ways, compare_ways
from terrain.region.dem.build import HeightsSummary, build_heights, open_heights
from terrain.region.dem.fetch import TILE_SERVER, resolve_dem
from terrain.region.disk import file_errors, remove_tree
from terrain.region.edge_grade import edge_grade_pct
from terrain.region.home import checked_name, regions_folder
from terrain.region.info import OSM_ATTRIBUTION, RegionInfo
from terrain.region.kept import KeptMap, keep_map, take_kept
from terrain.region.osm import MapData, build_map
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
from terrain.region.scan import Progress, RawMap, scan_files
from terrain.region.source import KeptSource, keep_source, link_or_copy, source_of
from terrain.region.stats import region_stats
from terrain.region.store import load_value, save_value
from terrain.region.zones import zone_grid
from terrain.stages.help.fields import help_fields
from terrain.stages.speed.edges import edge_bend_deg_km, edge_speed_kph
from terrain.stages.speed.pace import rider_of
from terrain.stages.ways.fit import fit_way_ground
from terrain.stages.ways.severity import severity_of
from terrain.tables.speed import BREAKDOWN_VAN, Traveller
from terrain.text.message import message
from terrain.values.arrays import FloatArray
from terrain.values.ground import Severity, WayGround
from terrain.values.heights import HeightsView
from terrain.values.help import HelpFields
from terrain.values.trip import Trip
from terrain.values.views import RoadsView


def no_progress(step: str, share: float | None) -> None:
    """Takes no notice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rebuild:
    """A region whose map goes on, with the heights and the climate it has.

    pack, info : in use, and replaced; kept : its map, brought to date
    read : the same as read, and what is kept of that; None if it is to be read of its extract,
        which nothing changed since
    """

    folder: Path
    pack: Path
    info: RegionInfo
    kept: KeptSource
    read: tuple[RawMap, KeptMap] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Order:
    """What a region is to be built from; find_dem tells the elevation files for its roads.

    kept : the map to be kept with the region, None if none is; was : the region before
    """

    name: str
    osm_paths: tuple[Path, ...]
    find_dem: Callable[..., tuple[tuple[Path, ...], tuple[str, ...]]]
    notes: tuple[str, ...]
    climate: Path | None = None
    credit_lines: tuple[str, ...] | None = None
    kept: KeptSource | None = None
    was: Rebuild | None = None


def build_region(
    name: str,
    osm_paths: tuple[Path, ...],
    dem_paths: tuple[Path, ...] = (),
    *,
    replace: bool = False,
    home: Path,
    tile_server: str = TILE_SERVER,
    progress: Progress = no_progress,
    notes: tuple[str, ...] = (),
    climate: Path | None = None,
    credit_lines: tuple[str, ...] | None = None,
    keep_extract: bool = False,
) -> Path:
    """Make a region from OSM extracts and elevation tiles; its folder.

    dem_paths : elevation files and folders; "auto" among them fetches tiles from tile_server
        and keeps them in the home, so that the next build needs no network
    progress : called with the step at hand and the share of it done, None if not known
    notes : what users of the region should know of its data, one sentence each
    climate : folder of the operator's own monthly climate grids
    credit_lines : whom to thank for map and heights that are not OpenStreetMap's and SRTM's
    keep_extract : keep the map extract in the region if it names its change files, for updates
    All or nothing: until the last step the old region, if any, stays as it was.
    Raises UsageError for a bad name or a region that is there without `replace`, MapDataError
    for input that cannot be used, TerrainError if the disk refuses.
    """
    folder = check_name_free(name, home, replace=replace)
    if not osm_paths:
        raise UsageError(
            message("no map extract was given"), "", message("Give one or more with --osm FILE.")
        )
    find_dem = partial(resolve_dem, dem_paths, cache=home / "elevation", base_url=tile_server)
    source = source_of(osm_paths[0]) if keep_extract and len(osm_paths) == 1 else None
    kept = KeptSource(extract=osm_paths[0], changes=None, source=source) if source else None
    order = _Order(
        name=name, osm_paths=osm_paths, find_dem=find_dem, notes=notes, climate=climate,
        credit_lines=credit_lines, kept=kept,
    )  # fmt: skip
    with build_lock(folder):
        _make(folder, order, progress)
    return folder


def rebuild_region(rebuild: Rebuild, progress: Progress = no_progress) -> None:
    """Make a region anew from its extract brought to date, as `build_region` does.

    Raises TerrainError if another build put a new pack in place since `rebuild.pack` was read.
    """
    order = _Order(
        name=rebuild.info.name, osm_paths=(rebuild.kept.extract,),
        find_dem=lambda **_: ((), ()), notes=(), kept=rebuild.kept, was=rebuild,
    )  # fmt: skip
    with build_lock(rebuild.folder):
        if _pack_in_use(rebuild.folder) != rebuild.pack:
            raise TerrainError(
                message("the region was built anew meanwhile"),
                str(rebuild.folder),
                message("Start again."),
            )
        _make(rebuild.folder, order, progress)


def _make(folder: Path, order: _Order, progress: Progress) -> None:
    """One pack, put in place at the end in one step; the region's lock is held."""
    _clear_leftovers(folder)
    pack = new_pack(folder)
    try:
        _fill_pack(pack, order, progress)
        progress("Putting the region in place", None)
        seal_pack(pack)
        check_pack(pack)  # seal_pack has just read what the files hold
        adopt_pack(folder, pack)
    except BaseException:
        if _pack_in_use(folder) != pack:
            remove_tree(pack)
        if not (folder / CURRENT).exists():
            with suppress(TerrainError):  # on some systems not while its lock is held
                remove_tree(folder)
        raise


def check_name_free(name: str, home: Path, *, replace: bool) -> Path:
    """The folder a region of that name will have. Raises UsageError if it may not be built."""
    folder = regions_folder(home) / checked_name(name)
    if (folder / CURRENT).exists() and not replace:
        raise UsageError(
            message("there is a region {name} already", name=repr(name)),
            str(folder),
            message("Give --replace to build it anew, or choose another name."),
        )
    return folder


def _clear_leftovers(folder: Path) -> None:
    """Remove what builds that died left behind."""
    used = _pack_in_use(folder)
    clear_packs(folder, keep=None if used is None else used.name)


def _pack_in_use(folder: Path) -> Path | None:
    try:
        return current_pack(folder)
    except RegionError:
        return None


def _fill_pack(pack: Path, order: _Order, progress: Progress) -> None:
    """The steps of a build, in order; each uses what the ones before it made."""
    data = build_map(_read(pack, order, progress), progress)
    _save(pack, "roads", data.roads, progress)
    _save(pack, "places", data.places, progress)
    _save(pack, "areas", data.areas, progress)

    lon, lat = data.roads.pt_lon, data.roads.pt_lat
    if order.was is not None:
        _take_over(order.was.pack, pack)
        was = load_value(order.was.pack / "roads", RoadsView)
        log = carried_on(
            changed_ways(order.was.pack), compare_ways(was.ways, data.roads.ways),
            datetime.now(UTC).timestamp(),
        )  # fmt: skip
        _save(pack, CHANGED, log, progress)
    dem_paths, credit = order.find_dem(lon=lon, lat=lat, progress=progress)
    heights = None
    if dem_paths:
        known = (data.places.lon, data.places.lat, data.place_ele_m)
        box = roads_bbox(data.roads)
        heights = build_heights(dem_paths, box, pack / "heights", progress, known=known)

    _save(pack, "zones", zone_grid(roads_bbox(data.roads)), progress)

    if order.climate is not None:
        from terrain.region.climate import read_climate  # rasterio takes half a second

        progress("Reading climate grids", None)
        grid = read_climate(order.climate, roads_bbox(data.roads))
        _save(pack, "climate", grid, progress)

    progress("Judging the ground of every way", None)
    ground = fit_way_ground(data.roads, data.places)
    _save(pack, "ground", ground, progress)

    progress("Finding the nearest help by road", None)
    ele = open_heights(pack / "heights") if (pack / "heights").is_dir() else None
    _save(pack, "help", _help_fields(data, ground, ele), progress)

    _save(pack, "stats", region_stats(data.roads, data.places, ground), progress)
    sources = tuple(path.name for path in (*order.osm_paths, *dem_paths))
    info = _info(order, data, heights, sources=sources, credit=credit)
    _save(pack, "info", info if order.was is None else _carried_on(info, order.was.info), progress)


def _read(pack: Path, order: _Order, progress: Progress) -> RawMap:
    """The map as read; what updates need is put into the pack."""
    if order.kept is not None:
        keep_source(pack, order.kept)
    if order.was is not None and order.was.read is not None:
        raw, kept = order.was.read
        take_kept(kept, pack)
        return raw
    keep = None if order.kept is None else partial(keep_map, pack)
    return scan_files(order.osm_paths, progress, keep)


def _take_over(old: Path, pack: Path) -> None:
    """Heights and climate of the pack before; their files are never changed, so they are shared."""
    for name in ("heights", "climate"):
        if (old / name).is_dir():
            with file_errors(pack / name):
                (pack / name).mkdir()
            for path in (old / name).iterdir():
                link_or_copy(path, pack / name / path.name)


def _carried_on(info: RegionInfo, was: RegionInfo) -> RegionInfo:
    """The facts of a region brought to date: all but its map as they were."""
    notes = was.notes
    if was.elevation is not None and _grew(was.bbox, info.bbox) and _BARE not in notes:
        notes = (*notes, _BARE)
    return replace(
        info, attribution=was.attribution, sources=was.sources, elevation=was.elevation, notes=notes
    )


_GREW_DEG = 0.001
_BARE = message(
    "The map has grown since the heights were read; build the region anew for heights there."
)


def _grew(was: tuple[float, float, float, float], now: tuple[float, float, float, float]) -> bool:
    return (
        min(now[0] - was[0], now[1] - was[1]) < -_GREW_DEG
        or max(now[2] - was[2], now[3] - was[3]) > _GREW_DEG
    )


def _save(pack: Path, name: str, value: object, progress: Progress) -> None:
    progress(f"Writing {name}", None)
    save_value(pack / name, value)


def _help_fields(
    data: MapData, ground: WayGround, heights: HeightsView | None = None
) -> HelpFields:
    """Distances and times to help, at the pace of a steady rider and of a breakdown van."""
    roads, p = data.roads, ground.p.astype(np.float64)
    level = severity_of(roads.ways, np.arange(len(roads.ways)), p)
    severity = np.where(level < 0, np.nan, level / float(max(Severity)))
    grade = None if heights is None else edge_grade_pct(roads, heights)
    bends = edge_bend_deg_km(roads)

    def pace(traveller: Traveller) -> FloatArray:
        return edge_speed_kph(
            roads, p, traveller=traveller, bend_deg_km=bends, severity=severity, grade_pct=grade
        )

    ride_kph, van_kph = pace(rider_of(Trip())), pace(BREAKDOWN_VAN)
    return help_fields(
        roads,
        data.places,
        way_p=p,
        edge_time_s=3.6 * roads.edge_length_m / ride_kph,
        edge_van_s=3.6 * roads.edge_length_m / van_kph,
    )


def _info(
    order: _Order,
    data: MapData,
    heights: HeightsSummary | None,
    *,
    sources: tuple[str, ...],
    credit: tuple[str, ...],
) -> RegionInfo:
    roads = data.roads
    attribution: tuple[str, ...] = order.credit_lines or (OSM_ATTRIBUTION,)
    if heights is not None and order.credit_lines is None:
        attribution = (
            *attribution,
            *(credit or (message("Heights from {source}", source=heights.source),)),
        )
    if order.climate is not None:
        attribution = (
            *attribution,
            message("Climate grids of the operator: {name}", name=order.climate.name),
        )
    return RegionInfo(
        name=order.name,
        map_date=data.map_date,
        bbox=roads_bbox(roads),
        attribution=attribution,
        built_at=datetime.now(UTC).isoformat(timespec="seconds"),
        terrain_version=_version(),
        sources=sources,
        elevation=None if heights is None else heights.source,
        notes=(*order.notes, *(() if heights is None else heights.notes)),
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
