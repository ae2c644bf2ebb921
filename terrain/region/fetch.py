"""A region straight from the network: an extract by its address, or the map along a route."""

from __future__ import annotations

import hashlib
import re
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

from terrain.errors import MapDataError, UsageError
from terrain.region.build import build_region, check_name_free, no_progress
from terrain.region.dem.fetch import TILE_SERVER
from terrain.region.disk import file_errors, remove_tree
from terrain.region.download import NotOnServerError, Patience, download
from terrain.region.home import checked_name
from terrain.region.overpass import Corridor, Progress, Server, fetch_corridor
from terrain.region.pack import folder_lock
from terrain.text.message import message
from terrain.values.arrays import FloatArray

_NO_CHECKSUM = message("The map extract came without a checksum to hold it to.")
_SUFFIXES = (".osm.pbf", ".osm.gz", ".osm.bz2", ".osm", ".pbf")
_MOST_BYTES = 40_000_000_000  # a continent; anything larger is a mistake
_SUM_BYTES = 10_000
_CHUNK = 1 << 22
_SUMS = (("sha256", 64), ("md5", 32))


@dataclass(frozen=True, slots=True, kw_only=True)
class Fetched:
    """An extract that is here, and which checksum it was held against, if any."""

    path: Path
    checked_by: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """The region to be made: all that build_region takes but the extracts."""

    name: str
    home: Path
    dem_paths: tuple[Path, ...] = ()
    tile_server: str = TILE_SERVER
    climate: Path | None = None
    replace: bool = False
    progress: Progress = no_progress

    @property
    def downloads(self) -> Path:
        """Where files wait for the build; kept when it fails, so that nothing comes twice."""
        return self.home / "downloads" / checked_name(self.name)

    def check(self) -> None:
        """Raises UsageError if the region may not be built, before anything is fetched."""
        check_name_free(self.name, self.home, replace=self.replace)

    def build(self, paths: tuple[Path, ...], notes: tuple[str, ...]) -> Path:
        """Build from what was fetched, then clear it away; the region's folder."""
        folder = build_region(
            self.name,
            paths,
            self.dem_paths,
            replace=self.replace,
            home=self.home,
            tile_server=self.tile_server,
            climate=self.climate,
            progress=self.progress,
            notes=notes,
            keep_extract=True,
        )
        remove_tree(self.downloads)
        return folder

    def locked(self) -> AbstractContextManager[None]:
        """Keeps another fetch of the same region out. Raises TerrainError if one is running."""
        return folder_lock(self.downloads, busy=message("another fetch of this region is running"))


def fetch_around(
    target: Target,
    lon: FloatArray,
    lat: FloatArray,
    *,
    corridor: Corridor | None = None,
    server: Server | None = None,
) -> Path:
    """Fetch the map along a line from an Overpass server and build a region of it; its folder.

    lon, lat : the line [deg], shape (n,)
    Raises what fetch_corridor and build_region raise. What came before a fault is kept, so that
    the next call goes on from there.
    """
    target.check()
    corridor = corridor or Corridor()
    note = message(
        "Fetched along one route: all roads only within {near_m} of it, main roads and the most "
        "needed help within {far_m}.",
        near_m=corridor.near_km * 1000.0,
        far_m=corridor.far_km * 1000.0,
    )
    with target.locked():
        came = fetch_corridor(
            lon,
            lat,
            target.downloads,
            corridor=corridor,
            server=server or Server(),
            progress=target.progress,
        )
        return target.build(came.paths, (note, *came.notes))


def fetch_extract(
    target: Target, url: str, *, sha256: str | None = None, patience: Patience | None = None
) -> Path:
    """Fetch an extract, going on from where an earlier call broke off, and build a region of it.

    sha256 : what the file must have; without it the server's own .sha256 or .md5 file beside
        the extract counts, if there is one
    Raises what fetch_file and build_region raise.
    """
    target.check()
    with target.locked():
        fetched = fetch_file(
            url, target.downloads, sha256=sha256, patience=patience, progress=target.progress
        )
        notes = () if fetched.checked_by else (_NO_CHECKSUM,)
        return target.build((fetched.path,), notes)


