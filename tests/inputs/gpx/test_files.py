"""Every real file has an expected outcome.

The files come from the test suites of general-purpose GPX and map libraries; where each is
from is noted beside them.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from terrain.errors import RouteError
from terrain.inputs.lines import read_route
from tests.reference.gpx_schema import gpx_schema

# file: kind, points, pieces, waypoints, codes of the problems
READABLE: dict[str, tuple[str, int, int, int, set[str]]] = {
    "nasty-gpx/bendgc-expected.gpx": ("route", 6, 1, 4, {"antimeridian"}),
    "nasty-gpx/cerknicko-jezero-no-creator.gpx": (
        "track", 296, 4, 7, {"empty-part", "gap", "several-lines", "recorded"}),
    "nasty-gpx/cerknicko-jezero-with-elevations-zero.gpx": (
        "track", 296, 4, 7, {"heights-all-zero", "empty-part", "gap", "several-lines", "recorded"}),
    "nasty-gpx/cerknicko-jezero-without-elevations.gpx": (
        "track", 296, 4, 7, {"empty-part", "gap", "several-lines", "recorded"}),
    "nasty-gpx/cerknicko-without-times.gpx": (
        "track", 296, 4, 7, {"empty-part", "gap", "several-lines"}),
    "nasty-gpx/gpx1.0_with_all_fields.gpx": (
        "mixed", 5, 2, 2, {"single-point", "empty-part", "gap", "several-lines"}),
    # Swapped, but possible as written: nothing in the file tells, so nothing is changed.
    "nasty-gpx/swapdata-latlon-swapped.gpx": (
        "mixed", 4, 2, 2, {"gap", "several-lines", "sparse-track"}),
    "nasty-gpx/swapdata.gpx": ("mixed", 4, 2, 2, {"gap", "several-lines", "sparse-track"}),
    "nasty-gpx/test-only-wpt.gpx": ("route", 5, 1, 8, set()),
    "nasty-gpx/test2_no_millis.gpx": ("mixed", 3, 1, 0, {"single-point"}),
    "nasty-gpx/tour-with-loop.gpx": (
        "mixed", 11, 1, 0, {"duplicate-points", "same-trip", "recorded"}),
    "nasty-gpx/track-with-empty-segment.gpx": ("track", 9, 1, 0, {"empty-part", "recorded"}),
    # Its two outliers are 200 m off: a rider may mean that, so they stay.
    "nasty-gpx/track-with-extremes.gpx": ("track", 25, 1, 0, set()),
    "nasty-gpx/two-points.gpx": ("track", 2, 1, 0, {"sparse-track", "recorded"}),
    "nasty-gpx/テスト.gpx": ("track", 1301, 1, 0, {"duplicate-points", "recorded"}),
    "gpx/Mojstrovka.gpx": ("track", 184, 1, 0, set()),
    "gpx/around-visnjan-with-car.gpx": ("track", 104, 1, 0, {"recorded"}),
    "gpx/cantabria-route.gpx": ("route", 232, 1, 0, {"heights-below-sea"}),
    "gpx/cerknicko-jezero.gpx": (
        "track", 296, 4, 7, {"empty-part", "gap", "several-lines", "recorded"}),
    "gpx/device-autoroute-shaping-points.gpx": ("route", 40, 1, 4, {"duplicate-points"}),
    "gpx/device-desktop-route.gpx": ("mixed", 2, 1, 2, {"same-trip"}),
    "gpx/korita-zbevnica.gpx": (
        "track", 871, 2, 2, {"empty-part", "gap", "several-lines", "recorded"}),
    "gpx/mapmatch-case-a.gpx": ("track", 29, 1, 0, set()),
    "gpx/moto-trace-2024-06-25.gpx": ("track", 546, 1, 0, {"recorded"}),
    "gpx/moto-trace-2024-08-12.gpx": (
        "track", 8205, 6, 0, {"duplicate-points", "heights-below-sea", "gap", "recorded"}),
    "gpx/moto-trace-2024-08-16.gpx": ("track", 785, 1, 0, {"duplicate-points", "recorded"}),
    "gpx/moto-trace-2024-08-18.gpx": (
        "track", 9662, 7, 0, {"duplicate-points", "gap", "jump", "recorded"}),
    "gpx/planned-rte-and-trk.gpx": ("mixed", 709, 1, 0, {"same-trip"}),
    "gpx/route.gpx": ("route", 55, 1, 0, set()),
}  # fmt: skip

# file: line in the message (None: none), a part of the reason
REFUSED: dict[str, tuple[int | None, str]] = {
    "nasty-gpx/custom_schema_locations.gpx": (None, "no points"),
    "nasty-gpx/default_schema_locations.gpx": (None, "no points"),
    "nasty-gpx/empty.gpx": (None, "no points"),
    "nasty-gpx/no_trk.gpx": (None, "no points"),
    "nasty-gpx/no_trkpt.gpx": (None, "no points"),
    "nasty-gpx/gpx-with-node-with-comments.gpx": (6, "one place only"),
    "nasty-gpx/track_with_dilution_errors.gpx": (8, "one place only"),
    "nasty-gpx/unknowntag.gpx": (10, "one place only"),
    "nasty-gpx/gpx1.1_with_extensions_without_namespaces.gpx": (None, "one waypoint but no route"),
    "nasty-gpx/grapheme.gpx": (None, "3 waypoints but no route"),
    "nasty-gpx/negative-elevations.gpx": (None, "5 waypoints but no route"),
    "nasty-gpx/unicode.gpx": (None, "6 waypoints but no route"),
    "nasty-gpx/unicode_with_bom.gpx": (None, "one waypoint but no route"),
    "nasty-gpx/utf16-test.gpx": (None, "one waypoint but no route"),
    "nasty-gpx/trackfilter_discard_err.gpx": (None, "plain text, not a route"),
}


@pytest.mark.parametrize("name", READABLE)
def test_readable(shared_data: Path, name: str) -> None:
    kind, n_points, n_pieces, n_waypoints, codes = READABLE[name]
    route = read_route(shared_data / name)
    assert route.kind == kind
    assert route.n_points == n_points
    assert int(route.piece[-1]) + 1 == n_pieces
    assert len(route.waypoints) == n_waypoints
    assert {p.code for p in route.problems} == codes
    assert route.source == Path(name).name
    assert np.abs(route.lat).max() <= 90


@pytest.mark.parametrize("name", REFUSED)
def test_refused(shared_data: Path, name: str) -> None:
    line, reason = REFUSED[name]
    with pytest.raises(RouteError) as caught:
        read_route(shared_data / name)
    file = Path(name).name
    assert caught.value.where == (file if line is None else f"{file}, line {line}")
    assert reason in caught.value.what
    assert caught.value.fix


def test_every_file_is_in_the_table(shared_data: Path) -> None:
    found = {
        f"{folder}/{p.name}"
        for folder in ("gpx", "nasty-gpx")
        for p in (shared_data / folder).iterdir()
    }
    assert found == READABLE.keys() | REFUSED.keys()


@pytest.mark.parametrize("name", [n for n in READABLE if "nasty" not in n])
def test_times_and_heights_are_kept_apart(shared_data: Path, name: str) -> None:
    """Heights are numbers or unknown, never a made-up zero where the file says nothing."""
    text = (shared_data / name).read_text("utf-8-sig")
    route = read_route(shared_data / name)
    if "<ele>" not in text:
        assert np.isnan(route.ele_m).all()
    else:
        assert np.isfinite(route.ele_m).any()


def test_line_length_of_planned_route(shared_data: Path) -> None:
    """The planner wrote a length of 36 941 m into its file; 1.5 km were cut off each end since.

    Both from the notes beside the file.
    """
    from pyproj import Geod

    route = read_route(shared_data / "gpx/planned-rte-and-trk.gpx")
    length = Geod(ellps="WGS84").line_length(route.lon, route.lat)
    assert length + 2 * 1_500 == pytest.approx(36_941, rel=0.005)


@pytest.mark.parametrize("version", ["1.0", "1.1"])
def test_schema_valid_files_are_read_or_have_no_line(shared_data: Path, version: str) -> None:
    """A file valid by the published schema is refused only for holding no line of two points."""
    from xmlschema import XMLSchemaException

    schema = gpx_schema(version)
    checked = 0
    for name in (*READABLE, *REFUSED):
        path = shared_data / name
        if path.stat().st_size > 200_000:
            continue
        try:
            valid = schema.is_valid(str(path))
        except XMLSchemaException:
            valid = False
        if not valid:
            continue
        checked += 1
        if name in REFUSED:
            reason = REFUSED[name][1]
            assert any(w in reason for w in ("no points", "one place only", "but no route"))
    assert checked >= 8
