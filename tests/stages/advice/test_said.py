"""Every sentence can be traced to numbers in the JSON, and says them right."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from terrain.stages.advice.advise import advise_case
from terrain.stages.advice.bikes.rank import takes
from terrain.stages.advice.case import AdviceCase
from terrain.stages.advice.words import MESSAGES
from terrain.tables.advice_kit import CHECKS, SPARES
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.text.message import Message, spaced
from terrain.text.translator import translator_for
from terrain.values.advice import LawKind, RiderVerdict, SetupChoice
from terrain.values.heat import Heat

from .table import CASES
from .trips import COOL, Case, inputs_of

_DIGITS = re.compile(r"\d+(?:[.,]\d+)*")
# Digits that stand in a sentence itself, not for a number of this ride.
_FIXED = {"5", "7243"}  # "of 5", the top of the severity scale; ISO 7243


def sentences(value: Any) -> Iterator[dict[str, Any]]:
    if isinstance(value, dict):
        if "text" in value and "code" in value:
            yield value
        for inner in value.values():
            yield from sentences(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from sentences(inner)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_texts_are_their_messages_with_their_numbers(case: Case) -> None:
    data = json.loads(json.dumps(advise_case(inputs_of(case)).to_dict()))
    found = list(sentences(data))
    assert len(found) > 8
    for said in found:
        again = Message("", said["message"], "", tuple(said["numbers"].items()))
        assert said["text"] == spaced(translator_for().translate(again))
        plain = said["message"]
        for name, value in said["numbers"].items():
            plain = re.sub(rf"\{{{name}(:n)?\}}", "", plain)
            assert value is None or isinstance(value, str | int | float | bool | list)
        assert set(_DIGITS.findall(plain)) <= _FIXED, plain
        assert "{" not in said["text"] and said["text"].endswith((".", "?"))
        if said["from_m"] is not None:
            assert 0 <= said["from_m"] <= said["to_m"]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_fits_are_the_sums_of_their_tables(case: Case) -> None:
    advice = advise_case(inputs_of(case))
    unknown = _not_known(inputs_of(case))
    total = sum(weight for what, weight in advice.weights.items() if what not in unknown)
    for bike in advice.bikes:
        assert bike.fit == pytest.approx(sum(row.points or 0.0 for row in bike.table))
        for row in bike.table:
            assert row.weight == advice.weights[row.what]
            if row.what in unknown:
                assert row.score is None and row.points is None
                continue
            assert row.score is not None
            assert row.points == pytest.approx(row.weight * row.score / total)
            assert 0 <= row.score <= 1
        assert bike.reasons or bike.against
    fits = [bike.fit for bike in advice.bikes]
    # The fits of those that take the tyres advised fall, then those of the others.
    bikes = [DEFAULT_FLEET.named(fit.name) for fit in advice.bikes]
    wrong = [bike is not None and not takes(bike, advice.setup.tyres) for bike in bikes]
    order = [(late, -fit) for late, fit in zip(wrong, fits, strict=True)]
    assert order == sorted(order)
    assert {b.name for b in advice.bikes}.isdisjoint(e.name for e in advice.excluded)


def _not_known(inputs: AdviceCase) -> set[str]:
    facts = {"heat": inputs.heat.hardest, "range": inputs.fuel_gap_m}
    return {what for what, fact in facts.items() if fact is None}


def test_what_is_not_known_is_told_so_and_weighs_nothing() -> None:
    inputs = replace(inputs_of(CASES[0]), heat=Heat(), fuel_gap_m=None)
    cool = replace(inputs, heat=Heat(engines=(COOL,)), fuel_gap_m=1_000.0)
    hidden, known = advise_case(inputs).bikes[0], advise_case(cool).bikes[0]
    rows = {row["what"]: row for row in hidden.to_dict()["table"]}
    for what in ("heat", "range"):
        assert rows[what]["score"] is None and rows[what]["points"] is None
    # Full marks for what is known to be no trouble can only lift the mean of the rest.
    assert hidden.name == known.name and hidden.fit < known.fit < 1
    assert {row.score for row in known.table if row.what in ("heat", "range")} == {1.0}


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_setup_numbers_hang_together(case: Case) -> None:
    setup = advise_case(inputs_of(case)).setup
    assert setup.p_off_road is not None and 0 <= setup.p_off_road <= 1
    best, low, high = setup.off_road_s
    assert 0 <= low <= best <= high
    assert setup.plausible_low_s <= setup.plausible_high_s
    for flip in setup.flips:
        assert flip.then is not setup.choice


def test_every_message_is_used_somewhere() -> None:
    folder = Path(__file__).resolve().parents[3] / "terrain" / "stages" / "advice"
    code = "".join(
        path.read_text(encoding="utf-8") for path in folder.rglob("*.py") if path.name != "words.py"
    )
    built = {f"setup-{choice}" for choice in SetupChoice}
    built |= {f"rider-{verdict}" for verdict in RiderVerdict} | {kind.value for kind in LawKind}
    built |= {f"{kind.value}-more" for kind in LawKind}
    for key in MESSAGES:
        assert f'"{key}"' in code or key in built, key


def test_kit_rows_are_whole() -> None:
    rows = (*SPARES, *CHECKS)
    assert len({row.code for row in rows}) == len(rows)
    for row in rows:
        assert row.text.endswith(".") and row.source and row.when


@pytest.mark.parametrize(
    ("name", "value", "text"),
    [
        ("run_m", 31_400.0, "31 km"),
        ("run_m", 3_240.0, "3.2 km"),
        ("run_m", 420.0, "420 m"),
        ("run_m", 2.0, "10 m"),
        ("from_at_m", 40_300.0, "km 40"),
        ("from_at_m", 0.0, "km 0"),
        ("ride_s", 30.0, "under a minute"),
        ("ride_s", 7 * 60.0, "7 min"),
        ("ride_s", 11_220.0, "3 h 05 min"),
        ("ride_s", 7_200.0, "2 h"),
        ("max_ele_m", 4_996.0, "5 000 m"),
        ("max_air_c", 38.6, "39 °C"),
        ("off_share", 0.123, "12 %"),
        ("off_share", 0.002, "under 1 %"),
        ("off_share", 0.9999, "over 99 %"),
        ("off_share", 0.0, "0 %"),
        ("low_bar", 1.2, "1.2 bar"),
        ("n_fords", 3, "3"),
        ("rider", "novice", "novice"),
        ("far_s", None, "not known"),
    ],
)
def test_numbers_in_words(name: str, value: Any, text: str) -> None:
    assert spaced(translator_for().figure(name, value)) == text
