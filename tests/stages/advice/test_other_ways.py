"""The season of ways that were not ridden, but may have been meant."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import numpy as np
import pytest

from terrain.stages.advice.other_ways import other_ways_of
from terrain.stages.relief.judge import judge_relief
from terrain.stages.ways.fit import fit_way_ground
from terrain.tables.climate.sites import rain_mm_by_month
from terrain.values.ground import Alternative, SeasonRisk
from terrain.values.trip import Trip
from tests.stages.ground.handmade import DrawnWay, places, ride, roads

_WAYS = [
    DrawnWay(way_id=1, start=(0, 0), end=(8000, 0),
             tags={"highway": "secondary", "surface": "asphalt"}),
    DrawnWay(way_id=2, start=(0, 0), end=(8000, 1),
             tags={"highway": "track", "surface": "mud"}),
]  # fmt: skip
_MONSOON = (100.0, 15.0)  # longitude, latitude: months from dry to very wet


def _season(depart: datetime | None) -> SeasonRisk | None:
    """Of the muddy track that may have been meant instead of the sealed road."""
    view = roads(_WAYS)
    drawn = ride(view, [0])
    match = replace(
        drawn,
        lon=drawn.lon - drawn.lon[0] + _MONSOON[0],
        lat=drawn.lat - drawn.lat[0] + _MONSOON[1],
    )
    options = [
        Alternative(from_m=0.0, to_m=8000.0, weight=1.0, ridden=way == 0,
                 way=np.array([way], dtype=np.int32), length_m=np.array([8000.0]))
        for way in (0, 1)
    ]  # fmt: skip
    (part,) = other_ways_of(
        options, match, view, fit_way_ground(view, places()), judge_relief(match, view, None),
        Trip(depart=depart),
    )  # fmt: skip
    ((stretch,),) = (way.stretches for way in part.ways)
    return stretch.season_risk


def test_mud_on_another_way_follows_the_rain_of_the_month() -> None:
    """A month from 60 mm of rain is wet, above 200 mm the road is to be confirmed first."""
    rain = rain_mm_by_month(*np.array([[_MONSOON[0]], [_MONSOON[1]]]))[0]
    told = [_season(datetime(2027, month, 10, 8)) for month in range(1, 13)]
    by_rain = {
        SeasonRisk.CONFIRM_FIRST: rain > 200, SeasonRisk.DOUBTFUL: (rain >= 60) & (rain <= 200),
    }  # fmt: skip
    seen = 0
    for risk, months in by_rain.items():
        assert all(told[i] is risk for i in np.flatnonzero(months)), (rain, told)
        seen += int(months.sum())
    assert 0 < seen < 12 and told[int(np.argmin(rain))] not in by_rain, (rain, told)


def test_without_a_date_the_season_is_open() -> None:
    assert _season(None) is None


@pytest.mark.parametrize("ridden", [True, False])
def test_one_way_alone_leaves_nothing_open(ridden: bool) -> None:
    """Without another way than the ridden one, or without a ridden one, there is no choice."""
    view = roads(_WAYS)
    match = ride(view, [0])
    alone = Alternative(from_m=0.0, to_m=8000.0, weight=0.4, ridden=ridden,
                        way=np.zeros(1, np.int32), length_m=np.zeros(1))  # fmt: skip
    ground = fit_way_ground(view, places())
    found = other_ways_of([alone], match, view, ground, judge_relief(match, view, None), Trip())
    assert found == ()
