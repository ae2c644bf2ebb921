"""Season risk and severity of hand-drawn ways."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest

from terrain.stages.ground.judge import ground_along
from terrain.stages.ground.season import (
    RidePart,
    season_of,
    season_words,
    snow_may_close,
    softness_of,
    unridden_risks,
)
from terrain.stages.ground.words import severity_words
from terrain.stages.ways.fit import fit_way_ground
from terrain.stages.ways.severity import severity_of
from terrain.stages.ways.tags import tag_words
from terrain.tables.climate.sites import temp_c_by_month
from terrain.tables.ground_season import SEASON
from terrain.tables.ground_severity import SEVERITIES
from terrain.values.ground import Ground, SeasonCause, SeasonRisk, Severity, Stretch
from terrain.values.views import WayFlag
from tests.stages.ground.handmade import DEG_M, DrawnWay, places, ride, roads, way_table

# Kathmandu, January to December [mm]: climate chart of the city's encyclopaedia page.
_KATHMANDU = np.array([14.0, 19, 34, 61, 124, 236, 363, 331, 200, 51, 8, 13])
_EARTH = {"highway": "track", "surface": "ground"}


def _judge(
    tag_sets: list[dict[str, str]],
    month: int | None = None,
    rain: np.ndarray | None = None,
    flags: int = 0,
) -> Ground:
    drawn = [
        DrawnWay(way_id=i + 1, start=(i * 500.0, 0), end=((i + 1) * 500.0, 0), tags=t, flags=flags)
        for i, t in enumerate(tag_sets)
    ]
    view = roads(drawn)
    match = ride(view, list(range(len(drawn))))
    return ground_along(match, view, fit_way_ground(view, places()), month=month, rain_mm=rain)


def _risks(*args: object, **kwargs: object) -> list[SeasonRisk | None]:
    return [s.season_risk for s in _judge(*args, **kwargs).stretches]  # type: ignore[arg-type]


def test_kathmandu_is_wet_from_april_to_september() -> None:
    """Koppen's 60 mm over the city's rain: wet April to September, as the climate chart says."""
    wet = [
        m for m in range(1, 13)
        if _risks([_EARTH], m, _KATHMANDU)[0] is not SeasonRisk.DAMP
    ]  # fmt: skip
    assert wet == [4, 5, 6, 7, 8, 9]
    shut = [
        m for m in range(1, 13) if _risks([_EARTH], m, _KATHMANDU)[0] is SeasonRisk.CONFIRM_FIRST
    ]
    assert shut == [6, 7, 8]  # over 200 mm: assume closed until confirmed


@pytest.mark.parametrize(("month", "wet"), [(1, False), (7, True), (9, True), (11, False)])
def test_ways_nobody_rode_are_judged_by_the_rain_of_that_month(month: int, wet: bool) -> None:
    """Kathmandu again, by the package's own map of rain: July and September wet, winter dry."""
    view = roads([DrawnWay(way_id=1, start=(0, 0), end=(500, 0), tags=_EARTH)])
    place = RidePart(np.array([85.32]), np.array([27.72]), np.array([1_400.0]))
    (risk,) = unridden_risks(view.ways, np.array([0]), np.array([[0.0, 0.1, 0.9]]), place, month)
    assert (risk is not SeasonRisk.DAMP) is wet


def test_what_rain_does_depends_on_the_ground() -> None:
    risks = _risks(
        [
            {"highway": "tertiary", "surface": "asphalt"},
            {"highway": "tertiary", "surface": "compacted"},
            {"highway": "track", "surface": "clay"},
            {"highway": "track", "tracktype": "grade4"},
        ],
        7,
        _KATHMANDU,
    )
    assert risks == [
        SeasonRisk.NONE, SeasonRisk.DOUBTFUL, SeasonRisk.CONFIRM_FIRST, SeasonRisk.CONFIRM_FIRST,
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("highway", "expected"),
    [
        ("residential", SeasonRisk.DOUBTFUL), ("living_street", SeasonRisk.DOUBTFUL),
        ("unclassified", SeasonRisk.CONFIRM_FIRST),
    ],
)  # fmt: skip
def test_rain_shuts_no_street_that_people_live_on(highway: str, expected: SeasonRisk) -> None:
    """Earth streets of a city in July's 363 mm are muddy, and ridden (common practice, no
    source); an earth road across country is taken as shut."""
    assert _risks([{"highway": highway, "surface": "ground"}], 7, _KATHMANDU) == [expected]


