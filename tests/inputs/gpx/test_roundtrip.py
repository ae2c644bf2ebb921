"""What is written is what is read, whatever the line.

Structure and limits of GPX 1.1 (topografix.com/GPX/1/1/gpx.xsd): latitudeType -90..90,
longitudeType -180..180 (180 itself excluded), ele decimal, name xsd:string, and the order
metadata, wpt, rte, trk inside gpx.
"""

from __future__ import annotations

import itertools
from xml.sax.saxutils import escape

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.inputs.lines import parse_route
from tests.reference.gpx_schema import gpx_schema

from .drawn import HEAD, ROOT

LAT = st.floats(-83, 83).map(lambda x: round(x, 7))
LON = st.floats(-179.9, 179.9).map(lambda x: round(x, 7))
ELE = st.one_of(st.none(), st.floats(1, 6000).map(lambda x: round(x, 2)))
# XML 1.0 Char, without the blanks that are collapsed and the marks at the edge of planes.
NAME = st.text(
    st.characters(
        exclude_categories=("Cs", "Cc", "Zs", "Zl", "Zp", "Cn"), exclude_characters="\ufeff"
    ),
    min_size=1,
    max_size=40,
)
POINT = st.tuples(LAT, LON, ELE)
LINE = st.lists(POINT, min_size=2, max_size=30)


def document(name: str, line: list[tuple[float, float, float | None]], *, as_route: bool) -> str:
    tag = "rtept" if as_route else "trkpt"
    body = "".join(
        f'<{tag} lat="{lat:.7f}" lon="{lon:.7f}">'
        + (f"<ele>{ele:.2f}</ele>" if ele is not None else "")
        + f"</{tag}>\n"
        for lat, lon, ele in line
    )
    title = f"<name>{escape(name)}</name>"
    inner = (
        f"<rte>{title}{body}</rte>" if as_route else f"<trk>{title}<trkseg>{body}</trkseg></trk>"
    )
    return HEAD + ROOT + inner + "</gpx>"


def _distinct(line: list[tuple[float, float, float | None]]) -> bool:
    return all(a[:2] != b[:2] for a, b in itertools.pairwise(line)) and not any(
        p[:2] == (0, 0) for p in line
    )


@settings(max_examples=150, deadline=None)
@given(
    NAME, LINE.filter(_distinct), st.booleans(), st.sampled_from(["utf-8", "utf-16", "utf-8-sig"])
)
def test_round_trip(
    name: str, line: list[tuple[float, float, float | None]], as_route: bool, encoding: str
) -> None:
    got = parse_route(document(name, line, as_route=as_route).encode(encoding), "x.gpx")
    # Spikes need 8 points or more within a dense line; random points are never dense.
    assert got.n_points == len(line)
    assert got.lat == pytest.approx([p[0] for p in line], abs=1e-9)
    assert (got.lon + 540) % 360 - 180 == pytest.approx([p[1] for p in line], abs=1e-9)
    expected = [np.nan if p[2] is None else p[2] for p in line]
    assert got.ele_m == pytest.approx(expected, nan_ok=True)
    assert got.name == name.strip()
    assert got.planned.all() == as_route


@settings(max_examples=20, deadline=None)
@given(NAME, LINE, st.booleans())
def test_what_the_tests_write_is_valid_gpx(
    name: str, line: list[tuple[float, float, float | None]], as_route: bool
) -> None:
    gpx_schema("1.1").validate(document(name, line, as_route=as_route))


@settings(max_examples=50, deadline=None)
@given(st.lists(st.tuples(LAT, LON), min_size=2, max_size=12, unique=True))
def test_longitudes_never_jump(line: list[tuple[float, float]]) -> None:
    text = document(
        "x", [(lat, lon, None) for lat, lon in line if (lat, lon) != (0, 0)], as_route=True
    )
    if text.count("<rtept") < 2:
        return
    got = parse_route(text.encode(), "x.gpx")
    assert np.abs(np.diff(got.lon)).max() <= 180
