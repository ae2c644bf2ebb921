"""Plain, gzip and zip; what is not GPX at all; files that cannot be opened."""

from __future__ import annotations

import gzip
import io
import json
import zipfile
from pathlib import Path

import numpy as np
import pytest

from terrain.errors import RouteError
from terrain.inputs.lines import GpxLimits, parse_route, read_route

from .drawn import gpx, line_north, track

PLAIN = gpx(track(line_north(), name="Plan")).encode()


def zipped(entries: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", method) as archive:
        for name, content in entries.items():
            archive.writestr(name, content)
    return stream.getvalue()


def refusal(data: bytes, limits: GpxLimits | None = None) -> RouteError:
    with pytest.raises(RouteError) as caught:
        parse_route(data, "plan.gpx", *([limits] if limits else []))
    assert caught.value.where.startswith("plan.gpx")
    assert caught.value.fix
    return caught.value


@pytest.mark.parametrize(
    "data",
    [
        gzip.compress(PLAIN, mtime=0),
        gzip.compress(PLAIN[:300], mtime=0) + gzip.compress(PLAIN[300:], mtime=0),
        gzip.compress(PLAIN, mtime=0) + b"\0" * 512,
        zipped({"plan.gpx": PLAIN}),
        zipped({"plan.gpx": PLAIN}, zipfile.ZIP_STORED),
        zipped({"whatever.txt": PLAIN, "folder/": b"", "photo.jpg": b"\xff\xd8\xff\xe0"}),
        zipped({"__MACOSX/._plan.gpx": b"\0\5\x16\7\0\2\0\0Mac OS X", "plan.gpx": PLAIN}),
        zipped({"plan.gpx": PLAIN.decode().encode("utf-16")}),
    ],
    ids=["gzip", "two-members", "padded", "zip", "stored", "names", "shadow-file", "utf-16"],
)
def test_packed_equals_plain(data: bytes) -> None:
    plain, packed = parse_route(PLAIN, "a"), parse_route(data, "a")
    assert packed.name == plain.name == "Plan"
    assert np.array_equal(packed.lon, plain.lon) and np.array_equal(packed.lat, plain.lat)


def test_names_in_a_zip_are_never_paths(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for name in ("../../evil.gpx", "/etc/passwd", "C:\\evil.gpx", "a" * 60_000):
        assert parse_route(zipped({name: PLAIN}), "x.zip").n_points == 11
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (zipped({"doc.kml": b"<kml/>"}), "holds no points"),
        (zipped({}), "holds no file with a route"),
        (zipped({"a.gpx": PLAIN}, zipfile.ZIP_LZMA), "unusual way"),
        (zipped({"a.gpx": PLAIN}, zipfile.ZIP_BZIP2), "unusual way"),
        (zipped({"a.gpx": PLAIN})[:-40], "damaged"),
        (zipped({"a.gpx": gzip.compress(PLAIN, mtime=0)}), "holds no file with a route"),
        (gzip.compress(gzip.compress(PLAIN, mtime=0), mtime=0), "packed twice"),
        (gzip.compress(zipped({"a.gpx": PLAIN}), mtime=0), "packed twice"),
        (gzip.compress(PLAIN, mtime=0)[:-20], "ends in the middle"),
        (gzip.compress(PLAIN, mtime=0)[:200] + b"\xff" * 200, "damaged"),
        (gzip.compress(b"", mtime=0), "empty"),
    ],
)
def test_unusable_archives(data: bytes, words: str) -> None:
    assert words in refusal(data).what


def test_locked_zip() -> None:
    data = bytearray(zipped({"a.gpx": PLAIN}))
    # Bit 0 of the general purpose flag, in the local header and in the directory
    # (APPNOTE.TXT 4.3.7, 4.3.12: offsets 6 and 8).
    data[6] |= 1
    data[data.index(b"PK\x01\x02") + 8] |= 1
    assert "password" in refusal(bytes(data)).what


def test_damaged_zip_content() -> None:
    data = bytearray(zipped({"a.gpx": PLAIN}, zipfile.ZIP_STORED))
    data[data.index(b"trkseg")] ^= 0xFF
    assert "damaged" in refusal(bytes(data)).what


