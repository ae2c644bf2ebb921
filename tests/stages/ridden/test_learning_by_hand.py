"""What rides teach, worked by hand and against scipy, a case on each side of each limit."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest
from scipy.special import ndtri

from terrain.stages.ridden.learning import ground, hindsight, pace_evidence, times
from terrain.stages.ridden.learning.hindsight import judge_hindsight
from terrain.stages.ridden.learning.times import MODEL, learn_times, lesson_of
from terrain.tables.speed import ROAD_CLASS_SPEEDS, UNKNOWN_CLASS
from terrain.values.ground import Basis, GroundKind, Severity
from terrain.values.learned import LearnedTimes, PaceRow, RideLesson, Statement
from terrain.values.ridden import Ridden, RiddenPart
from terrain.values.trip import OwnPace, Rider, Three
from tests.stages.ridden.test_hindsight import ride

_DAY = date(2027, 3, 14)
_SPREADS = (0.1, 0.05, 0.2)


def _lesson(moving: Three, expected: Three = (600.0, 0.0, 0.0), **more: Any) -> RideLesson:
    usual: dict[str, Any] = {
        "name": "r", "day": _DAY, "rider": Rider.STEADY, "bike_class": None,
        "length_m": (1e4, 0.0, 0.0),
    }  # fmt: skip
    return RideLesson(moving_s=moving, expected_s=expected, **{**usual, **more})


def _prior(n_classes: int = 0) -> np.ndarray:
    return np.array([0.2] * 3 + [0.08] * 9 + [0.08] * 3 * n_classes)


# -- times ----------------------------------------------------------------------------------------


def test_one_ride_is_drawn_to_the_tables_by_its_share_of_the_variance() -> None:
    """Ten minutes of tarmac took 12. Belief: 0.2^2 + 0.08^2 = 0.0464 for the ground and the
    rider; the ride: 0.1^2 + 0.05^2 + 0.2^2 (one block of ten minutes) = 0.0525. Of ln 1.2 the
    share 0.0464 / 0.0989 is believed, and the variance left is 0.0464 x 0.0525 / 0.0989."""
    rows = times._rows([_lesson((720.0, 0.0, 0.0))], (), MODEL)
    mean, cov = times._posterior(rows, _prior(), _SPREADS, MODEL)
    x = times._columns(0, Rider.STEADY, None, ())
    assert x @ mean == pytest.approx(math.log(1.2) * 0.0464 / 0.0989)
    assert x @ cov @ x == pytest.approx(0.0464 * 0.0525 / 0.0989)
    # Of what is believed the ground takes 0.04 of 0.0464; other riders share that alone.
    other = times._columns(0, Rider.EXPERT, None, ())
    assert other @ mean == pytest.approx(math.log(1.2) * 0.04 / 0.0989)
    assert times._columns(1, Rider.STEADY, None, ()) @ mean == pytest.approx(0.0)


def _lessons(n: int = 6) -> list[RideLesson]:
    rng = np.random.default_rng(3)
    found = []
    for i in range(n):
        expected = rng.uniform(300.0, 4_000.0, 3)
        factor = np.exp(rng.normal(0.1, 0.15) + rng.normal(0.0, 0.1, 3))
        found.append(
            _lesson(
                (*(expected * factor).tolist(),), (*expected.tolist(),),
                rider=(Rider.STEADY, Rider.EXPERT)[i % 2], bike_class=("a", "b", None)[i % 3],
            )
        )  # fmt: skip
    return found


def _covariance(rows: times._Rows, spreads: Three) -> np.ndarray:
    """A ride shares its spread over its rows; each row has its own, less the longer it is."""
    alike = rows.ride[:, None] == rows.ride
    own = spreads[1] ** 2 + spreads[2] ** 2 * 600.0 / rows.expected_s
    return np.asarray(alike * spreads[0] ** 2 + np.diag(own))


def test_sums_are_those_of_the_whole_covariance() -> None:
    """numpy's inverse and determinant of the matrix written out."""
    rows = times._rows(_lessons(), ("a", "b"), MODEL)
    inverse = np.linalg.inv(_covariance(rows, _SPREADS))
    sums = times._sums(rows, _SPREADS, MODEL)
    np.testing.assert_allclose(sums.xx, rows.x.T @ inverse @ rows.x, atol=1e-9)
    np.testing.assert_allclose(sums.xy, rows.x.T @ inverse @ rows.y, atol=1e-9)
    assert sums.yy == pytest.approx(rows.y @ inverse @ rows.y)
    assert sums.log_det == pytest.approx(np.linalg.slogdet(_covariance(rows, _SPREADS))[1])


