"""Labels with leaders beside the ride: on a hundred rides none lies on the line or on another."""

from __future__ import annotations

import itertools
import re
import tarfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from terrain.report.drawing.map import MapSpot, _first_runs, place_spots, render_map
from terrain.report.drawing.view import PAPER, PHONE, WIDE, Sheet
from terrain.report.page.spots import map_spots
from terrain.text.translator import Translator
from terrain.values.match import Match
from terrain.values.report import Report
from tests.assessed import match_of

_LINES = Path(__file__).parents[4] / "shared" / "data" / "match-truth" / "gpx.tar.gz"
_N_RIDES = 100
# As long as they come: "Farthest from help" in German, a long name, a third longer.
_TITLES = {
    "decide": "Hier entscheiden, bei km 147,9", "far": "Am weitesten von Hilfe, bei km 173",
    "hot": "Am heißesten, bei km 126", "help": "Sant Julià de Lòria: Werkstatt, Sprit",
    "start": "El Pas de la Casa: Anfang", "end": "Escaldes-Engordany: Ende",
}  # fmt: skip
_NOTE = "52 km, 4 h 15 min ohne einen Weg hinaus"


def _match(lon: np.ndarray, lat: np.ndarray) -> Match:
    step_m = 111_000 * np.hypot(np.diff(lon) * np.cos(np.radians(lat[0])), np.diff(lat))
    at_m = np.concatenate([[0.0], np.cumsum(step_m)])
    made = match_of(float(at_m[-1]))
    return replace(made, lon=lon, lat=lat, at_m=at_m, point_at_m=at_m)


def _real() -> Iterator[Match]:
    """Rides of the matching benchmark in Andorra and Liechtenstein."""
    with tarfile.open(_LINES) as held:
        for item in held:
            drawn = held.extractfile(item) if item.name.endswith(".clean50.gpx") else None
            if drawn is not None:
                points = re.findall(rb'lat="([^"]+)" lon="([^"]+)"', drawn.read())
                lat, lon = np.array(points, dtype=float).T
                yield _match(lon, lat)


def _made_up(n: int) -> Iterator[Match]:
    """Straight, winding, round and there-and-back lines of any shape of box."""
    rng = np.random.default_rng(20270314)
    for k in range(n):
        turn = rng.normal(0, 0.05 + 0.3 * rng.random(), 400).cumsum()
        x, y = np.cos(turn).cumsum(), np.sin(turn).cumsum() * rng.uniform(0.2, 3.0)
        if k % 4 == 1:
            x, y = np.concatenate([x, x[::-1]]), np.concatenate([y, y[::-1]])
        if k % 4 == 2:
            angle = np.linspace(0, 2 * np.pi, 300)
            x, y = (20 + 3 * np.sin(9 * angle)) * np.cos(angle), 20 * np.sin(angle)
        size = 10 ** rng.uniform(-2, 0.5) / max(np.ptp(x), np.ptp(y))
        yield _match(1.5 + size * x, 42.5 + size * y)


def _rides() -> list[Match]:
    real = list(_real()) if _LINES.exists() else []
    return [*real, *_made_up(_N_RIDES - len(real))]


def _spots(match: Match, rng: np.random.Generator) -> list[MapSpot]:
    at = [0.0, *np.sort(rng.uniform(0, match.length_m, 4)), match.length_m]
    lon, lat = match.lonlat(np.array(at))
    kinds = ["start", *rng.permutation(["decide", "far", "hot", "help"]).tolist(), "end"]
    return [
        MapSpot(
            kind=kind, lon=float(lon[k]), lat=float(lat[k]), at_m=at[k], title=_TITLES[kind],
            note="" if kind in ("start", "end", "help") else _NOTE,
        )
        for k, kind in enumerate(kinds)
    ]  # fmt: skip


@pytest.mark.parametrize("sheet", [WIDE, PAPER, PHONE], ids=lambda sheet: sheet.name)
def test_labels_lie_neither_on_the_ride_nor_on_each_other(sheet: Sheet) -> None:
    """Geometry checked by shapely: the ride's edge is 15 px wide."""
    rng = np.random.default_rng(7)
    rides = _rides()
    assert len(rides) == _N_RIDES
    for n, match in enumerate(rides):
        view, _, placed = place_spots(match, _spots(match, rng), sheet)
        assert all(lead is not None for _, lead in placed), n
        leads = [lead for _, lead in placed if lead is not None]
        line = shapely.LineString(np.column_stack([view.x(match.lon), view.y(match.lat)]))
        words = [shapely.box(*lead.box) for lead in leads]
        whole = shapely.box(0, 0, view.width, view.height)
        assert whole.contains(line.buffer(7.5)), n
        for box in words:
            assert whole.contains(box), n
            assert box.distance(line) >= 7.5, n
        for one, two in itertools.combinations(words, 2):
            assert not one.intersects(two), n
        leaders = [shapely.LineString([(k.from_x, k.from_y), (k.to_x, k.to_y)]) for k in leads]
        for a, leader in enumerate(leaders):
            for b, box in enumerate(words):
                assert a == b or not leader.intersects(box), n
        for one, two in itertools.combinations(leaders, 2):
            assert not one.crosses(two), n


def test_a_phone_map_is_tall() -> None:
    """At least four wide to five high."""
    assert PHONE.shortest / PHONE.width >= 5 / 4


def test_each_label_opens_its_row(sample_reports: list[Report]) -> None:
    for report in sample_reports:
        spots = map_spots(report, Translator())
        kinds = [spot.kind for spot in spots]
        assert len(spots) <= 6
        assert kinds[0] == "start"
        assert kinds[-1] in ("end", "start", "hot", "far")
        drawn = render_map(report, Translator(), "", spots)
        for spot in spots:
            assert spot.kind in ("start", "end") or f'<a href="{spot.href}">' in drawn


def test_a_way_ridden_back_is_drawn_once() -> None:
    """Dashes of two passes would run together to a solid line."""
    one = match_of(10_000.0)
    back = replace(
        one, kind=np.zeros(2, np.int8), filled=np.zeros(2, bool), edge=np.array([4, 4], np.int32),
        way=np.array([4, 4], np.int32), way_id=np.array([9, 9]), forward=np.array([True, False]),
        edge_from_m=np.array([0.0, 5e3]), edge_to_m=np.array([5e3, 0.0]),
        from_m=np.array([0.0, 5e3]), to_m=np.array([5e3, 1e4]), offset_m=np.zeros(2),
    )  # fmt: skip
    assert _first_runs(back) == [(0.0, 5e3)]
    assert _first_runs(replace(back, edge=np.array([-1, -1], np.int32))) == [(0.0, 1e4)]
