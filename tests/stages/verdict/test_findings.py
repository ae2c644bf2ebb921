"""Each finding on both sides of the limit it stands for."""

from __future__ import annotations

import ast
import itertools
from dataclasses import fields, replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from terrain.stages.advice.words import advice_item
from terrain.stages.verdict import decided, judge_verdict
from terrain.stages.verdict import findings as finders
from terrain.stages.verdict.findings import FINDERS, list_findings
from terrain.stages.verdict.gaps import list_unknown
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.text.message import message
from terrain.text.terms import DANGER_TERMS
from terrain.values.advice import (
    BikeFit,
    Excluded,
    RiderFit,
    RiderVerdict,
    SetupChoice,
)
from terrain.values.closed import ClosedPart, Closure
from terrain.values.forecast import Weather
from terrain.values.ground import Basis, GroundKind, SeasonCause, SeasonRisk
from terrain.values.heat import (
    AirAlong,
    Concern,
    EngineHeat,
    HeatCause,
    HotRun,
    HotSpell,
    RiderHeat,
)
from terrain.values.help import HelpAlong, HelpBasis, HelpKind, PlaceRef, Remote
from terrain.values.learned import FoundShut
from terrain.values.match import LegKind
from terrain.values.places import AreaKind, AreaRun, RideNode
from terrain.values.plan import Day, Daylight, PlanProblem, ProblemKind
from terrain.values.relief import Ramp
from terrain.values.report import Assessed
from terrain.values.trip import Luggage, Trip, Wants
from terrain.values.verdict import (
    Audience,
    Finding,
    FindingKind,
    Rank,
    RidePart,
    StaffDecision,
)
from tests.assessed import ADVICE, HEAT, HELP, PLAN, RELIEF, ridden, stretch_of

RIDE = ridden(stretch_of(0, 20_000))


def found(ride: Assessed, kind: FindingKind) -> list[Finding]:
    return [item for item in list_findings(ride) if item.kind is kind]


def rank(ride: Assessed, kind: FindingKind) -> Rank | None:
    """The gravest rank of a kind; None if nothing of it was found."""
    return next((item.rank for item in found(ride, kind)), None)


def test_nothing_known_gives_no_finding() -> None:
    assert list_findings(RIDE) == ()


# -- what the rider came for ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wants", "choice", "expected"),
    [
        ("road", "off-road", Rank.CARE),
        ("road", "ask", Rank.CARE),
        ("road", "road", None),
        ("off-road", "road", Rank.NOTE),
        ("off-road", "ask", Rank.NOTE),
        ("off-road", "off-road", None),
        ("open", "off-road", None),
        ("open", "road", None),
        (None, "off-road", None),
    ],
)
def test_another_trip_than_they_came_for(
    wants: str | None, choice: str, expected: Rank | None
) -> None:
    setup = replace(ADVICE.setup, choice=SetupChoice(choice))
    ride = replace(
        RIDE,
        trip=Trip(wants=None if wants is None else Wants(wants)),
        advice=replace(ADVICE, setup=setup),
    )
    assert rank(ride, FindingKind.WISH) is expected


def test_that_no_road_trip_was_found_stands_in_the_first_lines() -> None:
    setup = replace(ADVICE.setup, choice=SetupChoice.OFF_ROAD)
    ride = replace(RIDE, trip=Trip(wants=Wants.ROAD), advice=replace(ADVICE, setup=setup))
    assert "A road trip is wanted" in judge_verdict(ride).lead
    assert "is wanted" not in judge_verdict(replace(ride, trip=Trip())).lead
    dirt = replace(ride, trip=Trip(wants=Wants.OFF_ROAD), advice=ADVICE)
    assert "is wanted" not in judge_verdict(dirt).lead  # a note, told below


# -- what forbids --------------------------------------------------------------------------------


def barred(*parts: tuple[float, float], tag: str = "forestry") -> Assessed:
    rows = tuple(
        ClosedPart(
            from_m=a, to_m=b, closure=Closure.NO_MOTORCYCLE, tag=f"access={tag}", way_ids=(1,)
        )
        for a, b in parts
    )
    return replace(RIDE, places=replace(RIDE.places, closed=rows))


def test_closed_ways_forbid_by_the_sum_of_all_of_them() -> None:
    ride = barred((1000, 1100), (5000, 5100), (9000, 9100))
    (item,) = found(ride, FindingKind.CLOSED)
    assert item.rank is Rank.FORBIDDEN
    assert (item.from_m, item.to_m, item.length_m) == (1000, 9100, 300)
    assert len(item.parts) == 3
    assert "access=forestry 300 m" in item.why
    assert "300 m of its 20 km are closed" in judge_verdict(ride).headline
    assert rank(barred((1000, 1100), (5000, 5199)), FindingKind.CLOSED) is Rank.CARE
    assert rank(barred((1000, 1100)), FindingKind.CLOSED) is Rank.CARE


@pytest.mark.parametrize(
    ("tag", "expected", "pushed"),
    [
        ("motor_vehicle=forestry", Rank.NOTE, True), ("highway=footway", Rank.NOTE, True),
        # What keeps everybody out keeps out who pushes: OSM wiki, Key:access.
        ("access=private", Rank.NOTE, False), ("access:conditional=no @ (Jan)", Rank.NOTE, False),
        ("highway=construction", Rank.NOTE, False),
        ("highway=steps", Rank.CARE, False),  # nobody pushes one up steps
    ],
)  # fmt: skip
def test_a_few_metres_are_pushed_where_one_may_walk(tag: str, expected: Rank, pushed: bool) -> None:
    """One pushes the bike, or the line cuts a corner."""
    ride = barred((0, 40), (5000, 5059))
    rows = tuple(replace(part, tag=tag) for part in ride.places.closed)
    (short,) = found(replace(ride, places=replace(ride.places, closed=rows)), FindingKind.CLOSED)
    assert short.rank is expected and ("Push the bike" in str(short.do.rider)) == pushed
    # Beside a footway it is told by what is worse.
    rows = (rows[0], replace(rows[1], tag="highway=footway"))
    (short,) = found(replace(ride, places=replace(ride.places, closed=rows)), FindingKind.CLOSED)
    assert short.rank is expected and ("Push the bike" in str(short.do.rider)) == pushed


def test_what_is_not_built_is_told_beside_leave() -> None:
    """Nobody gives leave for a road that is not there."""
    ride = barred((1_000, 2_000), (5_000, 7_000))
    shut, works = ride.places.closed
    works = replace(works, closure=Closure.CONSTRUCTION, tag="highway=construction")
    (item,) = found(
        replace(ride, places=replace(ride.places, closed=(shut, works))), FindingKind.CLOSED
    )
    assert "2 km of it are being built or only planned" in str(item.why)
    (item,) = found(ride, FindingKind.CLOSED)
    assert "being built" not in str(item.why) and "through" not in str(item.why)


def test_what_is_open_to_a_destination_is_no_ban_of_motorcycles() -> None:
    """Source: OSM wiki, Key:access, value destination."""
    ride = barred((1_000, 2_000), (5_000, 7_000))
    shut, street = ride.places.closed
    street = replace(street, closure=Closure.THROUGH, tag="motor_vehicle=destination")
    ride = replace(ride, places=replace(ride.places, closed=(shut, street)))
    (item,) = found(ride, FindingKind.CLOSED)
    assert "2 km of it are closed to through traffic only." in str(item.why)


@pytest.mark.parametrize(("afloat_m", "told"), [(90.0, False), (2_000.0, True)])
def test_of_what_is_closed_it_is_told_how_much_is_a_ferry(afloat_m: float, told: bool) -> None:
    """48 km of a sightseeing boat were told as 48 km of motor_vehicle=no, with no word of water."""
    land = ridden(
        stretch_of(0, 5_000), stretch_of(5_000, 5_000 + afloat_m, ground=GroundKind.FERRY, p=None),
        stretch_of(5_000 + afloat_m, 20_000),
    )  # fmt: skip
    closed = barred((4_000, 5_000 + afloat_m)).places.closed
    (item, *_) = found(
        replace(land, places=replace(land.places, closed=closed)), FindingKind.CLOSED
    )
    assert ("2 km of it are a ferry." in item.why) is told and ("ferry" in item.why) is told


def test_of_what_is_closed_it_is_told_what_another_hour_or_season_opens() -> None:
    """Who is barred for the winter is not told to get permission alone."""
    ride = barred((1_000, 2_000), (5_000, 7_000))
    shut, timed = ride.places.closed
    rows = (shut, replace(timed, closure=Closure.AT_TIMES, tag="access:conditional=no @ (Nov-Apr)"))
    (item,) = found(replace(ride, places=replace(ride.places, closed=rows)), FindingKind.CLOSED)
    assert "2 km of it are closed at the hour or season you pass, and open at others." in item.why
    assert "open at others" not in found(ride, FindingKind.CLOSED)[0].why


