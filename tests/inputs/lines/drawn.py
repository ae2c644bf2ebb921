"""One line written in every format, by hand or by a library that writes it."""

from __future__ import annotations

import io
import json
import sqlite3
import zipfile
from collections.abc import Callable, Sequence
from pathlib import Path

import geopandas
import shapely

from terrain.inputs.lines import parse_route
from terrain.values.route import Route

Point = tuple[float, float, float]  # lon, lat, height


def north(n: int = 12, lon: float = 1.5, lat: float = 42.5) -> list[Point]:
    """Points 111 m apart, northward and up, with five decimals."""
    return [(lon, round(lat + i * 0.001, 5), 900.0 + i) for i in range(n)]


def gpx(*lines: Sequence[Point], names: Sequence[str] = ()) -> bytes:
    tracks = []
    for i, line in enumerate(lines):
        name = f"<name>{names[i]}</name>" if i < len(names) else ""
        points = "".join(
            f'<trkpt lat="{lat}" lon="{lon}"><ele>{z}</ele></trkpt>\n' for lon, lat, z in line
        )
        tracks.append(f"<trk>{name}<trkseg>\n{points}</trkseg></trk>\n")
    root = '<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">\n'
    return f"{root}{''.join(tracks)}</gpx>\n".encode()


def flat_gpx(*lines: Sequence[Point]) -> bytes:
    """Without heights, as a format has to be compared that knows none."""
    text = gpx(*lines).decode()
    while "<ele>" in text:
        start, end = text.index("<ele>"), text.index("</ele>") + 6
        text = text[:start] + text[end:]
    return text.encode()


KML_ROOT = '<?xml version="1.0" encoding="UTF-8"?>\n<kml xmlns="http://www.opengis.net/kml/2.2">'


def kml(*lines: Sequence[Point], names: Sequence[str] = ()) -> bytes:
    marks = []
    for i, line in enumerate(lines):
        name = f"<name>{names[i]}</name>" if i < len(names) else ""
        text = "\n".join(f"{lon},{lat},{z}" for lon, lat, z in line)
        marks.append(
            f"<Placemark>{name}<LineString><coordinates>\n{text}\n</coordinates></LineString>"
            "</Placemark>\n"
        )
    return f"{KML_ROOT}<Document><Folder>\n{''.join(marks)}</Folder></Document></kml>".encode()


def kml_track(*lines: Sequence[Point]) -> bytes:
    """KML 2.3 tracks, with their own namespace prefix as before 2.3."""
    marks = "".join(
        "<Placemark><gx:Track>"
        + "".join("<when>2027-03-14</when>" for _ in line)
        + "".join(f"<gx:coord>{lon} {lat} {z}</gx:coord>\n" for lon, lat, z in line)
        + "</gx:Track></Placemark>"
        for line in lines
    )
    root = KML_ROOT[:-1] + ' xmlns:gx="urn:gx">'
    return f"{root}<Document>{marks}</Document></kml>".encode()


def kmz(*lines: Sequence[Point]) -> bytes:
    return zipped({"doc.kml": kml(*lines), "files/icon.png": b"\x89PNG\r\n"})


def zipped(entries: dict[str, bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in entries.items():
            archive.writestr(zipfile.ZipInfo(name, (2027, 3, 14, 7, 30, 0)), data)
    return stream.getvalue()


def feature(line: Sequence[Point], name: str = "") -> dict[str, object]:
    geometry = {"type": "LineString", "coordinates": [list(p) for p in line]}
    properties = {"name": name} if name else {}
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def geojson(*lines: Sequence[Point], names: Sequence[str] = ()) -> bytes:
    features = [feature(line, names[i] if i < len(names) else "") for i, line in enumerate(lines)]
    return json.dumps({"type": "FeatureCollection", "features": features}).encode()


def geojson_lines(*lines: Sequence[Point]) -> bytes:
    return "".join(json.dumps(feature(line)) + "\n" for line in lines).encode()


def geojson_sequence(*lines: Sequence[Point]) -> bytes:
    return "".join("\x1e" + json.dumps(feature(line)) + "\n" for line in lines).encode()


def csv(*lines: Sequence[Point]) -> bytes:
    several = len(lines) > 1
    rows = ["lon,lat,ele" + (",day" if several else "")]
    for day, line in enumerate(lines, start=1):
        rows += [f"{lon},{lat},{z}" + (f",{day}" if several else "") for lon, lat, z in line]
    return ("\n".join(rows) + "\n").encode()


def geopackage(
    *lines: Sequence[Point], names: Sequence[str] = (), epsg: int = 4326, folder: Path
) -> bytes:
    """As written by GDAL."""
    shapes = [shapely.LineString(line) for line in lines]
    held: dict[str, list[str]] = {"name": list(names)} if names else {"n": [""] * len(lines)}
    frame = geopandas.GeoDataFrame(held, geometry=shapes, crs=4326).to_crs(epsg)
    path = folder / "drawn.gpkg"
    frame.to_file(path, driver="GPKG", layer="route")
    data = path.read_bytes()
    path.unlink()
    return data


def _small_pages(data: bytes) -> bytes:
    """The same database in pages of 512 bytes: small enough to be spoiled at random."""
    db = sqlite3.connect(":memory:")
    db.deserialize(data)
    db.executescript("PRAGMA page_size=512; VACUUM")
    return db.serialize()


def small_geopackage(*lines: Sequence[Point], folder: Path) -> bytes:
    return _small_pages(geopackage(*lines, folder=folder))


def polyline(*lines: Sequence[Point], decimals: int = 5) -> bytes:
    """Each line encoded as the format is usually described: zigzag, five bits, + 63."""
    return b"\n".join(_encoded(line, 10**decimals) for line in lines) + b"\n"


def _encoded(line: Sequence[Point], scale: int) -> bytes:
    out = bytearray()
    before = (0, 0)
    for lon, lat, _ in line:
        now = (round(lat * scale), round(lon * scale))
        for value in (now[0] - before[0], now[1] - before[1]):
            left = ~(value << 1) if value < 0 else value << 1
            while left >= 32:
                out.append((left & 31 | 32) + 63)
                left >>= 5
            out.append(left + 63)
        before = now
    return bytes(out)


#: Formats that are written without a folder to work in, with their suffix.
WRITERS: dict[str, Callable[..., bytes]] = {
    "plan.kml": kml,
    "plan-track.kml": kml_track,
    "plan.kmz": kmz,
    "plan.geojson": geojson,
    "plan.geojsonl": geojson_lines,
    "plan.geojsons": geojson_sequence,
    "plan.csv": csv,
    "plan.polyline": polyline,
}
NO_HEIGHTS = {"plan.polyline"}


def read(data: bytes, name: str = "plan.kml") -> Route:
    return parse_route(data, name)


def codes(route: Route) -> list[str]:
    return [p.code for p in route.problems]