def test_a_sealed_ford_is_doubtful_in_a_wet_month() -> None:
    way = {"highway": "tertiary", "surface": "asphalt"}
    assert _risks([way], 4, _KATHMANDU, flags=WayFlag.FORD) == [SeasonRisk.DOUBTFUL]


def test_without_a_month_soft_ground_is_left_open() -> None:
    assert _risks([{"highway": "tertiary", "surface": "asphalt"}, _EARTH]) == [
        SeasonRisk.NONE, None,
    ]  # fmt: skip


def test_a_winter_road_is_to_be_confirmed_whatever_the_rain() -> None:
    assert _risks([_EARTH], 1, np.zeros(12), flags=WayFlag.WINTER_ROAD) == [
        SeasonRisk.CONFIRM_FIRST
    ]


def test_the_packages_own_rain_map_is_used_without_rain_given() -> None:
    """At Kathmandu the rain map (ITU-R P.837) must find the monsoon and the dry winter."""
    x, y = 85.32 * DEG_M, 27.70 * DEG_M
    view = roads([DrawnWay(way_id=1, start=(x, y), end=(x + 500, y), tags=_EARTH)])
    match, ground = ride(view, [0]), fit_way_ground(view, places())
    risks = [ground_along(match, view, ground, month=m).stretches[0].season_risk
             for m in (1, 7)]  # fmt: skip
    assert risks == [SeasonRisk.DAMP, SeasonRisk.CONFIRM_FIRST]


def test_where_the_rain_is_not_known_nothing_is_said() -> None:
    assert _risks([_EARTH], 7) == [None]  # 0 N 0 E lies far at sea, off the rain map


@pytest.mark.parametrize(
    ("tags", "flags", "soft"),
    [
        ({"surface": "asphalt"}, 0, 0.0), ({"surface": "gravel"}, 0, 0.12),
        ({"surface": "mud"}, 0, 1.0), ({"surface": "gravel;mud"}, 0, 0.56),
        ({"surface": "nonsense;mud"}, 0, 1.0),
        ({"surface": "asphalt", "tracktype": "grade5"}, 0, 0.0),
        ({"tracktype": "grade1"}, 0, 0.0), ({"tracktype": "grade3"}, 0, 0.5),
        ({"tracktype": "grade5"}, 0, 1.0), ({}, 0, 0.3 * 0.12 + 0.2 * 0.85),
        ({"surface": "asphalt"}, WayFlag.FORD, 1.0), ({}, WayFlag.FORD, 1.0),
        ({"tracktype": "grade1"}, WayFlag.BRIDGE, 0.0),
    ],
)  # fmt: skip
def test_how_much_of_a_way_softens_by_hand(tags: dict[str, str], flags: int, soft: float) -> None:
    """By its surface, the mean of several; else by its grade; else by its ground, here half paved,
    0.3 gravel and 0.2 track. A ford is soft all over. Common practice, no source."""
    way = DrawnWay(
        way_id=1, start=(0, 0), end=(1, 0), tags={"highway": "track", **tags}, flags=int(flags)
    )
    got = softness_of(way_table([way]), np.zeros(1, np.int64), np.array([[0.5, 0.3, 0.2]]))
    assert got.tolist() == pytest.approx([soft])


@pytest.mark.parametrize("risk", [r for r in SeasonRisk if r is not SeasonRisk.NONE])
def test_season_words_say_may(risk: SeasonRisk) -> None:
    words = season_words(risk, 120.0, 7)
    assert words.startswith("May be ") and "July" in words
    assert season_words(SeasonRisk.NONE, 10.0, 7) == season_words(None, None, None) == ""