@pytest.mark.parametrize(("from_m", "told"), [(14_901.0, ""), (14_000.0, "1 km of it lie on a")])
def test_of_what_is_closed_the_part_that_nobody_drew_is_told(from_m: float, told: str) -> None:
    """A route of few points was forbidden "as drawn" for a road that the search had taken."""
    match = RIDE.match
    ends = np.array([0.0, 15_000.0, 20_000.0])
    legs = {
        name: np.repeat(getattr(match, name), 2)
        for name in ("edge", "way", "way_id", "forward", "edge_from_m", "edge_to_m", "offset_m")
    }
    guessed = replace(match, kind=np.zeros(2, np.int8), filled=np.array([True, False]),
                      from_m=ends[:-1], to_m=ends[1:], **legs)  # fmt: skip
    ride = barred((from_m, 17_000.0))
    ride = replace(ride, ride=replace(ride.ride, match=guessed))
    (item,) = found(ride, FindingKind.CLOSED)
    assert item.rank is Rank.FORBIDDEN
    assert ("guessed" in item.why) is bool(told) and told in item.why


def test_what_is_closed_at_times_asks_for_care_where_the_clock_does_not_tell() -> None:
    part = ClosedPart(from_m=1_000, to_m=3_000, closure=Closure.AT_TIMES, way_ids=(1,),
                      tag="motor_vehicle:conditional=no @ snow")  # fmt: skip
    ride = replace(RIDE, places=replace(RIDE.places, at_times=(part,)))
    (told,) = found(ride, FindingKind.CLOSED)
    assert told.rank is Rank.CARE and (told.from_m, told.to_m) == (1_000, 3_000)
    assert "2 km may be closed when you pass" in told.told and "no @ snow" in told.told


def test_a_gate_that_is_locked_or_closed_by_its_tags_endangers() -> None:
    """Who stands before it turns round, with the fuel and the daylight that are left."""
    at = ((500.0, False), (2_000.0, True), (2_040.0, True), (9_000.0, True))
    nodes = tuple(RideNode(at_m=m, kind="barrier", shut=shut) for m, shut in at)
    ride = replace(RIDE, places=replace(RIDE.places, nodes=nodes))
    (told,) = found(ride, FindingKind.CLOSED)
    assert told.rank is Rank.DANGER and (told.from_m, told.to_m) == (2_000, 9_000)
    assert str(told.what).startswith("2 barriers")
    open_ = replace(RIDE, places=replace(RIDE.places, nodes=nodes[:1]))
    assert found(open_, FindingKind.CLOSED) == []


def test_a_military_area_endangers() -> None:
    areas = (AreaRun(kind=AreaKind.MILITARY, name="", from_m=100.0, to_m=900.0),)
    ride = replace(RIDE, places=replace(RIDE.places, areas=areas))
    assert rank(ride, FindingKind.CLOSED) is Rank.DANGER
    other = (replace(areas[0], kind=AreaKind.PROTECTED),)
    assert rank(replace(RIDE, places=replace(RIDE.places, areas=other)), FindingKind.CLOSED) is None


def test_a_way_tagged_as_gone_asks_for_care() -> None:
    said = advice_item("disused", from_m=10.0, to_m=50.0, run_m=40.0, from_at_m=10.0, named="",
                       n_more=0)  # fmt: skip
    more = replace(said, code="disused-more", from_m=90.0, to_m=190.0)
    nowhere = replace(said, from_m=None, to_m=None)
    other = replace(said, code="impassable", from_m=500.0, to_m=900.0)
    ride = replace(RIDE, advice=replace(ADVICE, law=(nowhere, said, more, other)))
    (item,) = found(ride, FindingKind.CLOSED)
    assert (item.rank, item.size, len(item.parts)) == (Rank.CARE, 140.0, 2)
    assert found(replace(RIDE, advice=replace(ADVICE, law=(nowhere,))), FindingKind.CLOSED) == []


def test_what_riders_found_shut_endangers_and_the_last_day_is_told() -> None:
    shut = [
        FoundShut(from_m=a, to_m=b, riders=n, last_day=date(2027, month, 3))
        for a, b, n, month in (
            (2_000.0, 2_500.0, 1, 4),
            (9_000.0, 9_250.0, 3, 6),
            (1.0, 251.0, 1, 5),
        )
    ]
    (item,) = found(replace(RIDE, found_shut=tuple(shut)), FindingKind.CLOSED)
    assert (item.rank, item.size) == (Rank.DANGER, 1_000.0)
    assert item.what == "Riders found 1 km shut, last on 3 June 2027."


def test_of_many_tags_that_close_a_way_the_four_longest_are_told() -> None:
    parts = [
        ClosedPart(from_m=1e3 * i, to_m=1e3 * i + 100 * i, closure=Closure.NO_MOTORCYCLE,
                   tag=f"access={'abcdef'[i]}", way_ids=(i,))
        for i in range(1, 6)
    ]  # fmt: skip

    def tags(n: int) -> str:
        ride = replace(RIDE, places=replace(RIDE.places, closed=tuple(parts[:n])))
        return found(ride, FindingKind.CLOSED)[0].why

    four = "access=e 400 m, access=d 300 m, access=c 200 m and access=b 100 m."
    assert tags(4).endswith(four)
    assert "access=c 200 m and other 100 m." in tags(5) and "access=f 500 m" in tags(5)


OUT = Excluded(
    name="road-tourer", title="road tourer", reasons=(advice_item("no-seat", n_seats=1),)
)
FIT = BikeFit(
    name="dual-sport", title="dual-sport", fit=0.9, table=(), reasons=(), against=()
)  # fmt: skip


@pytest.mark.parametrize(
    ("fit", "said"),
    [(0.5, "Bike: dual-sport."), (0.49, "Bike: none fits well; the dual-sport is the least bad.")],
)
def test_a_bike_that_is_only_the_least_bad_is_said_to_be(fit: float, said: str) -> None:
    ride = replace(RIDE, advice=replace(ADVICE, bikes=(replace(FIT, fit=fit),)))
    verdict = judge_verdict(ride)
    assert verdict.bike == "dual-sport"
    assert verdict.bike_text == said and said in verdict.lead


def test_no_bike_may_go() -> None:
    ride = replace(RIDE, advice=replace(ADVICE, excluded=(OUT,)))
    (item,) = found(ride, FindingKind.NO_BIKE)
    assert item.rank is Rank.FORBIDDEN and "road tourer" in item.told
    assert "No bike of the fleet may go." in judge_verdict(ride).headline
    some = replace(RIDE, advice=replace(ADVICE, excluded=(OUT,), bikes=(FIT,)))
    assert found(some, FindingKind.NO_BIKE) == []


def test_why_no_bike_may_go_is_a_few_words_for_each_reason() -> None:
    """Bikes kept out alike stand together; of several reasons the first decides."""
    heavy = advice_item("payload", load_kg=185.0, payload_kg=160.0)
    seat = OUT.reasons[0]
    outs = (
        Excluded(name="a", title="trail bike", reasons=(seat, heavy)),
        Excluded(name="b", title="all-rounder", reasons=(heavy,)),
        Excluded(name="c", title="enduro", reasons=(seat,)),
    )
    (item,) = found(replace(RIDE, advice=replace(ADVICE, excluded=outs)), FindingKind.NO_BIKE)
    assert item.why == (
        "trail bike and enduro: no seat for a pillion; "
        "all-rounder: may carry 160 kg, and 185 kg are to go."
    )


def wanting(name: str, code: str, fits: tuple[BikeFit, ...], out: tuple[Excluded, ...] = ()):
    said = advice_item(
        code, wanted=name, better="dual-sport", why=OUT.reasons[0].text, tyres="mixed"
    )
    advice = replace(ADVICE, bikes=fits, excluded=out, wanted=said)
    return replace(RIDE, trip=Trip(wanted_class=name), advice=advice)


def test_the_bike_asked_for() -> None:
    ride = wanting("road-tourer", "wanted-excluded", (FIT,), (OUT,))
    (item,) = found(ride, FindingKind.WANTED_BIKE)
    assert item.rank is Rank.FORBIDDEN
    assert str(OUT.reasons[0].text) in item.told
    assert "road tourer asked for must not go" in judge_verdict(ride).headline
    second = replace(FIT, name="road-tourer", fit=0.6)
    assert rank(wanting("road-tourer", "wanted-other", (FIT, second)), FindingKind.WANTED_BIKE) is (
        Rank.NOTE
    )
    poor = replace(second, fit=0.49)
    assert rank(wanting("road-tourer", "wanted-other", (FIT, poor)), FindingKind.WANTED_BIKE) is (
        Rank.CARE
    )
    # However well it fits else, it was a note, below what fords and tunnels ask.
    assert rank(wanting("road-tourer", "wanted-tyres", (FIT, second)), FindingKind.WANTED_BIKE) is (
        Rank.CARE
    )
    assert rank(wanting("unheard-of", "wanted-unknown", (FIT,)), FindingKind.WANTED_BIKE) is (
        Rank.CARE
    )
    assert found(wanting("dual-sport", "wanted-fits", (FIT,)), FindingKind.WANTED_BIKE) == []
    # Of a ride beyond the rider no bike is told to do, but that one must not go stands.
    beyond = replace(ADVICE.rider, verdict=RiderVerdict.BEYOND)
    for code, bikes, out, n in (("wanted-near", (FIT, second), (), 0),
                                ("wanted-excluded", (FIT,), (OUT,), 1)):  # fmt: skip
        ride = wanting("road-tourer", code, bikes, out)
        ride = replace(ride, advice=replace(ride.advice, rider=beyond))
        assert len(found(ride, FindingKind.WANTED_BIKE)) == n
    # Who is told that either will do has nothing to ask.
    for code, asks in (("wanted-near", False), ("wanted-other", True)):
        (item,) = found(wanting("road-tourer", code, (FIT, second)), FindingKind.WANTED_BIKE)
        assert bool(item.do.to(Audience.RIDER)) is bool(item.do.to(Audience.STAFF)) is asks


