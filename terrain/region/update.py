"""Bringing a region to date by the changes of its map, all or nothing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from terrain.errors import RegionError
from terrain.region.build import Rebuild, no_progress, rebuild_region
from terrain.region.changed import compare_ways
from terrain.region.changes import fetch_changes, merge_changes, newest_state
from terrain.region.disk import remove_tree
from terrain.region.download import Patience
from terrain.region.pack import folder_lock
from terrain.region.region import open_folder, open_region
from terrain.region.scan import Progress
from terrain.region.source import kept_source
from terrain.text.message import message


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
    extract, source = kept
    if server is not None:
        source = replace(source, url=server)
    work = home / "downloads" / f"{old.folder.name}-update"
    with folder_lock(work, busy=message("another update of this region is running")):
        progress("Asking for changes", None)
        state = newest_state(source.url, work, patience)
        if state.sequence <= source.sequence:
            remove_tree(work)
            return Update(from_time=source.to_time, to_time=source.to_time)
        changes = fetch_changes(source, state, work, patience=patience, progress=progress)
        progress("Merging the changes", None)
        merged = work / "merged.osm.pbf"
        newer = merge_changes(extract, changes, merged, source=source, state=state)
        rebuild_region(
            Rebuild(folder=old.folder, pack=old.pack, info=old.info, extract=merged, source=newer),
            progress,
        )
        remove_tree(work)
    done = compare_ways(old.roads.ways, open_folder(old.folder).roads.ways)
    return Update(
        from_time=source.to_time, to_time=newer.to_time, n_changes=len(changes),
        new=tuple(done.new.tolist()), gone=tuple(done.gone.tolist()),
        changed=tuple(done.changed.tolist()),
    )  # fmt: skip
