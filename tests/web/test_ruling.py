"""The desk's decision in place of the advice."""

from __future__ import annotations

from typing import Any

import pytest

from terrain.report.findings import verdict
from terrain.stages.advice.words import MESSAGES
from terrain.text.translator import translator_for
from terrain.web.ruling import Ruling, apply_ruling


def _facts(choice: str, *questions: str) -> dict[str, Any]:
    return {
        "advice": {
            "setup": {"choice": choice, "p_off_road": 0.2, "reasons": [], "flips": [],
                      "tyres": "road", "pressures": [{"code": "pressure-road"}]},
            "bikes": [{"class": "a"}, {"class": "b"}],
            "questions": [{"code": code} for code in questions],
        }
    }  # fmt: skip


def _ruled(facts: dict[str, Any], setup: str, bike: str = "") -> Any:
    ruling = Ruling(setup=setup, bike=bike, reason="seen in May", who="kit", made_at=0.0)
    return apply_ruling(facts, ruling)["advice"]


@pytest.mark.parametrize("code", ["ride-this-run", "which-ground", "which-parts", "skip-this-run"])
def test_what_is_decided_is_not_asked(code: str) -> None:
    assert code in MESSAGES
    facts = _facts("ask", code, "month-unknown")
    assert _ruled(facts, "road")["questions"] == [{"code": "month-unknown"}]
    assert len(_ruled(facts, "ask")["questions"]) == 2


def test_no_tyres_of_the_setup_that_is_not_taken() -> None:
    facts = _facts("road")
    assert _ruled(facts, "road")["setup"]["tyres"] == "road"
    other = _ruled(facts, "off-road")["setup"]
    assert other["tyres"] is None and other["pressures"] == []


def test_the_bike_chosen_goes_first_and_none_that_is_left_out() -> None:
    assert [b["class"] for b in _ruled(_facts("road"), "road", "b")["bikes"]] == ["b", "a"]
    assert [b["class"] for b in _ruled(_facts("road"), "road", "c")["bikes"]] == ["a", "b"]


@pytest.mark.parametrize(("setup", "asked"), [("road", False), ("ask", True)])
def test_a_doubtful_run_is_not_to_be_settled_after_the_decision(setup: str, asked: bool) -> None:
    stretch = {"ground": "unmapped", "from_m": 0.0, "to_m": 5000.0, "p": None}
    facts = {
        **_facts("ask"), "match": {"matched_m": 5000.0, "filled_m": 0.0}, "stretches": [stretch],
        "route": {"length_m": 5000.0}, "places": [],
    }  # fmt: skip
    assert "settle first" in verdict(facts, translator_for("en")).settle
    facts["advice"] = _ruled(facts, setup)
    assert ("settle first" in verdict(facts, translator_for("en")).settle) is asked
