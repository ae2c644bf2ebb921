"""The drawing's parts: rows, steps, labels, paths, and colours that everybody can tell apart."""

from __future__ import annotations

import itertools
import random
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from terrain.report.diagram.diagram import render_days
from terrain.report.diagram.legend import swatch
from terrain.report.diagram.plan import clock_knots, place_stops
from terrain.report.drawing.columns import NARROW_PX, ground_columns
from terrain.report.drawing.ink import INKS
from terrain.report.drawing.labels import LabelPlacer
from terrain.report.drawing.scale import WIDTH, DiagramRow, day_rows, nice_step
from terrain.report.drawing.stills import still
from terrain.report.drawing.svg import boxes, polyline, polylines, text_width, thinned
from terrain.text.figures import Units, whole_percents
from terrain.text.translator import Translator
from terrain.values.ground import GroundKind
from terrain.values.plan import Day, Stop, StopKind
from terrain.values.report import Report
from tests.assessed import assessed, report_of


def _day(number: int, from_m: float, to_m: float) -> Day:
    return Day(number=number, from_m=from_m, to_m=to_m, riding_s=3600.0, stops_s=0.0,
               start_s=28_800.0, end_s=36_000.0, daylight=None, margin_s=None, lodging=None,
               lodging_off_m=None, hard=())  # fmt: skip


def test_a_row_is_a_day_and_all_rows_have_one_scale() -> None:
    days = [_day(1, 0.0, 90e3), _day(2, 90e3, 210e3), _day(3, 210e3, 240e3)]
    rows = day_rows(days, 240e3, dated=True)
    assert [(row.from_m, row.to_m) for row in rows] == [(0, 90e3), (90e3, 210e3), (210e3, 240e3)]
    assert len({row.px_per_m for row in rows}) == 1
    assert rows[1].width == pytest.approx(WIDTH)
    assert [row.day for row in rows] == days


