"""An open region: views over its files, mapped, never copied."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from terrain.errors import RegionDamaged, RegionMissing
from terrain.region.home import is_region_name, regions_folder
from terrain.region.info import RegionInfo
from terrain.region.pack import CURRENT, check_pack, current_pack, reads_all
from terrain.region.stats import RegionStats
from terrain.region.store import load_value
from terrain.text.message import message
from terrain.values.climate import ClimateGrid
from terrain.values.ground import WayGround
from terrain.values.heights import HeightsView
from terrain.values.help import HelpFields
from terrain.values.places import AreasView
from terrain.values.views import PlacesView, RoadsView
from terrain.values.zones import ZoneGrid

if TYPE_CHECKING:
    from collections.abc import Callable

    import geopandas
    import networkx

_READ_LESS = message(
    "The region was built by an earlier version, which read no steps and missed some military and "
    "protected areas and ferries that take no cars: build or fetch it anew."
)

Bbox = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Region:
    """A local map pack, ready to use.

    folder : the region's folder; pack : the pack within it that is open
    stats : lengths and counts for people
    ground : what each way's ground is likely to be, fitted to the region
    heights : elevation, None if the region was built without
    help : road distance and time from every node to the nearest helpers
    climate : the operator's own grids, None if there are none
    areas : military and protected areas, None if it was built before these were kept
    zones : its time zones, None if it was built before these were kept
    lacks : what was not read of its map, as it was built by an earlier version
    """

    folder: Path
    pack: Path
    info: RegionInfo
    roads: RoadsView
    places: PlacesView
    stats: RegionStats
    ground: WayGround
    help: HelpFields
    heights: HeightsView | None = None
    climate: ClimateGrid | None = None
    areas: AreasView | None = None
    zones: ZoneGrid | None = None
    lacks: tuple[str, ...] = ()

    @property
    def notes(self) -> tuple[str, ...]:
        """What its user should know about its data, one sentence each."""
        return (*self.info.notes, *self.lacks)

    def to_networkx(
        self, bbox: Bbox | None = None, *, only_open: bool = False
    ) -> networkx.MultiDiGraph[int]:
        """The road graph in osmnx's conventions; see terrain.region.export.to_networkx."""
        from terrain.region.export import to_networkx

        return to_networkx(self.roads, self.ground, bbox, only_open=only_open)

    def to_geodataframe(self, bbox: Bbox | None = None) -> geopandas.GeoDataFrame:
        """One row per edge; see terrain.region.export.to_geodataframe."""
        from terrain.region.export import to_geodataframe

        return to_geodataframe(self.roads, self.ground, bbox)

    def __reduce__(self) -> tuple[Callable[..., Region], tuple[Path, Path]]:
        # Worker processes map the same files instead of receiving copies. The same pack, too:
        # edge numbers of a match mean nothing in another.
        return open_pinned, (self.folder, self.pack)


def open_region(name_or_folder: str | Path, home: Path) -> Region:
    """Open a region by name or by its folder, in constant time.

    Raises RegionMissing if there is none, RegionDamaged if its files are not as they were built.
    """
    return open_folder(find_folder(name_or_folder, home))


def find_folder(name_or_folder: str | Path, home: Path) -> Path:
    """The folder of a region given by name or folder. Raises RegionMissing."""
    text = str(name_or_folder)
    if is_region_name(text):
        folder = regions_folder(home) / text
        if (folder / CURRENT).is_file():
            return folder
    folder = Path(name_or_folder)
    if (folder / CURRENT).is_file():
        return folder.resolve()
    known = [path.name for path in region_folders(home)]
    there = f"There are: {', '.join(known)}." if known else "There are no regions yet."
    raise RegionMissing(
        message("there is no region {text}", text=repr(text)),
        "",
        message("{there} Build one with 'terrain region build'.", there=str(there)),
    )


def region_folders(home: Path) -> list[Path]:
    """Folders of all regions under `home`, by name."""
    top = regions_folder(home)
    if not top.is_dir():
        return []
    return sorted(path for path in top.iterdir() if (path / CURRENT).is_file())


def open_pinned(folder: Path, pack: Path) -> Region:
    """The pack that another process has open. Raises RegionDamaged if it was replaced since."""
    try:
        return _open_pack(folder, pack)
    except RegionDamaged as exc:
        if pack.is_dir():
            raise
        raise RegionDamaged(
            message("the region was built anew while work on it was under way"),
            str(folder),
            message("Start again."),
        ) from exc


def open_folder(folder: Path) -> Region:
    """Open the region in a folder. Raises RegionMissing, RegionDamaged."""
    pack = current_pack(folder)
    try:
        return _open_pack(folder, pack)
    except RegionDamaged:
        # A build may have put a new pack in place between the two steps.
        newer = current_pack(folder)
        if newer == pack:
            raise
        return _open_pack(folder, newer)


def _open_pack(folder: Path, pack: Path) -> Region:
    check_pack(pack)
    heights, climate, areas = pack / "heights", pack / "climate", pack / "areas"
    zones = pack / "zones"
    return Region(
        folder=folder,
        pack=pack,
        info=load_value(pack / "info", RegionInfo),
        roads=load_value(pack / "roads", RoadsView),
        places=load_value(pack / "places", PlacesView),
        stats=load_value(pack / "stats", RegionStats),
        ground=load_value(pack / "ground", WayGround),
        help=load_value(pack / "help", HelpFields),
        heights=load_value(heights, HeightsView) if heights.is_dir() else None,
        climate=load_value(climate, ClimateGrid) if climate.is_dir() else None,
        areas=load_value(areas, AreasView) if areas.is_dir() else None,
        zones=load_value(zones, ZoneGrid) if zones.is_dir() else None,
        lacks=() if reads_all(pack) else (_READ_LESS,),
    )
