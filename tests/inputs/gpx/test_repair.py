"""What is put right, what is listed, and what is refused with its line."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from terrain.errors import RouteError
from terrain.inputs.lines import GpxLimits, LineRule, parse_route
from terrain.inputs.lines.trip import days_named
from terrain.text.message import spaced
from terrain.values.route import Route, RouteKind

from .drawn import HEAD, ROOT, codes, gpx, line_north, points, read, route, segment, track


def refusal(text: str | bytes, source: str = "plan.gpx") -> RouteError:
    data = text.encode() if isinstance(text, str) else text
    with pytest.raises(RouteError) as caught:
        parse_route(data, source)
    return caught.value


def same_line(a: Route, b: Route) -> bool:
    return np.array_equal(a.lon, b.lon) and np.array_equal(a.lat, b.lat)


# -- the line itself -----------------------------------------------------------------------------


def test_track_is_read_in_order() -> None:
    got = read(track([(42.5, 1.5), (42.501, 1.501), (42.499, 1.502)], name="Day 1"))
    assert got.kind is RouteKind.TRACK
    assert got.name == "Day 1"
    assert got.lat.tolist() == [42.5, 42.501, 42.499]
    assert got.lon.tolist() == [1.5, 1.501, 1.502]
    assert not got.planned.any()
    assert np.isnan(got.ele_m).all()


def test_route_points_are_planned() -> None:
    got = read(route([(42.5, 1.5), (42.501, 1.501)]))
    assert got.kind is RouteKind.ROUTE
    assert got.planned.all() and not got.shaping.any()
    assert got.name == "plan"


def test_names_file_over_track_over_file_name() -> None:
    meta = "<metadata><name> The\n  grand   tour </name><author><name>A</name></author></metadata>"
    body = track([(42.5, 1.5), (42.501, 1.501)], name="Day 1")
    assert read(meta, body).name == "The grand tour"
    assert read(body).name == "Day 1"
    # What is said of a trip of two days is not said of the first alone.
    two = read(body, track(line_north(lat=42.51), name="Day 2"))
    assert "Day" not in two.name
    assert "2 lines: track 1 (Day 1), track 2 (Day 2)" in spaced(two.problems[0].what)


def test_gpx_1_0_name_and_heights() -> None:
    text = (
        '<gpx version="1.0" xmlns="http://www.topografix.com/GPX/1/0"><name>Old</name>'
        + track([(1, 2), (1.001, 2)], inner="<ele>12.5</ele>")
        + "</gpx>"
    )
    got = parse_route(text.encode(), "x.gpx")
    assert got.name == "Old"
    assert got.ele_m.tolist() == [12.5, 12.5]


def test_extension_points_are_the_ride_line() -> None:
    """Device vendors' route point extension: rpt points between two stops, and shaping points."""
    inner = (
        '<extensions><x:RoutePointExtension xmlns:x="urn:x">'
        '<x:rpt lat="42.51" lon="1.51"/><x:rpt lat="42.52" lon="1.52"/>'
        "</x:RoutePointExtension></extensions>"
    )
    shaping = '<extensions><t:ShapingPoint xmlns:t="urn:t"/></extensions>'
    body = (
        "<rte>"
        + points("rtept", [(42.5, 1.5)], inner)
        + points("rtept", [(42.55, 1.55)], shaping)
        + points("rtept", [(42.501, 1.501)])
        + "</rte>"
    )
    got = read(body)
    assert got.lat.tolist() == [42.5, 42.51, 42.52, 42.55, 42.501]
    assert got.shaping.tolist() == [False, True, True, True, False]


def test_points_inside_other_extensions_are_not_the_line() -> None:
    decoy = '<extensions><trkpt lat="1" lon="1"/><wpt lat="2" lon="2"/></extensions>'
    got = read(track([(42.5, 1.5), (42.501, 1.501)], inner=decoy))
    assert got.n_points == 2 and not got.waypoints


