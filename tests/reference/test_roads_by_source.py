"""Speeds, access, cold, dusk and help against documents and reference libraries."""

from __future__ import annotations

from datetime import UTC, date
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import networkx as nx
import numpy as np
import pytest

from terrain.calc.daylight import sun_day
from terrain.calc.humid_heat import wind_chill_c
from terrain.stages.help import judge_help
from terrain.stages.places.areas import closed_parts
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.tables.heat import COLD_LEVELS
from terrain.tables.speed import ROAD_CLASS_SPEEDS
from terrain.values.help import HelpKind
from tests.stages.tinymap import PAVED, TinyMap


@pytest.mark.parametrize(
    ("air_f", "wind_mph", "chill_f"),
    [(40, 5, 36), (40, 20, 30), (40, 60, 25), (30, 10, 21), (30, 60, 10), (20, 10, 9),
     (20, 30, 1), (20, 60, -4), (10, 20, -9), (0, 15, -19), (0, 30, -26)],
)  # fmt: skip
def test_wind_chill_chart_of_the_weather_service(air_f: int, wind_mph: int, chill_f: int) -> None:
    """US National Weather Service wind chill chart, 2001, in deg F and mph (from memory)."""
    got = wind_chill_c(np.array([(air_f - 32) / 1.8]), np.array([wind_mph * 1.609344]))
    assert got[0] * 1.8 + 32 == pytest.approx(chill_f, abs=0.55)


def test_bare_skin_freezes_from_the_class_of_environment_canada_on() -> None:
    """Wind chill hazards: exposed skin can freeze in 10 to 30 minutes from -28 on (from memory)."""
    assert COLD_LEVELS[-1].below == pytest.approx(-28.0, abs=1.0)


#: OSM wiki, "OSM tags for routing/Access restrictions", world-wide defaults for motorcycle (from
#: memory); a way without any access tag.
_OPEN = (
    "motorway", "trunk", "primary", "secondary", "tertiary", "unclassified", "residential",
    "living_street", "service", "track", "road",
)  # fmt: skip
_SHUT = ("pedestrian", "path", "bridleway", "cycleway", "footway", "steps")


@pytest.mark.parametrize("highway", [*_OPEN, *_SHUT])
def test_access_of_a_way_without_access_tags(tmp_path: Path, highway: str) -> None:
    names = ["A", "B", "C", "D"]
    tiny = TinyMap(nodes={name: (2_000.0 * i, 0.0) for i, name in enumerate(names)})
    for pair, kind in zip(pairwise(names), ("tertiary", highway, "tertiary"), strict=True):
        tiny.way(pair, {"highway": kind, "surface": "asphalt"})
    region = tiny.read(tmp_path)
    found = closed_parts(region.ride(*names).match, region.roads)
    assert [part.tag for part in found] == ([f"highway={highway}"] if highway in _SHUT else [])


@pytest.mark.parametrize(
    ("highway", "limit_kph"),
    [("motorway", 130), ("trunk", 110), ("primary", 80), ("secondary", 80), ("tertiary", 80),
     ("unclassified", 80), ("residential", 50), ("living_street", 20)],
)  # fmt: skip
def test_mean_speeds_lie_under_what_the_law_allows(highway: str, limit_kph: int) -> None:
    """French Code de la route: R413-2 (130 on motorways, 110 with two carriageways, 80 elsewhere),
    R413-3 (50 in towns), R110-2 (20 where people walk); from memory. A mean of a ride lies under
    the limit and, but for a motorway ramp, not under a third of it."""
    (row,) = [row for row in ROAD_CLASS_SPEEDS if row.highway == highway]
    assert limit_kph / 3 < row.paved_kph <= limit_kph


_PLACES = ((1.52, 42.51), (85.32, 27.71), (-70.65, -33.45), (10.75, 59.9), (36.8, -1.3))


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize(("lon", "lat"), _PLACES)
def test_dusk_and_dawn_against_pvlib(lon: float, lat: float) -> None:
    """Civil twilight: the sun's middle 6 degrees under the horizon, by pvlib's SPA (NREL)."""
    pandas = pytest.importorskip("pandas")
    position = pytest.importorskip("pvlib.solarposition").spa_python
    for month in range(1, 13):
        got = sun_day(lon, lat, date(2027, month, 12), ZoneInfo("UTC"))
        assert got.dawn is not None and got.dusk is not None
        when = pandas.DatetimeIndex([got.dawn.astimezone(UTC), got.dusk.astimezone(UTC)])
        height = position(when, lat, lon)["elevation"].to_numpy()
        # To the minute: at 60 degrees north in June the sun sinks a tenth of a degree in it.
        assert height == pytest.approx([-6.0, -6.0], abs=0.3)


@pytest.mark.parametrize("seed", range(8))
def test_farthest_from_a_mechanic_equals_networkx(tmp_path: Path, seed: int) -> None:
    """A grid of roads with some left out and workshops at three corners of it; networkx searches.

    On an edge of length m whose ends are a and b from help, the farthest place has (a + b + m) / 2.
    """
    rng = np.random.default_rng(seed)
    n, step_m = 5, 4_000.0
    grid = nx.grid_2d_graph(n, n)
    for edge in list(grid.edges):
        trial = grid.copy()
        trial.remove_edge(*edge)
        if rng.random() < 0.3 and nx.is_connected(trial):
            grid = trial
    tiny = TinyMap(nodes={f"{x}-{y}": (x * step_m, y * step_m) for x, y in grid.nodes})
    for (ax, ay), (bx, by) in grid.edges:
        tiny.way([f"{ax}-{ay}", f"{bx}-{by}"], PAVED)
    works = [(int(x), int(y)) for x, y in rng.integers(0, n, (3, 2))]
    for x, y in works:
        tiny.spot((x * step_m, y * step_m), shop="motorcycle_repair", name="Works")
    path = nx.shortest_path(grid, (0, 0), (n - 1, n - 1))
    near = nx.multi_source_dijkstra_path_length(grid, set(works), weight=None)
    wanted = max((near[a] + near[b] + 1.0) / 2 * step_m for a, b in pairwise(path))
    region = tiny.read(tmp_path)
    ride = region.ride(*(f"{x}-{y}" for x, y in path))
    told = judge_help(ride, region.roads, region.places, region.fields(), fleet=DEFAULT_FLEET)
    assert told.kind(HelpKind.MECHANIC).farthest_m == pytest.approx(wanted, abs=140)
