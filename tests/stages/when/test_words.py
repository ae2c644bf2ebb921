"""What is said of a table, and which cells are called the best: tables drawn by hand."""

from __future__ import annotations

import pytest

from terrain.stages.when.judge import rank_months
from terrain.stages.when.words import _air_words, _ground_words, _why, headline, lead, notes
from terrain.tables.when import WHEN
from terrain.values.when import WhenCell, WhenMonth

_LENGTH_M = 100_000.0
# Less of a ride is not worth a word: common practice, no source.
SMALL_M, SHARE = 500.0, 0.05


def cell(hour: int, **other: object) -> WhenCell:
    given = {
        "rest_share": 0.0, "hard_share": 0.0, "cold_share": 0.0, "ice_share": 0.0,
        "max_air_temp_c": 20.0, "max_wbgt_riding_c": 18.0, "min_wind_chill_c": 15.0, "fan_s": None,
        "before_light_s": 0.0, "light_left_s": 7200.0, "is_dark": False,
    }  # fmt: skip
    return WhenCell(start_h=hour, **{**given, **other})  # type: ignore[arg-type]


def month(number: int, cells: list[WhenCell] | None = None, **other: float | None) -> WhenMonth:
    given = {"rain_mm": 50.0, "shut_m": 0.0, "soft_m": 0.0, "snow_m": 0.0, "season_unknown_m": 0.0,
             "daylight_s": 43_200.0}  # fmt: skip
    rows = cells or [cell(hour) for hour in WHEN.hours]
    return WhenMonth(month=number, cells=tuple(rows), **{**given, **other})  # type: ignore[arg-type]


def year(**changed: WhenMonth) -> list[WhenMonth]:
    """Twelve fine months but for those given, such as m3=..."""
    return [changed.get(f"m{n}", month(n)) for n in range(1, 13)]


def said(months: list[WhenMonth]) -> tuple[str, str]:
    ranked, worst = rank_months(months, _LENGTH_M, WHEN)
    return str(headline(ranked, WHEN)), " ".join(map(str, lead(ranked, worst)))


def test_any_month() -> None:
    first, then = said(year())
    assert first == "Any month will do, at any hour from 05:00 to 14:00."
    assert then == (
        "Then no rain or snow of the season shuts or softens any of it. Hardly any of the riding "
        "is hot."
    )


def test_without_heights_the_table_is_not_said_to_know_of_snow() -> None:
    """April was told as the time for an alpine road at 2,000 m, whatever lies there."""
    for air_c, cold in ((9.9, True), (10.0, False)):  # no word of snow where it never lies
        winter = month(1, [cell(h, max_air_temp_c=air_c) for h in WHEN.hours])
        ranked, worst = rank_months(year(m1=winter), _LENGTH_M, WHEN)
        first, *then = map(str, lead(ranked, worst, heights=False))
        assert first == "Then no rain of the season shuts or softens any of it."
        said_so = any(x.startswith("The region has no heights: snow that shuts") for x in then)
        assert said_so is cold
        assert not any("no heights" in str(text) for text in lead(ranked, worst))


def hot(number: int) -> WhenMonth:
    return month(number, [cell(h, rest_share=1.0, hard_share=0.5) for h in WHEN.hours])


@pytest.mark.parametrize(
    ("best", "words"),
    [
        ({7}, "Go in July, "),
        ({7, 8}, "Go in July or August, "),
        ({5, 6, 7, 8}, "Go between May and August, "),
        ({12, 1, 2}, "Go between December and February, "),
        ({3, 10, 11}, "Best in March or October or November, "),
        ({1, 12}, "Go in December or January, "),
        ({1, 2, 6, 7, 8, 12}, "Best in December to February or June to August, "),
    ],
)
def test_months_are_named(best: set[int], words: str) -> None:
    months = [month(n) if n in best else hot(n) for n in range(1, 13)]
    first, then = said(months)
    assert first.startswith(words) and first.endswith("at any hour from 05:00 to 14:00.")
    worst = "January" if 1 not in best else "March" if 3 not in best else "February"
    if 2 not in best:
        worst = "January" if 1 not in best else "February"
    assert f"Worst is {worst}, setting off at 05:00: 100 % of the riding is hot" in then


def test_hours_are_named_that_hold_in_every_named_month() -> None:
    def until(last: int) -> list[WhenCell]:
        return [cell(h, rest_share=0.0 if h <= last else 0.9) for h in WHEN.hours]

    months = [month(7, until(8)), month(8, until(7)), *[hot(n) for n in (1, 2, 3, 4, 5, 6)]]
    months += [hot(n) for n in (9, 10, 11, 12)]
    first, _ = said(sorted(months, key=lambda m: m.month))
    assert first == "Go in July or August, and set off by 07:00."


def test_what_shuts_outweighs_heat_and_dark_outweighs_heat() -> None:
    shut = month(1, shut_m=5_000.0, snow_m=4_000.0)
    dark = month(2, [cell(h, is_dark=True, light_left_s=-60.0) for h in WHEN.hours])
    months = [shut, dark, *[hot(n) for n in range(3, 13)]]
    ranked, worst = rank_months(months, _LENGTH_M, WHEN)
    assert worst[0] == 1
    assert not any(c.is_best for m in ranked[:2] for c in m.cells)
    _, then = said(months)
    assert then.endswith("Worst is January, setting off at 05:00: 4 km may be closed by snow.")


def test_no_month_is_called_good_that_is_not() -> None:
    months = [month(n, shut_m=1_000.0 * n) for n in range(1, 13)]
    first, then = said(months)
    assert first.startswith("No month is free of trouble. Go in January or February")
    assert then.startswith("Even then 2 km of it are to be taken as shut")