def test_prefixed_elements() -> None:
    text = (
        '<g:gpx version="1.1" xmlns:g="http://www.topografix.com/GPX/1/1"><g:trk><g:trkseg>'
        '<g:trkpt lat="42.5" lon="1.5"><g:ele>9</g:ele></g:trkpt><g:trkpt lat="42.6" lon="1.5"/>'
        "</g:trkseg></g:trk></g:gpx>"
    )
    got = parse_route(text.encode(), "x.gpx")
    assert got.lat.tolist() == [42.5, 42.6]
    assert got.ele_m[0] == 9 and np.isnan(got.ele_m[1])


def test_waypoints() -> None:
    wpt = '<wpt lat="42.5" lon="1.5"><ele>900</ele><name>Ford</name><sym>Flag</sym></wpt>'
    got = read(wpt, track([(42.5, 1.5), (42.501, 1.501)]))
    (place,) = got.waypoints
    assert (place.name, place.lon, place.lat, place.ele_m, place.symbol) == (
        "Ford", 1.5, 42.5, 900, "Flag",
    )  # fmt: skip


# -- encodings -----------------------------------------------------------------------------------

NAMED = gpx(track([(42.5, 1.5), (42.501, 1.501)], name="Pfad über Český Krumlov"))
WESTERN = NAMED.replace("Český", "Cesky")


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32"]
)
def test_unicode_encodings(encoding: str) -> None:
    """The declaration says UTF-8 in all of them, as exporters write it."""
    got = parse_route(NAMED.encode(encoding), "x.gpx")
    assert got.name == "Pfad über Český Krumlov"
    assert not got.problems


def test_declared_latin_1() -> None:
    text = WESTERN.replace("UTF-8", "ISO-8859-1")
    got = parse_route(text.encode("latin-1"), "x.gpx")
    assert got.name == "Pfad über Cesky Krumlov"
    assert not got.problems


def test_declared_utf_8_but_latin_1() -> None:
    got = parse_route(WESTERN.encode("latin-1"), "x.gpx")
    assert got.name == "Pfad über Cesky Krumlov"
    assert codes(got) == ["encoding"]


def test_declared_utf_16_but_utf_8() -> None:
    """Written by programs that serialise to a text in memory first."""
    got = parse_route(NAMED.replace("UTF-8", "utf-16").encode(), "x.gpx")
    assert got.name == "Pfad über Český Krumlov"


def test_unknown_encoding_name() -> None:
    got = parse_route(NAMED.replace("UTF-8", "rot13").encode(), "x.gpx")
    assert got.name == "Pfad über Český Krumlov"


def test_one_damaged_byte_among_good_ones() -> None:
    data = NAMED.encode().replace("Č".encode(), b"\xc4", 1)
    got = parse_route(data, "x.gpx")
    assert "über" in got.name
    assert codes(got) == ["encoding"]


# -- XML that needs a hand -----------------------------------------------------------------------


def test_blank_lines_before_the_declaration_keep_line_numbers() -> None:
    body = track([(42.5, 1.5), (95.2, 1.5)])
    plain, shifted = refusal(gpx(body)), refusal("\n\n\n" + gpx(body))
    assert plain.where == "plan.gpx, line 6"
    assert shifted.where == "plan.gpx, line 9"


def test_stray_ampersands() -> None:
    got = read(track([(42.5, 1.5), (42.501, 1.501)], name="Fish & Chips &nbsp; &amp; more"))
    assert got.name == "Fish & Chips &nbsp; & more"
    (problem,) = got.problems
    assert problem.code == "ampersand" and problem.what.startswith("2 ")


def test_control_characters() -> None:
    got = read(track([(42.5, 1.5), (42.501, 1.501)], name="a\x0bb\x00c"))
    assert got.name == "abc"
    assert codes(got) == ["control-characters"]


def test_text_after_the_end() -> None:
    got = parse_route((gpx(track([(42.5, 1.5), (42.501, 1.501)])) + "<!-- ok -->bye").encode(), "x")
    assert codes(got) == ["text-after-end"]


def test_two_documents_in_one_file() -> None:
    text = gpx(track([(42.5, 1.5), (42.501, 1.501)]))
    assert "second GPX document" in refusal(text + text).what


