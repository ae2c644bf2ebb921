"""A group on one route: one clock and the same stops, each rider judged alone."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

from terrain import read_route
from terrain.flow import assess_group, open_region
from terrain.stages.group import judge_rider_in
from terrain.values.group import GroupRider
from terrain.values.trip import Luggage, Rider, Trip
from terrain.values.verdict import FindingKind


def _parts_m(rider: GroupRider) -> float:
    return sum(part.length_m for part in rider.too_hard)


def test_one_clock_for_all_and_a_verdict_for_each(island_home: Path) -> None:
    route = read_route(island_home / "demo" / "routes" / "high-tracks.gpx")
    region = open_region("island", island_home)
    expert = Trip(
        depart=datetime(2027, 1, 16, 7, 30), rider=Rider.EXPERT, luggage=Luggage.NONE,
        wanted_class="light-trail",
    )  # fmt: skip
    novice = replace(expert, rider=Rider.NOVICE, luggage=Luggage.BOXES, pillion=True,
                     wanted_class="road-tourer")  # fmt: skip
    told = assess_group(route, region, (expert, novice))
    first, second = (item.report.assessed for item in told)
    # Together they take the time of the slower, and nobody is told another day or stop.
    alone = [item.alone_s for item in told]
    assert alone[0] < alone[1]
    assert first.ride.total_s == second.ride.total_s == alone[1]
    assert first.plan.days == second.plan.days
    stops = [[(s.at_m, s.arrive_s, s.kinds) for s in x.plan.stops] for x in (first, second)]
    assert stops[0] == stops[1]
    # Both stop for fuel where the bike with the shorter range must.
    assert first.plan.fuel is not None and first.plan.fuel == second.plan.fuel

    riders = [judge_rider_in(item, name) for item, name in zip(told, "AB", strict=True)]
    assert _parts_m(riders[0]) < _parts_m(riders[1])
    assert riders[1].may_go is False and "road tourer" in str(riders[1].answer)
    kinds = [{x.kind for x in item.report.verdict.forbidden} for item in told]
    assert FindingKind.WANTED_BIKE in kinds[1] - kinds[0]


def test_riders_alike_are_judged_once(island_home: Path) -> None:
    route = read_route(island_home / "demo" / "routes" / "coast-road.gpx")
    region = open_region("island", island_home)
    told = assess_group(route, region, (Trip(), Trip()))
    assert told[0].report is told[1].report
    assert told[0].alone_s == told[0].report.assessed.ride.total_s
