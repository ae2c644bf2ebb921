"""Spoiled documents: a route or one message each; never a crash, a hang or another error."""

from __future__ import annotations

import time
from collections import Counter

import numpy as np
import pytest

from terrain.errors import RouteError
from terrain.inputs.lines import parse_route

from .mutator import SEEDS, spoiled

# OWASP ASVS 5.0, 5.2: bounded work for each upload. By hand on a machine at rest 2 s; in the suite
# what hangs takes far longer than any machine needs for documents of some kilobytes.
_HANG_S, _REST_S = 60.0, 2.0


def outcome(data: bytes, most_s: float = _HANG_S) -> str:
    """What became of it; fails the test if it is neither a sound route nor a sound message."""
    start = time.process_time()
    try:
        route = parse_route(data, "plan.gpx")
    except RouteError as error:
        text = str(error)
        assert text.startswith("plan.gpx")
        assert "\n" not in text and text.isprintable() and len(text) < 400, text
        assert error.what and error.fix
        result = "refused"
    else:
        assert route.n_points >= 2
        assert np.isfinite(route.lon).all() and np.abs(route.lat).max() <= 90
        assert np.abs(np.diff(route.lon)).max() <= 180
        assert (np.diff(route.piece) >= 0).all() and route.piece[0] == 0
        assert all(p.code and p.what and p.action for p in route.problems)
        result = "read"
    assert time.process_time() - start < most_s
    return result


def _run(numbers: range, most_s: float = _HANG_S) -> Counter[str]:
    counts: Counter[str] = Counter()
    for number in numbers:
        try:
            counts[outcome(spoiled(number), most_s)] += 1
        except Exception as exc:
            raise AssertionError(f"spoiled({number}) {spoiled(number)[:500]!r}") from exc
    return counts


def test_the_unspoiled_are_read() -> None:
    assert {outcome(data) for data in SEEDS} == {"read"}


def test_two_thousand_spoiled() -> None:
    counts = _run(range(2_000))
    # Both must occur often, or the mutations are too gentle or too rough to test anything.
    assert min(counts["read"], counts["refused"]) > 300, counts


@pytest.mark.bench
def test_twenty_thousand_spoiled() -> None:
    counts = _run(range(2_000, 22_000), _REST_S)
    assert min(counts["read"], counts["refused"]) > 3_000, counts
