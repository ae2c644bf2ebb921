"""Heights along a ride, each limit with a case on each side, by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.relief.judge import (
    PARAMS,
    _believable,
    _ends,
    _public,
    _ramp,
    _share,
    _source,
    _span,
    _spans,
    _stations,
    _steepest,
    _with_file,
)
from terrain.values.match import LegKind
from terrain.values.relief import EleBasis
from terrain.values.views import WayFlag

NAN = np.nan
_MEASURED, _FILLED = EleBasis.MEASURED, EleBasis.FILLED


@pytest.mark.parametrize(
    ("length_m", "breaks_m", "at_m", "cuts"),
    [
        (30.0, [], [0, 10, 20, 30], []),
        (34.0, [], [0, 34 / 3, 68 / 3, 34], []), (36.0, [], [0, 9, 18, 27, 36], []),
        (4.0, [], [0, 4], []), (0.0, [], [], []),
        (30.0, [20.0], [0, 10, 20, 20, 30], [3]),
        (30.0, [0.0, 20.0, 20.0, 30.0], [0, 10, 20, 20, 30], [3]),
    ],
)  # fmt: skip
def test_heights_every_ten_metres_and_twice_at_a_break(
    length_m: float, breaks_m: list[float], at_m: list[float], cuts: list[int]
) -> None:
    match: Any = SimpleNamespace(length_m=length_m, breaks_m=np.array(breaks_m))
    found, first = _stations(match, 10.0)
    assert found.tolist() == pytest.approx(at_m)
    assert first == cuts


@pytest.mark.parametrize(
    ("ele", "fine"),
    [
        ([-499.0, -500.0, 8_999.0, 9_000.0, NAN], [True, False, True, False, False]),
        # Programs write 0 where they knew none: among heights above 100 m it is no height.
        ([0.0, 100.1, 100.1], [False, True, True]), ([0.0, 100.0, 100.0], [True, True, True]),
        ([0.0, 0.0], [True, True]),
    ],
)  # fmt: skip
def test_heights_that_a_file_gives_in_earnest(ele: list[float], fine: list[bool]) -> None:
    assert _believable(np.array(ele)).tolist() == fine


def test_a_twentieth_of_lower_heights_leave_0_no_height() -> None:
    for low, fine in ((1, False), (3, True)):  # of 40
        ele = np.array([0.0, *[50.0] * low, *[200.0] * (40 - low)])
        assert _believable(ele)[0] == fine


def _file(
    place: list[float], ele: list[float], at_m: list[float], raw: list[float]
) -> tuple[list[float], list[int], bool]:
    match: Any = SimpleNamespace(point_at_m=np.array(place))
    basis = np.where(np.isnan(raw), EleBasis.UNKNOWN, _MEASURED).astype(np.int8)
    found = _with_file(match, np.array(at_m), np.array(raw), basis, np.array(ele), PARAMS)
    return found[0].tolist(), found[1].tolist(), found[2]


def test_the_files_heights_fill_what_is_missing_level_with_the_rest() -> None:
    """At 0, 10 and 20 m the tiles lie 5, 7 and 40 above the file: its heights rise by 7."""
    ele, basis, used = _file([0, 100], [50, 150], [0, 10, 20, 30, 110], [55, 67, 110, NAN, NAN])
    assert ele[:4] == [55, 67, 110, 87]
    assert np.isnan(ele[4])  # beyond the file's last point
    assert basis == [_MEASURED] * 3 + [EleBasis.FILE, EleBasis.UNKNOWN]
    assert used


@pytest.mark.parametrize(
    ("place", "ele", "used"),
    [
        ([0.0, 1_000.0], [1.0, 9.0], True), ([0.0, 1_001.0], [1.0, 9.0], False),  # a gap
        ([0.0, 100.0], [5.0, 5.0], False),  # one height for all
        ([0.0, NAN], [1.0, 9.0], False), ([100.0, 0.0], [9.0, 1.0], True),
    ],
)  # fmt: skip
def test_when_the_files_heights_are_used(place: list[float], ele: list[float], used: bool) -> None:
    found, _, told = _file(place, ele, [50.0], [NAN])
    assert told == used
    if used:
        assert found[0] == pytest.approx(1.0 + 8.0 * 50.0 / max(place))


def _ride(
    legs: list[tuple[float, float, int]], breaks_m: tuple[float, ...] = (), ferry: int = -1
) -> tuple[Any, Any]:
    """Legs as (from, to, flags of their way), each on a way of its own; flags -1: off the map."""
    n = len(legs)
    kind = np.zeros(n, np.int8)
    if ferry >= 0:
        kind[ferry] = LegKind.FERRY
    match = SimpleNamespace(
        way=np.array([i if row[2] >= 0 else -1 for i, row in enumerate(legs)], int), kind=kind,
        from_m=np.array([a for a, _, _ in legs]), to_m=np.array([b for _, b, _ in legs]),
        breaks_m=np.array(breaks_m),
    )  # fmt: skip
    flags = np.array([max(flags, 0) for _, _, flags in legs])
    return match, SimpleNamespace(ways=SimpleNamespace(flags=flags))


_BRIDGE, _TUNNEL = int(WayFlag.BRIDGE), int(WayFlag.TUNNEL)


@pytest.mark.parametrize(
    ("gap_m", "breaks_m", "spans"),
    [
        (60.0, (), [(100.0, 460.0)]), (61.0, (), [(100.0, 200.0), (261.0, 461.0)]),
        (60.0, (200.0,), [(100.0, 200.0), (260.0, 460.0)]),
        (60.0, (260.0,), [(100.0, 200.0), (260.0, 460.0)]),
        (60.0, (199.0, 261.0), [(100.0, 460.0)]),
    ],
)  # fmt: skip
def test_bridges_60_m_apart_are_one_but_over_a_break(
    gap_m: float, breaks_m: tuple[float, ...], spans: list[tuple[float, float]]
) -> None:
    legs = [
        (0.0, 100.0, 0), (100.0, 200.0, _BRIDGE), (200.0, 200.0 + gap_m, 0),
        (200.0 + gap_m, 400.0 + gap_m, _TUNNEL), (400.0 + gap_m, 900.0, 0),
    ]  # fmt: skip
    assert _spans(*_ride(legs, breaks_m), 60.0) == spans


def test_a_ferry_spans_and_a_line_off_the_map_does_not() -> None:
    legs = [(0.0, 100.0, -1), (100.0, 200.0, 0), (200.0, 300.0, 0)]
    assert _spans(*_ride(legs, ferry=1), 60.0) == [(100.0, 200.0)]


def _spanned(
    first: float, end: float, *, ele: dict[int, float] | None = None, filled: tuple[int, ...] = (),
    to_m: float = 800.0,
) -> tuple[list[float], list[int]]:  # fmt: skip
    """A ground at 0 m but for some stations, one each 10 m; only the first to last differ."""
    at = np.arange(0.0, to_m + 1.0, 10.0)
    raw = np.zeros(len(at))
    basis = np.full(len(at), _MEASURED, np.int8)
    for i, height in (ele or {}).items():
        raw[i] = height
    basis[list(filled)] = _FILLED
    out, codes = _span(at, raw, basis, [(first, end)], 500.0)
    return out.tolist(), codes.tolist()


def test_a_span_runs_straight_between_its_ends() -> None:
    """From 30 m high at 100 m to 60 m high at 400 m; what lies between is never seen."""
    ele = {10: 30.0, 40: 60.0} | dict.fromkeys(range(11, 40), -99.0)
    out, codes = _spanned(100.0, 400.0, ele=ele)
    assert out[10:41] == pytest.approx([30.0 + k for k in range(31)], abs=1e-2)
    assert codes[10] == codes[40] == _MEASURED
    assert set(codes[11:40]) == {EleBasis.SPANNED}
    unknown, codes = _spanned(100.0, 400.0, ele=ele | {40: NAN})
    assert np.isnan(unknown[11:40]).all()
    assert set(codes[11:40]) == {EleBasis.UNKNOWN}


@pytest.mark.parametrize(
    ("first", "end", "filled", "basis"),
    [
        (100.0, 590.0, (10,), _FILLED), (100.0, 590.0, (59,), _FILLED),
        (100.0, 600.0, (10,), EleBasis.SPANNED),  # 500 m have a sound grade
        (100.0, 590.0, (9, 60), EleBasis.SPANNED),  # only its ends count
        (95.0, 585.0, (9,), _FILLED), (95.0, 585.0, (59,), _FILLED),  # or the stations beside them
        (0.0, 300.0, (0,), _FILLED),  # where the ride begins
        (500.0, 800.0, (80,), _FILLED),  # and stops
    ],
)  # fmt: skip
def test_a_short_bridge_with_a_filled_end_is_no_better_than_filled(
    first: float, end: float, filled: tuple[int, ...], basis: EleBasis
) -> None:
    _, codes = _spanned(first, end, filled=filled)
    assert codes[int(first) // 10 + 2] == basis


def test_the_stations_beside_a_span() -> None:
    at = np.arange(0.0, 101.0, 10.0)
    assert _ends(at, 25.0, 55.0).tolist() == [2, 6]
    assert _ends(at, 20.0, 50.0).tolist() == [2, 5]
    assert _ends(at, 0.0, 100.0).tolist() == [0, 10]


@pytest.mark.parametrize(
    ("grade", "public", "filled", "told", "doubtful", "void"),
    [
        (25.0, True, 0.0, 25.0, False, False), (25.1, True, 0.0, 25.0, True, False),
        (-25.1, True, 0.0, -25.0, True, False), (25.1, False, 0.0, 25.1, True, False),
        (12.0, True, 0.25, 12.0, True, True), (12.0, True, 0.24, 12.0, False, False),
        (30.0, True, 0.25, 25.0, True, True),
    ],
)  # fmt: skip
def test_a_ramp_beyond_25_in_a_hundred_or_over_a_void_is_doubtful(
    grade: float, public: bool, filled: float, told: float, doubtful: bool, void: bool
) -> None:
    """On a public road it is cut, too (common practice, no source)."""
    ramp = _ramp(0.0, 100.0, grade, public, filled, PARAMS)
    assert (ramp.grade_pct, ramp.doubtful, ramp.void) == (told, doubtful, void)


def test_share_of_marked_positions_of_each_part() -> None:
    at = np.arange(5) * 10.0
    mask = np.array([True, False, True, True, False])
    from_m, to_m = np.array([0.0, 10.0, 1.0, 21.0]), np.array([40.0, 30.0, 9.0, 40.0])
    share = _share(mask, at.astype(np.float64), from_m, to_m)
    assert share.tolist() == [0.6, pytest.approx(2 / 3), 0.0, 0.5]


@pytest.mark.parametrize(
    ("highway", "flags", "public"),
    [
        ("tertiary", 0, True), ("track", 0, False), ("path", 0, False), ("bridleway", 0, False),
        ("footway", int(WayFlag.PATH), False), ("service", 0, True),
    ],
)  # fmt: skip
def test_roads_built_for_traffic(highway: str, flags: int, public: bool) -> None:
    """The second leg is off the map; a border belongs to the leg after it, the end to the last."""
    match, roads = _ride([(0.0, 100.0, flags), (100.0, 200.0, -1)])
    values = ("track", "path", "bridleway", "tertiary", "footway", "service")
    codes = np.array([values.index(highway), 0])
    roads.ways.highway = SimpleNamespace(values=values, codes=codes)
    at = np.array([0.0, 99.0, 100.0, 200.0])
    assert _public(match, roads, at).tolist() == [public, public, False, False]
    nothing, _ = _ride([])
    assert _public(nothing, roads, at).tolist() == [False] * 4


@pytest.mark.parametrize(("grade", "told"), [(1.0, 1), (0.99, 0), (-1.0, 1)])
def test_the_steepest_are_told_from_one_in_a_hundred(grade: float, told: int) -> None:
    at = np.arange(0.0, 101.0, 10.0)
    on, none = np.ones(11, np.bool_), np.zeros(11, np.bool_)
    assert len(_steepest(at, grade / 100 * at, [(0, 11)], on, none, PARAMS)) == told


def test_what_the_heights_rest_on_in_words() -> None:
    tiles: Any = SimpleNamespace(source="tiles")
    codes = {
        (): None, (EleBasis.UNKNOWN,): None, (_MEASURED, _FILLED): "tiles",
        (_MEASURED, EleBasis.UNKNOWN): "tiles; not known on 50",
        (EleBasis.FILE, EleBasis.FILE): "the route file's own heights: the region has no",
        (EleBasis.FILE, _MEASURED, _MEASURED, _MEASURED): "tiles; the route file's own heights on",
    }  # fmt: skip
    for basis, words in codes.items():
        said = _source(tiles, np.array(basis, np.int8), EleBasis.FILE in basis)
        assert said is None if words is None else str(said).startswith(words)
    no_tiles = _source(None, np.array([EleBasis.FILE], np.int8), True)
    assert "the region has no elevation here" in str(no_tiles)
