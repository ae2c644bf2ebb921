"""From the file's bytes to the bytes of one GPX document: plain, gzip, or zip.

Everything is bounded: an archive is unpacked into memory only, up to a size, and the names
inside it are never used.
"""

from __future__ import annotations

import io
import zipfile
import zlib

from terrain.errors import RouteError
from terrain.inputs.gpx.limits import GpxLimits

_GZIP = b"\x1f\x8b"
_ZIP = (b"PK\x03\x04", b"PK\x05\x06")
_ZIP_ENTRY = b"PK\x01\x02"
_PLAIN_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_ENCRYPTED = 0x1
_SEND_GPX = "Send the GPX file itself."
_SEND_AGAIN = "Send or download it again."
_CHUNK = 1 << 16
_SMALL = 1_000_000  # what any file may unpack to, however dense


def _megabytes(n: int) -> str:
    return f"{n / 1024 / 1024:.0f} MB"


def too_big(limits: GpxLimits, source: str, *, packed: bool) -> RouteError:
    """The error for a file above the size limit."""
    verb = "unpacks to" if packed else "is"
    return RouteError(
        f"the file {verb} more than {_megabytes(limits.max_bytes)}",
        source,
        "A planned route needs far less: export it without times and sensor data, or in parts.",
    )


def unpack(data: bytes, source: str, limits: GpxLimits) -> bytes:
    """The GPX document inside the file, still encoded as it came.

    Raises RouteError for a damaged, oversized, encrypted or ambiguous archive.
    """
    if len(data) > limits.max_bytes:
        raise too_big(limits, source, packed=False)
    if data.startswith(_GZIP):
        inner = _gunzip(data, source, limits)
    elif data.startswith(_ZIP):
        inner = _unzip(data, source, limits)
    else:
        return data
    if inner.startswith((_GZIP, *_ZIP)):
        raise RouteError("the file is packed twice", source, _SEND_GPX)
    return inner


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
            "the packed file is damaged and cannot be unpacked", source, _SEND_AGAIN
        ) from exc
    if not stream.eof:
        raise RouteError("the packed file ends in the middle", source, _SEND_AGAIN)
    return bytes(out)


def _too_dense(limits: GpxLimits, source: str) -> RouteError:
    return RouteError(
        f"the file unpacks to over {limits.max_ratio:.0f} times its size", source, _SEND_GPX
    )


def _unzip(data: bytes, source: str, limits: GpxLimits) -> bytes:
    damaged = RouteError("the zip file is damaged and cannot be unpacked", source, _SEND_AGAIN)
    # Counted before the archive is opened: reading a huge directory is itself slow.
    if data.count(_ZIP_ENTRY) > limits.max_zip_entries:
        raise RouteError(
            f"the zip file holds more than {limits.max_zip_entries} entries", source, _SEND_GPX
        )
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entries = [e for e in archive.infolist() if not e.is_dir()]
            _check_entries(entries, source, limits)
            found = _gpx_among(archive, entries, source, limits)
    except (zipfile.BadZipFile, zlib.error, EOFError, ValueError, OSError) as exc:
        raise damaged from exc
    except NotImplementedError as exc:
        raise RouteError("the zip file is packed in an unusual way", source, _SEND_GPX) from exc
    if len(found) == 1:
        return found[0]
    if not found:
        raise RouteError("the zip file holds no GPX file", source, _SEND_GPX)
    raise RouteError(
        f"the zip file holds {len(found)} GPX files", source, "Send one route at a time."
    )


def _check_entries(entries: list[zipfile.ZipInfo], source: str, limits: GpxLimits) -> None:
    if any(e.flag_bits & _ENCRYPTED for e in entries):
        raise RouteError("the zip file is locked with a password", source, _SEND_GPX)
    if any(e.compress_type not in _PLAIN_METHODS for e in entries):
        raise RouteError("the zip file is packed in an unusual way", source, _SEND_GPX)
    total = sum(e.file_size for e in entries)
    if total > limits.max_bytes:
        raise too_big(limits, source, packed=True)
    for e in entries:
        if e.file_size > limits.max_ratio * max(e.compress_size, 1) and e.file_size > _SMALL:
            raise _too_dense(limits, source)


def _gpx_among(
    archive: zipfile.ZipFile, entries: list[zipfile.ZipInfo], source: str, limits: GpxLimits
) -> list[bytes]:
    """Contents of the entries that look like GPX, whatever they are called."""
    found: list[bytes] = []
    room = limits.max_bytes
    for entry in entries:
        content = bytearray()
        with archive.open(entry) as stream:
            while piece := stream.read(_CHUNK):
                content += piece
                if len(content) > room:
                    raise too_big(limits, source, packed=True)
        room -= len(content)
        head = content[:8192].replace(b"\0", b"")
        # Finder and similar tools put shadow files beside the real ones; they are not XML.
        if b"<gpx" in head or b":gpx" in head:
            found.append(bytes(content))
    return found
