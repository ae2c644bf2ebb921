"""What is told first: steep ground, heat and the law, each once and with its length."""

from __future__ import annotations

import re
from collections.abc import Callable
from copy import deepcopy
from typing import Any

import pytest

from terrain.report.dangers import all_dangers, things_to_know, where_text
from terrain.text.translator import translator_for
from terrain.values.report import Report
from tests.report.sample import facts as sample_facts

EN = translator_for("en", "metric")


def _steep(facts: dict[str, Any], lang: str = "en") -> list[Any]:
    return [
        item for item in all_dangers(facts, translator_for(lang, "metric")) if item.kind == "steep"
    ]


def test_terminal_and_advice_tell_one_loose_climb(
    sample_report: Callable[[str], Report],
) -> None:
    facts = sample_report("valleys-and-passes").to_dict()
    said = next(
        said for said in facts["advice"]["rider"]["reasons"] if said["code"] == "loose-climb"
    )
    item = next(item for item in _steep(facts) if "on" in item.what)
    assert (item.from_m, item.to_m) == (said["from_m"], said["to_m"])
    figure, length = re.search(r"(\d+)\s%.* over (\d+\s\S+)", item.what).groups()  # type: ignore[union-attr]
    assert re.search(rf"{figure}\s%.* over {length}", EN.translate(said))


@pytest.mark.parametrize(
    ("lang", "says"), [("en", "missing"), ("es", "faltan"), ("fr", "manquent")]
)
def test_a_ramp_in_a_void_says_heights_are_missing(lang: str, says: str) -> None:
    facts = deepcopy(sample_facts())
    row = {"from_m": 0.0, "to_m": 100.0, "grade_pct": -25.0, "doubtful": True, "void": True}
    facts["relief"]["steepest"] = facts["relief"]["ramps"] = [row]
    (item,) = _steep(facts, lang)
    assert says in item.what
    assert "25" not in item.what


def test_a_doubtful_ramp_on_measured_heights_is_likely_too_much() -> None:
    facts = deepcopy(sample_facts())
    row = {"from_m": 0.0, "to_m": 100.0, "grade_pct": 25.0, "doubtful": True, "void": False}
    facts["relief"]["steepest"] = [row]
    (item,) = _steep(facts)
    assert "likely too much" in item.what


def _heat(air_c: float, wbgt_c: float) -> list[str]:
    facts = deepcopy(sample_facts())
    rider = {
        "max_wbgt_riding_c": wbgt_c, "max_air_temp_c": air_c, "max_air_temp_low_c": air_c - 2,
        "max_air_temp_high_c": air_c + 2, "water_most_l_per_h": 0.5, "min_wind_chill_c": 10.0,
        "worst": {"from_m": 0.0, "to_m": 500.0},
    }  # fmt: skip
    facts["heat"] = {"rider": rider}
    return [item.kind for item in things_to_know(facts, EN, most=20)]


def test_mild_air_is_no_danger() -> None:
    assert "heat" not in _heat(25.0, 26.0)
    assert "heat" in _heat(31.0, 26.0)
    assert "heat" in _heat(29.0, 29.0)  # humid: no hard exercise


def test_what_says_where_is_not_placed_twice() -> None:
    facts = deepcopy(sample_facts())
    said = {
        "code": "private", "text": "Private: 1.4 km from km 12.8 (near Sandel).",
        "message": "Private: 1.4 km from km 12.8 (near Sandel).", "numbers": {},
        "from_m": 12_800.0, "to_m": 14_200.0,
    }  # fmt: skip
    facts["advice"] = {"law": [said]}
    item = next(item for item in all_dangers(facts, EN) if item.kind == "law")
    assert where_text(item, facts, EN) == ""
    assert f"{item.what}{where_text(item, facts, EN)}".count("12.8") == 1