@pytest.mark.parametrize(
    ("verdict", "expected"),
    [
        (RiderVerdict.BEYOND, Rank.FORBIDDEN),
        (RiderVerdict.STRETCHING, Rank.CARE),
        (RiderVerdict.WITHIN, None),
    ],
)
def test_beyond_the_rider(verdict: RiderVerdict, expected: Rank | None) -> None:
    fit = RiderFit(
        rider="novice", verdict=verdict, text="", n_beyond=1,
        reasons=(advice_item("long-day", from_m=0.0, to_m=20_000.0, day_s=40_000.0),),
    )  # fmt: skip
    ride = replace(RIDE, advice=replace(ADVICE, rider=fit, bikes=(FIT,)))
    assert rank(ride, FindingKind.BEYOND_RIDER) is expected
    verdict_ = judge_verdict(ride)
    assert (verdict_.bike is None) is (expected is Rank.FORBIDDEN)
    for item in found(ride, FindingKind.BEYOND_RIDER):
        assert "book" not in item.do.to(Audience.RIDER)


@pytest.mark.parametrize(
    ("share", "run_s", "expected"),
    [
        (0.95, 7_200.0, "Too hard for this rider (novice). 2 h of it, up to severity 5 of 5."),
        (0.75, 7_200.0, "Too hard for this rider (novice). 2 h of it, 1 h 30 min in one part, up "
                        "to severity 5 of 5."),
        # 32 and 28 minutes are told alike.
        (0.88, 1_920.0, "Too hard for this rider (novice). 30 min of it, up to severity 5 of 5."),
    ],
)  # fmt: skip
def test_what_is_too_hard_is_said_once_and_its_place_apart(
    share: float, run_s: float, expected: str
) -> None:
    """The place stands beside every finding: within the sentence it was there a second time."""
    reason = advice_item(
        "beyond-ground", from_m=1000.0, to_m=9000.0, run_s=run_s, part_s=run_s * share,
        severity=5, from_at_m=1000.0, near=" (near Sandel)", part_share=share,
    )  # fmt: skip
    steep = advice_item(
        "loose-climb", from_m=12_000.0, to_m=12_400.0, grade_pct=22.0, run_m=400.0,
        from_at_m=12_000.0, near="", steep_m=900.0, limit_pct=10.0,
    )  # fmt: skip
    fit = RiderFit(rider="novice", verdict=RiderVerdict.BEYOND, text="", n_beyond=1,
                   reasons=(reason, steep))  # fmt: skip
    (item,) = found(replace(RIDE, advice=replace(ADVICE, rider=fit)), FindingKind.BEYOND_RIDER)
    assert item.told == expected
    # Where it lies is where what is told lies.
    assert item.parts == (RidePart(from_m=1000.0, to_m=9000.0),)
    fit = replace(fit, reasons=(steep, reason))
    (item,) = found(replace(RIDE, advice=replace(ADVICE, rider=fit)), FindingKind.BEYOND_RIDER)
    assert item.why == "A loose climb or descent of 22 % over 400 m; 900 m of 10 % or more in all."
    # One ramp is not told again as the sum of all.
    one = advice_item("loose-climb-one", from_m=12_000.0, to_m=12_400.0, grade_pct=22.0,
                      run_m=400.0, from_at_m=12_000.0, near="")  # fmt: skip
    (item,) = found(
        replace(RIDE, advice=replace(ADVICE, rider=replace(fit, reasons=(one, reason)))),
        FindingKind.BEYOND_RIDER,
    )
    assert item.why == "A loose climb or descent of 22 % over 400 m."


def test_all_that_is_too_hard_is_told_with_all_its_places() -> None:
    """Who leaves out the first reason alone still rides the others."""
    ground = advice_item(
        "beyond-ground", from_m=1000.0, to_m=9000.0, run_s=7200.0, part_s=7200.0, severity=5,
        from_at_m=1000.0, near="", part_share=1.0,
    ).over([(1000.0, 9000.0), (15_000.0, 15_200.0)])  # fmt: skip
    day = advice_item("beyond-off-road", from_m=0.0, to_m=20_000.0, off_s=14_400.0, n_days=2)
    steep = advice_item(
        "loose-climb", from_m=12_000.0, to_m=12_400.0, grade_pct=22.0, run_m=400.0,
        from_at_m=12_000.0, near="", steep_m=900.0, limit_pct=10.0,
    )  # fmt: skip
    fords = advice_item("fords", from_m=3000.0, to_m=18_000.0, n_fords=2, first_at_m=3000.0,
                        near="").over([(3000.0, 3000.0), (18_000.0, 18_000.0)])  # fmt: skip
    two_up = advice_item("pillion-off-road", off_s=14_400.0)
    hours = advice_item("long-day", day_s=40_000.0)
    fit = RiderFit(rider="novice", verdict=RiderVerdict.BEYOND, text="", n_beyond=5,
                   reasons=(ground, day, steep, fords, two_up, hours))  # fmt: skip
    (item,) = found(replace(RIDE, advice=replace(ADVICE, rider=fit)), FindingKind.BEYOND_RIDER)
    assert item.why == (
        "2 h of it, up to severity 5 of 5. From km 0: 4 h of off-road riding in one day, counted "
        "by how hard it is. From km 12: A loose climb or descent of 22 % over 400 m; 900 m of "
        "10 % or more in all. 2 fords, the first at km 3. A pillion on 4 h of off-road riding, "
        "counted by how hard it is."
    )
    # A day that is too much as a whole would hide where in it the rest lies.
    assert [(part.from_m, part.to_m) for part in item.parts] == [
        (1000, 9000), (12_000, 12_400), (15_000, 15_200), (18_000, 18_000),
    ]  # fmt: skip
    fit = replace(fit, n_beyond=1, reasons=(day,))
    (item,) = found(replace(RIDE, advice=replace(ADVICE, rider=fit)), FindingKind.BEYOND_RIDER)
    assert item.parts == (RidePart(from_m=0.0, to_m=20_000.0),)


@pytest.mark.parametrize(("payload_kg", "expected"), [(169.0, Rank.FORBIDDEN), (170.0, None)])
def test_overload_from_the_payload_on(payload_kg: float, expected: Rank | None) -> None:
    # 85 kg rider, 70 kg pillion, 15 kg soft luggage: tables/common.py.
    bike = replace(DEFAULT_FLEET.classes[0], payload_kg=payload_kg, seats=2)
    fleet = replace(DEFAULT_FLEET, classes=(bike,))
    trip = Trip(pillion=True, luggage=Luggage.SOFT)
    advice = replace(ADVICE, bikes=(replace(FIT, name=bike.name),))
    ride = replace(RIDE, fleet=fleet, trip=trip, advice=advice)
    assert rank(ride, FindingKind.OVERLOAD) is expected
    if expected:
        (item,) = found(ride, FindingKind.OVERLOAD)
        assert (
            item.what
            == f"Two people and luggage weigh about 170 kg; the {bike.title} may carry 169 kg."
        )
        assert item.size == pytest.approx(1.0)


def test_of_the_bike_asked_for_it_is_told_what_it_may_carry() -> None:
    """100 kg of rider and soft luggage; without a wish the first bike that may go counts. That one
    has no second seat is told apart."""
    weak, strong = (
        replace(DEFAULT_FLEET.classes[0], name=name, payload_kg=kg, seats=1)
        for name, kg in (("weak", 90.0), ("strong", 300.0))
    )
    ride = replace(
        RIDE, fleet=replace(DEFAULT_FLEET, classes=(weak, strong)),
        advice=replace(ADVICE, bikes=(replace(FIT, name="strong"), replace(FIT, name="weak"))),
    )  # fmt: skip
    soft = Trip(luggage=Luggage.SOFT)
    for trip, told in ((soft, None), (replace(soft, wanted_class="weak"), Rank.FORBIDDEN),
                       (replace(soft, wanted_class="weak", pillion=True), None)):  # fmt: skip
        assert rank(replace(ride, trip=trip), FindingKind.OVERLOAD) is told
    (item,) = found(replace(ride, trip=replace(soft, wanted_class="weak")), FindingKind.OVERLOAD)
    assert str(item.what).startswith("Rider and luggage weigh about 100 kg")


# -- dangers, care and notes ---------------------------------------------------------------------

TRACK = {"ground": GroundKind.TRACK, "p": (0.0, 0.0, 1.0)}


def day(end_h: float, dusk_h: float) -> Day:
    sun = Daylight(sunrise_s=6 * 3600, sunset_s=dusk_h * 3600 - 1800, dusk_s=dusk_h * 3600)
    return Day(
        number=1, from_m=0.0, to_m=20_000.0, riding_s=2000.0, stops_s=0.0, start_s=10 * 3600,
        end_s=end_h * 3600, daylight=sun, margin_s=(dusk_h - 1 - end_h) * 3600, lodging=None,
        lodging_off_m=None, hard=(),
    )  # fmt: skip


