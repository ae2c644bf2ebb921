"""Small GPX documents, and ways to spoil them. Seeded: the same number spoils the same way."""

from __future__ import annotations

import gzip
import io
import random
import zipfile
from collections.abc import Callable

from .drawn import gpx, line_north, points, route, track


def _zip(data: bytes) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(zipfile.ZipInfo("plan.gpx", (2027, 3, 14, 7, 30, 0)), data)
    return stream.getvalue()


_TIMED = "<ele>120.5</ele><time>2027-03-14T07:30:00Z</time>"
_EXTENDED = (
    '<name>Stop</name><extensions><x:RoutePointExtension xmlns:x="urn:x"><x:rpt lat="42.52" '
    'lon="1.52"/></x:RoutePointExtension><t:ShapingPoint xmlns:t="urn:t"/></extensions>'
)
_OLD = (
    '<gpx version="1.0" xmlns="http://www.topografix.com/GPX/1/0"><name>Old</name>'
    '<bounds minlat="1" minlon="2" maxlat="3" maxlon="4"/>'
    + track([(1, 2), (1.001, 2), (1.002, 2.001)], inner="<ele>12</ele><course>9</course>")
    + "</gpx>"
)
_FULL = gpx(
    "<metadata><name>Two days</name><author><name>A</name></author></metadata>",
    '<wpt lat="42.5" lon="1.5"><ele>900</ele><name>Ford &amp; bridge</name><sym>Flag</sym></wpt>',
    route([(42.5, 1.5), (42.55, 1.5), (42.6, 1.6)], name="Plan", inner=_EXTENDED),
    track(line_north(n=12), line_north(lat=42.52, n=8), name="Days <![CDATA[1 & 2]]>",
          inner=_TIMED),
    "<!-- made by hand -->",
)  # fmt: skip
_PLAIN = gpx(track(line_north(n=6), name="Überland — Český"))
SEEDS: tuple[bytes, ...] = (
    _FULL.encode(),
    _OLD.encode(),
    _PLAIN.encode(),
    _PLAIN.encode("utf-16"),
    _PLAIN.replace("UTF-8", "ISO-8859-2").encode("iso8859-2", errors="replace"),
    gpx(f"<rte>{points('rtept', line_north(n=5), _EXTENDED)}</rte>").encode(),
    gzip.compress(_FULL.encode(), mtime=0),
    _zip(_FULL.encode()),
)

_TOKENS = (
    b"<", b">", b"&", b"'", b'"', b"]]>", b"<![CDATA[", b"<!--", b"-->", b"<?xml?>", b"\0", b"\xff",
    b"\xc3", b"\xed\xa0\x80", b"\xef\xbb\xbf", b"&#0;", b"&#xD800;", b"&#1114112;", b"&lol;",
    b"<!DOCTYPE gpx>", b'<!DOCTYPE x [<!ENTITY a "b">]>', b"<gpx>", b"</gpx>", b"<trk>", b"</trk>",
    b"<trkseg>", b"</trkseg>", b"<rte>", b"</rte>", b"<extensions>", b"</extensions>", b"<name>",
    b"</name>", b"<ele>", b"</ele>", b'<trkpt lat="1" lon="1"/>', b'<rtept lat="1" lon="1">',
    b'<wpt lat="a" lon="b"/>', b'<x:rpt lat="1" lon="1"/>', b' lat="1"', b' xmlns="urn:y"',
)  # fmt: skip
_NUMBERS = (
    b"nan", b"inf", b"-inf", b"1e309", b"-0", b"0", b"90", b"-90", b"90.0000001", b"180", b"-180",
    b"181", b"1e-320", b"0x1F", b"1_0", b"", b" ", b"1,5", b"42.5.1", b"\xd9\xa1\xd9\xa2",
    b"9" * 400, b"--1", b"+1", b"1e5", b"1" + b"0" * 30,
)  # fmt: skip

Mutation = Callable[[random.Random, bytes], bytes]