def test_size_limits_of_archives() -> None:
    limits = GpxLimits(max_bytes=len(PLAIN) - 1)
    for data in (gzip.compress(PLAIN, mtime=0), zipped({"a.gpx": PLAIN})):
        assert "unpacks to more than" in refusal(data, limits).what
    many = zipped({f"{i}": b"" for i in range(20)})
    assert "more than 10 entries" in refusal(many, GpxLimits(max_zip_entries=10)).what


def test_ratio_of_a_zip() -> None:
    assert "times its size" in refusal(zipped({"a.gpx": PLAIN + b" " * 3_000_000})).what


KML = b'<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document/></kml>'
LOGIN = b"<!DOCTYPE html>\n<html><head><title>Sign in</title></head><body></body></html>"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "the file is empty"),
        (b" \r\n\t", "nothing but blanks"),
        (KML, "holds no points"),
        (b"<TrainingCenterDatabase/>", "a TCX activity file"),
        (LOGIN, "a web page"),
        (b"\xef\xbb\xbf" + LOGIN.upper(), "a web page"),
        (LOGIN.decode().encode("utf-16"), "a web page"),
        (b'<?xml version="1.0"?>\n<!DOCTYPE html PUBLIC "x" "y">\n<html/>', "a web page"),
        (b"<html><body>502</body></html>", "a web page"),
        (json.dumps({"type": "FeatureCollection", "features": []}).encode(), "holds no points"),
        (b'{"error": "not signed in"}', "a JSON file"),
        (b"\x0e\x10\xd9\x07\x00\x00\x00\x00.FIT\x00\x00", "a FIT activity file"),
        (b"\xff\xd8\xff\xe0\x00\x10JFIF", "a photo"),
        (b"\x89PNG\r\n\x1a\n\0\0", "a picture"),
        (b"\0\0\0\x18ftypheic", "a photo"),
        (b"%PDF-1.7", "a PDF document"),
        (b"7z\xbc\xaf'\x1c\0\0", "a 7z archive"),
        (b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M", "raw receiver log"),
        (b"time,depth\n42.5,1.5\n42.6,1.6\n", "a table without columns lon and lat"),
        (b"Turn left at the church", "plain text"),
        (b'<osm version="0.6"/>', "a map extract"),
        (b"<svg/>", "a drawing"),
        (b"<trk><trkseg/></trk>", "another kind of XML (<trk>)"),
        (b"<note/>", "another kind of XML (<note>)"),
        (b"<" + b"n" * 500 + b"/>", "another kind of XML"),
        (bytes(range(256)) * 8, "not"),
    ],
)
def test_what_it_looks_like(data: bytes, words: str) -> None:
    error = refusal(data)
    assert words in error.what
    assert len(str(error)) < 300


def test_a_document_type_is_refused_with_its_line() -> None:
    text = '<?xml version="1.0"?>\n<!DOCTYPE gpx SYSTEM "gpx.dtd">\n<gpx/>'
    error = refusal(text.encode())
    assert error.where == "plan.gpx, line 2"
    assert "DOCTYPE" in error.what


def test_read_route(tmp_path: Path) -> None:
    path = tmp_path / "Plan für März.gpx"
    path.write_bytes(PLAIN)
    assert read_route(path).source == "Plan für März.gpx"
    assert read_route(str(path)).n_points == 11


def test_files_that_cannot_be_opened(tmp_path: Path) -> None:
    with pytest.raises(RouteError, match="there is no such file"):
        read_route(tmp_path / "none.gpx")
    with pytest.raises(RouteError, match="this is a folder"):
        read_route(tmp_path)
    with pytest.raises(RouteError):
        read_route("nul\0byte.gpx")


def test_oversized_file_is_not_read_whole(tmp_path: Path) -> None:
    path = tmp_path / "big.gpx"
    with path.open("wb") as stream:
        stream.truncate(1 << 40)  # sparse: one terabyte of nothing
    with pytest.raises(RouteError, match="more than 64 MB"):
        read_route(path)
