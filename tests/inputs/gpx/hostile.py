"""Reads one hostile document in a process of its own, under hard limits; run as a script.

Prints the error message, the seconds it took and the growth of memory in MB. Times are of the
processor, so a busy machine does not change them.
"""

from __future__ import annotations

import gzip
import io
import os
import resource
import sys
import time
import zipfile
import zlib

from terrain.errors import RouteError
from terrain.inputs.lines import parse_route

HEAD = b'<?xml version="1.0"?>\n'
OPEN = b'<gpx version="1.1"><trk><trkseg><trkpt lat="1" lon="1">'


def billion_laughs() -> bytes:
    lines = ['<!ENTITY a0 "lol">'] + [
        f'<!ENTITY a{i} "{f"&a{i - 1};" * 10}">' for i in range(1, 10)
    ]
    return HEAD + f"<!DOCTYPE gpx [{''.join(lines)}]><gpx>&a9;</gpx>".encode()


def quadratic_blowup() -> bytes:
    return HEAD + b'<!DOCTYPE gpx [<!ENTITY a "' + b"x" * 50_000 + b'">]><gpx>' + b"&a;" * 50_000


def external_entity() -> bytes:
    return HEAD + b'<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/passwd">]><gpx>&x;</gpx>'


def deep() -> bytes:
    return OPEN + b"<extensions>" + b"<a>" * 1_000_000


def long_name() -> bytes:
    return b"<gpx><trk><name>" + b"x" * 50_000_000 + b"</name></trk></gpx>"


def long_attribute() -> bytes:
    return b'<gpx creator="' + b"x" * 50_000_000 + b'"/>'


def many_attributes() -> bytes:
    return b"<gpx " + b" ".join(b'a%d="1"' % i for i in range(500_000)) + b"/>"


def long_comment() -> bytes:
    return b"<gpx><!--" + b"<" * 20_000_000


def many_parts() -> bytes:
    return b"<gpx>" + b"<trk/>" * 500_000


def many_points() -> bytes:
    return b"<gpx><trk><trkseg>" + b'<trkpt lat="1" lon="1"/>' * 1_500_000


def gzip_bomb() -> bytes:
    squeeze = zlib.compressobj(9, zlib.DEFLATED, 31)
    zeros = bytes(1 << 20)
    return b"".join(squeeze.compress(zeros) for _ in range(300)) + squeeze.flush()


def zip_bomb() -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        archive.writestr("plan.gpx", bytes(60_000_000))
    return stream.getvalue()


def lying_zip_bomb() -> bytes:
    """Its directory claims a small size; the stream goes on."""
    data = bytearray(zip_bomb())
    small = (1_000).to_bytes(4, "little")
    data[22:26] = small  # local header (APPNOTE.TXT 4.3.7)
    at = data.index(b"PK\x01\x02")
    data[at + 24 : at + 28] = small  # directory (APPNOTE.TXT 4.3.12)
    return bytes(data)


def crowded_zip() -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for i in range(5_000):
            archive.writestr(str(i), b"")
    return stream.getvalue()


def zip_path() -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("../../../../tmp/evil.gpx", b"<gpx></gpx>")
    return stream.getvalue()


def gzip_of_deep() -> bytes:
    return gzip.compress(deep())


ATTACKS = {
    f.__name__: f
    for f in (
        billion_laughs, quadratic_blowup, external_entity, deep, long_name, long_attribute,
        many_attributes, long_comment, many_parts, many_points, gzip_bomb, zip_bomb,
        lying_zip_bomb, crowded_zip, zip_path, gzip_of_deep,
    )
}  # fmt: skip


def main(names: list[str]) -> None:
    """A line for each attack, read in a child of its own: limits and peaks are the child's."""
    for name in names:
        sys.stdout.flush()
        child = os.fork()
        if not child:
            _read(name)
            sys.stdout.flush()
            os._exit(0)
        _, status = os.waitpid(child, 0)
        if status:
            print(f"{name}\t0\t0\tended with status {status}")


def _read(name: str) -> None:
    data = ATTACKS[name]()
    parse = parse_route
    before = _peak_mb()
    used = _used_mb()
    # The headroom that the reader may use, on top of what the attack itself needed to be made.
    resource.setrlimit(resource.RLIMIT_AS, ((used + 400) << 20, (used + 400) << 20))
    resource.setrlimit(resource.RLIMIT_CPU, (60, 60))
    start = time.process_time()
    try:
        parse(data, "plan.gpx")
        message = "read without complaint"
    except RouteError as error:
        message = str(error)
    print(f"{name}\t{time.process_time() - start:.3f}\t{_peak_mb() - before:.0f}\t{message}")


def _peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _used_mb() -> int:
    with open("/proc/self/statm", encoding="ascii") as stream:  # noqa: PTH123
        return int(stream.read().split()[0]) * resource.getpagesize() >> 20


if __name__ == "__main__":
    main(sys.argv[1:])