def test_riding_in_the_dark_off_tarmac_is_a_danger() -> None:
    rough = ridden(stretch_of(0, 10_000), stretch_of(10_000, 20_000, **TRACK))
    dark = replace(PLAN, days=(day(end_h=20, dusk_h=18),))
    assert rank(replace(rough, plan=dark), FindingKind.DARK) is Rank.DANGER
    assert rank(replace(RIDE, plan=dark), FindingKind.DARK) is Rank.CARE
    late = replace(PLAN, days=(day(end_h=17.5, dusk_h=18),))
    assert rank(replace(rough, plan=late), FindingKind.DARK) is Rank.CARE
    light = replace(PLAN, days=(day(end_h=17, dusk_h=18),))
    assert rank(replace(rough, plan=light), FindingKind.DARK) is None
    (item,) = found(replace(rough, plan=dark), FindingKind.DARK)
    # What is told is the time without light, not by how much an hour in hand was missed.
    assert item.what == "Day 1 ends 2 h after dark: 4 km off tarmac in the dark."
    (soon,) = found(replace(rough, plan=late), FindingKind.DARK)
    assert soon.what == "Day 1 ends only 30 min before dark."
    # Two of ten hours are dark: the last fifth of the way.
    assert (item.from_m, item.to_m) == (16_000, 20_000)


def test_the_load_is_told_once_where_the_bike_asked_for_must_not_carry_it() -> None:
    """It stood in three findings and twice in the headline."""
    bike = replace(DEFAULT_FLEET.classes[0], payload_kg=90.0)
    said = (
        advice_item("rider-below-class", needed="expert", rider="steady"),
        advice_item("payload-one", load_kg=100.0, payload_kg=90.0),
    )
    ride = wanting(bike.name, "wanted-excluded", (), (Excluded(name=bike.name, title=bike.title,
                                                               reasons=said),))  # fmt: skip
    ride = replace(ride, fleet=replace(DEFAULT_FLEET, classes=(bike,)))
    (wanted,) = found(ride, FindingKind.WANTED_BIKE)
    (load,) = found(ride, FindingKind.OVERLOAD)
    assert "expert" in wanted.told and "90 kg" not in wanted.told and "90 kg" in load.told


def test_a_day_that_begins_after_dusk_is_told_as_a_ride_in_the_dark() -> None:
    """A quarter of an hour from half past ten "ended 4 h 35 min too late"."""
    rough = ridden(stretch_of(0, 10_000), stretch_of(10_000, 20_000, **TRACK))
    night = replace(PLAN, days=(replace(day(end_h=22.75, dusk_h=19.2), start_s=22.5 * 3600),))
    (item,) = found(replace(rough, plan=night), FindingKind.DARK)
    assert str(item.what) == "Day 1 is ridden in the dark: 10 km of it off tarmac."
    assert (item.from_m, item.to_m, item.rank) == (0, 20_000, Rank.DANGER)
    (item,) = found(replace(RIDE, plan=night), FindingKind.DARK)
    assert str(item.what) == "Day 1 is ridden in the dark." and item.rank is Rank.CARE


@pytest.mark.parametrize(
    ("start_h", "off_tarmac", "expected"),
    [(4.0, True, Rank.DANGER), (4.0, False, Rank.CARE), (5.49, True, Rank.CARE),
     (5.5, True, None)],
)  # fmt: skip
def test_setting_off_before_dawn_is_told_as_an_end_after_dusk_is(
    start_h: float, off_tarmac: bool, expected: Rank | None
) -> None:
    """Sunrise at 6:00, and civil twilight of half an hour: dawn is at 5:30. A ride that set off on
    tracks at 5:00 in November, 2 h before light, had no word of it but in the plan."""
    at_once = ridden(stretch_of(0, 10_000, **TRACK), stretch_of(10_000, 20_000))
    early = replace(day(end_h=10, dusk_h=18), start_s=start_h * 3600, margin_s=3600.0)
    ride = replace(at_once if off_tarmac else RIDE, plan=replace(PLAN, days=(early,)))
    assert rank(ride, FindingKind.DARK) is expected
    if expected is Rank.DANGER:
        (item,) = found(ride, FindingKind.DARK)
        # An hour and a half of six hours is dark: the first quarter of the way.
        assert (item.from_m, item.to_m) == (0, 5_000)
        assert item.what == "Day 1 sets off 1 h 30 min before dawn: 5 km off tarmac in the dark."


def test_no_sunrise_is_a_danger() -> None:
    problem = PlanProblem(kind=ProblemKind.DAYLIGHT, from_m=0.0, to_m=20_000.0, text="")
    ride = replace(RIDE, plan=replace(PLAN, problems=(problem,)))
    assert rank(ride, FindingKind.DARK) is Rank.DANGER


def hot(wbgt_c: float, air_c: float = 31.0, chill_c: float = 20.0, over_h: float = 0.0) -> Assessed:
    at_m = np.array([0.0, 5000.0, 10_000.0, 20_000.0])
    ones = np.ones(4)
    riding = np.array([20.0, wbgt_c, wbgt_c, 20.0])
    air = AirAlong(
        at_m=at_m, unix_s=at_m, temp_c=ones * air_c, low_c=ones, high_c=ones, humidity_pct=ones,
        heat_index_c=ones, wbgt_still_c=riding, wbgt_riding_c=riding,
        wind_chill_c=np.array([20.0, 20.0, chill_c, chill_c]), ele_m=ones,
    )  # fmt: skip
    values: dict[str, Any] = dict.fromkeys((f.name for f in fields(RiderHeat)), 0.0)
    values |= {
        "max_air_temp_c": air_c,
        "max_wbgt_riding_c": wbgt_c,
        "min_wind_chill_c": chill_c,
        "hours_above": (),
        "over_riding_h": over_h,
        "over_riding": ((5000.0, 10_000.0),) if over_h else (),
        "worst": HotSpell(from_m=0, to_m=1, start=None, temp_c=0, heat_index_c=0, wbgt_c=0),  # type: ignore[arg-type]
        "water_source": "",
    }
    return replace(RIDE, heat=replace(HEAT, air=air, rider=RiderHeat(**values)))


@pytest.mark.parametrize(("air_c", "snow"), [(9.9, True), (10.0, False)])
def test_what_is_not_judged_without_heights_names_snow_where_some_may_lie(
    air_c: float, snow: bool
) -> None:
    warm = hot(20.0)
    rider = replace(warm.heat.rider, min_air_temp_c=air_c)  # type: ignore[type-var]
    ride = replace(warm, heat=replace(warm.heat, rider=rider))
    ride = replace(ride, relief=replace(RELIEF, source=None))
    (why,) = (gap.why for gap in list_unknown(ride) if gap.key == "relief")
    assert "Climbs" in why and ("snow" in why) is snow
    unheated = replace(RIDE, relief=replace(RELIEF, source=None))
    assert any("snow" in gap.why for gap in list_unknown(unheated))


@pytest.mark.parametrize(
    ("wbgt_c", "air_c", "over_h", "expected"),
    [
        (31.0, 31.0, 0.0, Rank.DANGER),
        (30.9, 31.0, 0.0, Rank.CARE),
        (28.0, 31.0, 0.99, Rank.CARE),
        (28.0, 31.0, 1.0, Rank.DANGER),
        (25.0, 30.0, 0.0, Rank.CARE),
        (25.0, 29.9, 0.0, None),
        (24.9, 31.0, 0.0, None),
    ],
)
def test_heat_by_its_levels(
    wbgt_c: float, air_c: float, over_h: float, expected: Rank | None
) -> None:
    """25 and 31 degrees WBGT: Japan sports guide 2013; an hour above the limit: ISO 7243."""
    ride = hot(wbgt_c, air_c, over_h=over_h)
    assert rank(ride, FindingKind.HEAT) is expected
    for item in found(ride, FindingKind.HEAT):
        assert (item.from_m, item.to_m) == (5000, 10_000)


@pytest.mark.parametrize(("share", "told"), [(0.0, False), (0.1, True)])
def test_heat_by_a_forecast_says_whose_it_is(share: float, told: bool) -> None:
    ride = hot(31.0)
    day = datetime(2027, 6, 1, tzinfo=UTC)
    weather = Weather(source="x", asked_at=day, made_at=day, heat_share=share, rain_past_mm=None,
                      rain_ahead_mm=None, words=("By the forecast of noon.", "More."))  # fmt: skip
    told_by = replace(ride, weather=weather, heat=replace(ride.heat, forecast_share=share))
    (item,), (bare,) = (found(one, FindingKind.HEAT) for one in (told_by, ride))
    assert ("By the forecast of noon." in item.do.rider) is told
    assert "More." not in item.do.rider and "forecast" not in bare.do.rider