def test_the_spreads_are_those_that_make_the_rides_likeliest() -> None:
    """By scipy's normal density of all rides, the effects integrated out, and the belief: no
    spread a fifth larger or smaller does better."""
    from scipy import stats

    rows = times._rows(_lessons(12), ("a", "b"), MODEL)
    prior = _prior(2)

    def likely(spreads: Three) -> float:
        cov = _covariance(rows, spreads) + rows.x @ np.diag(prior**2) @ rows.x.T
        belief = sum(
            stats.norm.logpdf(math.log(s), math.log(usual), 0.5)
            for s, usual in zip(spreads, (0.12, 0.06, 0.15), strict=True)
        )
        return float(stats.multivariate_normal.logpdf(rows.y, cov=cov) + belief)

    found = times._likeliest_spreads(rows, prior, MODEL)
    for i in range(3):
        for factor in (0.8, 1.25):
            a, b, c = (s * factor if i == k else s for k, s in enumerate(found))
            assert likely((a, b, c)) < likely(found)


def test_each_spread_is_told_as_what_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(times, "_likeliest_spreads", lambda *_: (0.1, 0.2, 0.3))
    learned = learn_times(_lessons())
    assert learned is not None
    assert (learned.ride_sd, learned.ground_sd, learned.stretch_sd) == (0.1, 0.2, 0.3)


def test_factors_and_intervals_of_a_rider_and_a_class() -> None:
    """Means 0.1 of tarmac, 0.02 of steady riders and 0.03 of class a; variances 0.01 each."""
    mean, cov = np.zeros(15), 0.01 * np.eye(15)
    mean[0], mean[6], mean[12] = 0.1, 0.02, 0.03
    used = [
        _lesson((1.0, 1.0, 1.0), rider=rider, bike_class=name, day=_DAY + timedelta(days=n))
        for n, (rider, name) in enumerate(
            [(Rider.STEADY, "a"), (Rider.STEADY, None), (Rider.EXPERT, "a")]
        )
    ]

    def pace(rider: Rider, name: str | None) -> OwnPace:
        return times._pace(rider, name, ("a",), mean, cov, _SPREADS, used, MODEL)

    known, unknown = pace(Rider.STEADY, "a"), pace(Rider.STEADY, None)
    assert known.factor == pytest.approx((math.exp(0.15), 1.0, 1.0))
    z, sd = float(ndtri(0.95)), math.sqrt(0.03)
    assert known.low[0] == pytest.approx(math.exp(0.15 - z * sd), rel=1e-4)
    assert known.high[0] == pytest.approx(math.exp(0.15 + z * sd), rel=1e-4)
    assert known.spread[0] == pytest.approx(math.sqrt(0.03 + 0.1**2 + 0.05**2))
    # Of which class it is nothing is known: its own 0.08 besides the ground and the rider.
    assert unknown.factor[0] == pytest.approx(math.exp(0.12))
    sd = math.sqrt(0.02 + 0.08**2)
    assert unknown.high[0] == pytest.approx(math.exp(0.12 + z * sd), rel=1e-4)
    assert (known.ten_min_sd, known.n_rides, known.n_alike, unknown.n_alike) == (0.2, 3, 1, 2)
    assert (known.first_day, known.last_day) == (_DAY, _DAY + timedelta(days=2))


@pytest.mark.parametrize(
    ("moving_s", "expected_s", "used"),
    [
        (100.0, 60.0, True), (100.0, 59.9, False),  # a minute of one ground at least
        (2_490.0, 1_000.0, True), (2_500.0, 1_000.0, False),
        (401.0, 1_000.0, True), (400.0, 1_000.0, False),
    ],
)  # fmt: skip
def test_a_ride_far_from_the_tables_teaches_nothing(
    moving_s: float, expected_s: float, used: bool
) -> None:
    """Two and a half times (common practice, no source)."""
    learned = learn_times([_lesson((moving_s, 0.0, 0.0), (expected_s, 0.0, 0.0))])
    assert (learned is not None) == used


def test_each_ground_of_a_ride_is_a_row_from_a_minute_on() -> None:
    lesson = _lesson((90.0, 90.0, 0.0), (60.0, 59.0, 60.0))
    rows = times._rows([lesson], (), MODEL)
    assert rows.y.tolist() == [pytest.approx(math.log(1.5))]
    assert rows.expected_s.tolist() == [60.0]


