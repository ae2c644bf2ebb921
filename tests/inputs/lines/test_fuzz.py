"""Spoiled documents of all formats: a route or one message each; never a crash or a hang."""

from __future__ import annotations

from collections import Counter

import pytest

from tests.inputs.gpx.test_fuzz import outcome

from .spoiler import seeds, spoiled


def _run(numbers: range) -> Counter[str]:
    counts: Counter[str] = Counter()
    for number in numbers:
        try:
            counts[outcome(spoiled(number))] += 1
        except Exception as exc:
            raise AssertionError(f"spoiled({number}) {spoiled(number)[:500]!r}") from exc
    return counts


def test_the_unspoiled_are_read() -> None:
    assert {outcome(data) for data in seeds()} == {"read"}


def test_two_thousand_spoiled() -> None:
    counts = _run(range(2_000))
    # Both must occur often, or the mutations are too gentle or too rough to test anything.
    assert min(counts["read"], counts["refused"]) > 300, counts


@pytest.mark.bench
def test_twenty_thousand_spoiled() -> None:
    counts = _run(range(2_000, 22_000))
    assert min(counts["read"], counts["refused"]) > 3_000, counts