@pytest.mark.parametrize(
    ("from_hour", "said"),
    [
        (9.5, "Be through before 11:30, or"),
        (9.74, "Be through before 11:30, or"),
        (11.5, "Ride early, or"),
    ],
)
def test_heat_that_stops_a_ride_is_told_with_the_hour_it_comes_at(
    from_hour: float, said: str
) -> None:
    """Met on the way by its hour, to the quarter before it: "before 12:09" is more than a mean of
    the month knows; met at the first kilometre, no hour is early enough to name."""
    ride = hot(31.0, 31.0)
    air = ride.heat.air
    assert air is not None
    n, day_s = len(air.at_m), 86_400.0 * 20_000
    unix_s = day_s + 3600 * from_hour + 7200 * (np.arange(n) >= int(np.argmax(air.at_m >= 5000)))
    first = air.at_m >= (5000 if from_hour < 10 else 0)
    air = replace(air, unix_s=unix_s, wbgt_riding_c=np.where(first, 31.0, 20.0))
    ride = replace(ride, heat=replace(ride.heat, air=air, basis={"zone": "UTC"}))
    (item,) = found(ride, FindingKind.HEAT)
    assert said in str(item.do.rider)


@pytest.mark.parametrize(
    ("chill_c", "expected"),
    [(-10.0, Rank.DANGER), (-9.9, Rank.CARE), (0.0, Rank.CARE), (0.1, None)],
)
def test_cold_by_wind_chill(chill_c: float, expected: Rank | None) -> None:
    assert rank(hot(20.0, chill_c=chill_c), FindingKind.COLD) is expected


@pytest.mark.parametrize(
    ("air_c", "expected", "ice", "frost"),
    [(0.0, Rank.DANGER, True, True), (0.1, Rank.CARE, True, False), (3.1, Rank.CARE, False, False)],
)
def test_frost_is_a_danger_and_ice_is_told_by_the_air_and_not_by_the_wind(
    air_c: float, expected: Rank, ice: bool, frost: bool
) -> None:
    """Wind chill freezes skin, not water: at 5 C and 80 km/h no road is icy (common practice, no
    source). A wet road at 0 C is ice."""
    (item,) = found(hot(20.0, air_c=air_c, chill_c=-5.0), FindingKind.COLD)
    assert item.rank is expected
    assert ("ice" in item.do.rider) == ice
    assert ("Frost" in item.what) == frost


def test_track_that_no_tag_tells_may_be_track() -> None:
    track = {"ground": GroundKind.TRACK, "p": (0.4, 0.0, 0.6), "highway": "track", "surface": None}
    for basis, may in ((Basis.INFERRED, True), (Basis.TAGGED, False), (Basis.GRADED, False)):
        ride = ridden(stretch_of(0, 9_000), stretch_of(9_000, 10_000, basis=basis, **track))
        (item,) = found(ride, FindingKind.HARD)
        assert ("no tag tells" in item.what) == may


@pytest.mark.parametrize(
    ("concern", "expected"),
    [(Concern.HIGH, Rank.CARE), (Concern.MEDIUM, Rank.NOTE), (Concern.LOW, None)],
)
def test_a_hot_engine(concern: Concern, expected: Rank | None) -> None:
    run = HotRun(from_m=100, to_m=900, why="fan", bike="x", time_s=60, air_temp_c=None,
                 peak_c=None, ratio=None, grade_pct=None, speed_kph=9.0)  # fmt: skip
    engine = EngineHeat(
        bike="x", title="x", cooling="liquid", concern=concern, causes=(HeatCause.CLIMB,),
        fan_s=0, fan_high_s=0,
        longest_s=0, boil_s=0, peak_c=0, cooled_peak_c=0, limit_c=0, most_power_share=0,
        least_power_left=0, runs=(run,),
    )  # fmt: skip
    ride = replace(RIDE, heat=replace(HEAT, engines=(engine,)))
    assert rank(ride, FindingKind.ENGINE) is expected


def far(**known: Any) -> Assessed:
    usual: dict[str, Any] = {
        "from_m": 1000.0,
        "to_m": 4000.0,
        "worst_at_m": 2000.0,
        "nearest_m": 70_000.0,
        "nearest_s": 7200.0,
        "nearest": None,
        "back_s": None,
        "town": None,
        "town_m": None,
        "town_s": None,
    }
    return replace(RIDE, help=replace(HELP, remote=(Remote(**(usual | known)),)))


def test_far_from_help() -> None:
    assert rank(far(), FindingKind.REMOTE) is Rank.DANGER
    assert rank(far(unusual=False), FindingKind.REMOTE) is Rank.CARE
    lost = far(nearest_m=None, nearest_s=None)
    assert "not the same as none" in found(lost, FindingKind.REMOTE)[0].what
    assert rank(far(nearest_s=None, unusual=False), FindingKind.REMOTE) is Rank.CARE


@pytest.mark.parametrize(
    ("pump_m", "unusual", "expected"),
    [
        (10_000.0, False, Rank.NOTE), (10_001.0, False, Rank.CARE), (None, False, Rank.CARE),
        (10_000.0, True, Rank.DANGER),
    ],
)  # fmt: skip
def test_a_map_without_workshops_is_no_alarm_among_pumps(
    pump_m: float | None, unusual: bool, expected: Rank
) -> None:
    """In the middle of a city whose map held no town it stood in the first lines."""
    ride = far(nearest_m=None, nearest_s=None, unusual=unusual)
    kinds = tuple(
        (kind, replace(known, farthest_m=pump_m) if kind is HelpKind.FUEL else known)
        for kind, known in ride.help.kinds
    )
    assert rank(replace(ride, help=replace(ride.help, kinds=kinds)), FindingKind.REMOTE) is expected


TOWN = PlaceRef(name="Bigtown", kind="town", lon=0.0, lat=0.0, basis=HelpBasis.INFERRED)


@pytest.mark.parametrize(
    ("town_s", "town_m", "expected"),
    [(5_400.0, 60_000.0, None), (5_401.0, 60_000.0, Rank.CARE), (5_400.0, 60_001.0, Rank.CARE),
     (None, None, Rank.CARE)],
)  # fmt: skip
def test_a_map_without_workshops_is_no_alarm_near_a_town(
    town_s: float | None, town_m: float | None, expected: Rank | None
) -> None:
    """A ride of a few km in a capital is not far from help because nobody mapped a workshop; what
    is far counts by the operator's limits (90 min, 60 km in these tests)."""
    ride = far(
        nearest_m=None, nearest_s=None, unusual=False, town_s=town_s, town_m=town_m,
        town=None if town_s is None else TOWN,
    )  # fmt: skip
    assert rank(ride, FindingKind.REMOTE) is expected
    said = [item.why for item in list_unknown(ride) if item.key == "help.mechanic"]
    assert bool(said) == (expected is None)
    assert all("not the same as none" in why and "Bigtown" in why for why in said)


_NOBODY = (
    "No mechanic in the map (not the same as none) can be reached by road from any of this ride"
)


def along(*towns: tuple[float, float]) -> HelpAlong:
    """Help at positions of a ride: (position, way to a town), no mechanic anywhere."""
    at_m, town_m = np.array(towns, dtype=np.float64).T
    none = np.full(len(at_m), np.nan)
    rest = dict.fromkeys(HelpAlong.__dataclass_fields__, none)
    return HelpAlong(**rest | {"at_m": at_m, "town_m": town_m, "town_s": town_m / 20.0})


NO_TOWN = float("nan")


@pytest.mark.parametrize(
    ("towns", "said", "ends_m"),
    [
        (((0, 9e4), (2_900, 9e4), (3_000, 1e3), (20_000, 1e3)),
         f"{_NOBODY}, and 2.9 km of it lie far from a town too.", (0, 2_900)),
        (((0, 9e4), (900, 9e4), (1_000, 1e3), (20_000, 1e3)), f"{_NOBODY}.", (0, 20_000)),
        (((0, 9e4), (20_000, 9e4)), f"{_NOBODY}, and a town is far too.", (0, 20_000)),
        (((0, NO_TOWN), (20_000, NO_TOWN)),
         "Neither a mechanic nor a town in the map (not the same as none) can be reached by road "
         "from any of this ride.", (0, 20_000)),
        (((0, NO_TOWN), (5_000, NO_TOWN), (5_100, 1e3), (20_000, 1e3)),
         f"{_NOBODY}, and no town from 5 km of it.", (0, 5_000)),
    ],
)  # fmt: skip
def test_a_ride_without_a_workshop_in_reach_tells_how_it_is_with_towns(
    towns: tuple[tuple[float, float], ...], said: str, ends_m: tuple[float, float]
) -> None:
    """A ride of 20 km through a city of whose map towns were left out said "A town is far too";
    one that began 55 km from the capital and led through it lay "far from a town" on all 66 km.
    The place that is told is of what is said last."""
    lost = far(from_m=0.0, to_m=20_000.0, nearest_m=None, nearest_s=None, unusual=False)
    lost = replace(lost, help=replace(lost.help, along=along(*towns)))
    (item,) = found(lost, FindingKind.REMOTE)
    assert item.what == said and (item.from_m, item.to_m) == ends_m