@pytest.mark.parametrize("km", [0.4, 8.0, 99.0, 149.0, 212.3, 300.0, 950.0])
def test_an_undated_ride_of_one_day_folds_from_150_km_on(km: float) -> None:
    rows = day_rows([_day(1, 0.0, km * 1000)], km * 1000, dated=False)
    assert rows[0].from_m == 0
    assert rows[-1].to_m == km * 1000
    assert all(a.to_m == b.from_m for a, b in itertools.pairwise(rows))
    assert len({row.px_per_m for row in rows}) == 1
    assert max(row.width for row in rows) <= WIDTH + 0.01
    assert len(rows) == (1 if km <= 150 else -(-km // 120))
    dated = day_rows([_day(1, 0.0, km * 1000)], km * 1000, dated=True)
    assert len(dated) == 1


def test_no_column_is_a_needle(sample_reports: list[Report]) -> None:
    """Columns of ground are 6 px wide and more; no metre of chance is lost."""
    for report in sample_reports:
        stretches = report.assessed.ground.stretches
        row = DiagramRow(from_m=0.0, to_m=stretches[-1].to_m, px_per_m=900 / stretches[-1].to_m)
        columns = ground_columns(row, stretches)
        land = [c for c in columns if c.p is not None]
        assert all(a.at + a.wide == pytest.approx(b.at) for a, b in itertools.pairwise(columns))
        assert sum(c.wide for c in columns) == pytest.approx(900)
        if len(land) == len(columns):
            # Of two narrow runs that borrow from the same column little may be left.
            assert all(c.wide >= NARROW_PX / 2 - 1e-9 for c in land)
        for ground in range(3):
            drawn = sum(c.wide * c.p[ground] for c in land if c.p is not None)
            true = sum(s.length_m * s.p[ground] for s in stretches if s.p is not None)
            assert drawn == pytest.approx(true * row.px_per_m, abs=0.5)


@dataclass(frozen=True)
class _Part:
    from_m: float
    to_m: float
    p: tuple[float, ...] | None
    ground: GroundKind = GroundKind.PAVED


def test_a_short_track_is_not_drowned_in_a_long_road() -> None:
    """1 km of track in 300 km of road, at 3 px a km: 6 px where it lies, half of them track. The
    mean of all to its left would have been a line of a third of a pixel."""
    road, track = (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)
    ride = [_Part(0, 150e3, road), _Part(150e3, 151e3, track), _Part(151e3, 300e3, road)]
    row = DiagramRow(from_m=0.0, to_m=300e3, px_per_m=3e-3)
    first, short, last = ground_columns(row, ride)
    assert (first.wide, short.at, short.wide) == pytest.approx((448.5, 448.5, 6.0))
    assert short.p == pytest.approx((0.5, 0.0, 0.5))
    assert first.p == last.p == road
    # Five of them 500 m apart, 4.5 km in all: cut anew into columns of 6 px and more.
    ends = [150e3 + 500.0 * k for k in range(11)]
    mixed = [_Part(a, b, track if k % 2 == 0 else road)
             for k, (a, b) in enumerate(itertools.pairwise(ends))]  # fmt: skip
    many = ground_columns(row, [_Part(0, 150e3, road), *mixed, _Part(155e3, 300e3, road)])
    assert [c.wide for c in many[1:-1]] == pytest.approx([6.75, 6.75])
    assert sum(c.wide * c.p[2] for c in many if c.p) == pytest.approx(5 * 500 * 3e-3)
    # At the very start there is nothing before it to borrow from.
    start = ground_columns(row, [_Part(0, 1e3, track), _Part(1e3, 300e3, road)])
    assert [c.wide for c in start] == pytest.approx([4.5, 895.5])
    # A ferry is no ground: its ends stay where they are.
    sea = _Part(150e3, 151e3, None, GroundKind.FERRY)
    columns = ground_columns(row, [_Part(0, 150e3, road), sea, _Part(151e3, 300e3, road)])
    assert [(c.wide, c.other) for c in columns] == [(450, ""), (3, "ferry"), (447, "")]


@pytest.mark.parametrize(("span", "ticks", "step"), [(100, 10, 10), (7, 4, 2), (0.9, 3, 0.5)])
def test_steps_are_round(span: float, ticks: int, step: float) -> None:
    assert nice_step(span, ticks) == step


def test_labels_never_lie_on_each_other() -> None:
    rng = random.Random(5)
    labels = LabelPlacer(900, 500)
    labels.block(0, 0, 60, 40)
    for _ in range(300):
        labels.place(rng.uniform(0, 900), rng.uniform(0, 500), "A village name", 12, away=5)
    boxes = labels.taken
    assert len(boxes) > 30
    for (a, b, c, d), (e, f, g, h) in itertools.combinations(boxes, 2):
        assert c <= e or g <= a or d <= f or h <= b
    for left, top, right, bottom in boxes[1:]:
        assert left >= 0
        assert top >= 0
        assert right <= 900
        assert bottom <= 500


def test_labels_leave_the_ride_free() -> None:
    labels = LabelPlacer(400, 400, np.array([[0.0, 200.0], [400.0, 200.0]]))
    spot = labels.place(200, 200, "On the ride", 12, away=6)
    assert spot is not None
    assert not 193 < spot[1] < 212


def _decoded(path: str) -> list[list[tuple[float, float]]]:
    """A small reader of M and relative l: what a browser makes of the path."""
    lines: list[list[tuple[float, float]]] = []
    for kind, body in re.findall(r"([Ml])([^Ml]*)", path):
        numbers = [float(n) for n in re.findall(r"-?\d*\.?\d+", body)]
        pairs = list(zip(numbers[::2], numbers[1::2], strict=True))
        if kind == "M":
            lines.append([pairs[0]])
        else:
            for dx, dy in pairs:
                x, y = lines[-1][-1]
                lines[-1].append((x + dx, y + dy))
    return lines


def test_paths_keep_within_half_a_step_of_the_line() -> None:
    rng = np.random.default_rng(1)
    x, y = np.cumsum(rng.normal(0, 3, 400)), np.cumsum(rng.normal(0, 3, 400))
    lines = _decoded(polylines(x, y, np.array([0, 120, 121, 400]), scale=2))
    assert len(lines) == 2  # a point alone draws nothing
    for line, (a, b) in zip(lines, ((0, 120), (121, 400)), strict=True):
        drawn = np.array(line)
        for px, py in zip(x[a:b], y[a:b], strict=True):
            assert np.hypot(*(drawn - [px, py]).T).min() <= 0.36


def test_a_line_goes_on_where_the_one_before_ends() -> None:
    x, y = np.array([0.0, 5, 5, 5, 9, 12]), np.array([0.0, 0, 0, 5, 5, 9])
    assert polylines(x, y, np.array([0, 2, 4, 6])) == "M0 0l5 0 0 5M9 5l3 4"


def test_lines_are_thinned_to_what_is_seen() -> None:
    rng = np.random.default_rng(3)
    at = np.linspace(0, 60, 900)
    x, y = 15 * at, 40 * np.sin(at) + rng.normal(0, 0.05, 900)
    start = np.array([0, 400, 400, 401, 900])
    thin_x, thin_y, thin_start = thinned(x, y, start)
    assert len(thin_x) < 600
    for a, b, c, d in zip(start[:-1], start[1:], thin_start[:-1], thin_start[1:], strict=True):
        assert (
            thin_x[c:d][[0, -1] if d > c else []].tolist()
            == x[a:b][[0, -1] if b > a else []].tolist()
        )
        if b > a:  # 0.4 px aside is 1.2 px up at the steepest
            assert np.abs(np.interp(x[a:b], thin_x[c:d], thin_y[c:d]) - y[a:b]).max() <= 1.2


def test_the_tip_of_a_dead_end_stays() -> None:
    x, y = np.array([0.0, 5.0, 10.0, 5.0, 0.0]), np.zeros(5)
    thin_x, _, start = thinned(x, y, np.array([0, 5]))
    assert thin_x.max() == 10
    assert start.tolist() == [0, len(thin_x)]
    assert [part.tolist() for part in thinned(x[:0], y[:0], np.array([0]))] == [[], [], [0]]


def test_steps_beyond_the_tables_are_told_too() -> None:
    x, y = np.array([0.0, 3000.0, -12_000.0]), np.array([-4000.0, 0.05, 9000.0])
    assert _decoded(polyline(x, y)) == [
        [(0, -4000), (3000, 0), (pytest.approx(-12_000), pytest.approx(9000))]
    ]
    assert boxes([(2000.0, -1.0, 1500.26, 0.04)]) == "M2000 -1h1500.3v0h-1500.3z"


def test_unknown_values_break_the_line() -> None:
    lines = _decoded(polyline(np.array([0.0, 1, 2, 3, 4]), np.array([0, 1, np.nan, 3, 4])))
    assert lines == [[(0, 0), (1, 1)], [(3, 3), (4, 4)]]
    assert polyline(np.array([np.nan]), np.array([1.0])) == ""


def test_wide_letters_are_wide() -> None:
    assert text_width("山道", 12) > text_width("il", 12)
    assert text_width("é", 12) == text_width("e\u0301", 12)


def test_every_lane_without_data_says_so() -> None:
    (drawn,) = render_days(report_of(assessed()), Translator())
    for said in (
        "No elevation: heights and ramps are not known.",
        "No date of travel: heat is not judged for a day.",
        "No mechanic and no town can be reached on mapped roads.",
    ):
        assert said in drawn.svg


def _stop(at_m: float, hour: float, *kinds: StopKind) -> Stop:
    return Stop(at_m=at_m, off_m=0.0, kinds=kinds, name=None, lon=0.0, lat=0.0, why="", day=1,
                arrive_s=hour * 3600, stay_s=900.0, van_access=None, place=None)  # fmt: skip


def test_stops_in_words_never_lie_on_each_other() -> None:
    row = DiagramRow(from_m=0.0, to_m=100e3, px_per_m=0.009, day=_day(1, 0, 100e3))
    stops = [_stop(1e3 * k, 8 + k / 10, StopKind.VAN, StopKind.CHECK) for k in (10, 12, 14, 60, 99)]
    placed = place_stops(row, stops, Translator())
    for one, two in itertools.combinations(placed, 2):
        if one.tier == two.tier:
            wide = [text_width(item.words, 12) for item in (one, two)]
            assert one.left + wide[0] <= two.left or two.left + wide[1] <= one.left
    for above, below in itertools.permutations(placed, 2):
        if above.tier < below.tier:  # the line of the lower one comes down beside the words
            assert not above.left < below.x < above.left + text_width(above.words, 12)
    assert max(item.tier for item in placed) <= 3


def test_words_give_way_to_the_line_of_a_stop_whose_words_stand_left() -> None:
    row = DiagramRow(from_m=0.0, to_m=75e3, px_per_m=0.0066, day=_day(1, 0, 75e3))
    lunch = _stop(65e3, 12.4, StopKind.LUNCH, StopKind.CHECK)
    stops = [_stop(44.6e3, 9.2, StopKind.FUEL), _stop(56e3, 10.8, StopKind.REST), lunch]
    placed = place_stops(row, [*stops, _stop(75e3, 14.4, StopKind.NIGHT)], Translator())
    assert [item.flip for item in placed] == [False, True, True, True]
    assert not any(one.meets(two) for one, two in itertools.combinations(placed, 2))


def test_the_clock_stands_still_at_a_stop() -> None:
    """Times and places between setting off and arrival; a stop of 15 minutes moves nothing."""
    time, at = clock_knots(_day(1, 0.0, 100e3), [_stop(50e3, 9.0, StopKind.REST)])
    assert np.interp(9.0 * 3600, time, at) == np.interp(9.25 * 3600, time, at) == 50e3
    assert np.interp(28_800.0, time, at) == 0
    assert np.interp(36_000.0, time, at) == 100e3


# -- colours -------------------------------------------------------------------------------------

_LIGHT = {ink.name: ink.light for ink in INKS}
_DARK = {ink.name: ink.dark for ink in INKS}
# Okabe & Ito, Color Universal Design, 2008.
_OKABE_ITO = {
    "#0072b2", "#56b4e9", "#009e73", "#f0e442", "#e69f00", "#d55e00", "#cc79a7", "#000000",
}  # fmt: skip
# Machado, Oliveira & Fernandes 2009 (IEEE TVCG 15(6)), severity 1.0, linear RGB; from memory.
_LOSS = {
    "protan": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216],
               [-0.003882, -0.048116, 1.051998]],
    "deutan": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413],
               [-0.011820, 0.042940, 0.968881]],
    "tritan": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602],
               [0.004733, 0.691367, 0.303900]],
    "none": [[1, 0, 0], [0, 1, 0], [0, 0, 1]],
}  # fmt: skip


