"""Trips over every open region, judged as an experienced operator would.

Run by hand: python -m tests.bench.trips [HOME [ONLY]]. Regions are built from ../shared/data into
HOME (a folder that is kept; a new one by default) where they are not there yet; the island's are
made too. Each trip is a route, a rider, a load, a month, guided or not, and one of three fleets.

EXPECTED is the table: each row says for which trips it holds, what must be true of the report, and
why an operator expects it. Add rows at its end; a row that no trip meets is told as unused. What
holds for every report whatever the trip is in tests/invariants.py, and runs here over all.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

import numpy as np

import terrain
from terrain.calc.elevation import sample_heights
from terrain.calc.search import RoadNet, ShortestPaths, node_seeds, search, walk
from terrain.demo.region import ensure_demo_region
from terrain.region.build import build_region
from terrain.region.region import Region
from terrain.stages.advice.bikes.measures import carried_kg
from terrain.stages.advice.bikes.rank import takes
from terrain.tables.advice import BIKES
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.advice import SetupChoice
from terrain.values.arrays import FloatArray
from terrain.values.closed import closed_m
from terrain.values.fleet import BikeClass, Fleet
from terrain.values.ground import GroundKind, SeasonCause
from terrain.values.heat import Concern
from terrain.values.plan import StopKind
from terrain.values.report import Report
from terrain.values.trip import Luggage, Rider, Riding, Trip, Wants
from terrain.values.verdict import FindingKind, Rank
from tests.bench.ground_maps import write_osm
from tests.invariants import broken

DATA = Path(__file__).resolve().parents[3] / "shared" / "data"
_TRIPS_PER_ROUTE = 7

#: Region: extract, elevation tiles.
REGIONS: dict[str, tuple[str, tuple[str, ...]]] = {
    "monaco": ("monaco-2021-04-19.osm.pbf", ("N43E007.hgt.zip",)),
    "andorra": ("andorra-2023-05-02.osm.pbf", ("N42E001.hgt.zip", "N41E001.hgt.zip")),
    "krems": ("krems-2013-12-16.osm.gz", ()),
    "malta": ("malta-2018-08-27.osm.pbf", ()),
    "faroe": ("faroe-islands-2017-02-18.osm.pbf", ()),
    "campo-grande": ("campo-grande-2013-01-19.osm.gz", ()),
    "porto": ("porto-2020-07-19.osm.pbf", ()),
    "sao-paulo": ("sao-paulo-centre-2020-09-23.osm.pbf", ()),
    "belarus": ("belarus-east.osm.gz", ()),
    "liechtenstein": ("../match-truth/liechtenstein2021.osm.pbf", ()),
    "swellendam": ("swellendam-roads.gpkg", ()),
}
CITIES = ("monaco", "porto", "sao-paulo")
WARM = ("malta", "campo-grande", "sao-paulo", "porto", "monaco")

TROPICS = ("campo-grande", "sao-paulo")

# Four riders, some of them new to motorcycles or of another mind about the trip; four loads, three
# fleets, four months; each route takes them in turn.
RIDERS: tuple[tuple[Rider, bool], ...] = (
    (Rider.NOVICE, False), (Rider.STEADY, False), (Rider.NOVICE, True), (Rider.EXPERT, True),
)  # fmt: skip
RIDING: tuple[Riding | None, ...] = (Riding.NEW, None, Riding.PRACTISED, None, Riding.PRACTISED)
WANTS: tuple[Wants | None, ...] = (None, Wants.ROAD, Wants.OFF_ROAD, Wants.OPEN, Wants.ROAD)
LOADS: tuple[tuple[Luggage, bool], ...] = (
    (Luggage.NONE, False), (Luggage.SOFT, False), (Luggage.BOXES, False), (Luggage.SOFT, True),
)  # fmt: skip
MONTHS = (1, 4, 7, 10)


def _fleet(*names: str) -> Fleet:
    return replace(
        DEFAULT_FLEET, classes=tuple(c for c in DEFAULT_FLEET.classes if c.name in names)
    )


FLEETS: dict[str, Fleet] = {
    "all": DEFAULT_FLEET,
    "road": _fleet("road-tourer", "small-all-rounder"),
    "dirt": _fleet("dual-sport", "light-trail", "enduro"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One trip. number : counts the trips of a route"""

    region: str
    route: str
    number: int
    trip: Trip
    fleet: str

    @property
    def month(self) -> int:
        return 0 if self.trip.depart is None else self.trip.depart.month

    def __str__(self) -> str:
        trip = self.trip
        words = [self.region, self.route, trip.rider.value, trip.luggage.value]
        words += [f"riding {trip.riding}"] if trip.riding else []
        words += [f"wants {trip.wants}"] if trip.wants else []
        words += ["two up"] * trip.pillion + ["guided"] * trip.guided
        return " ".join([*words, f"month {self.month}", f"fleet {self.fleet}"])


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What an experienced operator expects of some trips, and why.

    of : whether the row is about a trip and what was found on it; holds : what must be true
    """

    name: str
    why: str
    of: Callable[[Case, Report], bool]
    holds: Callable[[Case, Report], bool]


def _share(report: Report, kind: GroundKind, end: str) -> float:
    shares = report.assessed.ground.shares
    return 0.0 if shares is None else float(getattr(shares[kind], end))


def _closed_m(report: Report) -> float:
    return closed_m(report.assessed.places.closed)


def _of_cause(report: Report, *causes: SeasonCause) -> float:
    stretches = report.assessed.ground.stretches
    return float(sum(s.length_m for s in stretches if s.season_cause in causes))


def _has(report: Report, kind: FindingKind, *ranks: Rank) -> bool:
    return any(f.kind is kind and f.rank in ranks for f in report.verdict.findings)


def _top_m(report: Report) -> float:
    ele = report.assessed.relief.ele_m
    return float(np.nanmax(ele)) if len(ele) and not np.isnan(ele).all() else float("nan")


def _fan_s(report: Report) -> float:
    """Time on the fan of the engine with a radiator that leans on it longest."""
    engines = report.assessed.heat.engines
    return max((e.fan_s for e in engines if e.cooling == "liquid"), default=0.0)


def _levels(report: Report) -> dict[str, int]:
    """How high the heat of each engine is told."""
    return {e.bike: list(Concern).index(e.concern) for e in report.assessed.heat.engines}


def _air_c(report: Report) -> float:
    rider = report.assessed.heat.rider
    return float("nan") if rider is None else rider.max_air_temp_c


def _going(case: Case, report: Report) -> list[BikeClass]:
    """The bikes that may go, best first."""
    named = (FLEETS[case.fleet].named(fit.name) for fit in report.assessed.advice.bikes)
    return [bike for bike in named if bike is not None]


def _bars_small(report: Report) -> bool:
    """Whether range, payload or motorway keep a small bike out."""
    return any(
        said.code in ("range", "motorway-ban", "payload-one")
        for item in report.assessed.advice.excluded
        if item.name == "light-trail"
        for said in item.reasons
    )


_PRACTICE = "common practice, no source"

EXPECTED: tuple[Row, ...] = (
    Row(
        name="closed roads come first",
        why="a rider stopped by a gate or a ranger loses the trip: law before all else",
        of=lambda case, report: _closed_m(report) >= 300,
        holds=lambda case, report: report.verdict.findings[0].kind is FindingKind.CLOSED
        and report.verdict.findings[0].rank is Rank.FORBIDDEN,
    ),
    Row(
        name="nothing closed, nothing forbidden by law",
        why="an alarm on every ride is no alarm",
        of=lambda case, report: not report.assessed.places.closed,
        holds=lambda case, report: not _has(report, FindingKind.CLOSED, Rank.FORBIDDEN),
    ),
    Row(
        name="a sealed ride needs no knobbly tyres",
        why=f"road tyres on tarmac, whatever the rider or month ({_PRACTICE})",
        of=lambda case, report: _share(report, GroundKind.PAVED, "low") >= 0.97,
        holds=lambda case, report: report.verdict.answer is not SetupChoice.OFF_ROAD,
    ),
    Row(
        name="city streets are a road ride",
        why=f"streets of a city are sealed and known to be, its tracks are not ({_PRACTICE})",
        of=lambda case, report: case.region in ("monaco", "porto")
        and all(s.highway != "track" for s in report.assessed.ground.stretches),
        holds=lambda case, report: report.verdict.answer is SetupChoice.ROAD,
    ),
    Row(
        name="a ride that is mostly track is no road ride",
        why=f"road tyres do not carry a bike over 5 km of track ({_PRACTICE})",
        of=lambda case, report: _share(report, GroundKind.TRACK, "low")
        * report.assessed.match.length_m
        >= 5_000,
        holds=lambda case, report: report.verdict.answer is not SetupChoice.ROAD,
    ),
    Row(
        name="no snow where it never lies",
        why="a warning of snow in Malta or Sao Paulo makes all warnings a joke",
        of=lambda case, report: case.region in WARM,
        holds=lambda case, report: _of_cause(report, SeasonCause.SNOW, SeasonCause.THAW) == 0,
    ),
    Row(
        name="no snow in July and October below 2,000 m",
        why="cols of the Pyrenees are open from June to October",
        of=lambda case, report: case.month in (7, 10) and not _top_m(report) > 2_000,
        holds=lambda case, report: _of_cause(report, SeasonCause.SNOW) == 0,
    ),
    Row(
        name="high roads in January may be under snow",
        why="above 2,200 m in the Pyrenees nothing is sure in January",
        of=lambda case, report: case.region == "andorra" and case.month == 1
        and _top_m(report) > 2_200,
        holds=lambda case, report: _of_cause(report, SeasonCause.SNOW) > 0,
    ),
    Row(
        name="without heights no main road is shut by snow",
        why="the council ploughs it; a mean height of a country is no reason",
        of=lambda case, report: report.assessed.relief.source is None,
        holds=lambda case, report: all(
            s.season_cause is not SeasonCause.SNOW
            for s in report.assessed.ground.stretches
            if s.highway in ("motorway", "trunk", "primary", "secondary", "tertiary")
        ),
    ),
    Row(
        name="cold is told in cold months",
        why="at 8 degrees and 80 km/h hands go numb within the hour",
        of=lambda case, report: _air_c(report) < 8.0,
        holds=lambda case, report: any("Cold" in text for text in report.assessed.heat.words),
    ),
    Row(
        name="heat is told in hot months",
        why="who rides in 28 degrees in full gear must drink",
        of=lambda case, report: _air_c(report) > 28.0,
        holds=lambda case, report: any("Drink" in text for text in report.assessed.heat.words),
    ),
    Row(
        name="no heat danger in January in the north",
        why="the tropics apart, nobody overheats in January",
        of=lambda case, report: case.month == 1
        and case.region in ("andorra", "krems", "faroe", "belarus", "monaco", "malta", "porto"),
        holds=lambda case, report: not _has(report, FindingKind.HEAT, Rank.DANGER, Rank.FORBIDDEN),
    ),
    Row(
        name="no fan trouble in the cold",
        why=f"in 5 degrees an engine sheds its heat by itself, in a queue too ({_PRACTICE})",
        of=lambda case, report: _air_c(report) < 5.0,
        holds=lambda case, report: _fan_s(report) < 60 and not any(_levels(report).values()),
    ),
    Row(
        name="a high-strung single is told no cooler than a heavy twin",
        why=f"1.1 L of coolant for 35 kW boil before 2.2 L for 65 kW do ({_PRACTICE})",
        of=lambda case, report: {"enduro", "road-tourer"} <= _levels(report).keys(),
        holds=lambda case, report: _levels(report)["enduro"] >= _levels(report)["road-tourer"],
    ),
    Row(
        name="a short summer ride ends in daylight",
        why="three hours from nine in the morning end before noon",
        of=lambda case, report: case.month == 7 and report.assessed.ride.total_s < 3 * 3600,
        holds=lambda case, report: not _has(report, FindingKind.DARK, *Rank),
    ),
    Row(
        name="one day is enough for three hours",
        why="no guide splits a morning's ride over two days",
        of=lambda case, report: report.assessed.ride.total_s < 3 * 3600 and case.month != 1,
        holds=lambda case, report: len(report.assessed.plan.days) <= 1,
    ),
    Row(
        name="no danger of remoteness in a city",
        why="help is around the corner, whatever the map holds of workshops",
        of=lambda case, report: case.region in CITIES,
        holds=lambda case, report: not _has(report, FindingKind.REMOTE, Rank.DANGER),
    ),
    Row(
        name="gaps of the map are told as gaps",
        why="no workshop on a map of 2013 says little of workshops",
        of=lambda case, report: all(f.farthest_m is None for k, f in report.assessed.help.kinds
                                    if k.value == "mechanic"),
        holds=lambda case, report: any(
            "not the same as none" in text for text in report.assessed.help.words
        ),
    ),
    Row(
        name="somebody is always named who may help",
        why="a car workshop, a clinic or a hotel with a telephone has got many a rider home",
        of=lambda case, report: case.region in ("andorra", "porto", "malta", "faroe"),
        holds=lambda case, report: bool(report.assessed.help.weaker),
    ),
    Row(
        name="no van without a guide",
        why="who rents a bike has nobody behind",
        of=lambda case, report: not case.trip.guided,
        holds=lambda case, report: not any(
            StopKind.VAN in stop.kinds for stop in report.assessed.plan.stops
        ),
    ),
    Row(
        name="two up needs two seats",
        why="a class with one seat is no class for two",
        of=lambda case, report: case.trip.pillion,
        holds=lambda case, report: all(
            (bike := FLEETS[case.fleet].named(fit.name)) is not None and bike.seats > 1
            for fit in report.assessed.advice.bikes
        ),
    ),
    Row(
        name="if no bike may go it is said",
        why="the desk must not hand out a bike that must not go",
        of=lambda case, report: not report.assessed.advice.bikes,
        holds=lambda case, report: _has(report, FindingKind.NO_BIKE, Rank.FORBIDDEN)
        and report.verdict.bike is None,
    ),
    Row(
        name="hours are those of the road",
        why=f"no mean below 8 or above 105 km/h on roads and tracks ({_PRACTICE})",
        of=lambda case, report: report.assessed.match.length_m > 2_000,
        holds=lambda case, report: 8.0
        <= 3.6 * report.assessed.match.length_m / report.assessed.ride.total_s
        <= 105.0,
    ),
    Row(
        name="nobody new to motorcycles gets a heavy or strong bike",
        why="a first fall under 230 kg ends the trip; 35 kW is what category A2 allows",
        of=lambda case, report: case.trip.is_new,
        holds=lambda case, report: all(
            bike.mass_kg <= 180 and bike.power_kw <= 35 for bike in _going(case, report)
        ),
    ),
    Row(
        name="who learns may take the light trail bike",
        why=f"a light, low-powered trail bike is the one to learn on ({_PRACTICE})",
        of=lambda case, report: case.trip.skill is Rider.NOVICE
        and not case.trip.pillion
        and case.fleet in ("all", "dirt")
        and not _bars_small(report),
        holds=lambda case, report: any(b.name == "light-trail" for b in _going(case, report)),
    ),
    Row(
        name="a novice takes neither dual-sport nor enduro",
        why=f"tall, quick bikes throw those who have not ridden off tarmac ({_PRACTICE})",
        of=lambda case, report: case.trip.skill is Rider.NOVICE,
        holds=lambda case, report: not any(
            b.name in ("dual-sport", "enduro") for b in _going(case, report)
        ),
    ),
    Row(
        name="no bike carries more than it may",
        why="overload breaks spokes and frames, and the insurance pays nothing",
        of=lambda case, report: True,
        holds=lambda case, report: all(
            carried_kg(case.trip, BIKES) <= bike.payload_kg for bike in _going(case, report)
        ),
    ),
    Row(
        name="two up with soft bags somebody has a bike",
        why="couples on a road trip are a rental's daily bread",
        of=lambda case, report: case.trip.pillion
        and case.fleet == "all"
        and not case.trip.is_new
        and case.trip.skill is not Rider.NOVICE
        and _share(report, GroundKind.PAVED, "low") >= 0.9,
        holds=lambda case, report: bool(report.assessed.advice.bikes),
    ),
    Row(
        name="the first bike takes the tyres advised",
        why="a tourer on road tyres does not go where block tyres are asked for",
        of=lambda case, report: report.verdict.tyres is not None
        and any(takes(b, report.verdict.tyres) for b in _going(case, report)),
        holds=lambda case, report: takes(_going(case, report)[0], report.verdict.tyres),
    ),
    Row(
        name="a road trip was wanted and this is none: it is said",
        why="the customer finds out at the desk, not on the track",
        of=lambda case, report: case.trip.wants is Wants.ROAD
        and report.verdict.answer is not SetupChoice.ROAD,
        holds=lambda case, report: _has(report, FindingKind.WISH, Rank.CARE),
    ),
    Row(
        name="the trip is what they came for, or they have no idea: no word of it",
        why="what is as it should be goes without saying",
        of=lambda case, report: case.trip.wants in (None, Wants.OPEN)
        or case.trip.wants.value == report.verdict.answer.value,
        holds=lambda case, report: not _has(report, FindingKind.WISH, *Rank),
    ),
    Row(
        name="an open answer names the bike for each outcome, or one for both",
        why="the desk has to hold a bike whatever the answer turns out to be",
        of=lambda case, report: report.verdict.answer is SetupChoice.ASK
        and len(report.assessed.advice.bikes) > 0,
        holds=lambda case, report: any(
            item.code in ("ask-bikes", "ask-else") for item in report.assessed.advice.setup.reasons
        )
        or report.assessed.ride.total_s <= 0,
    ),
    Row(
        name="a rider reads no rates",
        why="two per cent of rentals says nothing to somebody on holiday",
        of=lambda case, report: True,
        holds=lambda case, report: not any(
            "of rentals" in str(item.text) and item.is_for("rider")
            for fit in report.assessed.advice.bikes
            for item in (*fit.reasons, *fit.against)
        ),
    ),
    Row(
        name="the tropics are not too hot at nine in the morning in their cool month",
        why="people ride there every day; a verdict that never changes says nothing",
        of=lambda case, report: case.region in TROPICS and case.month == 7,
        holds=lambda case, report: not _has(report, FindingKind.HEAT, Rank.DANGER),
    ),
    Row(
        name="the tropics are judged by those who live there",
        why="limits of ISO 7243 for the acclimatised where the month before is hot",
        of=lambda case, report: case.region == "campo-grande" and case.month in (1, 10),
        holds=lambda case, report: report.assessed.heat.rider is not None
        and report.assessed.heat.rider.used_to_heat,
    ),
    Row(
        name="nobody in the north is used to heat in April",
        why="the first hot day of spring fells the most",
        of=lambda case, report: case.region in ("andorra", "krems", "faroe", "belarus", "monaco")
        and case.month in (1, 4),
        holds=lambda case, report: report.assessed.heat.rider is not None
        and not report.assessed.heat.rider.used_to_heat,
    ),
    Row(
        name="engines are judged without heights too",
        why="a jam is hot on any hill or none",
        of=lambda case, report: report.assessed.relief.source is None,
        holds=lambda case, report: len(report.assessed.heat.engines) > 0,
    ),
    Row(
        name="days after the first begin in the morning",
        why="who sets off late on the first day came that day; nobody waits for noon on the next",
        of=lambda case, report: len(report.assessed.plan.days) > 1,
        holds=lambda case, report: all(
            day.start_s <= 9.75 * 3600 for day in report.assessed.plan.days[1:]
        ),
    ),
    Row(
        name="no day ends as soon as it has begun",
        why="nobody unpacks within half an hour: they would have begun next morning",
        of=lambda case, report: len(report.assessed.plan.days) > 1,
        holds=lambda case, report: all(
            day.riding_s >= 1_740 for day in report.assessed.plan.days[:-1]
        ),
    ),
    Row(
        name="a town is called far only where one is on the map",
        why="a map without towns in the middle of a city says nothing of how far one is",
        of=lambda case, report: bool(np.isnan(report.assessed.help.along.town_s).all()),
        holds=lambda case, report: not any(
            "town is far" in str(f.what) or "far from a town" in str(f.what)
            for f in report.verdict.findings
        ),
    ),
    Row(
        name="who rides in the cold packs for it",
        why="hands that are numb brake late; a frozen radiator bursts",
        of=lambda case, report: report.assessed.heat.rider is not None
        and report.assessed.heat.rider.min_air_temp_c < 0.0,
        holds=lambda case, report: {"cold-hands", "battery-frost"}
        <= {item.code for item in (*report.assessed.advice.spares, *report.assessed.advice.checks)},
    ),
    Row(
        name="what the first lines say to carry is in the list",
        why="the clerk packs by the list",
        of=lambda case, report: any(
            "tools and tubes" in str(f.do.rider) for f in report.verdict.findings
        ),
        holds=lambda case, report: {"tools", "puncture"}
        <= {item.code for item in report.assessed.advice.spares},
    ),
    Row(
        name="a crossing is no way that was guessed",
        why="a ferry has one way, whatever the file draws of it",
        of=lambda case, report: report.assessed.match.ferry_m > 0,
        holds=lambda case, report: report.assessed.match.filled_m
        <= report.assessed.match.matched_m,
    ),
    Row(
        name="a border on the way is told before all details",
        why="most rental cover ends at the border",
        of=lambda case, report: any(i.code == "border" for i in report.assessed.advice.law),
        holds=lambda case, report: _has(report, FindingKind.BORDER, Rank.CARE),
    ),
    Row(
        name="what would help is said where no bike may go",
        why="a clerk who can only say no loses the customer",
        of=lambda case, report: not report.assessed.advice.bikes,
        holds=lambda case, report: any(
            "What would help" in str(item.text) for item in report.assessed.advice.cautions
        ),
    ),
)  # fmt: skip


def cases(region: str, route: str, shift: int) -> Iterator[Case]:
    """The trips of one route: riders, loads, months and fleets in turn, another turn by route."""
    fleets = tuple(FLEETS)
    for i in range(_TRIPS_PER_ROUTE):
        k = i + shift
        rider, guided = RIDERS[k % 4]
        luggage, pillion = LOADS[(k // 2 + shift) % 4]
        month = MONTHS[(k + k // 4) % 4]
        trip = Trip(
            depart=datetime(2027, month, 15, 9, 0), rider=rider, luggage=luggage,
            pillion=pillion, guided=guided, riding=RIDING[k % 5], wants=WANTS[(k + shift) % 5],
        )  # fmt: skip
        yield Case(region=region, route=route, number=i, trip=trip, fleet=fleets[k % 3])


def open_regions(home: Path) -> Iterator[tuple[str, Region, tuple[Path, ...]]]:
    """Each region, built if it is not there, with its routes."""
    ensure_demo_region(home)
    routes = tuple(sorted((home / "demo" / "routes").glob("*.gpx")))
    yield "island", terrain.open_region("island", home), routes
    for name, (extract, _) in REGIONS.items():
        if not (DATA / "osm" / extract).is_file():
            print(f"{name}: {extract} is not laid beside this checkout")
            continue
        region = open_built(name, home)
        yield name, region, tuple(_ways(name, region, home))


def open_built(name: str, home: Path) -> Region:
    """One of REGIONS, built from the data beside this checkout if it is not in `home` yet."""
    extract, tiles = REGIONS[name]
    if not (home / "regions" / name).is_dir():
        dem = tuple(DATA / "dem" / tile for tile in tiles)
        path = DATA / "osm" / extract
        if path.suffix == ".gpkg":
            source, path = path, home / f"{name}.osm"
            write_osm(source, path)
        build_region(name, (path,), dem, home=home)
    return terrain.open_region(name, home)


def _ways(name: str, region: Region, home: Path) -> Iterator[Path]:
    """Routes of up to 70 km between nodes drawn by a fixed seed: short, to a far node, off tarmac,
    and where heights are known to the highest node in reach."""
    roads, fields = region.roads, region.help
    net = RoadNet(
        roads, fields.edge_emergency, fields.edge_emergency_s.astype(np.float64), reverse=False
    )
    paved = region.ground.p[roads.edge_way, 0].astype(np.float64)
    plain, dirty = roads.edge_length_m, roads.edge_length_m * (0.05 + 8.0 * paved)
    top_m = _node_heights(region)
    rng = np.random.default_rng(len(name))
    wanted = ["far", "any", "dirt", *(["high"] if top_m is not None else [])]
    for _ in range(60):
        if not wanted:
            return
        start = int(rng.integers(roads.n_nodes))
        limit = 70_000.0 if wanted[0] != "dirt" else np.inf
        found = search(
            net.graph, dirty if wanted[0] == "dirt" else plain, node_seeds([start]), limit=limit
        )
        near = np.flatnonzero(found.cost > 5_000.0)
        if not len(near):
            continue
        kind = wanted.pop(0)
        goal = int(rng.choice(near))
        if kind == "far":
            goal = int(np.nanargmax(found.cost))
        elif kind == "high" and top_m is not None:
            goal = int(near[np.nanargmax(top_m[near])])
        yield _written(home / "bench-routes" / f"{name}-{kind}.gpx", region, found, goal)


def _node_heights(region: Region) -> np.ndarray | None:
    if region.heights is None:
        return None
    roads = region.roads
    ele_m, _ = sample_heights(region.heights, roads.node_lon, roads.node_lat)
    return np.nan_to_num(ele_m, nan=-1e3)


def _written(path: Path, region: Region, found: ShortestPaths, goal: int) -> Path:
    """The way to a node as GPX."""
    nodes = walk(found.before, goal)[::-1]
    return write_line(path, region.roads.node_lon[nodes], region.roads.node_lat[nodes])


def write_line(path: Path, lon: FloatArray, lat: FloatArray) -> Path:
    """A drawn track as GPX."""
    path.parent.mkdir(exist_ok=True)
    points = "".join(f'<trkpt lat="{y:.6f}" lon="{x:.6f}"/>' for x, y in zip(lon, lat, strict=True))
    path.write_text(
        '<gpx version="1.1" creator="bench" xmlns="http://www.topografix.com/GPX/1/1">'
        f"<trk><trkseg>{points}</trkseg></trk></gpx>",
        encoding="utf-8",
    )
    return path


def judge(case: Case, report: Report) -> Iterator[tuple[Row, bool]]:
    """Each row of the table that is about the trip, and whether it holds."""
    for row in EXPECTED:
        if row.of(case, report):
            yield row, row.holds(case, report)


def main(home: Path, only: str = "") -> int:
    met: dict[str, int] = {row.name: 0 for row in EXPECTED}
    n_trips, n_failed, n_broken, shift, start = 0, 0, 0, 0, time.perf_counter()
    for name, region, routes in open_regions(home):
        if only and only != name:
            continue
        for path in routes:
            route = terrain.read_route(path)
            for case in cases(name, path.stem, shift):
                report = terrain.assess(route, region, case.trip, FLEETS[case.fleet])
                n_trips += 1
                for row, holds in judge(case, report):
                    met[row.name] += 1
                    if not holds:
                        n_failed += 1
                        print(f"FAIL  {case}: {row.name}\n      ({row.why})", flush=True)
                for told in broken(report):
                    n_broken += 1
                    print(f"BROKEN {case}: {told[:300]}", flush=True)
            shift += 1
            print(f"{path.stem}: {n_trips} trips", file=sys.stderr, flush=True)
    for row_name, times in met.items():
        print(f"{times:5d}  {row_name}{'' if times else '  (unused)'}")
    spent = time.perf_counter() - start
    print(f"{n_trips} trips, {n_failed} failed, {n_broken} invariants broken, {spent:.0f} s")
    return int(n_failed + n_broken > 0)


if __name__ == "__main__":
    given = sys.argv[1:]
    folder = Path(given[0]) if given else Path(tempfile.mkdtemp())
    sys.exit(main(folder, *given[1:2]))
