"""What regions there are, how large they are, and taking one away."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from terrain.errors import RegionError, RegionMissing
from terrain.region.disk import file_errors, remove_tree, sync_folder
from terrain.region.home import checked_name, regions_folder
from terrain.region.pack import CURRENT, build_lock, check_pack, current_pack, read_manifest
from terrain.region.region import Region, open_folder, region_folders
from terrain.text.message import message


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """One region found: open, or the reason why it cannot be opened."""

    name: str
    folder: Path
    region: Region | None
    fault: RegionError | None


def list_regions(home: Path) -> list[Listed]:
    """All regions under `home`, by name; damaged ones are listed with their fault."""
    out = []
    for folder in region_folders(home):
        try:
            region, fault = open_folder(folder), None
        except RegionError as exc:
            region, fault = None, exc
        out.append(Listed(name=folder.name, folder=folder, region=region, fault=fault))
    return out


def size_bytes(region: Region) -> int:
    """Bytes on disk of the pack in use."""
    return sum(size for size, _ in read_manifest(region.pack).values())


def check_region(folder: Path) -> int:
    """Read every file of the region and compare checksums; the number of files.

    Raises RegionDamaged with the first fault.
    """
    pack = current_pack(folder)
    check_pack(pack, contents=True)
    return len(read_manifest(pack))


def remove_region(name: str, home: Path) -> Path:
    """Take a region away, damaged or not; the folder it was in. Raises RegionMissing."""
    folder = regions_folder(home) / checked_name(name)
    if not folder.is_dir():
        known = ", ".join(path.name for path in region_folders(home))
        raise RegionMissing(
            message("there is no region {name}", name=repr(name)),
            "",
            message("There are: {known}.", known=str(known)) if known else "",
        )
    with build_lock(folder):
        # Without CURRENT it is gone for every reader, even if the rest takes a while.
        with file_errors(folder):
            (folder / CURRENT).unlink(missing_ok=True)
        sync_folder(folder)
        remove_tree(folder)
    return folder
