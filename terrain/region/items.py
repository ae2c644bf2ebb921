"""Reading an extract, of whatever form, and what its head tells."""

from __future__ import annotations

import re
import tempfile
from contextlib import suppress
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import osmium

from terrain.region.pbf import Extract, read_pbf
from terrain.region.wire import UnpackedError

_EPOCH_DAY = date(1970, 1, 1).toordinal()
# The binary form with what is read of it alone; "osh" tells what is deleted.
_PLAIN = "osh.pbf,pbf_compression=none,add_metadata=version+timestamp"


def read_extract(path: Path) -> Extract:
    """The wanted objects of an extract.

    What is not in the binary form, or not as most are, is written anew by the reader of all forms:
    as it is, then kind by kind. Raises RuntimeError, ValueError, OSError or InvalidLocationError if
    it cannot be read.
    """
    if _has_feature(path, "LocationsOnWays"):  # its nodes may be left out
        raise ValueError("its ways hold positions of their own; give one with all nodes instead")
    if path.suffix == ".pbf":
        try:
            return read_pbf(path)
        except UnpackedError:
            raise
        except ValueError:
            pass
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "copy.pbf"
        _write_plain(path, copy, osmium.osm.ALL)
        with suppress(ValueError):
            return read_pbf(copy)
        _write_plain(path, copy, osmium.osm.NODE, osmium.osm.WAY, osmium.osm.RELATION)
        return read_pbf(copy)


def _write_plain(path: Path, copy: Path, *kinds: Any) -> None:
    with osmium.SimpleWriter(osmium.io.File(copy, _PLAIN), overwrite=True) as writer:
        for kind in kinds:
            osmium.apply(osmium.io.Reader(path, kind), writer)


def is_history(path: Path) -> bool:
    """True for a file that holds past states of the map too. Raises RuntimeError."""
    header = _header(path)
    return bool(header.has_multiple_object_versions) or ".osh" in path.suffixes


def stamp_of(path: Path) -> str:
    """The time of the map as the file's head tells it, ISO 8601; "" if it does not."""
    header = _header(path)
    text = header.get("osmosis_replication_timestamp") or header.get("timestamp")
    if text:
        return str(text)
    with path.open("rb") as file:
        found = re.search(rb'<meta osm_base="([^"]+)"', file.read(2048))
    return found[1].decode("ascii", "replace") if found else ""


def _has_feature(path: Path, name: str) -> bool:
    header, number = _header(path), 0
    while feature := header.get(f"pbf_optional_feature_{number}"):
        if feature == name:
            return True
        number += 1
    return False


def _header(path: Path) -> Any:
    with osmium.io.Reader(path, osmium.osm.NOTHING) as reader:
        return reader.header()


@cache
def day_of(stamp: str) -> int:
    """Days since 1970-01-01 of an ISO 8601 day; 0 if it is none."""
    try:
        return date.fromisoformat(stamp[:10]).toordinal() - _EPOCH_DAY
    except ValueError:
        return 0
