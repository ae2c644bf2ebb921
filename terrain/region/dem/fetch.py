"""Elevation tiles from an open tile service, kept so that each is fetched once.

The service lays tiles out as BASE/N42/N42E001.hgt.gz: one folder per degree of latitude.
Source: formats page of the open terrain tiles project, format "skadi".
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

import numpy as np

from terrain.errors import MapDataError
from terrain.region.dem.build import MARGIN_DEG
from terrain.region.dem.files import open_hgt, tile_name
from terrain.region.disk import file_errors, replace_file, sha256_of
from terrain.region.download import NotOnServerError, Patience, download
from terrain.region.pack import folder_lock
from terrain.text.message import message
from terrain.values.arrays import FloatArray

Progress = Callable[[str, float | None], None]

AUTO = "auto"  # given as --dem: fetch what the roads need
TILE_SERVER = "https://s3.amazonaws.com/elevation-tiles-prod/skadi"
# The service asks for this; its page on attribution lists what else it draws on.
TILE_CREDIT = (
    "Heights: U.S. Geological Survey (SRTM, 3DEP, GMTED2010), U.S. National Oceanic and "
    "Atmospheric Administration (ETOPO1), and national models as listed by the open terrain "
    "tiles project, https://github.com/tilezen/joerd/blob/master/docs/attribution.md"
)
_MOST_BYTES = 26_000_000  # a tile of 1 arc second, not compressed at all
_SUMS = "sha256.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class FetchedTiles:
    """Tiles that are here now, and the names of those the service does not hold."""

    paths: tuple[Path, ...]
    missing: tuple[str, ...]


def tiles_at(lon: FloatArray, lat: FloatArray) -> list[str]:
    """Names of the tiles that hold the points and MARGIN_DEG around them, sorted."""
    corners: set[tuple[int, int]] = set()
    for east in (-MARGIN_DEG, MARGIN_DEG):
        for north in (-MARGIN_DEG, MARGIN_DEG):
            x = np.floor(np.asarray(lon) + east).astype(np.int64)
            y = np.clip(np.floor(np.asarray(lat) + north).astype(np.int64), -90, 89)
            corners |= {(int(a), int(b)) for a, b in np.unique(np.column_stack([x, y]), axis=0)}
    return sorted({tile_name((x + 180) % 360 - 180, y) for x, y in corners})


def fetch_tiles(
    names: Sequence[str],
    folder: Path,
    *,
    base_url: str = TILE_SERVER,
    progress: Progress = lambda what, share: None,
    patience: Patience | None = None,
) -> FetchedTiles:
    """Bring tiles into `folder`; what is there already and unchanged is not fetched again.

    names : as N42E001; base_url : of a service in the layout above
    A tile that breaks off is resumed by the next call. Each is unpacked once to see that it is
    whole, and its SHA-256 kept. Raises MapDataError if the service cannot be reached, holds
    none of the tiles, or sends something else; TerrainError if the disk refuses or another
    build is fetching into the folder.
    """
    folder = folder / _folder_name(base_url)
    with folder_lock(folder, busy=message("another build is fetching elevation tiles")):
        return _fetch_all(names, folder, base_url, progress, patience)


def _fetch_all(
    names: Sequence[str], folder: Path, base_url: str, progress: Progress, patience: Patience | None
) -> FetchedTiles:
    sums = _read_sums(folder)
    paths, missing = [], []
    for i, name in enumerate(names):
        path = folder / f"{name}.hgt.gz"
        if not (path.is_file() and sums.get(name) == sha256_of(path)):
            what = f"fetching elevation {name} ({i + 1} of {len(names)})"
            progress(what, i / len(names))
            url = f"{base_url.rstrip('/')}/{name[:3]}/{name}.hgt.gz"
            try:
                _fetch_one(url, path, names, patience)
            except NotOnServerError:
                missing.append(name)
                continue
            sums[name] = sha256_of(path)
            replace_file(folder / _SUMS, json.dumps(sums, indent=1, sort_keys=True))
        paths.append(path)
    if not paths:
        raise MapDataError(
            message(
                "the tile service holds none of the {names} elevation tiles needed",
                names=str(len(names)),
            ),
            base_url,
            message("Check its address, or give files with --dem: {few}.", few=str(_few(names))),
        )
    return FetchedTiles(paths=tuple(paths), missing=tuple(missing))


def _fetch_one(url: str, path: Path, names: Sequence[str], patience: Patience | None) -> None:
    try:
        download(url, path, most_bytes=_MOST_BYTES, patience=patience)
    except MapDataError as exc:
        raise MapDataError(
            exc.what,
            exc.where,
            message(
                "{fix} Without a network, give the files with --dem ({few}), or leave --dem out: "
                "the report then says that heights are missing.",
                fix=str(exc.fix),
                few=str(_few(names)),
            ),
        ) from exc
    try:
        open_hgt(path).read((0, 1), (0, 1))  # unpacks and counts all of it
    except MapDataError as exc:
        with file_errors(path):
            path.unlink(missing_ok=True)
        raise MapDataError(
            message("the tile service sent something that is no tile: {what}", what=str(exc.what)),
            url,
            message("Try again later, or use another service."),
        ) from exc


def _few(names: Sequence[str]) -> str:
    more = f" and {len(names) - 6} more" if len(names) > 6 else ""
    return ", ".join(f"{name}.hgt" for name in names[:6]) + more


def _folder_name(base_url: str) -> str:
    """One folder per service: the same tile may differ between two."""
    parts = urlsplit(base_url)
    return re.sub(r"[^\w.-]+", "_", f"{parts.netloc}{parts.path}".strip("/")) or "tiles"


def _read_sums(folder: Path) -> dict[str, str]:
    try:
        sums = json.loads((folder / _SUMS).read_bytes())
    except (OSError, ValueError):
        return {}
    return {str(k): str(v) for k, v in sums.items()} if isinstance(sums, dict) else {}


def resolve_dem(
    dem_paths: Iterable[Path],
    *,
    lon: FloatArray,
    lat: FloatArray,
    cache: Path,
    base_url: str = TILE_SERVER,
    progress: Progress = lambda what, share: None,
) -> tuple[tuple[Path, ...], tuple[str, ...]]:
    """The elevation files to build from, "auto" replaced by tiles fetched for the points.

    lon, lat : points of the region's roads [deg]
    cache : folder that keeps fetched tiles
    Returns: paths, and what to say of where they come from. Raises as fetch_tiles.
    """
    given = tuple(dem_paths)
    own = tuple(path for path in given if str(path) != AUTO)
    if len(own) == len(given):
        return own, ()
    names = tiles_at(lon, lat)
    if not names or not math.isfinite(float(np.sum(lon))):
        return own, ()
    fetched = fetch_tiles(names, cache, base_url=base_url, progress=progress)
    credit = TILE_CREDIT if base_url == TILE_SERVER else f"Heights from {base_url}"
    return (*own, *fetched.paths), (credit,)
