"""The rules of tests/invariants.py: kept by the island's reports, and each noticed when broken."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

import terrain
from terrain.values.closed import ClosedPart, Closure
from terrain.values.ground import SeasonCause, SeasonRisk
from terrain.values.report import Report
from terrain.values.trip import Trip
from terrain.values.verdict import Finding, FindingKind, Rank, RidePart, for_all
from tests.invariants import broken

_TRIPS = (
    Trip(depart=datetime(2027, 1, 15, 9, 0), rider="novice", luggage="boxes"),
    Trip(depart=datetime(2027, 7, 15, 13, 0), rider="expert", guided=True),
    Trip(depart=datetime(2027, 12, 15, 16, 30), rider="steady", pillion=True),
    Trip(depart=datetime(2027, 10, 5, 4, 0), rider="steady"),
)


@pytest.fixture(scope="module")
def reports(island_home: Path) -> list[Report]:
    region = terrain.open_region("island", island_home)
    routes = sorted((island_home / "demo" / "routes").glob("*.gpx"))
    return [
        terrain.assess(terrain.read_route(path), region, trip) for path in routes for trip in _TRIPS
    ]


def test_the_islands_reports_keep_every_rule(reports: list[Report]) -> None:
    assert [told for report in reports for told in broken(report)] == []


def _with(report: Report, **parts: object) -> Report:
    return replace(report, assessed=replace(report.assessed, **parts))


def test_a_length_beyond_its_span_is_noticed(reports: list[Report]) -> None:
    report = next(r for r in reports if r.verdict.findings and r.verdict.findings[0].parts)
    first, *rest = report.verdict.findings
    whole = report.assessed.match.length_m
    grown = replace(first, parts=(RidePart(from_m=0.0, to_m=2.0 * whole),))
    bad = replace(report, verdict=replace(report.verdict, findings=(grown, *rest)))
    assert any(told.startswith("length_within_span") for told in broken(bad))


def test_findings_out_of_order_are_noticed(reports: list[Report]) -> None:
    report = next(r for r in reports if len({f.rank for f in r.verdict.findings}) > 1)
    turned = tuple(reversed(report.verdict.findings))
    bad = replace(report, verdict=replace(report.verdict, findings=turned))
    assert any(told.startswith("order_by_harm") for told in broken(bad))


def test_a_risk_without_a_cause_is_noticed(reports: list[Report]) -> None:
    report = reports[0]
    ground = report.assessed.ground
    first = replace(ground.stretches[0], season_risk=SeasonRisk.DOUBTFUL, season_cause=None)
    bad = _with(report, ground=replace(ground, stretches=(first, *ground.stretches[1:])))
    assert any(told.startswith("season_names_its_cause") for told in broken(bad))


def test_rain_told_of_snow_is_noticed(reports: list[Report]) -> None:
    report = reports[0]
    ground = report.assessed.ground
    evidence = replace(ground.stretches[0].evidence, season="May be soft after rain.")
    first = replace(
        ground.stretches[0], season_risk=SeasonRisk.CONFIRM_FIRST, season_cause=SeasonCause.SNOW,
        evidence=evidence,
    )  # fmt: skip
    bad = _with(report, ground=replace(ground, stretches=(first, *ground.stretches[1:])))
    assert any(told.startswith("season_names_its_cause") for told in broken(bad))


@pytest.mark.parametrize(
    ("words", "rule"),
    [
        ("only 95 % is told by the map", "only_below_half"),
        ("Of 3 tagged roads it meets, 1 are sealed.", "grammar"),
        ("Up to nan on the way.", "grammar"),
        ("Drink about {water_l} an hour.", "grammar"),
    ],
)
def test_words_that_cannot_be_true_are_noticed(
    reports: list[Report], words: str, rule: str
) -> None:
    heat = replace(reports[0].assessed.heat, words=(words,))
    assert any(told.startswith(rule) for told in broken(_with(reports[0], heat=heat)))


def test_a_plan_that_breaks_a_limit_without_a_word_is_noticed(reports: list[Report]) -> None:
    plan = reports[0].assessed.plan
    day = replace(plan.days[0], riding_s=20 * 3600.0)
    bad = _with(reports[0], plan=replace(plan, days=(day, *plan.days[1:]), problems=()))
    assert any(told.startswith("broken_limits_have_their_word") for told in broken(bad))


def test_a_van_on_an_unguided_ride_is_noticed(reports: list[Report]) -> None:
    guided = next(
        r for r in reports
        if any("van" in [k.value for k in stop.kinds] for stop in r.assessed.plan.stops)
    )  # fmt: skip
    bad = _with(guided, trip=replace(guided.assessed.trip, guided=False))
    assert any(told.startswith("no_van_without_a_guide") for told in broken(bad))


def test_closed_ways_left_out_of_the_first_finding_are_noticed(reports: list[Report]) -> None:
    forest = ClosedPart(
        from_m=1_000.0, to_m=6_000.0, closure=Closure.NO_MOTORCYCLE, tag="access=forestry",
        way_ids=(1,),
    )  # fmt: skip
    places = replace(reports[0].assessed.places, closed=(forest,))
    assert any(
        told.startswith("closed_is_whole_and_first")
        for told in broken(_with(reports[0], places=places))
    )


def test_a_crossing_told_as_guessed_is_noticed(reports: list[Report]) -> None:
    report = next(r for r in reports if r.assessed.match.ferry_m > 0)
    guess = Finding(
        kind=FindingKind.GUESS, rank=Rank.CARE, what="guessed", do=for_all(""),
        parts=(RidePart(from_m=0.0, to_m=report.assessed.match.length_m),),
    )  # fmt: skip
    bad = replace(report, verdict=replace(report.verdict, findings=(guess,)))
    assert any(told.startswith("a_crossing_is_no_guess") for told in broken(bad))


def test_a_day_in_daylight_told_as_dark_is_noticed(reports: list[Report]) -> None:
    report = next(
        r for r in reports
        if r.assessed.plan.days and (r.assessed.plan.days[0].margin_s or 0.0) > 3_600.0
    )  # fmt: skip
    dark = Finding(
        kind=FindingKind.DARK, rank=Rank.DANGER, what="dark", do=for_all(""),
        parts=(RidePart(from_m=0.0, to_m=100.0),),
    )  # fmt: skip
    bad = replace(report, verdict=replace(report.verdict, findings=(dark,)))
    assert any(told.startswith("dark_lies_outside_the_light") for told in broken(bad))


def test_a_clutch_of_seconds_and_a_night_at_the_start_are_noticed(reports: list[Report]) -> None:
    report = next(r for r in reports if r.assessed.heat.clutch)
    heat = report.assessed.heat
    short = replace(heat.clutch[0], time_s=59.0)
    bad = _with(report, heat=replace(heat, clutch=(short,)))
    assert any("a clutch hot for 59 s" in told for told in broken(bad))
    plan = next(r for r in reports if len(r.assessed.plan.days) > 1).assessed.plan
    first = replace(plan.days[0], riding_s=60.0)
    bad = _with(report, plan=replace(plan, days=(first, *plan.days[1:]), stops=()))
    assert any("day 1 ends after 60 s" in told for told in broken(bad))