def test_cut_off_file_is_refused_with_the_line() -> None:
    text = gpx(track(line_north()))
    error = refusal(text[:-60])
    assert "ends in the middle" in error.what
    assert error.where.startswith("plan.gpx, line ")


def test_wrong_closing_tag() -> None:
    error = refusal(HEAD + ROOT + "<trk>\n<trkseg>\n</trk>\n</gpx>")
    assert error.where == "plan.gpx, line 5"
    assert "closing tag" in error.what


# -- points --------------------------------------------------------------------------------------


def test_out_of_range_message_is_whole() -> None:
    text = gpx("\n" * 35 + track([(42.5, 1.5), (95.2, 1.5)]))
    assert str(refusal(text)) == (
        "plan.gpx, line 41: latitude 95.2 is outside -90..90. "
        "Correct the point or export the route again."
    )


@pytest.mark.parametrize(
    ("lat", "lon", "words"),
    [
        ("nan", "1.5", "latitude is not a number"),
        ("42.5", "inf", "longitude is not a number"),
        ("42.5", "-inf", "longitude is not a number"),
        ("42.5", "181", "longitude 181 is outside -180..180"),
        ("-90.001", "1", "latitude -90.001 is outside -90..90"),
        ("42.5", "", "longitude '' is not a number"),
        ("1_0", "1", "latitude '1_0' is not a number"),
        ("42°30'", "1", 'latitude "42°30\'" is not a number'),
        ("1" * 500, "1", "latitude is not a number"),
    ],
)
def test_bad_coordinate(lat: str, lon: str, words: str) -> None:
    error = refusal(gpx(track([(42.5, 1.5), (lat, lon), (42.6, 1.5)])))
    assert error.where == "plan.gpx, line 6"
    assert words in error.what
    assert len(str(error)) < 250


def test_missing_coordinate() -> None:
    error = refusal(gpx('<trk><trkseg>\n<trkpt lat="42"/></trkseg></trk>'))
    assert str(error) == (
        "plan.gpx, line 4: a point has no longitude. Correct the point or export the route again."
    )


def test_decimal_commas() -> None:
    got = read(track([("42,5", "1,5"), ("42,501", "1,5")]))
    assert got.lat.tolist() == [42.5, 42.501]
    assert codes(got) == ["decimal-comma"]
    assert got.problems[0].where == "line 5 and on"


def test_swapped_beyond_the_poles() -> None:
    """Longitude 139, latitude 35 written the wrong way round: latitude 139 cannot be."""
    swapped = [(139.7, 35.6), (139.701, 35.601), (139.702, 35.602)]
    got = read('<wpt lat="139.75" lon="35.6"/>', track(swapped))
    assert codes(got) == ["swapped"]
    assert got.lat.tolist() == [35.6, 35.601, 35.602]
    assert got.lon.tolist() == [139.7, 139.701, 139.702]
    assert got.waypoints[0].lat == 35.6


def test_swapped_beyond_the_last_road() -> None:
    """Kathmandu is 27.7 N 85.3 E; there is no land at 85.3 N."""
    got = read(track([(85.3, 27.7), (85.301, 27.701)]))
    assert codes(got) == ["swapped"]
    assert got.lat.tolist() == [27.7, 27.701]


def test_not_swapped_if_only_some_points_are_impossible() -> None:
    error = refusal(gpx(track([(139.7, 35.6), (35.6, 139.7)])))
    assert "latitude 139.7" in error.what


def test_duplicates() -> None:
    got = read(track([(42.5, 1.5), (42.5, 1.5), (42.5, 1.5), (42.501, 1.5)]))
    assert got.n_points == 2
    assert codes(got) == ["duplicate-points"]
    assert got.problems[0].what.startswith("2 points")
    assert got.problems[0].where == "line 6 and on"


def test_null_points() -> None:
    got = read(track([(0, 0), *line_north(), (0, 0)]))
    assert got.n_points == 11
    assert codes(got) == ["null-points"]


