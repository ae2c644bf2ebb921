"""From the file's bytes to the documents in it: one that is plain or gzipped, or a zip of several.

Everything is bounded: an archive is unpacked into memory only, up to a size, and the names
inside it are shown to people but never used as paths.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Callable
from typing import NamedTuple

from terrain.errors import RouteError
from terrain.inputs.lines.limits import GpxLimits
from terrain.text.message import message

_GZIP = b"\x1f\x8b"
_ZIP = (b"PK\x03\x04", b"PK\x05\x06")
_ZIP_ENTRY = b"PK\x01\x02"
_PLAIN_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_ENCRYPTED = 0x1
_SEND_ROUTE = message("Send the route's file itself.")
_SEND_AGAIN = message("Send or download it again.")
_CHUNK = 1 << 16
_SMALL = 1_000_000  # what any file may unpack to, however dense


_DIGITS = re.compile(r"(\d+)")
_MOST_NAME = 80  # characters of a name inside an archive that are shown


class Document(NamedTuple):
    """One document of a file.

    name : its name inside an archive of several, fit to be shown; empty if it is the only one
    data : its bytes, still encoded as they came
    """

    name: str
    data: bytes


def _megabytes(n: int) -> str:
    return f"{n / 1024 / 1024:.0f} MB"


def too_big(limits: GpxLimits, source: str, *, packed: bool) -> RouteError:
    """The error for a file above the size limit."""
    verb = message("unpacks to") if packed else message("is")
    return RouteError(
        message(
            "the file {verb} more than {size}",
            verb=verb,
            size=str(_megabytes(limits.max_bytes)),
        ),
        source,
        message(
            "A planned route needs far less: export it without times and sensor data, or in parts."
        ),
    )


def unpack(
    data: bytes, source: str, limits: GpxLimits, is_route: Callable[[bytes, str], bool]
) -> tuple[Document, ...]:
    """The documents inside the file; those of a zip by name, numbers in it counted ("2" < "10").

    is_route : tells by the content and the name whether an entry of a zip holds a route
    Raises RouteError for an archive that is damaged, oversized, locked, or holds no route.
    """
    if len(data) > limits.max_bytes:
        raise too_big(limits, source, packed=False)
    if data.startswith(_GZIP):
        found = [Document("", _gunzip(data, source, limits))]
    elif data.startswith(_ZIP):
        found = _unzip(data, source, limits, is_route)
    else:
        return (Document("", data),)
    if any(doc.data.startswith((_GZIP, *_ZIP)) for doc in found):
        raise RouteError(message("the file is packed twice"), source, _SEND_ROUTE)
    return tuple(found)


def _gunzip(data: bytes, source: str, limits: GpxLimits) -> bytes:
    out = bytearray()
    stream = zlib.decompressobj(31)
    try:
        for start in range(0, len(data), _CHUNK):
            piece = data[start : start + _CHUNK]
            while piece:
                if stream.eof:
                    # A gzip file may hold several members; other bytes after the last are
                    # padding, as the gzip tool itself treats them.
                    if not (piece + data[start + _CHUNK :][:1]).startswith(_GZIP):
                        return bytes(out)
                    stream = zlib.decompressobj(31)
                out += stream.decompress(piece, _SMALL)
                if len(out) > limits.max_bytes:
                    raise too_big(limits, source, packed=True)
                if len(out) > max(_SMALL, limits.max_ratio * (start + _CHUNK)):
                    raise _too_dense(limits, source)
                piece = stream.unused_data if stream.eof else stream.unconsumed_tail
    except zlib.error as exc:
        raise RouteError(
            message("the packed file is damaged and cannot be unpacked"), source, _SEND_AGAIN
        ) from exc
    if not stream.eof:
        raise RouteError(message("the packed file ends in the middle"), source, _SEND_AGAIN)
    return bytes(out)


def _too_dense(limits: GpxLimits, source: str) -> RouteError:
    return RouteError(
        message("the file unpacks to over {n} times its size", n=f"{limits.max_ratio:.0f}"),
        source,
        _SEND_ROUTE,
    )


def _unzip(
    data: bytes, source: str, limits: GpxLimits, is_route: Callable[[bytes, str], bool]
) -> list[Document]:
    damaged = RouteError(
        message("the zip file is damaged and cannot be unpacked"), source, _SEND_AGAIN
    )
    # Counted before the archive is opened: reading a huge directory is itself slow.
    if data.count(_ZIP_ENTRY) > limits.max_zip_entries:
        raise RouteError(
            message("the zip file holds more than {n} entries", n=str(limits.max_zip_entries)),
            source,
            _SEND_ROUTE,
        )
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entries = [e for e in archive.infolist() if not e.is_dir()]
            _check_entries(entries, source, limits)
            found = _routes_among(archive, entries, source, limits, is_route)
    except (zipfile.BadZipFile, zlib.error, EOFError, ValueError, OSError) as exc:
        raise damaged from exc
    except NotImplementedError as exc:
        raise RouteError(
            message("the zip file is packed in an unusual way"), source, _SEND_ROUTE
        ) from exc
    if not found:
        raise RouteError(message("the zip file holds no file with a route"), source, _SEND_ROUTE)
    if len(found) == 1:
        return [Document("", found[0].data)]
    return sorted(found, key=lambda doc: _natural(doc.name))


def _natural(name: str) -> list[tuple[int, int, str]]:
    """Sorts "day 2" before "day 10"."""
    parts = _DIGITS.split(name.lower())
    return [(0, int(part[:18]), part) if part.isdecimal() else (1, 0, part) for part in parts]


def _check_entries(entries: list[zipfile.ZipInfo], source: str, limits: GpxLimits) -> None:
    if any(e.flag_bits & _ENCRYPTED for e in entries):
        raise RouteError(message("the zip file is locked with a password"), source, _SEND_ROUTE)
    if any(e.compress_type not in _PLAIN_METHODS for e in entries):
        raise RouteError(message("the zip file is packed in an unusual way"), source, _SEND_ROUTE)
    total = sum(e.file_size for e in entries)
    if total > limits.max_bytes:
        raise too_big(limits, source, packed=True)
    for e in entries:
        if e.file_size > limits.max_ratio * max(e.compress_size, 1) and e.file_size > _SMALL:
            raise _too_dense(limits, source)


def _routes_among(
    archive: zipfile.ZipFile,
    entries: list[zipfile.ZipInfo],
    source: str,
    limits: GpxLimits,
    is_route: Callable[[bytes, str], bool],
) -> list[Document]:
    """The entries that hold a route, whatever they are called."""
    found: list[Document] = []
    room = limits.max_bytes
    for entry in entries:
        content = bytearray()
        with archive.open(entry) as stream:
            while piece := stream.read(_CHUNK):
                content += piece
                if len(content) > room:
                    raise too_big(limits, source, packed=True)
        room -= len(content)
        name = _shown(entry.filename)
        # Finder and similar tools put shadow files beside the real ones; they hold no route.
        if is_route(bytes(content), name):
            found.append(Document(name, bytes(content)))
    return found


def _shown(name: str) -> str:
    """The last part of a name in an archive, on one line and of bounded length."""
    last = name[-1000:].replace("\\", "/").rstrip("/").rpartition("/")[2]
    return "".join(c if c.isprintable() else " " for c in last)[-_MOST_NAME:].strip() or "?"