def _flip(rng: random.Random, data: bytes) -> bytes:
    spoiled = bytearray(data)
    for _ in range(rng.randint(1, 8)):
        if spoiled:
            spoiled[rng.randrange(len(spoiled))] ^= 1 << rng.randrange(8)
    return bytes(spoiled)


def _cut(rng: random.Random, data: bytes) -> bytes:
    a, b = sorted(rng.randrange(len(data) + 1) for _ in range(2))
    return data[:a] + data[b:]


def _truncate(rng: random.Random, data: bytes) -> bytes:
    return data[: rng.randrange(len(data) + 1)]


def _repeat(rng: random.Random, data: bytes) -> bytes:
    a, b = sorted(rng.randrange(len(data) + 1) for _ in range(2))
    return data[:b] + data[a:b] * rng.randint(1, 20) + data[b:]


def _insert(rng: random.Random, data: bytes) -> bytes:
    at = rng.randrange(len(data) + 1)
    return data[:at] + rng.choice(_TOKENS) * rng.choice((1, 1, 1, 100)) + data[at:]


def _renumber(rng: random.Random, data: bytes) -> bytes:
    quotes = [i for i, c in enumerate(data) if c == ord('"')]
    if len(quotes) < 2:
        return data
    i = rng.randrange(len(quotes) - 1)
    return data[: quotes[i] + 1] + rng.choice(_NUMBERS) + data[quotes[i + 1] :]


def _swap(rng: random.Random, data: bytes) -> bytes:
    tags = data.split(b"<")
    if len(tags) > 2:
        i, j = rng.randrange(len(tags)), rng.randrange(len(tags))
        tags[i], tags[j] = tags[j], tags[i]
    return b"<".join(tags)


def _noise(rng: random.Random, data: bytes) -> bytes:
    at = rng.randrange(len(data) + 1)
    return data[:at] + rng.randbytes(rng.randint(1, 200)) + data[at:]


_FRAGMENTS = (
    b"<extensions><a>1</a></extensions>", b"<name>again</name>", b"<!-- note -->", b"<empty/>",
    b'<wpt lat="0" lon="0"/>', b"<trk><trkseg/></trk>", b"<rte/>", b"<ele>-9999</ele>",
    b'<trk><trkseg><trkpt lat="0" lon="0"/><trkpt lat="42.5" lon="1.5"/></trkseg></trk>',
    b'<rte><rtept lat="42.5" lon="1.5"/><rtept lat="42.6" lon="1.7"/></rte>', b"\r\n\t ",
    b'<trkpt lat="42.7" lon="1.9"/>', b'<rtept lat="10" lon="170"/>', b"<trkseg></trkseg>",
    b"<time>yesterday</time>", b"<?pi data?>",
)  # fmt: skip


def _digits(rng: random.Random, data: bytes) -> bytes:
    """Other digits in a few numbers: still XML, but another line."""
    spoiled = bytearray(data)
    places = [i for i, c in enumerate(data) if 48 <= c <= 57]
    for i in rng.sample(places, min(len(places), rng.randint(1, 30))):
        spoiled[i] = rng.choice(b"0123456789.-")
    return bytes(spoiled)


def _fragment(rng: random.Random, data: bytes) -> bytes:
    """A well-formed piece between two tags."""
    tags = [i for i, c in enumerate(data) if c == ord("<") and i > 60]
    at = rng.choice(tags) if tags else 0
    return data[:at] + rng.choice(_FRAGMENTS) + data[at:]


_MUTATIONS: tuple[Mutation, ...] = (
    _flip, _cut, _truncate, _repeat, _insert, _swap, _noise, _renumber, _digits, _digits, _digits,
    _fragment, _fragment, _fragment,
)  # fmt: skip


def mutated(rng: random.Random, data: bytes) -> bytes:
    """The document spoiled once more."""
    return rng.choice(_MUTATIONS)(rng, data)


def spoiled(number: int) -> bytes:
    """The number-th spoiled document."""
    rng = random.Random(number)
    data = rng.choice(SEEDS)
    for _ in range(rng.choice((1, 1, 2, 3))):
        data = mutated(rng, data) if data else data
    return data