def test_null_point_on_a_line_that_passes_there() -> None:
    got = read(track([(0, -0.001), (0, 0), (0, 0.001)]))
    assert got.n_points == 3 and not got.problems


def test_all_null_points() -> None:
    assert "every point lies at 0, 0" in refusal(gpx(track([(0, 0), (0, 0)]))).what


def test_spike() -> None:
    line = line_north(n=21)
    got = read(track([*line[:10], (42.6, 1.9), *line[10:]]))
    assert codes(got) == ["spike"]
    assert got.problems[0].where == "line 15"
    assert got.lat.tolist() == [lat for lat, _ in line]


def test_an_excursion_of_several_points_stays() -> None:
    line = line_north(n=21)
    away = [(42.51, 1.52), (42.51, 1.54), (42.511, 1.52)]
    got = read(track([*line[:10], *away, *line[10:]]))
    assert got.n_points == 24
    assert "spike" not in codes(got)


def test_route_points_are_never_spikes() -> None:
    line = line_north(n=21)
    got = read(route([*line[:10], (42.6, 1.9), *line[10:]]))
    assert got.n_points == 22 and not got.problems


def test_jump_is_kept_and_listed() -> None:
    got = read(track([*line_north(), *line_north(lat=42.6)]))
    assert got.n_points == 22 and got.piece.max() == 0
    assert codes(got) == ["jump"]
    assert got.problems[0].where == "line 16"
    assert got.problems[0].what.startswith("10 km without points")


def test_heights() -> None:
    def at(*heights: str) -> tuple[list[float], list[str]]:
        body = "".join(
            f'<trkpt lat="{42.5 + i / 1000}" lon="1.5"><ele>{h}</ele></trkpt>'
            for i, h in enumerate(heights)
        )
        got = read(f"<trk><trkseg>{body}</trkseg></trk>")
        return got.ele_m.tolist(), codes(got)

    nan = pytest.approx(float("nan"), nan_ok=True)
    assert at("0", "0.0", "0") == ([nan] * 3, ["heights-all-zero"])
    assert at("0", "12", "0") == ([0, 12, 0], [])
    assert at("-3", "4") == ([-3, 4], ["heights-below-sea"])
    assert at("-9999", "4", "inf") == ([nan, 4, nan], ["heights-impossible"])
    assert at("12 m", "4") == ([nan, 4], ["height-not-a-number"])
    assert at("", "4") == ([nan, 4], [])


def test_antimeridian_is_continuous() -> None:
    """Fiji lies on both sides of 180 degrees."""
    got = read(track([(-16.8, 179.99), (-16.8, 179.999), (-16.8, -179.995), (-16.8, -179.98)]))
    assert np.diff(got.lon).max() < 1
    assert got.lon.tolist() == pytest.approx([179.99, 179.999, 180.005, 180.02])
    assert codes(got) == ["antimeridian"]


# -- parts ---------------------------------------------------------------------------------------


def test_touching_segments_are_one_piece() -> None:
    line = line_north(n=20)
    got = read(track(line[:10], line[10:]))
    assert got.piece.max() == 1 and codes(got) == ["gap"]  # 111 m apart
    got = read(track(line[:11], line[10:]))
    assert got.piece.max() == 0 and not got.problems


def test_gap_between_tracks() -> None:
    got = read(track(line_north()), track(line_north(lat=42.6)))
    assert got.piece.tolist() == [0] * 11 + [1] * 11
    several, gap = got.problems
    assert (several.code, several.action) == (
        "several-lines",
        "ridden one after another; to keep each on a day of its own, say that the lines are days",
    )
    assert gap.what == "10 km between the end of track 1 and the start of track 2"


