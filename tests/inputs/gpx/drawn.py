"""Tiny GPX documents, drawn by hand."""

from __future__ import annotations

from collections.abc import Iterable

from terrain.inputs.lines import parse_route
from terrain.values.route import Route

HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'
ROOT = '<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">\n'

Pair = tuple[float | str, float | str]


def points(tag: str, pairs: Iterable[Pair], inner: str = "") -> str:
    """Points as (lat, lon), one a line."""
    return "".join(f'<{tag} lat="{lat}" lon="{lon}">{inner}</{tag}>\n' for lat, lon in pairs)


def segment(pairs: Iterable[Pair], inner: str = "") -> str:
    return f"<trkseg>\n{points('trkpt', pairs, inner)}</trkseg>\n"


def track(*segments: Iterable[Pair], name: str = "", inner: str = "") -> str:
    title = f"<name>{name}</name>" if name else ""
    return f"<trk>{title}\n{''.join(segment(s, inner) for s in segments)}</trk>\n"


def route(pairs: Iterable[Pair], name: str = "", inner: str = "") -> str:
    title = f"<name>{name}</name>" if name else ""
    return f"<rte>{title}\n{points('rtept', pairs, inner)}</rte>\n"


def gpx(*bodies: str) -> str:
    return HEAD + ROOT + "".join(bodies) + "</gpx>\n"


def read(*bodies: str) -> Route:
    return parse_route(gpx(*bodies).encode(), "plan.gpx")


def codes(route: Route) -> list[str]:
    return [p.code for p in route.problems]


def line_north(
    lat: float = 42.5, lon: float = 1.5, n: int = 11, step: float = 0.001
) -> list[tuple[float, float]]:
    """Points 111 m apart, northward."""
    return [(round(lat + i * step, 6), lon) for i in range(n)]