def _severity(tags: dict[str, str], p: tuple[float, float, float], **more: float) -> int:
    drawn = DrawnWay(
        way_id=1, start=(0, 0), end=(500, 0), tags=tags, flags=int(more.get("flags", 0))
    )
    table = roads([drawn]).ways
    grade = np.array([more["grade"]]) if "grade" in more else None
    return int(severity_of(table, np.array([0]), np.array([p]), grade)[0])


def test_severity_follows_the_definitions() -> None:
    """OSM wiki: which first vehicle gets through; the levels are ours."""
    track = (0.02, 0.18, 0.8)
    assert _severity({"surface": "asphalt"}, (0.99, 0.005, 0.005)) == Severity.SMOOTH
    assert _severity({"surface": "gravel", "tracktype": "grade2"}, (0.01, 0.9, 0.09)) == 2
    assert _severity({"surface": "ground"}, track) == Severity.ROUGH
    assert _severity({"surface": "sand", "smoothness": "horrible"}, track) == Severity.HARD
    assert _severity({"surface": "rock", "smoothness": "very_horrible"}, track) >= Severity.HARD
    assert _severity({}, (0.97, 0.02, 0.01)) == Severity.SMOOTH
    assert _severity({}, track) == Severity.ROUGH


def test_what_makes_it_harder() -> None:
    gravel, p = {"surface": "gravel"}, (0.01, 0.9, 0.09)
    base = _severity(gravel, p)
    assert _severity(gravel, p, grade=-20.0) > base
    assert _severity(gravel, p, flags=WayFlag.FORD) == base + 1
    assert _severity(gravel, p, flags=WayFlag.FOUR_WD_ONLY) == Severity.HARD
    assert _severity({**gravel, "mtb:scale": "3"}, p) == Severity.HARD
    asphalt = _severity({"surface": "asphalt"}, (0.99, 0.005, 0.005), grade=12.0)
    assert asphalt == Severity.SMOOTH  # a steep sealed road is no harder ground


def test_every_level_is_documented() -> None:
    assert [row.level for row in SEVERITIES] == [int(level) for level in Severity]
    assert [row.name for row in SEVERITIES] == [level.name.lower() for level in Severity]
    assert all(row.loaded and row.novice and row.ground for row in SEVERITIES)


def test_no_severity_off_the_map() -> None:
    table = roads([DrawnWay(way_id=1, start=(0, 0), end=(1, 0), tags={"highway": "track"})]).ways
    assert severity_of(table, np.array([-1]), np.full((1, 3), np.nan)).tolist() == [-1]


def test_season_thresholds_are_the_published_ones() -> None:
    """Koppen's dry month (Peel et al. 2007): below 60 mm; above 200 mm: common practice."""
    assert (SEASON.wet_mm, SEASON.heavy_mm) == (60.0, 200.0)


def _snow_months(lon: float, lat: float, ele_m: float, highway: str) -> list[int]:
    """Months in which snow may close a road of this class at a place."""
    ways = roads([DrawnWay(way_id=1, start=(0, 0), end=(500, 0), tags={"highway": highway})]).ways
    temp = temp_c_by_month(np.array([lon]), np.array([lat]), np.array([ele_m]))
    row, ele = np.zeros(1, dtype=np.int64), np.array([ele_m])
    return [m for m in range(1, 13) if snow_may_close(ways, row, temp, ele, m)[0]]


@pytest.mark.parametrize(
    ("lon", "lat", "ele_m"),
    [
        (6.408, 45.064, 2642.0),  # Galibier, closed November to May
        (10.453, 46.529, 2757.0),  # Stelvio, closed November to May
        (8.415, 46.573, 2429.0),  # Furka, closed November to May
        (12.842, 47.083, 2504.0),  # Grossglockner road, closed November to April
        (7.664, 62.453, 858.0),  # Trollstigen, closed November to May
    ],
)
def test_passes_that_are_closed_in_winter_may_be_under_snow_then(
    lon: float, lat: float, ele_m: float
) -> None:
    """Winter closures and summer openings of well-known pass roads: from memory."""
    months = _snow_months(lon, lat, ele_m, "secondary")
    assert {12, 1, 2, 3, 4} <= set(months)
    assert not {6, 7, 8, 9} & set(months)