def _part(p: Three | None, moving_s: float | None = 100.0, **more: Any) -> RiddenPart:
    usual: dict[str, Any] = {
        "from_m": 0.0, "to_m": 1_000.0, "way_id": 1, "highway": "unclassified", "name": None,
        "ground": GroundKind.GRAVEL, "basis": Basis.TAGGED, "severity": Severity.EASY,
        "grade_pct": 0.0, "expected_s": 80.0, "clock_s": 100.0, "off_plan": None, "shown": True,
    }  # fmt: skip
    return RiddenPart(p=p, moving_s=moving_s, **{**usual, **more})


def _ridden(*parts: RiddenPart, day: date = _DAY) -> Ridden:
    return replace(ride("r", 1.0), parts=parts, day=day)


def test_parts_teach_times_where_ground_and_time_are_known() -> None:
    lesson = lesson_of(
        _ridden(
            _part((0.8, 0.1, 0.1)), _part((0.9, 0.1, 0.0), 50.0), _part((0.1, 0.1, 0.8)),
            _part((0.79, 0.2, 0.01)), _part(None), _part((1.0, 0.0, 0.0), None),
            _part((1.0, 0.0, 0.0), shown=False),
        )
    )  # fmt: skip
    assert lesson.length_m == (2_000.0, 0.0, 1_000.0)
    assert lesson.moving_s == (150.0, 0.0, 100.0)
    assert lesson.expected_s == (160.0, 0.0, 80.0)


# -- ground by speed ------------------------------------------------------------------------------

_PACE = pace_evidence.MODEL
_KPH = {row.highway: row.paved_kph for row in ROAD_CLASS_SPEEDS}


def _at(kph: float, p: Three, **more: Any) -> RiddenPart:
    return _part(p, 3.6 * 1_000.0 / kph, **more)


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({}, True), ({"to_m": 250.0}, True), ({"to_m": 249.0}, False), ({"shown": False}, False),
        ({"way_id": None}, False), ({"moving_s": None}, False), ({"p": None}, False),
    ],
)  # fmt: skip
def test_parts_of_250_m_tell_of_speed(more: dict[str, Any], told: bool) -> None:
    """Common practice, no source."""
    part = replace(_part((1.0, 0.0, 0.0)), **more)
    assert len(pace_evidence._parts_of([_ridden(part)], _PACE).x) == told


def test_speed_is_told_over_that_of_the_road_class() -> None:
    parts = pace_evidence._parts_of(
        [
            _ridden(
                _at(30.0, (0.9, 0.1, 0.0)), _at(30.0, (0.0, 0.11, 0.89), highway="secondary"),
                _at(30.0, (0.0, 1.0, 0.0), highway=None),
            )
        ],
        _PACE,
    )  # fmt: skip
    usual = [_KPH["unclassified"], _KPH["secondary"], UNKNOWN_CLASS.paved_kph]
    assert parts.x.tolist() == pytest.approx([math.log(30.0 / kph) for kph in usual])
    assert parts.ground.tolist() == [0, -1, 1]  # known from nine tenths on
    assert parts.highway.tolist() == [2, 1, 0]


def _parts(x: list[float], ground: list[int], **more: Any) -> pace_evidence._Parts:
    n = len(x)
    usual: dict[str, Any] = {
        "ride": np.zeros(n, np.int64), "way": np.arange(n), "highway": np.zeros(n, np.int64),
        "length_m": np.full(n, 1_000.0), "p": np.full((n, 3), 1 / 3),
    }  # fmt: skip
    return pace_evidence._Parts(x=np.array(x), ground=np.array(ground), **{**usual, **more})


@pytest.mark.parametrize(("n", "known"), [(11, False), (12, True)])
def test_a_ground_is_known_from_twelve_parts_on(n: int, known: bool) -> None:
    parts = _parts([0.1 * i for i in range(n)], [2] * n)
    fit = pace_evidence._fit(parts, np.ones(n, np.bool_), _PACE)
    assert np.isnan(fit.mean).tolist() == [True, True, not known]
    if known:
        # The median of 0, 0.1 .. 1.1 is 0.55, and that of the distances from it 0.3.
        assert fit.mean[2] == pytest.approx(0.55)
        assert fit.sd[2] == pytest.approx(0.3 / ndtri(0.75), rel=1e-4)
        # One of each ground before any is ridden: a sum of three and twelve.
        np.testing.assert_allclose(fit.base, [[1 / 15, 1 / 15, 13 / 15]])


