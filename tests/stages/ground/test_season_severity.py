"""Season risk and severity of hand-drawn ways."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.stages.ground import fit_way_ground, judge_ground
from terrain.stages.ground.season import season_words
from terrain.stages.ground.severity import severity_of
from terrain.tables.ground_season import SEASON
from terrain.tables.ground_severity import SEVERITIES
from terrain.values.ground import Ground, SeasonRisk, Severity
from terrain.values.views import WayFlag
from tests.stages.ground.handmade import DEG_M, DrawnWay, places, ride, roads

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
    return judge_ground(match, view, fit_way_ground(view, places()), month=month, rain_mm=rain)


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
    risks = [judge_ground(match, view, ground, month=m).stretches[0].season_risk
             for m in (1, 7)]  # fmt: skip
    assert risks == [SeasonRisk.DAMP, SeasonRisk.CONFIRM_FIRST]


def test_where_the_rain_is_not_known_nothing_is_said() -> None:
    assert _risks([_EARTH], 7) == [None]  # 0 N 0 E lies far at sea, off the rain map


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
