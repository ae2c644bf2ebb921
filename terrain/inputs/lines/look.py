"""What a file that is no route looks like, and what to send instead."""

from __future__ import annotations

import re
from typing import NamedTuple

from terrain.text.message import Message, message

EXPORT = message("Export the planned route again as GPX.")


class Lookalike(NamedTuple):
    """What the file is instead of a route, and what to do about it."""

    what: Message
    fix: Message


# First bytes of formats people send by mistake; the offset is 0 unless given.
_MAGIC: tuple[tuple[int, bytes, Message], ...] = (
    (8, b".FIT", message("a FIT activity file of a sports device")),
    (0, b"\x89PNG\r\n", message("a picture (PNG)")),
    (0, b"\xff\xd8\xff", message("a photo (JPEG)")),
    (0, b"GIF8", message("a picture (GIF)")),
    (8, b"WEBP", message("a picture (WebP)")),
    (4, b"ftypheic", message("a photo (HEIC)")),
    (4, b"ftypmif1", message("a photo (HEIF)")),
    (4, b"ftyp", message("a video")),
    (0, b"%PDF-", message("a PDF document")),
    (0, b"bplist00", message("a web archive or settings file")),
    (0, b"SQLite format 3\0", message("a database file")),
    (0, b"7z\xbc\xaf'\x1c", message("a 7z archive")),
    (0, b"Rar!\x1a\x07", message("a RAR archive")),
    (0, b"BZh", message("a bzip2 archive")),
    (0, b"\xfd7zXZ", message("an xz archive")),
    (257, b"ustar", message("a tar archive")),
    (0, b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", message("an old office document")),
    (0, b"MsRcf", message("a map waypoint database")),
)
_ARCHIVES = ("archive",)

# Root elements of other XML formats.
_ROOTS: dict[str, tuple[Message, Message]] = {
    "TrainingCenterDatabase": (
        message("a TCX activity file"),
        message("Export the route as GPX, not as TCX."),
    ),
    "html": (
        message("a web page"),
        message(
            "It may be a login or error page: open the route in the planner, sign in, and export "
            "it as GPX."
        ),
    ),
    "osm": (message("a map extract, not a route"), message("Use it to build a region.")),
    "svg": (message("a drawing (SVG)"), EXPORT),
    "rss": (message("a news feed"), EXPORT),
    "feed": (message("a news feed"), EXPORT),
    "plist": (message("a settings file"), EXPORT),
    "loc": (message("a list of places (LOC)"), EXPORT),
    "Error": (message("an error message of a web server"), EXPORT),
}

_SOLID = re.compile(rb"[^\0 \t\r\n]")
_HTML = re.compile(
    rb"^\s*(?:<\?xml[^>]*>\s*)?(?:<!--.*?-->\s*)*<(?:!doctype\s+html|html|head|body)\b",
    re.IGNORECASE | re.DOTALL,
)
_NMEA = re.compile(rb"^\s*\$G[PNL][A-Z]{3},")
_CSV = re.compile(rb"^[^\n<]{1,400}[,;\t][^\n<]*\n[^\n<]*[,;\t]")


def by_root(root: str) -> Lookalike:
    """For well-formed XML whose root element is that of no route."""
    what, fix = _ROOTS.get(
        root, (message("another kind of XML ({root})", root=f"<{root[:40]}>"), EXPORT)
    )
    return Lookalike(message("this is {what}, not a route", what=what), fix)


def by_magic(data: bytes) -> Lookalike | None:
    """For nothing at all, and for what its first bytes tell to be no text."""
    if not _SOLID.search(data):
        blank = message("the file holds nothing but blanks")
        what = blank if data else message("the file is empty")
        return Lookalike(
            what, message("Export the route again, and check that the download finished.")
        )
    for offset, magic, what in _MAGIC:
        if data[offset : offset + len(magic)] == magic:
            fix = (
                message("Unpack it and send the route's file.")
                if what.endswith(_ARCHIVES)
                else EXPORT
            )
            return Lookalike(message("this is {what}, not a route", what=what), fix)
    return None


def by_bytes(data: bytes) -> Lookalike | None:
    """For anything told by its first bytes; None if it may be GPX text."""
    if (found := by_magic(data)) is not None:
        return found
    head = data[:4096].removeprefix(b"\xef\xbb\xbf")
    if _HTML.match(head):
        return by_root("html")
    if _NMEA.match(head):
        return Lookalike(
            message("this is {what}, not a route", what=message("a raw receiver log (NMEA)")),
            EXPORT,
        )
    if b"<" not in head and b"\0" not in head:
        table = message("a table without columns lon and lat")
        kind = table if _CSV.match(head) else message("plain text")
        return Lookalike(message("this is {what}, not a route", what=kind), EXPORT)
    return None