def fetch_file(
    url: str,
    folder: Path,
    *,
    sha256: str | None = None,
    patience: Patience | None = None,
    progress: Progress,
) -> Fetched:
    """Bring a file into `folder`, whole and held against its checksum.

    Raises MapDataError if the server does not hold it or cannot be reached, or if the file is
    not what its checksum says; a wrong file is not kept.
    """
    name = Path(urlsplit(url).path).name or "extract"
    path = folder / _safe_name(url, name)
    try:
        download(
            url,
            path,
            most_bytes=_MOST_BYTES,
            patience=patience,
            say=lambda share: progress(f"Fetching {name}", share),
        )
    except NotOnServerError as exc:
        raise MapDataError(
            message("the server does not hold this file ({reason})", reason=str(exc)),
            url,
            message("Check the address."),
        ) from exc
    progress("Checking the file", None)
    expected = _expected_sum(url, folder, sha256, patience)
    if expected is not None:
        _hold_against(path, url, *expected)
    return Fetched(path=_with_suffix(path, url), checked_by=expected[0] if expected else None)


def _safe_name(url: str, name: str) -> str:
    """A file name of our own: the address decides it, the server's words only trail it."""
    trail = re.sub(r"[^\w.-]+", "_", name)[-60:].lstrip(".")
    return f"{hashlib.sha256(url.encode()).hexdigest()[:12]}-{trail}"


def _expected_sum(
    url: str, folder: Path, sha256: str | None, patience: Patience | None
) -> tuple[str, str] | None:
    """Which checksum the file must have: the one given, else one that lies beside the file."""
    if sha256 is not None:
        if not re.fullmatch(r"\s*[0-9a-fA-F]{64}\s*", sha256):
            raise UsageError(
                message("{sha256} is no SHA-256", sha256=repr(sha256)),
                "",
                message("It has 64 digits 0-9 and a-f."),
            )
        return "sha256", sha256.strip().lower()
    parts = urlsplit(url)
    for kind, digits in _SUMS:
        beside = parts._replace(path=f"{parts.path}.{kind}").geturl()
        path = folder / f"sum.{kind}"
        try:
            download(beside, path, most_bytes=_SUM_BYTES, patience=patience)
        except (NotOnServerError, MapDataError):
            continue
        with file_errors(path):
            text = path.read_text(encoding="ascii", errors="replace")
            path.unlink()
        if found := re.match(rf"\s*([0-9a-fA-F]{{{digits}}})(\s|$)", text):
            return kind, found[1].lower()
    return None


def _hold_against(path: Path, url: str, kind: str, expected: str) -> None:
    digest = hashlib.new(kind, usedforsecurity=False)
    with file_errors(path), path.open("rb") as file:
        while chunk := file.read(_CHUNK):
            digest.update(chunk)
    if digest.hexdigest() != expected:
        with file_errors(path):
            path.unlink()
        raise MapDataError(
            message(
                "the file has the {kind} {hexdigest}, not {expected}",
                kind=str(kind),
                hexdigest=str(digest.hexdigest()),
                expected=str(expected),
            ),
            url,
            message("It was damaged or changed on the way: fetch it again."),
        )


def _with_suffix(path: Path, url: str) -> Path:
    """The file under a name that tells its kind, by what is in it if its own does not."""
    if path.name.endswith(_SUFFIXES):
        return path
    with file_errors(path), path.open("rb") as file:
        head = file.read(64)
    kind = next((suffix for mark, suffix in _MAGIC if mark in head), None)
    if kind is None:
        with file_errors(path):
            path.unlink()
        raise MapDataError(
            message("what the server sent is no map extract"),
            url,
            message("Give the address of an .osm.pbf file."),
        )
    named = path.with_name(path.name + kind)
    with file_errors(path):
        return path.replace(named)


# How the kinds of extract begin.
_MAGIC = (
    (b"OSMHeader", ".osm.pbf"),
    (b"\x1f\x8b", ".osm.gz"),
    (b"BZh", ".osm.bz2"),
    (b"<osm", ".osm"),
    (b"<?xml", ".osm"),
)