def test_beyond_the_map_no_town_is_called_far_and_no_road_missing() -> None:
    """A ride of 20 km that enters the region at km 19: of Zurich, off its map, "far from a town"
    and "no road on the map" were said."""
    lost = far(from_m=0.0, to_m=20_000.0, nearest_m=None, nearest_s=None, unusual=False)
    near_edge = along((0, 9e4), (18_900, 9e4), (19_000, 1e3), (20_000, 1e3))
    lost = replace(lost, help=replace(lost.help, along=near_edge))
    places = replace(lost.places, outside=((0.0, 19_000.0),))
    match = replace(lost.match, kind=np.full_like(lost.match.kind, LegKind.UNMAPPED))
    edges = (0.0, 18_000.0, 19_000.0, 20_000.0)  # two stretches beyond the map, one on it
    off = tuple(
        stretch_of(a, b, ground=GroundKind.UNMAPPED, p=None) for a, b in itertools.pairwise(edges)
    )
    lost = replace(lost, places=places, ride=replace(lost.ride, match=match),
                   ground=replace(lost.ground, stretches=off))  # fmt: skip
    (item,) = found(lost, FindingKind.REMOTE)
    assert item.what == f"{_NOBODY}."
    (item,) = found(lost, FindingKind.GUESS)
    assert item.rank is Rank.CARE and item.what.startswith("19 km lie outside the map")
    outside, on_it = (gap for gap in list_unknown(lost) if gap.key == "match.unmapped_m")
    assert str(outside.why).startswith("19 km lie outside the map")
    assert [(part.from_m, part.to_m) for part in outside.parts] == [(0.0, 19_000.0)]
    assert on_it.why == "1 km fit no road of the map, or none in the direction drawn."
    assert [(part.from_m, part.to_m) for part in on_it.parts] == [(19_000.0, 20_000.0)]


@pytest.mark.parametrize(("to_m", "expected"), [(1_999.0, None), (2_000.0, Rank.CARE)])
def test_a_few_hundred_metres_cut_off_from_help_are_walked(
    to_m: float, expected: Rank | None
) -> None:
    """The last 600 m of a ride in a city, behind a one-way street at the edge of the map, were
    told as far from help. Out of the map's help from km 1 on, a mechanic in reach before."""
    ride = far(from_m=1_000.0, to_m=to_m, nearest_m=None, nearest_s=None, unusual=False)
    one = HelpAlong(**dict.fromkeys(HelpAlong.__dataclass_fields__, np.array([1.0, 2.0])))
    assert rank(replace(ride, help=replace(ride.help, along=one)), FindingKind.REMOTE) is expected


def test_at_most_is_said_of_all_parts_without_a_workshop() -> None:
    """A town 15 min away at the start, and an island 1 h 30 min and more from it at the end."""
    near = far(nearest_m=None, nearest_s=None, unusual=False, town_s=900.0, town_m=9e3, town=TOWN)
    away = far(nearest_m=None, nearest_s=None, unusual=False, town_s=6e3, town_m=9e4, town=TOWN)
    runs = (*near.help.remote, *away.help.remote)
    ride = replace(near, help=replace(near.help, remote=runs))
    (said,) = [item.why for item in list_unknown(ride) if item.key == "help.mechanic"]
    assert "1 h 40 min away at most" in said and "ferry" not in said
    afloat = replace(runs[1], town_ferry_m=5e3)
    ride = replace(near, help=replace(near.help, remote=(runs[0], afloat)))
    (said,) = [item.why for item in list_unknown(ride) if item.key == "help.mechanic"]
    assert "with a ferry" in said
    (item,) = finders.remote(far(ferry_m=5e3))
    assert "takes a ferry" in str(item.why) and not next(finders.remote(far())).why


def test_fuel_that_does_not_reach_is_a_danger() -> None:
    rows = [
        PlanProblem(kind=kind, from_m=a, to_m=b, text="Carry 3 L.")
        for kind, a, b in ((ProblemKind.FUEL, 0, 9000), (ProblemKind.FUEL, 12_000, 14_000))
    ]
    (item,) = found(replace(RIDE, plan=replace(PLAN, problems=tuple(rows))), FindingKind.FUEL)
    assert item.rank is Rank.DANGER and item.length_m == 11_000
    other = (replace(rows[0], kind=ProblemKind.WATER),)
    assert rank(replace(RIDE, plan=replace(PLAN, problems=other)), FindingKind.FUEL) is None


@pytest.mark.parametrize(
    ("length_m", "severity", "expected"),
    [(300, 4, [Rank.DANGER, Rank.CARE]), (300, 3, [Rank.CARE]), (299, 4, [])],
)
def test_hard_ground_in_one_piece(length_m: float, severity: int, expected: list[Rank]) -> None:
    ride = ridden(
        stretch_of(0, 5000),
        stretch_of(5000, 5000 + length_m, severity=severity, **TRACK),
        stretch_of(5000 + length_m, 9000),
    )
    assert [item.rank for item in found(ride, FindingKind.HARD)] == expected


def test_a_rider_whom_the_ride_suits_is_not_told_to_be_another() -> None:
    piece = stretch_of(5000, 5330, severity=4, **TRACK)
    ride = ridden(stretch_of(0, 5000), piece, stretch_of(5330, 9000))
    for verdict, told in ((RiderVerdict.WITHIN, "on foot first"),
                          (RiderVerdict.STRETCHING, "Only for riders used to it")):  # fmt: skip
        rider = replace(ride.advice.rider, verdict=verdict)
        one = replace(ride, advice=replace(ride.advice, rider=rider))
        assert told in str(found(one, FindingKind.HARD)[0].do.rider)


def test_hard_ground_counts_all_its_places() -> None:
    rough = [(1000, 1400), (5000, 5600)]
    cuts = [0.0, *(x for part in rough for x in part), 9000.0]
    ride = ridden(*(
        stretch_of(a, b, **(TRACK | {"severity": 4} if (a, b) in rough else {}))
        for a, b in itertools.pairwise(cuts)
    ))  # fmt: skip
    hard = found(ride, FindingKind.HARD)[0]
    assert (hard.from_m, hard.to_m, hard.length_m) == (1000, 5600, 1000)
    assert "1 km of hard riding, 600 m of it in one piece." in hard.what


_SHUT, _SOFT = SeasonRisk.CONFIRM_FIRST, SeasonRisk.DOUBTFUL


@pytest.mark.parametrize(
    ("risk", "cause", "length_m", "expected"),
    [
        (_SHUT, SeasonCause.SNOW, 199, None), (_SHUT, SeasonCause.SNOW, 200, Rank.DANGER),
        (_SHUT, SeasonCause.FROST, 200, Rank.DANGER), (_SHUT, SeasonCause.TAGGED, 200, Rank.DANGER),
        (_SOFT, SeasonCause.TAGGED, 200, Rank.CARE),
        # What rain has softened is looked at on foot: under a kilometre it is a rank less.
        (_SHUT, SeasonCause.RAIN, 199, None), (_SHUT, SeasonCause.RAIN, 200, Rank.CARE),
        (_SHUT, None, 999, Rank.CARE), (_SHUT, SeasonCause.RAIN, 1000, Rank.DANGER),
        (_SOFT, SeasonCause.RAIN, 200, Rank.NOTE), (_SOFT, None, 999, Rank.NOTE),
        (_SOFT, SeasonCause.RAIN, 1000, Rank.CARE),
        (SeasonRisk.DAMP, SeasonCause.RAIN, 2000, None),
    ],
)  # fmt: skip
def test_season(
    risk: SeasonRisk, cause: SeasonCause | None, length_m: float, expected: Rank | None
) -> None:
    soft = stretch_of(0, length_m, season_risk=risk, season_cause=cause)
    assert rank(ridden(soft, stretch_of(length_m, 9000)), FindingKind.SEASON) is expected


def test_what_a_tag_opens_at_some_season_is_not_called_soft() -> None:
    by = {"season_risk": _SOFT}
    tagged, rain = found(
        ridden(
            stretch_of(0, 2000, season_cause=SeasonCause.TAGGED, **by),
            stretch_of(2000, 3500, season_cause=SeasonCause.RAIN, **by),
        ),
        FindingKind.SEASON,
    )
    assert str(tagged.what) == "2 km are open at some season only, by the map."
    assert str(rain.what) == "1.5 km may be too soft to pass at this season (rain)."


@pytest.mark.parametrize(
    ("grade_pct", "ground", "expected"),
    [
        (18.0, GroundKind.GRAVEL, Rank.DANGER),
        (17.9, GroundKind.TRACK, Rank.CARE),
        (10.0, GroundKind.GRAVEL, Rank.CARE),
        (9.9, GroundKind.GRAVEL, None),
        (12.0, GroundKind.PAVED, Rank.NOTE),
        (11.9, GroundKind.PAVED, None),
    ],
)
def test_steep(grade_pct: float, ground: GroundKind, expected: Rank | None) -> None:
    ramp = Ramp(from_m=1000.0, to_m=1400.0, grade_pct=grade_pct)
    relief = replace(RELIEF, steepest=(ramp,), ramps=(ramp,), source="tiles")
    ride = replace(ridden(stretch_of(0, 9000, ground=ground)), relief=relief)
    assert rank(ride, FindingKind.STEEP) is expected


@pytest.mark.parametrize(("length_m", "told"), [(199.0, False), (200.0, True)])
def test_a_hundred_metres_of_tarmac_are_no_ramp(length_m: float, told: bool) -> None:
    """Every ride on the sealed main roads of a mountain country was told of one "over 100 m": cells
    of 90 m with 10 m of error at either end make them up."""
    ramp = Ramp(from_m=1000.0, to_m=1000.0 + length_m, grade_pct=-14.0)
    relief = replace(RELIEF, steepest=(ramp,), ramps=(ramp,), source="tiles")
    ride = replace(ridden(stretch_of(0, 9000)), relief=relief)
    assert (rank(ride, FindingKind.STEEP) is Rank.NOTE) is told
    loose = replace(ridden(stretch_of(0, 9000, ground=GroundKind.GRAVEL)), relief=relief)
    assert rank(loose, FindingKind.STEEP) is Rank.CARE


