"""What stands between two points that nobody thinks of."""

from __future__ import annotations

import pytest

from terrain.tables.common import lost_way

_PAVED, _MIXED, _TRACK = (1.0, 0.0, 0.0), (0.6, 0.1, 0.3), (0.0, 0.0, 1.0)


def test_a_way_nobody_thinks_of_is_likelier_where_points_and_ride_lie_off_tarmac() -> None:
    cases = [(_PAVED, _PAVED), (_MIXED, _PAVED), (_MIXED, _TRACK), (_TRACK, _TRACK)]
    found = [lost_way(5_000.0, *case) for case in cases]
    chances, grounds = [chance for chance, _ in found], [p for _, p in found]
    assert 0.0 < chances[0] < chances[1] < chances[2] < chances[3] < 0.3
    assert grounds[0][0] > grounds[1][0] > 0.7 > grounds[2][0] > grounds[3][0] > 0.0
    for p in grounds:
        assert sum(p) == pytest.approx(1.0)
    assert lost_way(2_000.0, _PAVED, _PAVED)[0] < chances[0] < lost_way(20_000.0, *cases[0])[0]
