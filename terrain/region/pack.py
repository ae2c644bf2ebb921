"""The folder of one region: packs made aside, and one small file that says which is in use.

    NAME/CURRENT            name of the pack in use, replaced in one step
    NAME/pack-1f3c.../      one complete pack, never changed once CURRENT names it
        manifest.json       format, size and SHA-256 of every file
        info/ roads/ places/ ...

A build that dies leaves a pack folder that nothing names; the next build clears it away.
"""

from __future__ import annotations

import json
import os
import secrets
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager, contextmanager, suppress
from pathlib import Path

from terrain.errors import RegionDamaged, RegionMissing, TerrainError
from terrain.region.disk import (
    file_errors,
    remove_tree,
    replace_file,
    sha256_of,
    sync_file,
    sync_folder,
    write_file,
)
from terrain.text.message import Message, message

FORMAT = 6
# Raised when a build reads more of a map than before: a pack that reads less is used, and says so.
READS = 1
CURRENT = "CURRENT"
MANIFEST = "manifest.json"
LOCK = "LOCK"
_PACK = "pack-"
_SYNC_THREADS = 8
_REBUILD = message("Build the region again with --replace.")


def current_pack(folder: Path) -> Path:
    """The pack in use. Raises RegionMissing if there is none, RegionDamaged if it is gone."""
    try:
        name = (folder / CURRENT).read_text(encoding="utf-8").strip()
    except (FileNotFoundError, NotADirectoryError) as exc:
        raise RegionMissing(
            message("there is no region here"),
            str(folder),
            message(
                "See what there is with 'terrain region list', or build it with 'terrain region "
                "build'."
            ),
        ) from exc
    except (OSError, UnicodeDecodeError) as exc:
        raise RegionDamaged(
            message("the region cannot be read"),
            str(folder / CURRENT),
            message("Check the rights of the folder."),
        ) from exc
    if not name.startswith(_PACK) or Path(name).name != name:
        raise RegionDamaged(
            message("the file does not name a pack of the region"), str(folder / CURRENT), _REBUILD
        )
    return folder / name


def check_pack(pack: Path, *, contents: bool = False, only: str = "") -> None:
    """Check format and file sizes, in constant time; with `contents` every byte's checksum.

    only : the files whose path within the pack begins so
    Raises RegionDamaged with the first fault found.
    """
    for name, (size, digest) in read_manifest(pack).items():
        if not name.startswith(only):
            continue
        path = pack / name
        try:
            found = path.stat().st_size
            if found != size:
                raise RegionDamaged(
                    message(
                        "the file has {found} bytes, not {size}", found=str(found), size=str(size)
                    ),
                    str(path),
                    _REBUILD,
                )
            if contents and sha256_of(path) != digest:
                raise RegionDamaged(
                    message("the file has changed since the build"), str(path), _REBUILD
                )
        except FileNotFoundError as exc:
            raise RegionDamaged(
                message("a file of the region is missing"), str(path), _REBUILD
            ) from exc
        except OSError as exc:
            raise RegionDamaged(
                message(
                    "a file of the region cannot be read ({strerror})", strerror=str(exc.strerror)
                ),
                str(path),
                _REBUILD,
            ) from exc


def reads_all(pack: Path) -> bool:
    """Whether its build read of the map all that a build reads today. Raises RegionDamaged."""
    return _manifest(pack)[1] >= READS


def read_manifest(pack: Path) -> dict[str, tuple[int, str]]:
    """Size and SHA-256 of every file by its path within the pack."""
    return _manifest(pack)[0]


