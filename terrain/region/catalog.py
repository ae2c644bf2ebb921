"""The published index of a mirror: which extract is where.

An index is JSON in one of two shapes: a GeoJSON FeatureCollection whose features have the
properties `id`, `name`, if known `iso3166-1:alpha2`, and `urls` with `pbf`; or a list of objects
with `name`, `url` and, if known, `id` and `codes`.
"""

from __future__ import annotations

import difflib
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urljoin

from terrain.errors import MapDataError, UsageError
from terrain.region.disk import file_errors
from terrain.region.download import NotOnServerError, Patience, download
from terrain.text.message import message

_MOST_BYTES = 50_000_000
_MOST_NAMED = 8
_SHAPE = message("See the mirror's own pages for the address of its index.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Extract:
    """One extract of an index. ident : short name; codes : of the country, lower case"""

    ident: str
    name: str
    url: str
    codes: tuple[str, ...] = ()

    @property
    def words(self) -> tuple[str, ...]:
        """All it may be asked for by, lower case."""
        last = self.ident.rpartition("/")[2]
        found = (self.ident, last, last.replace("-", " "), self.name, *self.codes)
        return tuple(dict.fromkeys(word.lower() for word in found if word))


def find_extract(
    word: str, index_url: str | None, folder: Path, *, patience: Patience | None = None
) -> Extract:
    """The extract that a word means, by the index at an address.

    word : a country or part of one, by name, short name or ISO code
    folder : where the index is put while it is read
    Raises UsageError if no index is set or the word does not mean one extract, MapDataError if
    the index cannot be fetched or read.
    """
    if not index_url:
        raise UsageError(
            message("no index of map extracts is set"),
            "",
            message(
                "Give the address of a mirror's index with --index URL, or set TERRAIN_MAP_INDEX."
            ),
        )
    path = folder / "index.json"
    try:
        download(index_url, path, most_bytes=_MOST_BYTES, patience=patience)
    except NotOnServerError as exc:
        raise MapDataError(message("the server holds no index there"), index_url, _SHAPE) from exc
    with file_errors(path):
        data = path.read_bytes()
        path.unlink()
    return choose(word, parse_index(data, index_url), index_url)


def parse_index(data: bytes, source: str) -> tuple[Extract, ...]:
    """The extracts of an index. Raises MapDataError if it is of no known shape."""
    try:
        root = json.loads(data)
    except (ValueError, RecursionError) as exc:
        raise MapDataError(message("the index is not JSON"), source, _SHAPE) from exc
    rows = root.get("features") if isinstance(root, dict) else root
    if not isinstance(rows, list):
        raise MapDataError(message("the index has no list of extracts"), source, _SHAPE)
    found = tuple(extract for row in rows if (extract := _extract(row, source)) is not None)
    if not found:
        raise MapDataError(message("the index names no extract with an address"), source, _SHAPE)
    return found


def _extract(row: Any, source: str) -> Extract | None:
    if not isinstance(row, dict):
        return None
    facts = row.get("properties") if isinstance(row.get("properties"), dict) else row
    assert isinstance(facts, dict)
    urls = facts.get("urls")
    url = urls.get("pbf") if isinstance(urls, dict) else facts.get("url")
    name = facts.get("name")
    if not isinstance(url, str) or not isinstance(name, str):
        return None
    codes = facts.get("iso3166-1:alpha2") or facts.get("codes") or ()
    ident = facts.get("id")
    return Extract(
        ident=ident if isinstance(ident, str) else "",
        name=name,
        url=urljoin(source, url),
        codes=tuple(c.lower() for c in codes if isinstance(c, str)) if codes != name else (),
    )


def choose(word: str, extracts: tuple[Extract, ...], source: str) -> Extract:
    """The one extract a word means: by a whole name first, else by a part of one."""
    wanted = " ".join(word.lower().split())
    whole = [e for e in extracts if wanted in e.words]
    found = whole or [e for e in extracts if wanted and any(wanted in w for w in e.words)]
    # A country stands before the larger extract that holds it and bears its code as well.
    fewest = min((len(e.codes) for e in found if e.codes), default=0)
    if len(found) > 1 and whole:
        found = [e for e in found if len(e.codes) == fewest] or found
    if len(found) == 1:
        return found[0]
    if found:
        names = ", ".join(_called(e) for e in found[:_MOST_NAMED])
        raise UsageError(
            message("{word} may mean several extracts: {names}", word=repr(word), names=str(names)),
            source,
            message("Name one."),
        )
    known = {w: e for e in extracts for w in e.words}
    near = difflib.get_close_matches(wanted, known, n=3, cutoff=0.6)
    hint = " or ".join(dict.fromkeys(_called(known[w]) for w in near))
    fix = message("Look it up in the index.")
    if hint:
        fix = message("Did you mean {near}?", near=hint)
    raise UsageError(message("the index has no extract {word}", word=repr(word)), source, fix)


def _called(extract: Extract) -> str:
    return f"{extract.name} ({extract.ident})" if extract.ident else extract.name
