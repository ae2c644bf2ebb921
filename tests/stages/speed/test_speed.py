"""The speed model against moving averages of guided rides and recorded rides."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import gpxpy
import numpy as np
import pytest

from terrain.stages.speed.edges import edge_speed_kph, way_ferry_kph
from terrain.stages.speed.judge import ride_bend_deg_km, stretch_speeds
from terrain.stages.speed.pace import SpeedInputs, turn_deg
from terrain.tables.ground_severity import RULES
from terrain.tables.speed import BREAKDOWN_VAN, MODEL, ROAD_CLASS_SPEEDS
from terrain.values.ride import Speeds
from terrain.values.trip import Luggage, Rider, Trip
from terrain.values.views import Category, RoadsView, Texts, WayFlag, WayTable

PAVED, GRAVEL, TRACK = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
UNKNOWN = (np.nan, np.nan, np.nan)


def inputs(
    highway: str,
    p: tuple[float, float, float],
    *,
    maxspeed: float = np.nan,
    severity: float = np.nan,
    grade: float = np.nan,
    bend: float = 40.0,
    settled: bool = False,
    ferry_kph: float = np.nan,
) -> SpeedInputs:
    return SpeedInputs(
        highway=np.array([0 if highway else -1], dtype=np.int16),
        highway_values=(highway,) if highway else (),
        maxspeed_kph=np.array([maxspeed]),
        p=np.array([p]),
        severity=np.array([severity]),
        grade_pct=np.array([grade]),
        bend_deg_km=np.array([bend]),
        settled=np.array([settled]),
        ferry=np.array([ferry_kph == ferry_kph]),
        ferry_kph=np.array([ferry_kph]),
    )


def ride(given: SpeedInputs, trip: Trip | None = None, length_m: float = 10_000.0) -> Speeds:
    return stretch_speeds(np.array([0.0]), np.array([length_m]), inputs=given, trip=trip or Trip())


@pytest.mark.parametrize(
    ("given", "low", "high"),
    [
        # Moving averages km/h of guided rides (common practice, no source).
        (inputs("secondary", PAVED, bend=60), 55, 70),
        (inputs("tertiary", PAVED, bend=60), 50, 70),
        (inputs("secondary", PAVED, bend=600, grade=8), 35, 50),
        (inputs("tertiary", GRAVEL), 35, 50),
        (inputs("unclassified", GRAVEL), 33, 50),
        (inputs("track", TRACK, bend=200), 15, 30),
        (inputs("track", TRACK, severity=0.9, bend=200), 8, 20),
    ],
)
def test_moving_averages_fall_in_the_guides_ranges(
    given: SpeedInputs, low: float, high: float
) -> None:
    assert low <= ride(given).speed_kph[0] <= high


def test_a_posted_limit_holds_and_a_high_one_lifts() -> None:
    assert ride(inputs("secondary", PAVED, maxspeed=50)).speed_kph[0] < 47
    usual = ride(inputs("tertiary", PAVED)).speed_kph[0]
    assert ride(inputs("tertiary", PAVED, maxspeed=100)).speed_kph[0] > usual + 5
    assert ride(inputs("track", GRAVEL, maxspeed=20)).speed_kph[0] < 20


def test_settlements_hold_the_speed() -> None:
    assert ride(inputs("primary", PAVED, settled=True)).speed_kph[0] < MODEL.settled_kph


def test_riders_differ_by_a_quarter_on_tracks() -> None:
    soft = Luggage.NONE
    steady, novice, expert = (
        ride(inputs("track", TRACK, bend=0), Trip(rider=r, luggage=soft)).speed_kph[0]
        for r in (Rider.STEADY, Rider.NOVICE, Rider.EXPERT)
    )
    assert novice / steady == pytest.approx(0.75, abs=0.01)
    assert expert / steady == pytest.approx(1.25, abs=0.01)


def test_pillion_and_boxes_slow_a_track_more_than_a_road() -> None:
    loaded = Trip(pillion=True, luggage=Luggage.BOXES)
    bare = Trip(luggage=Luggage.NONE)

    def loss(given: SpeedInputs) -> float:
        return float(ride(given, loaded).speed_kph[0] / ride(given, bare).speed_kph[0])

    assert loss(inputs("track", TRACK)) < 0.75 < loss(inputs("secondary", PAVED)) < 1.0


def test_unknown_road_and_ground_give_a_wide_band_not_a_refusal() -> None:
    off_map = ride(inputs("", UNKNOWN))
    known = ride(inputs("secondary", PAVED))
    assert off_map.high_kph[0] / off_map.low_kph[0] > 2 * known.high_kph[0] / known.low_kph[0]


def test_time_band_holds_the_time_and_positions_map_to_times() -> None:
    two = Speeds(
        from_m=np.array([0.0, 1000.0]),
        to_m=np.array([1000.0, 3000.0]),
        speed_kph=np.array([36.0, 72.0]),
        low_kph=np.array([30.0, 60.0]),
        high_kph=np.array([40.0, 80.0]),
        time_s=np.array([100.0, 100.0]),
        usual_s=np.array([100.0, 100.0]),
        ground_s=np.full((2, 3), 100.0),
        start_s=np.array([0.0, 100.0]),
        total_low_s=150.0,
        total_high_s=260.0,
    )
    assert two.at_s(np.array([0.0, 500.0, 2000.0, 3000.0])).tolist() == [0.0, 50.0, 150.0, 200.0]
    assert two.to_dict()["riding_s"] == 200.0
    one = ride(inputs("secondary", PAVED))
    assert one.total_low_s < one.total_s < one.total_high_s


def test_a_ferry_takes_its_crossing_time() -> None:
    assert ride(inputs("ferry", UNKNOWN, ferry_kph=20.0)).speed_kph[0] == pytest.approx(20.0)


def test_bends_of_a_ride_line() -> None:
    lon = np.array([0.0, 0.01, 0.01, 0.02])
    lat = np.array([0.0, 0.0, 0.01, 0.01])
    at = np.array([0.0, 1000.0, 2000.0, 3000.0])
    got = ride_bend_deg_km(lon, lat, at, np.array([0.0, 1500.0]), np.array([1500.0, 3000.0]))
    np.testing.assert_allclose(got, [60.0, 60.0], rtol=1e-3)
    # A corner on 20 m is turned over 60 m (common practice, no source).
    got = ride_bend_deg_km(lon, lat, at, np.array([990.0]), np.array([1010.0]))
    np.testing.assert_allclose(got, [1500.0], rtol=1e-3)


def test_every_class_is_slower_on_worse_ground() -> None:
    for row in ROAD_CLASS_SPEEDS:
        assert row.paved_kph >= row.gravel_kph >= row.track_kph > 0


def _kilometres(path: Path) -> Iterator[tuple[float, float]]:
    """Degrees turned and moving speed [km/h] of each kilometre of a recorded ride."""
    with path.open(encoding="utf-8") as file:
        recorded = gpxpy.parse(file)
    for segment in (s for t in recorded.tracks for s in t.segments):
        lat = np.array([p.latitude for p in segment.points])
        lon = np.array([p.longitude for p in segment.points])
        clock = np.array([p.time.timestamp() for p in segment.points if p.time])
        step = np.hypot(np.diff(lon) * np.cos(np.radians(lat[1:])), np.diff(lat)) * 111_200.0
        dt = np.diff(clock)
        riding = (dt > 0) & (dt <= 5) & (step > dt) & (step < 100)
        at = np.append(0.0, np.cumsum(step))
        moved = np.append(0.0, np.cumsum(np.where(riding, dt, 0.0)))
        ridden = np.append(0.0, np.cumsum(np.where(riding, step, 0.0)))
        for a in range(0, int(at[-1]) - 1000, 1000):
            q = a + np.arange(0.0, 1001.0, 20.0)
            turned = turn_deg(np.interp(q, at, lon), np.interp(q, at, lat)).sum()
            metres, seconds = (np.diff(np.interp(q[[0, -1]], at, v))[0] for v in (ridden, moved))
            if metres > 900:
                yield float(turned), float(3.6 * metres / seconds)


def test_recorded_motorcycle_rides_slow_down_in_bends_as_modelled(shared_data: Path) -> None:
    """345 km of 1 Hz recordings (Norway, MIT, fastgpx test data) on numbered roads."""
    files = sorted((shared_data / "gpx").glob("moto-trace*.gpx"))
    assert files, "the recorded rides are missing"
    km = np.array([row for path in files for row in _kilometres(path)])
    assert len(km) > 250
    for low, high in ((0, 50), (50, 150), (150, 300), (300, 600)):
        part = km[(km[:, 0] >= low) & (km[:, 0] < high)]
        modelled = ride(inputs("primary", PAVED, maxspeed=80.0, bend=part[:, 0].mean()))
        measured = 1.0 / np.mean(1.0 / part[:, 1])
        assert modelled.low_kph[0] <= measured <= modelled.high_kph[0]


def _texts(n: int) -> Texts:
    return Texts(
        codes=np.full(n, -1, np.int32), start=np.zeros(1, np.int64), blob=np.zeros(0, np.uint8)
    )


def _category(*words: str | None) -> Category:
    values = tuple(sorted({w for w in words if w}))
    codes = np.array([values.index(w) if w else -1 for w in words], np.int16)
    return Category(codes=codes, values=values)


def _roads(crossing_s: float = 1200.0) -> RoadsView:
    """A straight secondary of 1 km, a hairpin track of 400 m, a ferry of 5 km in 20 minutes."""
    n = 3
    none, nan = _category(*[None] * n), np.full(n, np.nan, np.float32)
    ways = WayTable(
        way_id=np.arange(1, n + 1), flags=np.array([0, 0, WayFlag.FERRY], np.int32),
        highway=_category("secondary", "track", "ferry"), surface=none, tracktype=none,
        smoothness=none, access=none, closed_by=none, service=none, seasonal=none, width_m=nan,
        lanes=nan,
        incline_pct=nan, maxspeed_kph=nan, oneway=np.zeros(n, np.int8),
        mtb_scale=np.full(n, -1, np.int8), edited_day=np.full(n, -1, np.int32),
        ferry_s=np.array([np.nan, np.nan, crossing_s], np.float32),
        name=_texts(n), ref=_texts(n), conditional=_texts(n),
    )  # fmt: skip
    lon = np.array([0.0, 0.009, 0.009, 0.0108, 0.009, 0.009, 0.054])
    lat = np.array([0.0, 0.0, 0.0, 0.00005, 0.0001, 0.0001, 0.0001])
    empty = np.zeros(0, np.int32)
    return RoadsView(
        ways=ways, node_lon=lon[[0, 1, 4, 6]], node_lat=lat[[0, 1, 4, 6]],
        node_id=np.arange(4), edge_u=np.array([0, 1, 2], np.int32),
        edge_v=np.array([1, 2, 3], np.int32), edge_way=np.array([0, 1, 2], np.int32),
        edge_length_m=np.array([1000.0, 400.0, 5000.0]),
        edge_start=np.array([0, 2, 5, 7], np.int32),
        pt_lon=lon, pt_lat=lat, pt_edge=np.array([0, 0, 1, 1, 1, 2, 2], np.int32),
        pt_at_m=np.array([0.0, 1000.0, 0.0, 200.0, 400.0, 0.0, 5000.0]),
        out_start=empty, out_arc=empty, arc_head=empty, arc_length_m=np.zeros(0),
        arc_kind=empty, way_kind=empty, kind_way=empty, cell_start=empty, cell_pt=empty,
        grid_west=0.0,
        grid_south=0.0, grid_step_lon=1.0, grid_step_lat=1.0, grid_cols=1, grid_rows=1,
    )  # fmt: skip


def test_edges_of_a_graph_for_a_van() -> None:
    p = np.array([PAVED, TRACK, UNKNOWN])
    kph = edge_speed_kph(_roads(), p, traveller=BREAKDOWN_VAN)
    assert kph.shape == (3,)
    assert 50 < kph[0] < 70
    assert 6 < kph[1] < 16  # a hairpin on a track
    assert kph[2] == pytest.approx(15.0)  # 5 km in 20 minutes


@pytest.mark.parametrize(("crossing_s", "kph"), [(20.0, 80.0), (1200.0, 15.0), (72_000.0, 1.0)])
def test_a_crossing_time_in_the_wrong_unit_makes_no_flying_ferry(
    crossing_s: float, kph: float
) -> None:
    got = way_ferry_kph(_roads(crossing_s))
    assert np.isnan(got[:2]).all() and got[2] == pytest.approx(kph)


def test_a_crossing_time_of_nothing_is_none() -> None:
    assert np.isnan(way_ferry_kph(_roads(0.0))).all()


@pytest.mark.parametrize(("g", "p"), [(0, PAVED), (1, GRAVEL), (2, TRACK)])
def test_the_time_on_each_ground_is_that_of_a_ride_known_to_be_on_it(
    g: int, p: tuple[float, float, float]
) -> None:
    open_ = inputs("tertiary", (0.5, 0.3, 0.2), severity=0.6)
    assert ride(open_).ground_s[0, g] == ride(inputs("tertiary", p, severity=0.6)).usual_s[0]


def test_a_guess_is_as_hard_as_each_ground_usually_is() -> None:
    """Severity of paved, gravel, track where no tag tells more: tables/ground_severity."""
    open_, ends = inputs("tertiary", (0.5, 0.3, 0.2), severity=0.6), np.array([10_000.0])
    guess = stretch_speeds(0 * ends, ends, inputs=open_, trip=Trip(), guessed=True)
    for g, level in enumerate(RULES.usual):
        known = ride(inputs("tertiary", (PAVED, GRAVEL, TRACK)[g], severity=level / 5))
        assert guess.ground_s[0, g] == known.usual_s[0]