@pytest.mark.parametrize(
    ("names", "starts"),
    [(("Day 1", "Day 2"), (1,)), (("Iberia, day 01: coast", "Iberia, day 02: hills"), (1,)),
     (("tour_tag_1", "tour_tag_2", "tour_tag_3"), (1, 2)), (("1er jour", "2e jour"), (1,)),
     (("Etapa 1", "Etapa 1 (bis)", "Etapa 2"), (2,)), (("2. Tag", "3. Tag"), (1,)),
     (("Day 2", "Day 1"), ()), (("Day 1", "Hills"), ()), (("Monday 1", "Monday 2"), ()),
     (("Daytona 1", "Daytona 2"), ()), (("Road 7", "Road 8"), ()), (("Day 1",), ()),
     (("", ""), ())],
)  # fmt: skip
def test_lines_that_are_named_by_their_day_are_days(
    names: tuple[str, ...], starts: tuple[int, ...]
) -> None:
    assert days_named(names) == starts
    tracks = [track(line_north(lat=42.5 + 0.1 * k), name=name) for k, name in enumerate(names)]
    got = read(*tracks)
    assert got.day_starts == tuple(11 * k for k in starts)
    asked = parse_route(gpx(*tracks).encode(), "plan.gpx", lines=LineRule.DAYS)
    assert asked.day_starts == tuple(11 * k for k in range(1, len(names)))


def test_a_track_drawn_the_other_way_round_is_not_turned() -> None:
    there, back = line_north(), line_north(lat=42.51, lon=1.5, n=50)[::-1]
    got = read(track(there), track(back))
    assert got.lat.tolist() == [lat for lat, _ in (*there, *back)]
    assert "other way round" in got.problems[1].action


def test_out_and_back_as_two_tracks_is_ridden_twice() -> None:
    line = line_north(n=60)
    got = read(track(line), track(line[::-1]))
    assert got.n_points == 120 and codes(got) == ["several-lines"]


def test_track_and_route_of_the_same_trip() -> None:
    line = line_north(n=60)
    got = read(route([line[0], line[30], line[-1]]), track(line))
    assert got.kind is RouteKind.MIXED
    assert got.n_points == 60 and not got.planned.any()
    assert codes(got) == ["same-trip"]


def test_dense_route_and_two_point_track_of_the_same_trip() -> None:
    line = line_north(n=60)
    got = read(route(line), track([line[0], line[-1]]))
    assert got.n_points == 60 and got.planned.all()


def test_same_track_twice() -> None:
    line = line_north(n=60)
    got = read(track(line, name="A"), track(line, name="B"))
    assert got.n_points == 60
    assert codes(got) == ["same-trip"]


def test_loop_and_its_route() -> None:
    loop = [(42.5, 1.5), (42.55, 1.5), (42.55, 1.56), (42.5, 1.56), (42.5, 1.5)]
    dense = [
        (a[0] + (b[0] - a[0]) * k / 20, a[1] + (b[1] - a[1]) * k / 20)
        for a, b in itertools.pairwise(loop)
        for k in range(21)
    ]
    got = read(route(loop), track(dense))
    assert "same-trip" in codes(got)
    assert not got.planned.any()


def test_day_loops_from_one_place_are_chained() -> None:
    north = [(42.5, 1.5), (42.55, 1.5), (42.55, 1.56), (42.5, 1.5)]
    south = [(42.5, 1.5), (42.45, 1.5), (42.45, 1.56), (42.5, 1.5)]
    got = read(track(north), track(south))
    assert got.lat.min() == 42.45 and got.lat.max() == 42.55
    assert got.piece.max() == 0


def test_alternative_is_left_out_and_said() -> None:
    main = line_north(n=100)
    other = [main[0], (42.53, 1.6), (42.57, 1.6), main[-1]]
    got = read(track(main, name="By road"), track(other, name="By the ridge"))
    assert got.n_points == 100
    (problem,) = got.problems
    assert problem.code == "alternative"
    assert "By the ridge" in problem.what and "By road" in problem.what
    assert "left out" in problem.action


def test_whole_trip_and_its_days() -> None:
    line = line_north(n=101)
    whole_first = read(track(line), track(line[:51]), track(line[50:]))
    assert whole_first.n_points == 101
    days_first = read(track(line[:51]), track(line[50:]), track(line))
    assert days_first.n_points == 102 - 0
    assert days_first.piece.max() == 0
    assert codes(days_first) == ["same-trip", "several-lines"]