def _linear(colour: str) -> np.ndarray:
    srgb = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)


def _luminance(linear: np.ndarray) -> float:
    """Relative luminance, WCAG 2.1."""
    return float(linear @ [0.2126, 0.7152, 0.0722])


def _contrast(one: str, two: str) -> float:
    light, dark = sorted((_luminance(_linear(one)), _luminance(_linear(two))), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _lab(linear: np.ndarray) -> np.ndarray:
    """CIE 1976 L*a*b*, D65 (IEC 61966-2-1 matrix)."""
    matrix = np.array(
        [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    )
    xyz = matrix @ linear / [0.95047, 1.0, 1.08883]
    f = np.where(xyz > 0.008856, np.cbrt(xyz), 7.787 * xyz + 16 / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("palette", [_LIGHT, _DARK], ids=["light", "dark"])
def test_text_has_contrast(palette: dict[str, str]) -> None:
    for name in ("ink", "soft", "link"):
        assert _contrast(palette[name], palette["paper"]) >= 4.5


@pytest.mark.parametrize("loss", _LOSS)
@pytest.mark.parametrize("palette", [_LIGHT, _DARK], ids=["light", "dark"])
def test_grounds_stay_apart_with_colour_vision_loss(palette: dict[str, str], loss: str) -> None:
    seen = {
        name: _lab(np.clip(np.array(_LOSS[loss]) @ _linear(palette[name]), 0, 1))
        for name in ("paved", "gravel", "track")
    }
    for one, two in itertools.combinations(seen.values(), 2):
        assert np.linalg.norm(one - two) > 15


@pytest.mark.parametrize("palette", [_LIGHT, _DARK], ids=["light", "dark"])
def test_ink_stands_out_more_the_harder_the_ground(palette: dict[str, str]) -> None:
    """Contrast with the page grows: paved, gravel, track, closed; so does that of the harm."""
    for names in (("paved", "gravel", "track", "closed"), ("line", "care", "danger", "closed")):
        contrast = [_contrast(palette[name], palette["paper"]) for name in names]
        assert contrast == sorted(contrast)
    if palette is _LIGHT:
        grey = [_lab(_linear(palette[n]))[0] for n in ("paved", "gravel", "track", "closed")]
        assert all(a - b > 12 for a, b in itertools.pairwise(grey))


def test_shapes_have_contrast_where_they_carry_meaning() -> None:
    """WCAG 2.2, 1.4.11: 3 to 1 for what is needed to understand; textures and frames help paler."""
    for palette in (_LIGHT, _DARK):
        for name in ("closed", "danger", "help", "track"):
            assert _contrast(palette[name], palette["paper"]) >= 3.0
        assert _contrast(palette["onclosed"], palette["closed"]) >= 4.5
        assert _contrast(palette["hatch"], palette["track"]) >= 2.5


def test_colours_come_from_the_published_set() -> None:
    for name in ("gravel", "track", "help", "ferry", "touch"):
        assert _LIGHT[name] in _OKABE_ITO


@pytest.mark.parametrize("kind", ["gravel", "track"])
def test_textures_reach_paper(kind: str) -> None:
    """In grey and for who sees few colours the texture tells a ground: dots or hatch."""
    drawn = still(swatch(f"g-{kind}")).decode()
    texture = {"gravel": "dot", "track": "hatch"}[kind]
    assert re.search(f'<(?:circle|rect)[^>]*fill="{_LIGHT[texture]}"', drawn)
    assert f"fill: {_LIGHT[kind]}" in drawn or f"fill:{_LIGHT[kind]}" in drawn


def test_one_table_of_colours() -> None:
    """Paper, mail and notebooks draw with the page's inks; what prints is greyer."""
    root = Path(__file__).resolve().parents[3]
    known = set(_LIGHT.values()) | set(_DARK.values()) | _OKABE_ITO | {"#c8c8c8"}
    known |= {"#444444", "#b5b5b5"}  # second text and rules of a printed page
    written = [
        *(root / "terrain" / "report" / "templates").iterdir(), root / "terrain/report/letter.py",
        *(root / "notebooks").glob("*.ipynb"),
    ]  # fmt: skip
    found = {
        (path.name, colour.lower())
        for path in written
        for colour in re.findall(r"#[0-9a-fA-F]{6}\b", path.read_text(encoding="utf-8"))
    }
    assert len(found) > 10
    assert {item for item in found if item[1] not in known} == set()


# -- words ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("share", "shown"),
    [
        ({"best": 0.71, "low": 0.66, "high": 0.76}, "71 % (66 to 76)"),
        ({"best": 0.003, "low": 0.0, "high": 0.01}, "under 1 % (0 to 1)"),
        ({"best": 1.0, "low": 1.0, "high": 1.0}, "100 %"),
        ({"best": 0.997, "low": 0.99, "high": 1.0}, "over 99 % (99 to 100)"),
    ],
)
def test_shares_never_stand_bare(share: dict[str, float], shown: str) -> None:
    assert Translator().intervals({"paved": share})["paved"].replace("\u00a0", " ") == shown


@pytest.mark.parametrize(
    ("bests", "shown"),
    [
        ((0.456, 0.126, 0.418), (46, 12, 42)),
        ((1 / 3, 1 / 3, 1 / 3), (34, 33, 33)),
        ((0.984, 0.013, 0.003), (99, 1, 0)),
        ((0.5, 0.25, 0.25), (50, 25, 25)),
        ((1.0, 0.0, 0.0), (100, 0, 0)),
    ],
)
def test_whole_percents_add_up(bests: tuple[float, ...], shown: tuple[int, ...]) -> None:
    """Largest remainder (Hamilton's method of apportionment)."""
    assert tuple(whole_percents(list(bests))) == shown


def test_shares_of_one_ride_add_up_to_a_hundred() -> None:
    bests = {"paved": 0.456, "gravel": 0.126, "track": 0.418}  # 46 + 13 + 42 to the nearest
    shares = {kind: {"best": best, "low": best, "high": best} for kind, best in bests.items()}
    told = Translator().intervals(shares)
    assert sum(int(text.split("\u00a0")[0]) for text in told.values()) == 100


@pytest.mark.parametrize(
    ("metres", "metric", "imperial"),
    [(31_400, "31 km", "19.5 mi"), (4_730, "4.7 km", "2.9 mi"), (20, "20 m", "50 ft")],
)
def test_distances_by_unit(metres: float, metric: str, imperial: str) -> None:
    assert Translator().distance(metres).replace("\u00a0", " ") == metric
    assert Translator(units=Units.IMPERIAL).distance(metres).replace("\u00a0", " ") == imperial


@pytest.mark.parametrize(
    ("seconds", "shown"), [(0, "0 min"), (61, "1 min"), (1140, "20 min"), (5340, "1 h 30 min")]
)
def test_times_are_told_to_five_minutes(seconds: float, shown: str) -> None:
    assert Translator().duration(seconds).replace("\u00a0", " ") == shown