def test_speeds_all_alike_are_spread_by_a_fifth_at_least() -> None:
    parts = _parts([0.5] * 12, [0] * 12)
    assert pace_evidence._fit(parts, np.ones(12, np.bool_), _PACE).sd[0] == 0.2


_FIT = pace_evidence._Fit(
    mean=np.array([0.0, np.nan, -1.0]), sd=np.array([0.5, np.nan, 0.25]), base=np.ones((1, 3)) / 3
)


def test_a_ride_has_a_pace_of_its_own_drawn_to_none() -> None:
    """Known parts 0.6 and 0.4 above their ground's, and four worth nothing: 1 in 6. Another
    ride's own: 0.3 in 5."""
    parts = _parts([0.6, -0.6, 5.0, 5.0, 0.3], [0, 2, -1, 1, 0], ride=np.array([0, 0, 0, 0, 1]))
    own = pace_evidence._own_pace(parts, _FIT)
    assert own.tolist() == pytest.approx([1 / 6] * 4 + [0.06])


def test_how_much_likelier_a_speed_is_on_each_ground() -> None:
    """At -0.9: 1.8 spreads from tarmac and 0.4 from track, so -1.62 + ln 2 and -0.08 + ln 4 by
    the density; half the difference above and below their mean, 1.117, is more than the bound of
    half of ln 3. At -0.6: -0.72 + ln 2 and -1.28 + ln 4, half the difference 0.067."""
    parts = _parts([-0.9, -0.6], [-1, -1])
    log = pace_evidence._log_ratios(parts, _FIT, _PACE)
    assert log[0].tolist() == pytest.approx([-0.5 * math.log(3), 0.0, 0.5 * math.log(3)])
    half = (-1.28 + math.log(4) + 0.72 - math.log(2)) / 2
    assert log[1].tolist() == pytest.approx([-half, 0.0, half])