def test_second_day_to_a_place_passed_on_the_first_is_ridden() -> None:
    """It starts where the first day ended, so it is a day of its own."""
    loop = [(42.5, 1.5), (42.55, 1.5), (42.55, 1.56), (42.5, 1.5)]
    got = read(track(loop), track([(42.5, 1.5), (42.55, 1.56)]))
    assert got.n_points >= 5
    assert "alternative" not in codes(got)


def test_thousands_of_short_tracks_are_ridden_in_file_order() -> None:
    """Some planners write each leg as a track of its own."""
    legs = [((42.0 + 0.02 * k, 1.5), (42.0 + 0.02 * k + 0.01, 1.5)) for k in range(1500)]
    got = read(*(track(leg) for leg in legs), track(legs[7]), track([legs[3][0], legs[9][1]]))
    assert got.n_points == 3000 and got.piece.max() == 1499
    assert got.lat.tolist() == [lat for leg in legs for lat, _ in leg]
    assert codes(got)[:3] == ["same-trip", "alternative", "several-lines"]
    assert got.problems[0].what.endswith(" is the same trip as track 8")
    assert len(got.problems) == 3 + 2 * 8


def test_many_gaps_are_summed_up() -> None:
    parts = [line_north(lat=42.5 + 0.05 * i) for i in range(20)]
    got = read(track(*parts))
    assert len(got.problems) == 8
    assert got.problems[-1].what == "12 more of the same"


def test_parts_without_a_line() -> None:
    got = read(track(line_north(), [], [(42.7, 1.5)]))
    assert codes(got) == ["single-point", "empty-part"]
    assert "track 1, segment 3" in got.problems[0].what


def test_track_points_without_a_segment() -> None:
    got = read(f"<trk>{points('trkpt', line_north())}</trk>")
    assert got.n_points == 11
    assert codes(got) == ["no-segment"]


def test_bad_waypoint_is_left_out() -> None:
    got = read('<wpt lat="99" lon="1"/><wpt lat="9" lon="1"/>', track(line_north()))
    assert len(got.waypoints) == 1
    assert codes(got) == ["waypoint-outside"]


def test_recorded_ride() -> None:
    timed = "".join(
        f'<trkpt lat="{lat}" lon="{lon}"><time>2027-03-14T07:{i:02}:00Z</time></trkpt>'
        for i, (lat, lon) in enumerate(line_north())
    )
    assert codes(read(f"<trk><trkseg>{timed}</trkseg></trk>")) == ["recorded"]
    same = timed.replace("07:0", "07:1")
    frozen = "".join(
        f'<trkpt lat="{lat}" lon="{lon}"><time>1970-01-01T00:00:00Z</time></trkpt>'
        for lat, lon in line_north()
    )
    assert same != timed
    assert codes(read(f"<trk><trkseg>{frozen}</trkseg></trk>")) == []


# -- limits --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("limits", "words"),
    [
        (GpxLimits(max_points=5), "more than 5 points"),
        (GpxLimits(max_bytes=100), "the file is more than"),
        (GpxLimits(max_depth=3), "nested more than 3 deep"),
        (GpxLimits(max_parts=1), "more than 1 tracks and segments"),
        (GpxLimits(max_token=50), "longer than 50 characters"),
    ],
)
def test_limits(limits: GpxLimits, words: str) -> None:
    with pytest.raises(RouteError) as caught:
        parse_route(gpx(track(line_north())).encode(), "plan.gpx", limits)
    assert words in caught.value.what
    assert caught.value.fix


def test_points_limit_gives_the_line() -> None:
    with pytest.raises(RouteError) as caught:
        parse_route(gpx(track(line_north())).encode(), "plan.gpx", GpxLimits(max_points=5))
    assert caught.value.where == "plan.gpx, line 10"


def test_long_name_is_shortened() -> None:
    got = read(track(line_north(), name="x" * 5000))
    assert got.name == "x" * 200


def test_empty_segment_helper_is_valid() -> None:
    assert segment([]) == "<trkseg>\n</trkseg>\n"