def test_an_unknown_season_is_said_and_never_called_open() -> None:
    months = [month(n, season_unknown_m=30_000.0, rain_mm=None) for n in range(1, 13)]
    _, then = said(months)
    assert then.startswith("What rain and snow do to 30 km of it is not known: ask locally")
    assert "shuts or softens" not in then
    soft = [month(n, season_unknown_m=30_000.0, soft_m=2_000.0) for n in range(1, 13)]
    assert "is not known; 2 km of the rest may be impassable" in said(soft)[1]


def test_cold_and_ice_are_told() -> None:
    cold = [cell(h, cold_share=0.6, ice_share=0.2) for h in WHEN.hours]
    months = [month(n, cold) for n in range(1, 13)]
    _, then = said(months)
    assert "For 60 % of the riding hands grow cold. For 20 % of the riding ice may lie." in then
    winter = year(m1=month(1, cold))
    assert said(winter)[1].endswith("05:00: ice may lie for 20 % of the riding.")


@pytest.mark.parametrize(
    ("shut_m", "soft_m", "unknown_m", "words"),
    [
        (SMALL_M, 0.0, 0.0, "are to be taken as shut"), (SMALL_M - 1, 0.0, 0.0, "Then no rain"),
        (0.0, SMALL_M, 0.0, "Then the season shuts none of it"),
        (0.0, SMALL_M - 1, 0.0, "Then no rain"),
        (0.0, SMALL_M, 900.0, "of the rest may be impassable"),
        (0.0, SMALL_M - 1, 900.0, "ask locally before you go"),
        (SMALL_M, SMALL_M, 900.0, "are to be taken as shut"),
    ],
)  # fmt: skip
def test_ground_of_the_best_months(
    shut_m: float, soft_m: float, unknown_m: float, words: str
) -> None:
    """The worst of the months named counts."""
    two = [month(1), month(2, shut_m=shut_m, soft_m=soft_m)]
    assert words in str(_ground_words(two, unknown_m))


@pytest.mark.parametrize(
    ("cells", "wanted"),
    [
        ([{"rest_share": SHARE * 0.99}], ["Hardly any"]),
        ([{"rest_share": SHARE}], ["For "]),
        ([{"rest_share": 0.5}, {"rest_share": 0.5 + SHARE * 0.99}], ["it is hot enough"]),
        ([{"rest_share": 0.25}, {"rest_share": 0.5}], ["For 25 % to 50 % of"]),
        ([{"is_dark": True}, {}], ["Hardly any"]),
        ([{"is_dark": True}] * 2, ["Hardly any", "in the dark"]),
        ([{"cold_share": SHARE}, {}], ["Hardly any", "hands grow cold"]),
        ([{"cold_share": SHARE * 0.99, "ice_share": SHARE}], ["Hardly any", "ice may lie"]),
        ([{"ice_share": SHARE * 0.99}], ["Hardly any"]),
    ],
)
def test_air_of_the_best_hours(cells: list[dict[str, object]], wanted: list[str]) -> None:
    words = [str(word).replace("\xa0", " ") for word in _air_words([cell(7, **c) for c in cells])]
    assert len(words) == len(wanted)
    assert all(want in word for want, word in zip(wanted, words, strict=True))


@pytest.mark.parametrize(
    ("ground", "air", "words"),
    [
        ({"shut_m": 1_000.0, "snow_m": 500.0}, {}, "closed by snow"),
        ({"shut_m": 1_000.0, "snow_m": 499.0}, {}, "impassable for days"),
        ({"shut_m": SMALL_M, "snow_m": 0.0}, {"is_dark": True}, "impassable for days"),
        ({"shut_m": SMALL_M - 1, "snow_m": SMALL_M}, {"is_dark": True}, "ends in the dark"),
        ({}, {"is_dark": True, "before_light_s": 1.0}, "begins before light"),
        ({}, {"is_dark": True, "before_light_s": 0.0}, "ends in the dark"),
        ({}, {"cold_share": 0.5, "rest_share": 0.3, "hard_share": 0.1}, "hands grow cold"),
        ({}, {"cold_share": 0.4, "rest_share": 0.3, "hard_share": 0.1}, "is hot enough"),
        ({}, {"cold_share": 0.5, "ice_share": SHARE}, "ice may lie"),
        ({}, {"cold_share": 0.5, "ice_share": SHARE * 0.99}, "hands grow cold"),
        ({"soft_m": SMALL_M}, {"rest_share": SHARE}, "is hot enough"),
        ({"soft_m": SMALL_M}, {"rest_share": SHARE * 0.99}, "impassable after rain"),
        ({"soft_m": SMALL_M - 1}, {}, None),
    ],
)
def test_why_an_hour_is_the_worst(
    ground: dict[str, float], air: dict[str, object], words: str | None
) -> None:
    got = _why(month(1, **ground), cell(7, **air))
    assert (words in str(got)) if words else got is None


@pytest.mark.parametrize(
    ("other", "told"), [({}, False), ({"shut_m": 1.0}, True), ({"soft_m": 1.0}, True)]
)
def test_what_shut_and_soft_mean_is_said_where_some_month_brings_them(
    other: dict[str, float], told: bool
) -> None:
    """And always that the figures are means, and that no month opens what the law shuts."""
    said = " ".join(map(str, notes(year(m4=month(4, **other)))))
    assert ("Shut: take it as shut" in said) == told
    assert said.startswith("Means of many years") and "no month opens" in said