def test_a_way_is_told_by_the_mean_of_its_rides_weighed_by_length(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A kilometre that doubles the chance of track, three that halve it: by e^(-ln 2 / 2)."""
    ln2 = math.log(2)
    log = np.array([[0.0, 0.0, ln2], [0.0, 0.0, -ln2], [9.0, 9.0, 9.0]])
    monkeypatch.setattr(pace_evidence, "_log_ratios", lambda *_: log)
    parts = _parts(
        [0.0] * 3, [-1, -1, 0], way=np.array([7, 7, 7]), ride=np.array([0, 1, 2]),
        length_m=np.array([1_000.0, 3_000.0, 500.0]), p=np.array([[0.2, 0.2, 0.6]] * 3),
    )  # fmt: skip
    days = [_DAY, _DAY + timedelta(days=5), _DAY + timedelta(days=9)]
    (way,) = pace_evidence._ways(parts, days, _PACE)
    track = 0.6 / math.sqrt(2)
    assert way.p == pytest.approx((0.2 / (0.4 + track), 0.2 / (0.4 + track), track / (0.4 + track)))
    assert (way.way_id, way.ground, way.n_rides) == (7, GroundKind.TRACK, 2)
    assert way.last_day == _DAY + timedelta(days=5)
    assert way.trust == 0.0  # the chance fell


# -- ground by witnesses --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("before", "after", "trust"),
    [
        (0.5, 0.74, 0.5), (0.5, 0.5, 0.0), (0.5, 0.4, 0.0), (0.98, 0.99, 0.0),
        (0.5, 0.98, 0.97), (0.5, 0.999, 0.97),
    ],
)  # fmt: skip
def test_trust_is_the_share_of_the_way_to_98_in_a_hundred(
    before: float, after: float, trust: float
) -> None:
    assert ground.trust_of(before, after) == pytest.approx(trust)


def test_one_round_of_belief_by_hand() -> None:
    """Who errs 12 times in 100 and says track of a way as likely as not: (0.2, 0.3, 0.5) by 0.06,
    0.06 and 0.88 make 0.012, 0.018 and 0.44 of 0.47."""
    model = replace(ground.MODEL, rounds=1)
    prior = np.array([[0.96, 0.02, 0.02], [0.2, 0.3, 0.5]])
    way, who, said = np.array([0, 0, 0, 1]), np.zeros(4, np.int64), np.array([0, 0, 1, 2])
    known = np.array([True, False])
    errs, post = ground._believed(prior, way, who, said, known, np.array([3]), model)
    assert post[1].tolist() == pytest.approx([0.012 / 0.47, 0.018 / 0.47, 0.44 / 0.47])
    # Three checks by the map, 0.04 + 0.04 + 0.98 wrong; half a one by the rest; 8 times 0.12.
    wrong = 0.04 + 0.04 + 0.98 + 0.5 * 0.03 / 0.47
    assert errs.tolist() == pytest.approx([(wrong + 0.96) / (3.5 + 8.0)])
    # With two checks he is not heard, and nothing is learned of the way.
    _, post = ground._believed(prior, way, who, said, known, np.array([2]), model)
    assert post[1].tolist() == pytest.approx([0.2, 0.3, 0.5])


def _said(way: int, kind: GroundKind | None, day: int = 0, *, shut: bool = False) -> Statement:
    return Statement(way_id=way, who="ana", day=_DAY + timedelta(days=day), ground=kind, shut=shut)


@pytest.mark.parametrize(
    ("checks", "sure", "heard"), [(3, 0.9, True), (2, 0.9, False), (3, 0.89, False)]
)
def test_three_checks_by_ways_that_the_map_knows(checks: int, sure: float, heard: bool) -> None:
    rest = (1.0 - sure) / 2
    map_p: dict[int, Three] = dict.fromkeys(range(checks), (sure, rest, rest))
    told = [_said(n, GroundKind.PAVED) for n in range(checks)]
    (witness,) = ground.learn_ground(told, map_p)[1]
    assert (witness.heard, witness.statements) == (heard, checks)
    assert witness.checks == (checks if sure >= 0.9 else 0)


def test_what_is_told_of_a_learned_way() -> None:
    map_p: dict[int, Three] = dict.fromkeys(range(5), (0.96, 0.02, 0.02)) | {9: (0.1, 0.6, 0.3)}
    told = [_said(n, GroundKind.PAVED) for n in range(5)]
    told += [_said(9, GroundKind.TRACK, 3), _said(9, GroundKind.TRACK, 1), _said(9, None, 2)]
    ways, _ = ground.learn_ground(told, map_p)
    way = next(way for way in ways if way.way_id == 9)
    assert (way.ground, way.against, way.shut, way.witnesses) == (GroundKind.TRACK, 0, 0, 1)
    assert way.against_map and way.last_day == _DAY + timedelta(days=3)
    # Said twice by the same eyes: once.
    assert way.p is not None and 0.85 < way.p[2] < 0.95
    assert way.trust == pytest.approx((way.p[2] - 0.3) / (0.98 - 0.3))
    assert ground.trust_of(0.3, 0.979) == 0.97
    # Nothing but a "no idea" is nothing learned; that it is shut is.
    idle, shut = (
        ground.learn_ground([*told[:5], _said(9, None)], map_p)[0],
        _said(9, None, shut=True),
    )
    assert 9 not in {way.way_id for way in idle}
    (way,) = [w for w in ground.learn_ground([*told[:5], shut], map_p)[0] if w.way_id == 9]
    assert (way.ground, way.p, way.trust, way.shut, way.against_map) == (None, None, 0.0, 1, False)


# -- hindsight ------------------------------------------------------------------------------------


@pytest.mark.parametrize(("n", "held"), [(20, 17), (5, 1), (4, 0), (4, 4)])
def test_the_share_that_held_by_jeffreys_interval(n: int, held: int) -> None:
    """scipy's quantiles of the beta distribution; 0 and 1 where none or all held."""
    from scipy import stats

    found = hindsight._held(n, held)
    low, high = stats.beta(held + 0.5, n - held + 0.5).ppf([0.05, 0.95])
    assert found.share == held / n
    assert found.low == (0.0 if held == 0 else pytest.approx(low))
    assert found.high == (1.0 if held == n else pytest.approx(high))


@pytest.mark.parametrize(
    ("moving_s", "held"), [(3_200.0, 1), (3_199.0, 0), (5_000.0, 1), (5_001.0, 0)]
)
def test_the_ends_of_an_interval_belong_to_it(moving_s: float, held: int) -> None:
    assert judge_hindsight([replace(ride("a", 1.0), moving_s=moving_s)]).time.held == held


def test_bias_is_the_mean_of_ratios_on_a_log_scale() -> None:
    """Twice and half the time are none; rides without a time, moved or expected, do not count."""
    rides = [ride("a", 2.0), ride("b", 0.5)]
    rides += [replace(rides[0], moving_s=0.0), replace(rides[0], expected_s=0.0)]
    told = judge_hindsight(rides)
    assert told.bias == pytest.approx(1.0)
    assert told.time.n == 2
    assert judge_hindsight([]).bias is None


def test_the_ten_largest_misses_are_told() -> None:
    rides = [ride(str(n), 1.0 + 0.01 * n) for n in range(12)]
    assert [miss.name for miss in judge_hindsight(rides).misses] == [
        str(n) for n in range(11, 1, -1)
    ]


def test_the_error_since_learned_by_hand() -> None:
    """Expected 4,000 s, of it 2,000 on gravel (0.02, 0.9, 0.08), 2,000 on tarmac, and ridden in
    5,000. Learned: gravel half as long again, so 4,000 + 2,000 x 0.45 + 2,000 x 0.005."""
    pace = OwnPace(
        factor=(1.0, 1.5, 1.0), low=(1.0, 1.5, 1.0), high=(1.0, 1.5, 1.0), spread=(0.1, 0.1, 0.1),
        ten_min_sd=0.1, n_rides=9, n_alike=9, first_day=_DAY, last_day=_DAY,
    )  # fmt: skip
    learned = LearnedTimes(
        n_rides=9, length_m=1e5, first_day=_DAY, last_day=_DAY, ride_sd=0.1, ground_sd=0.1,
        stretch_sd=0.1, rows=(PaceRow(rider=Rider.STEADY, bike_class=None, pace=pace),),
        left_out=(),
    )  # fmt: skip
    told = judge_hindsight([ride("a", 1.25)], times=learned)
    assert told.mean_error == pytest.approx(1_000.0 / 5_000.0)
    assert told.learned_error == pytest.approx((5_000.0 - 4_910.0) / 5_000.0)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"gap_s": 91.0}, "fixes lie"), ({"gap_s": 90.0}, "gravel took"),
        ({"night_s": 1_801.0}, "in the dark"), ({"night_s": 1_800.0}, "gravel took"),
        ({"p": (0.1, 0.79, 0.11)}, "does not tell"), ({"p": (0.1, 0.8, 0.1)}, "gravel took"),
    ],
)  # fmt: skip
def test_limits_of_what_explains_a_miss(more: dict[str, Any], words: str) -> None:
    """6,000 s of riding: three tenths of it are 1,800; 90 s between fixes; 0.8 of one ground."""
    assert words in str(hindsight._reason(ride("a", 1.5, **more)))