def _manifest(pack: Path) -> tuple[dict[str, tuple[int, str]], int]:
    """The files, and how much the build read."""
    path = pack / MANIFEST
    try:
        tree = json.loads(path.read_bytes())
        form, reads = tree["format"], int(tree.get("reads", 0))
        files = {str(k): (int(v[0]), str(v[1])) for k, v in tree["files"].items()}
    except FileNotFoundError as exc:
        raise RegionDamaged(
            message("a file of the region is missing"), str(path), _REBUILD
        ) from exc
    except (OSError, ValueError, KeyError, TypeError, AttributeError, IndexError) as exc:
        raise RegionDamaged(
            message("the list of files cannot be read"), str(path), _REBUILD
        ) from exc
    if form != FORMAT:
        what = message(
            "the region is of another format ({form}, not {wanted})",
            form=str(form), wanted=str(FORMAT),
        )  # fmt: skip
        if isinstance(form, int) and form < FORMAT:
            what = message(
                "the region is of an older format ({form}, not {wanted})",
                form=str(form), wanted=str(FORMAT),
            )  # fmt: skip
        raise RegionDamaged(what, str(pack), _REBUILD)
    return files, reads


def seal_pack(pack: Path) -> None:
    """Make every file durable and list it with size and checksum in the manifest."""
    with file_errors(pack):
        found = sorted(pack.rglob("*"))
        paths = [path for path in found if path.is_file()]
    # Waiting for many files at once lets the disk write them together: ten times faster.
    with ThreadPoolExecutor(_SYNC_THREADS) as pool:
        entries = list(pool.map(_settle, paths))
    files = {path.relative_to(pack).as_posix(): e for path, e in zip(paths, entries, strict=True)}
    text = json.dumps({"format": FORMAT, "reads": READS, "files": files}, indent=1)
    write_file(pack / MANIFEST, [text.encode("utf-8")])
    sync_file(pack / MANIFEST)
    for folder in (pack, *(path for path in found if path.is_dir())):
        sync_folder(folder)


def _settle(path: Path) -> tuple[int, str]:
    """Size and SHA-256 of a file that the disk then holds."""
    sync_file(path)
    with file_errors(path):
        return path.stat().st_size, sha256_of(path)


def new_pack(folder: Path) -> Path:
    """An empty pack folder of its own, not yet in use."""
    pack = folder / f"{_PACK}{secrets.token_hex(8)}"
    with file_errors(pack):
        pack.mkdir(parents=True)
    return pack


def adopt_pack(folder: Path, pack: Path) -> None:
    """Put a sealed pack in use in one step, then clear the others away."""
    sync_folder(folder)
    replace_file(folder / CURRENT, pack.name + "\n")
    clear_packs(folder, keep=pack.name)


def clear_packs(folder: Path, keep: str | None) -> None:
    """Remove every pack but the one named, and half-written small files."""
    for path in folder.glob(f"{_PACK}*"):
        if path.name != keep:
            # A pack that cannot go (on some systems while it is open) goes at the next build.
            with suppress(TerrainError):
                remove_tree(path)
    for path in folder.glob(".*.new"):
        with suppress(OSError):
            path.unlink()


def build_lock(folder: Path) -> AbstractContextManager[None]:
    """Holds the region's lock, which the system frees if the process dies.

    Raises TerrainError if another build of the same region is running.
    """
    return folder_lock(folder, busy=message("another build of this region is running"))


@contextmanager
def folder_lock(folder: Path, *, busy: Message) -> Iterator[None]:
    """Holds a lock on a folder, made if need be; the system frees it if the process dies.

    busy : what to say if another process holds it. Raises TerrainError then.
    """
    while True:
        with file_errors(folder):
            folder.mkdir(parents=True, exist_ok=True)
            file = (folder / LOCK).open("a+b")
        with file:
            try:
                _lock(file.fileno())
            except OSError as exc:
                raise TerrainError(busy, str(folder), message("Wait until it is done.")) from exc
            if _is_there(folder / LOCK, file.fileno()):
                yield
                return
        # The folder was removed between the two steps, and the lock with it: take the new one.


def _is_there(path: Path, fd: int) -> bool:
    try:
        return os.path.samestat(path.stat(), os.fstat(fd))
    except OSError:
        return False


if os.name == "nt":  # pragma: no cover
    import msvcrt

    def _lock(fd: int) -> None:
        msvcrt.locking(fd, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]

else:
    import fcntl

    def _lock(fd: int) -> None:
        fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
