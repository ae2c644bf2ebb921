"""OSM change files: fetched one after another, and merged into an extract.

Source: the layout of OSM replication servers (state.txt with sequenceNumber and timestamp, change
NNNNNNNNN at NNN/NNN/NNN.osc.gz), as pyosmium reads it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from terrain.errors import MapDataError
from terrain.region.disk import file_errors
from terrain.region.download import NotOnServerError, Patience, download
from terrain.region.scan import Progress
from terrain.region.source import Source
from terrain.text.message import message

_STATE_BYTES = 10_000
_CHANGE_BYTES = 500_000_000
_MOST_CHANGES = 1_000
LIGHT, UNPACKED = "pbf,pbf_compression_level=1", "pbf,pbf_compression=none"
_FIELD = re.compile(r"^\s*(\w+)\s*=\s*(.*?)\s*$", re.MULTILINE)
_ANEW = message("Fetch the region anew with 'terrain region fetch NAME --replace'.")


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """The newest change of a server. time : ISO 8601 UTC"""

    sequence: int
    time: str


def newest_state(url: str, folder: Path, patience: Patience | None = None) -> State:
    """What a replication server holds now. Raises MapDataError."""
    address = f"{url.rstrip('/')}/state.txt"
    path = folder / "state.txt"
    try:
        download(address, path, most_bytes=_STATE_BYTES, patience=patience)
    except NotOnServerError as exc:
        raise MapDataError(
            message("the server publishes no changes there"),
            address,
            message("Give another with --server URL."),
        ) from exc
    with file_errors(path):
        text = path.read_text(encoding="utf-8", errors="replace")
        path.unlink()
    fields = dict(_FIELD.findall(text))
    try:
        moment = datetime.strptime(
            fields["timestamp"].replace("\\", ""), "%Y-%m-%dT%H:%M:%SZ"
        ).replace(tzinfo=UTC)
        return State(sequence=int(fields["sequenceNumber"]), time=moment.isoformat())
    except (KeyError, ValueError) as exc:
        raise MapDataError(
            message("the server's state cannot be read"),
            address,
            message("Give another with --server URL."),
        ) from exc


def fetch_changes(
    source: Source, state: State, folder: Path, *, patience: Patience | None, progress: Progress
) -> tuple[Path, ...]:
    """The change files after the extract's own, up to the newest; those that are here are kept.

    Raises MapDataError if there are too many, or the server does not hold one of them.
    """
    n = state.sequence - source.sequence
    if n > _MOST_CHANGES:
        raise MapDataError(
            message(
                "the region is {n} change files behind, more than {most_changes}",
                n=f"{n:,}",
                most_changes=f"{_MOST_CHANGES:,}",
            ),
            source.url,
            _ANEW,
        )
    paths = []
    for i, number in enumerate(range(source.sequence + 1, state.sequence + 1), start=1):
        progress(f"Fetching change {i} of {n}", (i - 1) / n)
        digits = f"{number:09d}"
        name = f"{digits[:3]}/{digits[3:6]}/{digits[6:]}.osc.gz"
        path = folder / f"{digits}.osc.gz"
        if not path.exists():
            address = f"{source.url.rstrip('/')}/{name}"
            try:
                download(address, path, most_bytes=_CHANGE_BYTES, patience=patience)
            except NotOnServerError as exc:
                raise MapDataError(
                    message(
                        "the server no longer holds the changes since {to_time}",
                        to_time=str(source.to_time[:10]),
                    ),
                    address,
                    _ANEW,
                ) from exc
        paths.append(path)
    return tuple(paths)


def merge_changes(extract: Path, changes: tuple[Path, ...], out: Path, *, source: Source) -> None:
    """Write the extract with the changes applied, and say in its header how far it goes then.

    Raises MapDataError if a change file is damaged.
    """
    stamp = datetime.fromisoformat(source.to_time).strftime("%Y-%m-%dT%H:%M:%SZ")
    head = {"base_url": source.url, "sequence_number": str(source.sequence), "timestamp": stamp}
    apply_changes(extract, changes, out, head, url=source.url)


def apply_changes(
    extract: Path, changes: tuple[Path, ...], out: Path, head: dict[str, str] | None = None, *,
    url: str = "", form: str = LIGHT,
) -> None:  # fmt: skip
    """Write an extract with changes applied. head : of its replication; url : where from

    Raises MapDataError if a file is damaged.
    """
    import osmium

    with _merging(changes, out, url, onto=extract.name) as merger:
        reader = osmium.io.Reader(str(extract))
        header = osmium.io.Header()
        for key, value in (head or {}).items():
            header.set(f"osmosis_replication_{key}", value)
        # Packed lightly: half of the merging was packing, for a file a thirtieth smaller.
        writer = osmium.io.Writer(osmium.io.File(str(out), form), header)
        try:
            merger.apply_to_reader(reader, writer, False)
        finally:
            writer.close()
            reader.close()


def join_changes(changes: tuple[Path, ...], out: Path, *, url: str) -> None:
    """Write the newest of each object that changed, as one file of changes.

    out : its name says its format, .osh.pbf. Raises MapDataError as `merge_changes`.
    """
    import osmium

    with (
        _merging(changes, out, url, onto=out.name) as merger,
        osmium.SimpleWriter(osmium.io.File(str(out)), overwrite=True) as writer,
    ):
        merger.apply(writer, simplify=True)


@contextmanager
def _merging(changes: tuple[Path, ...], out: Path, url: str, *, onto: str) -> Iterator[Any]:
    """Has read the changes; if they, or what they are put onto, cannot be read, says so."""
    import osmium

    with file_errors(out):
        out.unlink(missing_ok=True)
    reading = "the changes"
    try:
        merger = osmium.MergeInputReader()
        for path in changes:
            reading = path.name
            merger.add_file(str(path))
        reading = onto
        yield merger
    except (RuntimeError, ValueError) as exc:
        for path in (*changes, out):
            if path.parent == out.parent:  # fetched anew the next time; the region's own stay
                with file_errors(path):
                    path.unlink(missing_ok=True)
        raise MapDataError(
            message("{reading} cannot be read ({reason})", reading=str(reading), reason=str(exc)),
            url,
            message("Run the command again."),
        ) from exc