def test_ferries_and_parts_without_a_time_explain_nothing() -> None:
    ferry = _part((1.0, 0.0, 0.0), 9_000.0, ground=GroundKind.FERRY)
    lost = _part((1.0, 0.0, 0.0), None, ground=GroundKind.TRACK)
    assert "nothing of it" in str(hindsight._reason(_ridden(ferry, lost)))
    quick = _part((0.0, 0.0, 1.0), 200.0, ground=GroundKind.TRACK, expected_s=900.0)
    slow = _part((0.0, 1.0, 0.0), 400.0, expected_s=100.0)
    assert str(hindsight._reason(_ridden(ferry, lost, quick, slow))).startswith("track took 22")


def test_every_ground_has_a_column_for_all_for_each_rider_and_for_each_class() -> None:
    classes = ("adventure", "road", "trail")

    def on(g: int, rider: Rider, name: str | None) -> set[int]:
        row = times._columns(g, rider, name, classes)
        assert len(row) == 3 * (1 + len(Rider) + len(classes)) and set(row) == {0.0, 1.0}
        return set(np.flatnonzero(row).tolist())

    used: list[int] = []
    for g in range(3):
        (ground,) = set.intersection(*(on(g, rider, None) for rider in Rider))
        used.append(ground)
        for rider in Rider:
            (own,) = on(g, rider, None) - {ground}
            used.append(own)
            assert on(g, rider, "of another fleet") == {ground, own}
        for name in classes:
            (own,) = on(g, Rider.STEADY, name) - on(g, Rider.STEADY, None)
            used.append(own)
            assert all(on(g, rider, name) == on(g, rider, None) | {own} for rider in Rider)
    assert sorted(used) == list(range(21))
