"""The advice is what an experienced operator would give, for every trip of the table."""

from __future__ import annotations

from typing import Any

import pytest

from terrain.stages.advice.advise import advise_case
from terrain.values.advice import Advice

from .table import CASES
from .trips import Case, inputs_of


def codes(advice: Advice) -> set[str]:
    """Every code anywhere in the advice."""
    found: set[str] = set()

    def walk(value: Any) -> None:
        if isinstance(value, dict):
            if isinstance(value.get("code"), str):
                found.add(value["code"])
            for inner in value.values():
                walk(inner)
        elif isinstance(value, list):
            for inner in value:
                walk(inner)

    walk(advice.to_dict())
    return found


def test_the_table_is_large_and_its_names_are_its_own() -> None:
    assert len(CASES) >= 60
    assert len({case.name for case in CASES}) == len(CASES)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_advice(case: Case) -> None:
    advice = advise_case(inputs_of(case))
    assert advice.setup.choice == case.choice
    if case.top:
        assert advice.bikes[0].name in case.top
    else:
        assert not advice.bikes
    refused = {item.name for item in advice.excluded}
    assert refused >= set(case.out)
    assert not refused & set(case.stays)
    if case.rider_fit is not None:
        assert advice.rider.verdict == case.rider_fit
    if case.tyres is not None:
        assert advice.setup.tyres == case.tyres
    said = codes(advice)
    assert said >= set(case.says), set(case.says) - said
    assert not said & set(case.silent)