def test_of_two_ramps_as_steep_the_first_is_told() -> None:
    first = Ramp(from_m=1000.0, to_m=1400.0, grade_pct=18.0)
    later = Ramp(from_m=3000.0, to_m=3600.0, grade_pct=18.0)
    relief = replace(RELIEF, steepest=(first,), ramps=(first, later), source="tiles")
    ride = replace(ridden(stretch_of(0, 9000, ground=GroundKind.TRACK)), relief=relief)
    (item,) = found(ride, FindingKind.STEEP)
    assert "over 400 m" in str(item.what)
    # The place beside it is that of the longest.
    assert item.longest == RidePart(from_m=3000.0, to_m=3600.0)
    assert str(item.why) == "The steepest from km 1."


def test_a_doubtful_grade_is_no_alarm() -> None:
    ramp = Ramp(from_m=1000.0, to_m=1400.0, grade_pct=45.0, doubtful=True)
    ride = replace(RIDE, relief=replace(RELIEF, steepest=(ramp,), ramps=(ramp,), source="tiles"))
    assert rank(ride, FindingKind.STEEP) is Rank.NOTE


@pytest.mark.parametrize(("share", "expected"), [(0.3, Rank.CARE), (0.29, None)])
def test_a_guessed_way(share: float, expected: Rank | None) -> None:
    match = RIDE.match
    ends = np.array([0.0, share * 20_000, 20_000])
    legs = {
        name: np.repeat(getattr(match, name), 2)
        for name in ("edge", "way", "way_id", "forward", "edge_from_m", "edge_to_m", "offset_m")
    }
    guessed = replace(
        match, kind=np.zeros(2, np.int8), filled=np.array([True, False]), from_m=ends[:-1],
        to_m=ends[1:], **legs,
    )  # fmt: skip
    ride = replace(RIDE, ride=replace(RIDE.ride, match=guessed))
    assert rank(ride, FindingKind.GUESS) is expected
    # A crossing drawn by two points is no way that was guessed: 99 km of ferry were told as such.
    ferry = replace(guessed, kind=np.array([LegKind.FERRY, LegKind.MATCHED], np.int8))
    assert ferry.filled_m == 0.0 and guessed.filled_m == share * 20_000
    assert rank(replace(RIDE, ride=replace(RIDE.ride, match=ferry)), FindingKind.GUESS) is None


def test_a_ferry_asks_for_care_whether_it_takes_motorcycles() -> None:
    ride = ridden(stretch_of(0, 900), stretch_of(900, 2000, ground=GroundKind.FERRY, p=None))
    (item,) = found(ride, FindingKind.FERRY)
    assert item.rank is Rank.CARE and item.what == "A ferry of 1.1 km."
    # 1.1 km at 36 km/h: who reads "in the saddle" must know what of it is on deck.
    said = (
        "Ask whether it takes motorcycles, and its hours; the crossing, 2 min, counts as riding, "
        "the wait does not."
    )
    assert item.do.rider == said
    assert rank(RIDE, FindingKind.FERRY) is None
    # One that takes no cars may take no motorcycles: OSM wiki, Key:access, leaves it open.
    first, then = found(
        replace(ride, places=replace(ride.places, no_cars=((900.0, 2000.0),))), FindingKind.FERRY
    )
    assert first.rank is Rank.DANGER and then.rank is Rank.CARE
    assert first.what == "A ferry that takes no cars, by the map: perhaps no motorcycles either."


def test_a_ferry_closed_to_motorcycles_forbids_however_short_and_asks_no_more() -> None:
    """A boat for people on foot over 80 m of river: nobody pushes the bike there."""
    ride = ridden(stretch_of(0, 900), stretch_of(900, 980, ground=GroundKind.FERRY, p=None))
    boat = ClosedPart(
        from_m=900, to_m=980, closure=Closure.NO_MOTORCYCLE, tag="motor_vehicle=no", way_ids=(1,)
    )
    shut = replace(ride, places=replace(ride.places, closed=(boat,)))
    (item,) = found(shut, FindingKind.CLOSED)
    assert item.rank is Rank.FORBIDDEN and "permission" in item.do.rider
    assert rank(shut, FindingKind.FERRY) is None
    beside = replace(boat, from_m=100, to_m=180)
    ashore = replace(ride, places=replace(ride.places, closed=(beside,)))
    assert rank(ashore, FindingKind.CLOSED) is Rank.NOTE
    assert rank(ashore, FindingKind.FERRY) is Rank.CARE


@pytest.mark.parametrize(
    ("to_m", "expected"), [(1_299.0, Rank.NOTE), (1_300.0, Rank.CARE)]
)  # fmt: skip
def test_what_is_drawn_against_a_one_way_road_is_told(to_m: float, expected: Rank) -> None:
    """It stood among the oddities of the file, on the last page; a rider met the traffic."""
    ride = replace(RIDE, places=replace(RIDE.places, against=((1_000.0, to_m),)))
    (item,) = found(ride, FindingKind.CLOSED)
    assert item.rank is expected and "against one-way roads" in item.what
    assert not judge_verdict(ride).forbidden


def test_what_is_tagged_as_impassable_is_a_danger_before_what_is_hard() -> None:
    """Source: OSM wiki, Key:smoothness: no wheeled vehicle. Only the cautions said so."""
    said = advice_item("impassable", from_m=2_000.0, to_m=2_400.0, run_m=400.0, from_at_m=2_000.0,
                       near="")  # fmt: skip
    ride = ridden(stretch_of(0, 4_000, **(TRACK | {"severity": 5})))
    ride = replace(ride, advice=replace(ADVICE, cautions=(said,)))
    first, *rest = found(ride, FindingKind.HARD)
    assert str(first.what) == "400 m are tagged as impassable for any wheels."
    assert first.rank is Rank.DANGER and rest and (first.from_m, first.to_m) == (2_000, 2_400)


@pytest.mark.parametrize(("length_m", "expected"), [(499.0, None), (500.0, Rank.CARE)])
def test_a_long_tunnel_without_light_asks_for_care(length_m: float, expected: Rank | None) -> None:
    """Three of 3 km, of one lane, stood on the page alone, among the law."""
    law = (advice_item("tunnel", from_m=500.0, to_m=500.0 + length_m, run_m=length_m,
                       from_at_m=500.0, named=""),)  # fmt: skip
    assert rank(replace(RIDE, advice=replace(ADVICE, law=law)), FindingKind.TUNNEL) is expected


def test_what_the_tide_covers_is_a_danger() -> None:
    """A causeway is flooded twice a day: source: OSM wiki, Key:tidal."""
    law = tuple(
        advice_item(code, from_m=a, to_m=b, run_m=b - a, from_at_m=a, named="", n_more=1,
                    more_m=b - a, first_at_m=a, last_at_m=b)
        for code, a, b in (("floods", 500.0, 900.0), ("floods-more", 2_000.0, 2_100.0))
    )  # fmt: skip
    (item,) = found(replace(RIDE, advice=replace(ADVICE, law=law)), FindingKind.WATER)
    assert item.rank is Rank.DANGER and item.length_m == 500.0
    assert rank(RIDE, FindingKind.WATER) is None


@pytest.mark.parametrize(
    ("verdict", "n_worst", "told"),
    [
        (RiderVerdict.WITHIN, 0, True), (RiderVerdict.STRETCHING, 1, True),
        (RiderVerdict.STRETCHING, 2, False), (RiderVerdict.BEYOND, 2, False),
    ],
)  # fmt: skip
def test_fords_are_told_unless_they_are_what_the_rider_is_told_of(
    verdict: RiderVerdict, n_worst: int, told: bool
) -> None:
    fords = advice_item("fords", from_m=1_000.0, to_m=3_000.0, n_fords=2, first_at_m=1_000.0,
                        near="").over([(1_000.0, 1_000.0), (3_000.0, 3_000.0)])  # fmt: skip
    day = advice_item("long-day", day_s=36_000.0)
    fit = replace(ADVICE.rider, verdict=verdict, reasons=(day, fords), n_worst=n_worst)
    water = found(replace(RIDE, advice=replace(ADVICE, rider=fit)), FindingKind.WATER)
    assert [item.rank for item in water] == ([Rank.CARE] if told else [])
    assert all(str(item.what) == "2 fords on the way." for item in water)


def test_a_border_asks_for_care_and_posts_of_one_crossing_are_one() -> None:
    """A rental went over a border, and only the law said so, on the last page: whether the bike
    may go abroad and is insured there is settled before it is booked."""
    posts = tuple(
        advice_item("border", from_m=at, to_m=at, here_at_m=at, named="")
        for at in (5_000.0, 5_300.0, 9_000.0)
    )
    ride = replace(RIDE, advice=replace(ADVICE, law=posts))
    (item,) = found(ride, FindingKind.BORDER)
    assert item.rank is Rank.CARE and item.what == "2 borders are crossed."
    assert "insured" in item.do.rider and "insured" in item.do.staff
    one = replace(RIDE, advice=replace(ADVICE, law=posts[:2]))
    assert found(one, FindingKind.BORDER)[0].what == "A border is crossed."
    assert rank(RIDE, FindingKind.BORDER) is None