def test_snow_closes_no_warm_road_and_no_ploughed_one() -> None:
    assert _snow_months(14.4, 35.9, 100.0, "track") == []  # Malta
    assert _snow_months(20.4, -34.0, 100.0, "track") == []  # the Cape
    assert _snow_months(24.9, 60.2, 20.0, "primary") == []  # Helsinki, ploughed
    assert 1 in _snow_months(24.9, 60.2, 20.0, "track")


def test_a_high_road_in_winter_is_taken_as_shut_and_says_why() -> None:
    drawn = [DrawnWay(way_id=1, start=(0, 0), end=(500, 0),
                      tags={"highway": "secondary", "surface": "asphalt"})]  # fmt: skip
    view = roads(drawn)
    there = ride(view, [0])
    there = dataclasses.replace(there, lon=there.lon + 6.408, lat=there.lat + 45.064)
    ground = fit_way_ground(view, places())

    def stretch(month: int, ele_m: float) -> Stretch:
        judged = ground_along(there, view, ground, month=month, ele_m=np.full(1, ele_m))
        return judged.stretches[0]

    shut = stretch(1, 2642.0)
    assert shut.season_risk is SeasonRisk.CONFIRM_FIRST
    assert shut.evidence.season.startswith("May be closed by snow")
    assert "January" in shut.evidence.season and "is closed" not in shut.evidence.season
    for month, ele_m in ((7, 2642.0), (1, np.nan), (1, 500.0)):
        fine = stretch(month, ele_m)
        assert fine.season_risk is SeasonRisk.NONE and not fine.evidence.season


@pytest.mark.parametrize(("month", "highway", "shut"), [
    (1, "track", True), (7, "track", False), (1, "primary", False),
])  # fmt: skip
def test_without_heights_snow_goes_by_the_country(month: int, highway: str, shut: bool) -> None:
    """Lapland, 68.5 N 25 E: mean of January -12 C, of July 14 C; main roads are ploughed."""
    view = roads([DrawnWay(way_id=1, start=(0, 0), end=(500, 0), tags={"highway": highway})])
    there = ride(view, [0])
    there = dataclasses.replace(there, lon=there.lon + 25.0, lat=there.lat + 68.5)
    ground = fit_way_ground(view, places())
    judged = ground_along(there, view, ground, month=month, ele_m=np.full(1, np.nan))
    assert ("snow" in judged.stretches[0].evidence.season) is shut


def _stretch_at(
    lon: float, lat: float, tags: dict[str, str], month: int, ele_m: float = np.nan
) -> Stretch:
    view = roads([DrawnWay(way_id=1, start=(0, 0), end=(500, 0), tags=tags)])
    there = ride(view, [0])
    there = dataclasses.replace(there, lon=there.lon + lon, lat=there.lat + lat)
    ground = fit_way_ground(view, places())
    return ground_along(there, view, ground, month=month, ele_m=np.full(1, ele_m)).stretches[0]


@pytest.mark.parametrize("highway", ["primary", "secondary", "tertiary"])
@pytest.mark.parametrize(("lon", "lat"), [(1.5, 42.5), (7.7, 46.0), (85.3, 28.2), (25.0, 68.0)])
def test_without_heights_snow_closes_no_ploughed_road(lon: float, lat: float, highway: str) -> None:
    """A mean height of the country is no reason: Andorra, Valais, Langtang, Lapland."""
    shut = _stretch_at(lon, lat, {"highway": highway, "surface": "asphalt"}, 1)
    assert shut.season_risk is SeasonRisk.NONE and shut.season_cause is None


@pytest.mark.parametrize(("lat", "shut"), [(42.5, False), (68.0, True)])
def test_without_heights_a_track_is_under_snow_by_its_latitude_alone(
    lat: float, shut: bool
) -> None:
    found = _stretch_at(25.0, lat, {"highway": "track", "surface": "gravel"}, 1)
    assert (found.season_cause is SeasonCause.SNOW) is shut


