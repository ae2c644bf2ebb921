"""Documents of every format, and ways to spoil them. Seeded: a number always spoils the same."""

from __future__ import annotations

import random
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.inputs.gpx import mutator

from . import drawn

A, B = drawn.north(), drawn.north(lat=42.511)
_TOKENS = (
    b"[", b"]", b"{", b"}", b",", b";", b":", b'"', b"null", b"true", b"NaN", b"-", b"\x1e", b"\n",
    b"[[1.5,42.5],[1.6,42.6]]", b'"type":"Point",', b'"coordinates":[],', b"<Placemark>",
    b"<Track>",
    b"</LineString>", b"<coordinates>", b"1.5,42.5,0 ", b"<NetworkLink/>", b"<!DOCTYPE kml>",
    b"lon,lat\n", b'"1,5"', b"~", b"?", b"\\", b"GP\0\1", b"\0" * 8, b"\xff" * 8, b"PK\3\4",
)  # fmt: skip


@cache
def seeds() -> tuple[bytes, ...]:
    made = [write(A, B) for write in drawn.WRITERS.values()] + [drawn.kml(A), drawn.geojson(A)]
    with TemporaryDirectory() as folder:
        made += [drawn.small_geopackage(A, B, folder=Path(folder))] * 2
    zipped = {"1.gpx": drawn.gpx(A), "2.csv": drawn.csv(B), "3.polyline": drawn.polyline(B)}
    return (*made, drawn.zipped(zipped), drawn.gpx(A, B))


def spoiled(number: int) -> bytes:
    """The number-th spoiled document."""
    rng = random.Random(number)
    data = rng.choice(seeds())
    for _ in range(rng.choice((1, 1, 1, 2))):
        if rng.random() < 0.3:
            at = rng.randrange(len(data) + 1)
            data = data[:at] + rng.choice(_TOKENS) * rng.choice((1, 1, 1, 50)) + data[at:]
        elif data:
            data = mutator.mutated(rng, data)
    return data
