"""Points drawn on the map: to and from the text of a form, and as a route."""

from __future__ import annotations

from collections.abc import Sequence

Point = tuple[float, float]  # lon, lat


def read_points(line: str, most: int = 200) -> list[Point]:
    """Points out of "lon,lat;lon,lat"; what is no point is left out."""
    points = []
    for part in line.split(";")[:most]:
        lon, _, lat = part.partition(",")
        try:
            x, y = float(lon), float(lat)
        except ValueError:
            continue
        if -180 <= x <= 180 and -90 <= y <= 90:
            points.append((round(x, 5), round(y, 5)))
    return points


def say_points(points: Sequence[Point]) -> str:
    return ";".join(f"{lon:.5f},{lat:.5f}" for lon, lat in points)


def points_to_gpx(points: Sequence[Point], name: str) -> bytes:
    """The points as a GPX route, as if it had been sent."""
    from xml.sax.saxutils import escape

    body = "".join(f'<rtept lat="{lat:.5f}" lon="{lon:.5f}"/>' for lon, lat in points)
    return (
        '<?xml version="1.0" encoding="UTF-8"?><gpx version="1.1" creator="terrain" '
        'xmlns="http://www.topografix.com/GPX/1/1">'
        f"<rte><name>{escape(name)}</name>{body}</rte></gpx>"
    ).encode()
