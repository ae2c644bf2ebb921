"""The drawing's parts: rows, steps, labels, paths, and colours that everybody can tell apart."""

from __future__ import annotations

import itertools
import random
import re
from pathlib import Path

import numpy as np
import pytest

import terrain.report as report_package
from terrain.report.diagram.diagram import render_rows
from terrain.report.diagram.heat import heat_scale
from terrain.report.diagram.letters import STOP_WORDS, letter
from terrain.report.drawing.labels import LabelPlacer
from terrain.report.drawing.scale import WIDTH, fold, nice_step
from terrain.report.drawing.svg import boxes, polyline, polylines, text_width, thinned
from terrain.report.sections import sections
from terrain.text.catalogue import LANGUAGES
from terrain.text.figures import Units, whole_percents
from terrain.text.translator import Translator, translator_for
from tests.report.sample import facts


@pytest.mark.parametrize("km", [0.4, 8.0, 99.0, 126.0, 212.3, 300.0, 950.0])
def test_rows_hold_the_whole_ride_at_one_scale(km: float) -> None:
    rows = fold(km * 1000)
    assert rows[0].from_m == 0
    assert rows[-1].to_m == km * 1000
    assert all(a.to_m == b.from_m for a, b in itertools.pairwise(rows))
    assert len({row.px_per_m for row in rows}) == 1
    assert max(row.width for row in rows) <= WIDTH + 0.01
    if km > 200:
        assert all(row.from_m % 5000 == 0 for row in rows)
        assert all(100_000 <= row.to_m - row.from_m <= 150_000 for row in rows[:-1])


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
    labels = LabelPlacer(400, 400)
    labels.avoid_line(np.array([[0.0, 200.0], [400.0, 200.0]]))
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
    start = np.array([0, 120, 121, 400])
    lines = _decoded(polylines(x, y, start, scale=2))
    assert len(lines) == 3
    for line, a, b in zip(lines, start[:-1], start[1:], strict=True):
        drawn = np.array(line)
        for px, py in zip(x[a:b], y[a:b], strict=True):
            assert np.hypot(*(drawn - [px, py]).T).min() <= 0.36


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
    assert boxes([(2000.0, -1.0, 1500.26, 0.04)]) == "M2000-1h1500.3v0h-1500.3z"


def test_unknown_values_break_the_line() -> None:
    lines = _decoded(polyline(np.array([0.0, 1, 2, 3, 4]), np.array([0, 1, np.nan, 3, 4])))
    assert lines == [[(0, 0), (1, 1)], [(3, 3), (4, 4)]]
    assert polyline(np.array([np.nan]), np.array([1.0])) == ""


def test_wide_letters_are_wide() -> None:
    assert text_width("山道", 12) > text_width("il", 12)
    assert text_width("é", 12) == text_width("e\u0301", 12)


def test_every_lane_without_data_says_so() -> None:
    told = facts()
    told["relief"] = None
    told["places"] = []
    drawn = "".join(render_rows(told, sections(told["stretches"]), Translator()))
    for translator in (
        "No elevation: heights and ramps are not known.",
        "No date of travel: heat is not judged for a day.",
        "Help by road is not known.",
        "No plan of days and stops.",
    ):
        assert translator in drawn


# -- colours -------------------------------------------------------------------------------------

_CSS = (Path(str(report_package.__file__)).parent / "templates" / "drawing.css").read_text("utf-8")
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


def _palettes() -> list[dict[str, str]]:
    blocks = re.findall(r":root\s*\{([^}]*)\}", _CSS)
    return [dict(re.findall(r"--(\w+):\s*(#[0-9a-f]{6})", block)) for block in blocks]


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


@pytest.mark.parametrize("palette", _palettes()[:2], ids=["light", "dark"])
def test_text_has_contrast(palette: dict[str, str]) -> None:
    for name in ("ink", "soft", "link"):
        assert _contrast(palette[name], palette["paper"]) >= 4.5


@pytest.mark.parametrize("loss", _LOSS)
@pytest.mark.parametrize("palette", _palettes()[:2], ids=["light", "dark"])
def test_grounds_stay_apart_with_colour_vision_loss(palette: dict[str, str], loss: str) -> None:
    seen = {
        name: _lab(np.clip(np.array(_LOSS[loss]) @ _linear(palette[name]), 0, 1))
        for name in ("paved", "gravel", "track")
    }
    for one, two in itertools.combinations(seen.values(), 2):
        assert np.linalg.norm(one - two) > 15


def test_grounds_stay_apart_in_grey() -> None:
    grey = sorted(_lab(_linear(_palettes()[0][name]))[0] for name in ("paved", "gravel", "track"))
    assert all(b - a > 12 for a, b in itertools.pairwise(grey))


def test_colours_come_from_the_published_set() -> None:
    light = _palettes()[0]
    for name in ("gravel", "track", "help", "ferry", "heat", "touch", "link"):
        assert light[name] in _OKABE_ITO


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


@pytest.mark.parametrize("lang", LANGUAGES)
def test_no_two_stops_share_a_letter(lang: str) -> None:
    translator = translator_for(lang)
    kinds = [*STOP_WORDS, "hospital"]
    letters = [letter(kind, translator) for kind in kinds]
    assert len(set(letters)) == len(kinds)
    assert all(len(sign) == 1 and sign.isupper() for sign in letters)


@pytest.mark.parametrize("units", list(Units))
@pytest.mark.parametrize(("low", "high"), [(-7.3, 4.0), (21.6, 34.2), (20.0, 20.0)])
def test_the_heat_scale_is_round_in_the_units_shown(units: Units, low: float, high: float) -> None:
    translator = translator_for("en", units)
    foot_c, top_c = heat_scale(np.array([low, np.nan]), np.array([high, np.nan]), translator)
    shown = [translator.temp_value(edge_c) for edge_c in (foot_c, top_c)]
    assert shown == pytest.approx([round(edge) for edge in shown])
    assert foot_c <= low + 1e-9
    assert top_c >= high - 1e-9
    assert top_c > foot_c
