"""What a file that is no route looks like, and what to send instead."""

from __future__ import annotations

import re
from typing import NamedTuple

EXPORT = "Export the planned route again as GPX."


class Lookalike(NamedTuple):
    """What the file is instead of a route, and what to do about it."""

    what: str
    fix: str


# First bytes of formats people send by mistake; the offset is 0 unless given.
_MAGIC: tuple[tuple[int, bytes, str], ...] = (
    (8, b".FIT", "a FIT activity file of a sports device"),
    (0, b"\x89PNG\r\n", "a picture (PNG)"),
    (0, b"\xff\xd8\xff", "a photo (JPEG)"),
    (0, b"GIF8", "a picture (GIF)"),
    (8, b"WEBP", "a picture (WebP)"),
    (4, b"ftypheic", "a photo (HEIC)"),
    (4, b"ftypmif1", "a photo (HEIF)"),
    (4, b"ftyp", "a video"),
    (0, b"%PDF-", "a PDF document"),
    (0, b"bplist00", "a web archive or settings file"),
    (0, b"SQLite format 3\0", "a database file"),
    (0, b"7z\xbc\xaf'\x1c", "a 7z archive"),
    (0, b"Rar!\x1a\x07", "a RAR archive"),
    (0, b"BZh", "a bzip2 archive"),
    (0, b"\xfd7zXZ", "an xz archive"),
    (257, b"ustar", "a tar archive"),
    (0, b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an old office document"),
    (0, b"MsRcf", "a map waypoint database"),
)
_ARCHIVES = ("archive",)

# Root elements of other XML formats.
_ROOTS: dict[str, tuple[str, str]] = {
    "TrainingCenterDatabase": ("a TCX activity file", "Export the route as GPX, not as TCX."),
    "html": (
        "a web page",
        "It may be a login or error page: open the route in the planner, sign in, "
        "and export it as GPX.",
    ),
    "osm": ("a map extract, not a route", "Use it to build a region."),
    "svg": ("a drawing (SVG)", EXPORT),
    "rss": ("a news feed", EXPORT),
    "feed": ("a news feed", EXPORT),
    "plist": ("a settings file", EXPORT),
    "loc": ("a list of places (LOC)", EXPORT),
    "Error": ("an error message of a web server", EXPORT),
}

_HTML = re.compile(
    rb"^\s*(?:<\?xml[^>]*>\s*)?(?:<!--.*?-->\s*)*<(?:!doctype\s+html|html|head|body)\b",
    re.IGNORECASE | re.DOTALL,
)
_NMEA = re.compile(rb"^\s*\$G[PNL][A-Z]{3},")
_CSV = re.compile(rb"^[^\n<]{1,400}[,;\t][^\n<]*\n[^\n<]*[,;\t]")


def by_root(root: str) -> Lookalike:
    """For well-formed XML whose root element is that of no route."""
    what, fix = _ROOTS.get(root, (f"another kind of XML (<{root[:40]}>)", EXPORT))
    return Lookalike(f"this is {what}, not a route", fix)


def by_magic(data: bytes) -> Lookalike | None:
    """For nothing at all, and for what its first bytes tell to be no text."""
    if not data.strip(b"\0 \t\r\n"):
        what = "the file is empty" if not data else "the file holds nothing but blanks"
        return Lookalike(what, "Export the route again, and check that the download finished.")
    for offset, magic, what in _MAGIC:
        if data[offset : offset + len(magic)] == magic:
            fix = "Unpack it and send the route's file." if what.endswith(_ARCHIVES) else EXPORT
            return Lookalike(f"this is {what}, not a route", fix)
    return None


def by_bytes(data: bytes) -> Lookalike | None:
    """For anything told by its first bytes; None if it may be GPX text."""
    if (found := by_magic(data)) is not None:
        return found
    head = data[:4096].removeprefix(b"\xef\xbb\xbf")
    if _HTML.match(head):
        return by_root("html")
    if _NMEA.match(head):
        return Lookalike("this is a raw receiver log (NMEA), not a route", EXPORT)
    if b"<" not in head and b"\0" not in head:
        kind = "a table without columns lon and lat" if _CSV.match(head) else "plain text"
        return Lookalike(f"this is {kind}, not a route", EXPORT)
    return None
