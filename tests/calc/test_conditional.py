"""Conditions of OSM's conditional tags.

Source: OSM wiki, Conditional restrictions and Key:opening hours.
"""

from __future__ import annotations

from datetime import datetime

import pytest

from terrain.calc.conditional import conditional_rules, holds_at

SATURDAY = datetime(2027, 1, 16, 9, 0)
MONDAY_NIGHT = datetime(2027, 7, 5, 23, 30)


@pytest.mark.parametrize(
    ("condition", "winter", "summer"),
    [
        ("Nov-Apr", True, False), ("May-Oct", False, True), ("Jan", True, False),
        ("Nov 15-Apr 15", True, False), ("Jan 17-Jul 4", False, False),
        ("Jan 16-Jul 5", True, True), ("Jan 10-20", True, False), ("Dec,Jan", True, False),
        ("Sa,Su", True, False), ("Sa,Su,PH", True, False), ("Mo-Fr", False, True),
        ("Sa-Mo", True, True), ("PH", False, False),
        ("22:00-06:00", False, True), ("08:00-18:00", True, False), ("09:00-09:01", True, False),
        ("08:00-09:00", False, False), ("06:00-08:00,23:00-24:00", False, True),
        ("Sa,Su,PH 08:00-18:00", True, False), ("Oct-May Sa 08:00-12:00", True, False),
        ("Jan Mo", False, False), ("Jan; Jul", True, True), ("Nov-Apr AND Sa", True, False),
        ("24/7", True, True), ("weight>3.5", False, False), ("maxlength > 10", False, False),
        # What nobody reads from a date and an hour.
        ("snow", None, None), ("wet", None, None), ("weight<3.5", None, None),
        ("sunset-sunrise", None, None), ("week 1-10", None, None), ("", None, None),
        ("Nov-Apr AND snow", None, False),
    ],
)  # fmt: skip
def test_a_condition_in_winter_and_in_summer(
    condition: str, winter: bool | None, summer: bool | None
) -> None:
    assert (holds_at(condition, SATURDAY), holds_at(condition, MONDAY_NIGHT)) == (winter, summer)


@pytest.mark.parametrize(
    ("condition", "holds"), [("Nov-Apr", None), ("24/7", True), ("weight>7.5", False)]
)
def test_without_a_day_only_what_needs_none_is_told(condition: str, holds: bool | None) -> None:
    assert holds_at(condition, None) is holds


@pytest.mark.parametrize(
    ("text", "rules"),
    [
        ("no @ (Nov-Apr)", (("no", "Nov-Apr"),)), ("no @ Nov-Apr", (("no", "Nov-Apr"),)),
        ("no @ (Mo-Fr 07:00-09:00; Sa); yes @ (Jul)",
         (("no", "Mo-Fr 07:00-09:00; Sa"), ("yes", "Jul"))),
        ("yes", ()),
    ],
)  # fmt: skip
def test_each_rule_is_a_value_and_a_condition(
    text: str, rules: tuple[tuple[str, str], ...]
) -> None:
    assert conditional_rules(text) == rules
