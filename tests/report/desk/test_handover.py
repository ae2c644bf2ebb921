"""The handover sheet: only what fits the class, blanks for what is not known, none while held."""

from __future__ import annotations

import json
from dataclasses import replace

from terrain.report.desk.handover import handovers_of
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.text.message import message
from terrain.values.advice import BikeFit, SetupChoice
from terrain.values.fleet import Cooling
from terrain.values.handover import Handovers
from terrain.values.verdict import Finding, FindingKind, Rank
from tests.report.sample import typed


def _settled(findings: tuple[Finding, ...] = ()) -> Handovers:
    report = typed()
    bikes = tuple(
        BikeFit(name=x.name, title=x.title, fit=0.5, table=(), reasons=(), against=())
        for x in DEFAULT_FLEET.classes
    )
    advice = replace(report.assessed.advice, bikes=bikes)
    report = replace(report, assessed=replace(report.assessed, advice=advice, fleet=DEFAULT_FLEET))
    free = findings or tuple(x for x in report.verdict.findings if x.rank is not Rank.FORBIDDEN)
    verdict = replace(report.verdict, findings=free, answer=SetupChoice.OFF_ROAD)
    return handovers_of(replace(report, verdict=verdict))


def test_each_class_has_what_its_engine_needs() -> None:
    named = {bike.name: bike for bike in DEFAULT_FLEET.classes}
    told = _settled()
    assert told.held == () and told.sheets
    for sheet in told.sheets:
        text = " ".join(str(item.what) for item in sheet.fit)
        assert ("Coolant" in text) is (named[sheet.bike].cooling is Cooling.LIQUID)
        assert ("Fan turns" in text) is named[sheet.bike].fan
        assert "front ______ rear ______" in text  # the maker's figure is not known here
        assert "Clutch" in text and "Oil" in text
        assert "Only for" not in " ".join(str(x.what) for x in (*sheet.put, *sheet.say))


def test_whoever_hands_the_bike_over_says_all_dangers() -> None:
    like = typed().verdict.findings[0]
    kinds = ("dark", "heat", "season", "remote", "hard", "steep")
    dangers = tuple(
        replace(like, kind=FindingKind(kind), rank=Rank.DANGER, what=message(f"Made up: {kind}."))
        for kind in kinds
    )
    care = replace(like, kind=FindingKind.ENGINE, rank=Rank.CARE, what=message("Made up: care."))
    (sheet, *_) = _settled((*dangers, care)).sheets
    told = [str(item.what) for item in sheet.say]
    assert told[:6] == [str(item.what) for item in dangers] and "Made up: care." not in told
    (sheet, *_) = _settled((dangers[0], care)).sheets
    assert [str(item.what) for item in sheet.say][:2] == ["Made up: dark.", "Made up: care."]


def test_a_ride_that_is_not_settled_has_its_reasons_in_place_of_a_sheet() -> None:
    report = typed()
    verdict = replace(report.verdict, findings=(), answer=SetupChoice.ASK)
    held = handovers_of(replace(report, verdict=verdict)).held
    assert held == (verdict.headline,)


def test_sheets_come_back_from_json_the_same() -> None:
    told = _settled()
    assert Handovers.from_dict(json.loads(json.dumps(told.to_dict()))) == told
