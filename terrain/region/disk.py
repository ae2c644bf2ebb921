"""Writing files so that they are whole and on the disk, or an error says why not."""

from __future__ import annotations

import errno
import hashlib
import os
import shutil
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from terrain.errors import TerrainError
from terrain.text.message import message

_CHUNK = 1 << 24

_FREE = message("Free some space and run the command again.")
_RIGHTS = message(
    "Change the rights of the folder, or set TERRAIN_HOME to one that can be written."
)
_REASONS = {
    errno.ENOSPC: (message("the disk is full"), _FREE),
    errno.EDQUOT: (message("the disk quota is used up"), _FREE),
    errno.EFBIG: (
        message("the file would be larger than allowed"),
        message("Raise the limit for file sizes."),
    ),
    errno.EROFS: (
        message("the disk is read-only"),
        message("Set TERRAIN_HOME to a folder that can be written."),
    ),
    errno.EACCES: (message("there is no permission to write here"), _RIGHTS),
    errno.EPERM: (message("there is no permission to write here"), _RIGHTS),
    errno.EIO: (
        message("the disk reports a fault"),
        message("Check the disk; nothing old was changed."),
    ),
    errno.ENOTDIR: (
        message("a file stands where a folder is needed"),
        message("Remove it, or choose another."),
    ),
}


@contextmanager
def file_errors(path: Path) -> Iterator[None]:
    """Turns an OSError of writing under `path` into a TerrainError that says what to do."""
    try:
        yield
    except OSError as exc:
        what, fix = _REASONS.get(
            exc.errno or 0,
            (
                message("cannot write ({reason})", reason=str(exc.strerror or exc)),
                message("Check the folder and disk."),
            ),
        )
        raise TerrainError(what, str(exc.filename or path), fix) from exc


def write_file(path: Path, parts: Iterable[bytes | memoryview]) -> None:
    """Write the parts as one file. Raises TerrainError if the disk refuses.

    The disk may hold it only later; sync_file and sync_folder wait for that.
    """
    with file_errors(path), path.open("wb", buffering=0) as file:
        for part in parts:
            _write_all(file.fileno(), memoryview(part))


def sync_file(path: Path) -> None:
    """Wait until the disk holds the whole file."""
    with file_errors(path), path.open("rb+") as file:
        os.fsync(file.fileno())


def _write_all(fd: int, view: memoryview) -> None:
    at = 0
    while at < len(view):
        at += os.write(fd, view[at : at + _CHUNK])


def sync_folder(folder: Path) -> None:
    """Wait until the names in the folder are on the disk, where the system can say so."""
    if os.name == "nt":
        return
    with file_errors(folder):
        fd = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(fd)
        finally:
            os.close(fd)


def replace_file(path: Path, text: str) -> None:
    """Put a small text file in place in one step: readers see the old or the new one, whole."""
    aside = path.with_name(f".{path.name}.new")
    write_file(aside, [text.encode("utf-8")])
    sync_file(aside)
    with file_errors(path):
        aside.replace(path)
    sync_folder(path.parent)


def sha256_of(path: Path) -> str:
    """SHA-256 of a file, hexadecimal."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def remove_tree(folder: Path) -> None:
    """Remove a folder and all in it; nothing happens if it is not there."""
    with file_errors(folder):
        if folder.exists():
            shutil.rmtree(folder)