def test_rain_softens_nothing_at_frost() -> None:
    """A lowland earth track at 68 N in October to May: snow or frost, never rain."""
    causes = {
        month: _stretch_at(25.0, 68.0, _EARTH, month, 150.0) for month in range(1, 13)
    }  # fmt: skip
    means = temp_c_by_month(np.array([25.0]), np.array([68.0]), np.array([150.0]))[0]
    assert {m for m, mean in enumerate(means, 1) if mean <= 0.0} >= {11, 12, 1, 2, 3}
    for month, found in causes.items():
        if means[month - 1] <= SEASON.frost_c:
            assert found.season_cause in (SeasonCause.SNOW, SeasonCause.THAW)
            assert "rain" not in found.evidence.season
    assert causes[7].season_cause is SeasonCause.RAIN


def test_drought_neither_softens_nor_shuts() -> None:
    assert _risks([_EARTH], 7, np.full(12, 1.0)) == [SeasonRisk.NONE]


@pytest.mark.parametrize(
    ("flags", "cause"),
    [
        (0, SeasonCause.RAIN),
        (WayFlag.WINTER_ROAD, SeasonCause.FROST),
        (WayFlag.SEASONAL, SeasonCause.TAGGED),
    ],
)
def test_every_season_risk_names_its_cause(flags: int, cause: SeasonCause) -> None:
    (found,) = _judge([_EARTH], 4, np.full(12, 30.0), flags=flags).stretches
    assert found.season_cause is cause and found.evidence.season


def test_severity_without_a_tag_is_told_as_what_may_be() -> None:
    """A way tagged only highway=path has no certain rock steps."""
    bare, tagged = _judge(
        [{"highway": "path"}, {"highway": "track", "smoothness": "horrible"}]
    ).stretches
    assert not bare.severity_tagged and tagged.severity_tagged
    assert bare.evidence.ride.startswith("No tag says how hard it is. May be ")
    assert "by its tags (evenness: very rough): there may be" in tagged.evidence.ride


def test_a_soft_track_on_the_flat_is_not_called_steep() -> None:
    flat = {"highway": "track", "tracktype": "grade5"}
    view = roads([DrawnWay(way_id=1, start=(0, 0), end=(500, 0), tags=flat)])
    judged = ground_along(
        ride(view, [0]), view, fit_way_ground(view, places()), grade_pct=np.zeros(1)
    )
    assert "steep" not in judged.stretches[0].evidence.ride
    assert not any("steep" in row.ground for row in SEVERITIES)


@pytest.mark.parametrize("level", list(Severity))
def test_what_is_inferred_is_told_as_what_may_be(level: Severity) -> None:
    tagged, inferred = severity_words(level, ("smoothness=bad",)), severity_words(level)
    assert "ay be" in inferred
    assert ("No tag says" in inferred) is (level is not Severity.SMOOTH)
    assert "No tag says" not in tagged
    assert ("smoothness=bad" in tagged) is (level is not Severity.SMOOTH)
    assert tagged.startswith("May be") is False
    assert severity_words(None) == severity_words(None, ("a=b",)) == ""


NONE, DAMP, DOUBTFUL, SHUT = SeasonRisk


def test_on_ice_there_are_no_stones_and_ruts() -> None:
    """Common practice, no source."""
    road, track = _judge(
        [{"highway": "track", "surface": "ice"}, {"highway": "track", "surface": "sand"}]
    ).stretches
    assert "there may be ice or packed snow" in road.evidence.ride
    assert "stones" not in road.evidence.ride and "stones" in track.evidence.ride


