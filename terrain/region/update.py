"""Bringing a region to date by the changes of its map, all or nothing."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from terrain.errors import RegionDamaged, RegionError
from terrain.region.build import Rebuild, no_progress, rebuild_region
from terrain.region.changed import compare_ways
from terrain.region.changes import fetch_changes, join_changes, merge_changes, newest_state
from terrain.region.disk import remove_tree
from terrain.region.download import Patience
from terrain.region.items import day_of
from terrain.region.kept import KeptMap, kept_map
from terrain.region.pack import folder_lock
from terrain.region.region import Region, open_folder, open_region
from terrain.region.renew import AnewError, renew
from terrain.region.scan import Progress, RawMap
from terrain.region.source import KeptSource, Source, kept_source
from terrain.text.message import message

#: Changes are kept beside the extract until they are a fiftieth of it: to pack and read a whole
#: country anew costs more than all else of an update.
_FEW_OF, _FEW_BYTES = 50, 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Update:
    """What an update did.

    from_time, to_time : ISO 8601 UTC, how far the map went before and goes now
    n_changes : change files applied; 0 if there was nothing newer
    new, gone, changed : ids of the ways of the road graph that came, went, or are tagged otherwise
    """

    from_time: str
    to_time: str
    n_changes: int = 0
    new: tuple[int, ...] = ()
    gone: tuple[int, ...] = ()
    changed: tuple[int, ...] = ()


def update_region(
    name: str,
    home: Path,
    *,
    server: str | None = None,
    patience: Patience | None = None,
    progress: Progress = no_progress,
) -> Update:
    """Apply the changes published since the region's extract, and put the new pack in place.

    server : base address of the change files in place of the one the extract names
    Until the last step the old region stays as it was. What was fetched before a fault is kept.
    Raises RegionError if the region keeps no extract, MapDataError if the changes cannot be
    fetched or read, TerrainError if another update runs or the disk refuses.
    """
    old = open_region(name, home)
    kept = kept_source(old.pack)
    if kept is None:
        raise RegionError(
            message("the region keeps no map extract that could be brought to date"),
            str(old.folder),
            message(
                "Fetch it with 'terrain region fetch', or build it with --keep-extract from an "
                "extract that names its change files."
            ),
        )
    source = kept.source if server is None else replace(kept.source, url=server)
    work = home / "downloads" / f"{old.folder.name}-update"
    with folder_lock(work, busy=message("another update of this region is running")):
        progress("Asking for changes", None)
        state = newest_state(source.url, work, patience)
        if state.sequence <= source.sequence:
            remove_tree(work)
            return Update(from_time=source.to_time, to_time=source.to_time)
        changes = fetch_changes(source, state, work, patience=patience, progress=progress)
        newer = Source(url=source.url, sequence=state.sequence, to_time=state.time)
        now, read = changed_map(old, replace(kept, source=newer), changes, work, progress)
        rebuild_region(
            Rebuild(folder=old.folder, pack=old.pack, info=old.info, kept=now, read=read), progress
        )
        remove_tree(work)
    done = compare_ways(old.roads.ways, open_folder(old.folder).roads.ways)
    return Update(
        from_time=source.to_time, to_time=newer.to_time, n_changes=len(changes),
        new=tuple(done.new.tolist()), gone=tuple(done.gone.tolist()),
        changed=tuple(done.changed.tolist()),
    )  # fmt: skip


def changed_map(
    old: Region, kept: KeptSource, changes: tuple[Path, ...], work: Path, progress: Progress
) -> tuple[KeptSource, tuple[RawMap, KeptMap] | None]:
    """The map with the changes as it is to be kept, and as read; None if it has to be read anew.

    kept : as it is kept now, but with the source after the changes
    """
    progress("Applying the changes", None)
    since, few = work / "since.osh.pbf", max(_FEW_BYTES, kept.extract.stat().st_size / _FEW_OF)
    before = () if kept.changes is None else (kept.changes,)
    join_changes((*before, *changes), since, url=kept.source.url)
    if since.stat().st_size < few:
        now = replace(kept, changes=since)
        with suppress(AnewError, RegionDamaged):
            read = kept_map(old.pack)
            if read is not None:
                raw, read = renew(read, now, work)
                raw.newest_day = max(raw.newest_day, day_of(kept.source.to_time))
                return now, (raw, read)
        progress("Reading the whole map, as nothing that was read before can be used", None)
    progress("Merging the changes", None)
    merged = work / "merged.osm.pbf"
    merge_changes(kept.extract, (since,), merged, source=kept.source)
    return replace(kept, extract=merged, changes=None), None