# -- order and the rest --------------------------------------------------------------------------


def test_findings_come_by_harm() -> None:
    fit = RiderFit(rider="novice", verdict=RiderVerdict.BEYOND, text="", reasons=(), n_beyond=0)
    rough = ridden(stretch_of(0, 900), stretch_of(900, 2000, severity=4, **TRACK))
    ride = replace(
        rough,
        places=barred((0, 800)).places,
        advice=replace(ADVICE, rider=fit),
        help=far().help,
        heat=hot(31.0).heat,
    )
    told = [(item.rank, item.kind) for item in list_findings(ride)]
    assert told == [
        (Rank.FORBIDDEN, FindingKind.CLOSED),
        (Rank.FORBIDDEN, FindingKind.BEYOND_RIDER),
        (Rank.DANGER, FindingKind.HEAT),
        (Rank.DANGER, FindingKind.REMOTE),
        (Rank.DANGER, FindingKind.HARD),
        (Rank.CARE, FindingKind.HARD),
    ]
    # Shortened, it still holds all that forbids, and no kind of danger twice.
    assert [item.kind for item in judge_verdict(ride).first(1)] == [
        FindingKind.CLOSED, FindingKind.BEYOND_RIDER, FindingKind.HEAT,
    ]  # fmt: skip
    assert len(judge_verdict(ride).first(9)) == 5


def test_every_kind_has_a_finder() -> None:
    assert len(FINDERS) == len(FindingKind)


def test_unknown_climb_is_said() -> None:
    keys = [item.key for item in list_unknown(RIDE)]
    assert keys == ["trip.depart", "relief"]
    part = replace(RIDE, relief=replace(RELIEF, source="tiles"))
    assert [item.key for item in list_unknown(part)] == ["trip.depart", "relief.ascent_m"]


def test_inferred_ground_is_told_with_its_length() -> None:
    ground = replace(RIDE.ground, basis_shares={Basis.INFERRED: 0.5, Basis.TAGGED: 0.5})
    told = {item.key: item.length_m for item in list_unknown(replace(RIDE, ground=ground))}
    assert told["ground.basis.inferred"] == pytest.approx(10_000)


# -- the desk decides ----------------------------------------------------------------------------


def decision(setup: str, bike: str = "") -> StaffDecision:
    return StaffDecision(
        setup=SetupChoice(setup), bike=bike, reason="They know the road.", who="desk", unix_s=0.0
    )


def test_the_desk_decides() -> None:
    other = replace(FIT, name="enduro", title="enduro", fit=0.4)
    question = advice_item("which-one", n_parts=1, parts=(), ground="track", then="off-road")
    setup = replace(ADVICE.setup, choice=SetupChoice.ASK, p_off_road=0.5)
    advice = replace(ADVICE, setup=setup, bikes=(FIT, other), questions=(question,))
    ride = replace(RIDE, advice=advice)
    assert judge_verdict(ride).to_settle
    new = decided(ride, decision("off-road", "enduro"))
    verdict = judge_verdict(new)
    assert (verdict.answer, verdict.bike) == (SetupChoice.OFF_ROAD, "enduro")
    assert verdict.certainty.p is None and verdict.decided and not verdict.to_settle
    assert new.advice.questions == ()
    assert "They know the road." in new.advice.setup.reasons[0].text
    assert "They know the road." in verdict.lead
    assert new.advice.edited is not None and new.advice.edited.choice is SetupChoice.ASK


def test_the_desk_cannot_send_a_bike_that_must_not_go() -> None:
    ride = replace(RIDE, advice=replace(ADVICE, bikes=(FIT,), excluded=(OUT,)))
    assert judge_verdict(decided(ride, decision("road", "road-tourer"))).bike == "dual-sport"


def test_what_forbids_stays_after_the_desk_decided() -> None:
    ride = decided(barred((0, 5000)), decision("off-road"))
    assert judge_verdict(ride).headline.startswith("Do not ride this as drawn")


def test_a_finding_keeps_its_parts_apart() -> None:
    item = found(barred((0, 400)), FindingKind.CLOSED)[0]
    with pytest.raises(ValueError, match="out of order"):
        replace(item, parts=item.parts * 2)
    assert message("x") == "x"


def test_what_stretches_a_rider_beside_the_heat_is_told_before_it() -> None:
    """The heat has a finding of its own."""
    heat = advice_item(
        "heat-rider-felt", max_air_c=36.0, max_heat_index_c=40.0, hot_at_m=0.0, near=""
    )
    two_up, hours = advice_item("pillion-new"), advice_item("long-day", day_s=20_000.0)

    def why(*reasons: Any, worst: int) -> str:
        fit = RiderFit(rider="novice", verdict=RiderVerdict.STRETCHING, text="", reasons=reasons,
                       n_worst=worst)  # fmt: skip
        (item,) = found(replace(RIDE, advice=replace(ADVICE, rider=fit)), FindingKind.BEYOND_RIDER)
        return str(item.why)

    assert "pillion" in why(heat, two_up, worst=2)
    assert "Hot for the rider" in why(heat, hours, worst=1)  # the hours stretch nobody
    assert "Hot for the rider" in why(heat, worst=1)
    assert "Hot for the rider" in why(heat, hours, worst=0)  # the first at least


@pytest.mark.parametrize("guided", [True, False])
def test_who_rides_with_a_guide_is_not_told_to_ride_in_company(guided: bool) -> None:
    fit = RiderFit(rider="novice", verdict=RiderVerdict.STRETCHING, text="", n_worst=1,
                   reasons=(advice_item("pillion-new"),))  # fmt: skip
    ride = replace(RIDE, trip=Trip(guided=guided), advice=replace(ADVICE, rider=fit))
    (item,) = found(ride, FindingKind.BEYOND_RIDER)
    assert ("do not ride it alone" in item.do.rider) is not guided


def test_of_several_places_none_is_called_one_piece() -> None:
    """Where two places stand beside it, "in one piece" is read as a slip of one of them."""
    two = ridden(
        stretch_of(0, 4_800, ground=GroundKind.TRACK, p=(0.0, 0.0, 1.0)), stretch_of(4_800, 5_000),
        stretch_of(5_000, 5_100, ground=GroundKind.TRACK, p=(0.0, 0.0, 1.0)),
    )  # fmt: skip
    (item,) = [f for f in found(two, FindingKind.HARD) if "track" in str(f.what)]
    assert "4.9 km of track, 4.8 km of it in one piece." in str(item.what)
    assert item.longest is not None and item.longest.length_m == 4_800


def test_ice_in_one_place_is_told() -> None:
    """One cold place on a mild ride: not frost over a good part of it, but ice there."""
    ride = hot(20.0, air_c=9.0, chill_c=-5.0)
    air = ride.heat.air
    assert air is not None
    temp = np.full(len(air.at_m), 9.0)
    temp[0] = 2.0
    ride = replace(ride, heat=replace(ride.heat, air=replace(air, temp_c=temp)))
    (item,) = found(ride, FindingKind.COLD)
    assert "ice is possible" in str(item.do.rider) and item.rank is Rank.CARE


def test_every_kind_that_may_endanger_has_a_word() -> None:
    """Where a channel has no room for a danger it names it: by the code of the finders, any kind
    whose rank is or may be a danger.
    """
    may: set[str] = set()
    for path in sorted(Path(finders.__file__).parent.glob("*.py")):
        for call in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not (isinstance(call, ast.Call) and getattr(call.func, "id", "") == "Finding"):
                continue
            given = {word.arg: word.value for word in call.keywords}
            rank = ast.unparse(given["rank"])
            if "Rank.DANGER" in rank or "Rank." not in rank:
                kind = given["kind"]
                assert isinstance(kind, ast.Attribute)
                may.add(FindingKind[kind.attr].value)
    assert may == set(DANGER_TERMS)


def test_track_that_the_tags_leave_open_is_not_called_track() -> None:
    """surface=unpaved of a forest way: 56 % track, 43 % gravel, told as "3.8 km of track"."""
    kind, told = GroundKind.TRACK, []
    for p in ((0.0, 0.44, 0.56), (0.0, 0.02, 0.98)):
        ride = ridden(stretch_of(0, 3_800, ground=kind, p=p))
        told += [str(item.what) for item in found(ride, FindingKind.HARD)]
    assert told == [
        "3.8 km in one piece may be track: its tags leave it open.", "3.8 km of track in one piece."
    ]  # fmt: skip


def test_cold_and_ice_are_of_the_road_and_not_of_the_ferry() -> None:
    """A ride along a fjord was told to be cold for 92 km, 6 of them on board."""
    ride = hot(20.0, air_c=-5.0, chill_c=-9.0)
    length_m = ride.match.length_m
    board = stretch_of(0, length_m / 2, ground=GroundKind.FERRY, p=None, basis=None)
    land = stretch_of(length_m / 2, length_m)
    ride = replace(ride, ground=replace(ride.ground, stretches=(board, land)))
    (item,) = found(ride, FindingKind.COLD)
    assert item.parts and all(part.from_m > length_m / 2 for part in item.parts)