@pytest.mark.parametrize(
    ("surface", "words", "soft"),
    [
        ("asphalt", "surface: asphalt", NONE),
        ("asphalt;gravel", "surface: asphalt and gravel", NONE),
        ("gravel;asphalt", "surface: gravel and asphalt", NONE),
        ("gravel", "surface: gravel", DAMP),
        ("asphalt; asphalt", "surface: asphalt", NONE),
        ("asphalt;ground", "surface: asphalt and bare ground", DOUBTFUL),
    ],
)  # fmt: skip
def test_all_values_of_a_tag_are_told_and_counted(
    surface: str, words: str, soft: SeasonRisk
) -> None:
    """Source: OSM wiki, Semi-colon value separator: the way is some of each, in no order."""
    assert _codes(100.0, surface=surface)[0] is soft
    assert str(tag_words("surface", surface)) == words


def _codes(
    rain: float,
    *,
    mean_c: float = 10.0,
    p: float = 0.0,
    snow: bool = False,
    flags: int = 0,
    **tags: str,
) -> tuple[SeasonRisk | None, SeasonCause | None]:
    """Risk of one way. p : chance that it is a track, where no tag speaks"""
    way = DrawnWay(
        way_id=1, start=(0, 0), end=(9, 0), tags={"highway": "track", **tags}, flags=flags
    )
    got = season_of(
        way_table([way]), np.zeros(1, np.int64), np.array([[1 - p, 0.0, p]]), np.array([rain]),
        snow=np.array([snow]), mean_c=np.array([mean_c]),
    )  # fmt: skip
    return got.risks[0], got.causes[0]


RAIN, TAGGED = SeasonCause.RAIN, SeasonCause.TAGGED
SOFT = {"surface": "ground"}
GRADE_2, GRADE_3 = {"tracktype": "grade2"}, {"tracktype": "grade3"}


@pytest.mark.parametrize(
    ("rain", "more", "said"),
    [
        # Earth: damp under 60 mm (Koppen), doubtful to 200 mm, shut above; nothing under 5 mm.
        (4.9, SOFT, (NONE, None)), (5.0, SOFT, (DAMP, RAIN)),
        (59.9, SOFT, (DAMP, RAIN)), (60.0, SOFT, (DOUBTFUL, RAIN)),
        (200.0, SOFT, (DOUBTFUL, RAIN)), (200.1, SOFT, (SHUT, RAIN)),
        # Soft in places: a step less.
        (59.9, GRADE_2, (NONE, None)), (60.0, GRADE_2, (DAMP, RAIN)),
        (200.1, GRADE_2, (DOUBTFUL, RAIN)),
        (60.0, GRADE_3, (DOUBTFUL, RAIN)), (999.0, {"surface": "asphalt"}, (NONE, None)),
        # A track softens by .85: .48 of it is soft (.408), .46 and .12 in places, .11 not (.094).
        (60.0, {"p": 0.48}, (DOUBTFUL, RAIN)), (60.0, {"p": 0.46}, (DAMP, RAIN)),
        (60.0, {"p": 0.12}, (DAMP, RAIN)), (60.0, {"p": 0.11}, (NONE, None)),
        (np.nan, {"p": 0.12}, (None, None)), (np.nan, {"p": 0.11}, (NONE, None)),
        # At frost rain does nothing; soft ground thaws and freezes.
        (300.0, {**SOFT, "mean_c": 0.0}, (DAMP, SeasonCause.THAW)),
        (300.0, {**SOFT, "mean_c": 0.1}, (SHUT, RAIN)),
        (300.0, {**GRADE_2, "mean_c": -1.0}, (NONE, None)),
        # Tags and snow: the gravest wins, and of two alike the later.
        (0.0, {"flags": int(WayFlag.SEASONAL)}, (DOUBTFUL, TAGGED)),
        (300.0, {**SOFT, "flags": int(WayFlag.SEASONAL)}, (SHUT, RAIN)),
        (99.0, {**SOFT, "flags": int(WayFlag.SEASONAL)}, (DOUBTFUL, TAGGED)),
        (0.0, {"flags": int(WayFlag.ICE_ROAD)}, (SHUT, SeasonCause.FROST)),
        # A winter road lies under snow and is open; only locals know if the ice carries.
        (0.0, {"flags": int(WayFlag.ICE_ROAD), "snow": True, "mean_c": -9.0},
         (SHUT, SeasonCause.FROST)),
        # Open in winter only, or in summer only: by frost, and by ten degrees.
        (0.0, {"seasonal": "winter", "flags": int(WayFlag.SEASONAL), "mean_c": 0.0, "snow": True},
         (NONE, None)),
        (0.0, {"seasonal": "winter", "flags": int(WayFlag.SEASONAL), "mean_c": 9.9},
         (DOUBTFUL, TAGGED)),
        (0.0, {"seasonal": "winter", "flags": int(WayFlag.SEASONAL)}, (SHUT, TAGGED)),
        (0.0, {"seasonal": "summer", "flags": int(WayFlag.SEASONAL), "mean_c": 0.0},
         (SHUT, TAGGED)),
        (0.0, {"seasonal": "summer", "flags": int(WayFlag.SEASONAL), "mean_c": 9.9},
         (DOUBTFUL, TAGGED)),
        (0.0, {"seasonal": "summer", "flags": int(WayFlag.SEASONAL)}, (NONE, None)),
        (300.0, {**SOFT, "snow": True}, (SHUT, SeasonCause.SNOW)),
        (0.0, {"surface": "asphalt", "snow": True}, (SHUT, SeasonCause.SNOW)),
    ],
)  # fmt: skip
def test_a_season_by_each_of_its_limits(
    rain: float, more: dict[str, Any], said: tuple[SeasonRisk | None, SeasonCause | None]
) -> None:
    assert _codes(rain, **more) == said


