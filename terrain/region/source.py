"""The map extract that a region keeps, and where its changes are published."""

from __future__ import annotations

import os
import shutil
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from terrain.region.disk import file_errors
from terrain.region.store import load_value, save_value

SOURCE = "source"
EXTRACT = "extract.osm.pbf"
CHANGES = "changes.osh.pbf"


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """What brings a region to date.

    url : base address of the change files; sequence : of the last one that is in the extract
    to_time : ISO 8601 UTC, to which the extract is complete
    """

    url: str
    sequence: int
    to_time: str


def source_of(extract: Path) -> Source | None:
    """What an extract says of its own changes; None if it says nothing, or cannot be read.

    Source: the header fields osmosis_replication_* of the OSM PBF format, read by pyosmium.
    """
    from osmium.replication.utils import get_replication_header

    if not extract.name.endswith(".pbf"):
        return None
    try:
        header = get_replication_header(str(extract))
    except RuntimeError:
        return None  # the reader of the map says what is wrong with it
    if header.url is None or header.sequence is None:
        return None
    moment = header.timestamp or datetime.fromtimestamp(0, UTC)
    return Source(url=header.url, sequence=header.sequence, to_time=moment.isoformat())


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptSource:
    """The map of a region as files: an extract, and what changed since, None if nothing did."""

    extract: Path
    changes: Path | None
    source: Source


def keep_source(pack: Path, kept: KeptSource) -> None:
    """Put the map and where its changes are into a pack."""
    folder = pack / SOURCE
    save_value(folder, kept.source)
    link_or_copy(kept.extract, folder / EXTRACT)
    if kept.changes is not None:
        link_or_copy(kept.changes, folder / CHANGES)


def kept_source(pack: Path) -> KeptSource | None:
    """The map that a pack keeps; None if it keeps none. Raises RegionDamaged."""
    folder = pack / SOURCE
    if not folder.is_dir():
        return None
    changes = folder / CHANGES
    return KeptSource(
        extract=folder / EXTRACT, changes=changes if changes.exists() else None,
        source=load_value(folder, Source),
    )  # fmt: skip


def link_or_copy(path: Path, to: Path) -> None:
    """The same file under another name; a copy where the disk knows no second names."""
    with file_errors(to):
        try:
            os.link(path, to)
        except OSError:
            shutil.copyfile(path, to)