@pytest.mark.parametrize(
    ("highway", "now_c", "before_c", "ele_m", "shut"),
    [
        ("track", -3.0, 9.0, 100.0, True), ("track", -2.9, -2.9, 100.0, False),
        ("track", 3.0, -3.0, 100.0, True), ("track", 3.1, -3.0, 100.0, False),
        # Ploughed below 800 m: main roads and streets, no lanes and tracks.
        ("tertiary", -9.0, -9.0, 799.0, False), ("tertiary", -9.0, -9.0, 800.0, True),
        ("unclassified", -9.0, -9.0, 100.0, True), ("residential", -9.0, -9.0, 100.0, False),
        ("service", -9.0, -9.0, 100.0, False), ("service", -9.0, -9.0, 800.0, True),
        ("tertiary", -9.0, -9.0, np.nan, False), ("track", -9.0, -9.0, np.nan, True),
    ],
)  # fmt: skip
def test_snow_by_each_of_its_limits(
    highway: str, now_c: float, before_c: float, ele_m: float, shut: bool
) -> None:
    """January after December; common practice, no source."""
    way = DrawnWay(way_id=1, start=(0, 0), end=(9, 0), tags={"highway": highway})
    temp = np.full((1, 12), 20.0)
    temp[0, [0, 11]] = now_c, before_c
    got = snow_may_close(way_table([way]), np.zeros(1, np.int64), temp, np.array([ele_m]), 1)
    assert got.tolist() == [shut]


@pytest.mark.parametrize(("rain", "told"), [(62.4, "60 mm"), (62.6, "65 mm"), (np.nan, None)])
def test_rain_is_told_to_five_millimetres(rain: float, told: str | None) -> None:
    for by_days in (False, True):
        said = str(season_words(DOUBTFUL, rain, 7, by_days=by_days)).replace("\xa0", " ")
        assert (told in said) if told else "mm" not in said
        assert ("forecast" in said) == (by_days and told is not None)
    assert "mm" not in season_words(DOUBTFUL, 60.0, None)


@pytest.mark.parametrize(
    ("cause", "told"), [(SeasonCause.SNOW, True), (SeasonCause.THAW, True), (TAGGED, False)]
)
def test_the_mean_is_told_of_snow_and_thaw(cause: SeasonCause, told: bool) -> None:
    assert ("mean" in season_words(SHUT, 60.0, 1, -4.4, cause)) == told
    assert "mean" not in season_words(SHUT, 60.0, None, -4.4, cause)
    assert "mean" not in season_words(SHUT, 60.0, 1, None, cause)
    assert season_words(NONE, 60.0, 1, -4.4, cause) == season_words(None, 60.0, 1) == ""
