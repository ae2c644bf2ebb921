"""Shares with intervals: sums, correlation, forks, determinism."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from terrain.calc import shares
from terrain.calc.shares import SharePieces, WayChoice, best_shares, draw_shares, interval, meeting


def _pieces(
    length: list[float], paved: list[float], shared: float = 0.0, one_group: bool = True
) -> SharePieces:
    p = np.asarray(paved)
    k = len(length)
    return SharePieces(
        length_m=np.asarray(length, dtype=np.float64),
        p=np.stack([p, 0.6 * (1 - p), 0.4 * (1 - p)], axis=1),
        shared=np.full((k, 1), shared),
        group=np.zeros((k, 1), dtype=np.int64) if one_group else np.arange(k)[:, None],
    )


def test_best_is_the_expected_share_and_sums_to_one() -> None:
    best = best_shares(_pieces([100.0, 300.0], [1.0, 0.5]))
    assert best[0] == pytest.approx(0.625)
    assert best.sum() == pytest.approx(1.0, abs=1e-12)


def test_no_length_is_not_known() -> None:
    assert np.isnan(best_shares(_pieces([0.0], [0.5]))).all()


def test_independent_pieces_vary_like_the_binomial() -> None:
    """1000 equal pieces at p = 0.3: the 5 and 95 % points are the binomial's (scipy.special)."""
    from scipy.special import bdtr

    below = bdtr(np.arange(1001.0), 1000, 0.3)
    drawn = draw_shares(_pieces([1.0] * 1000, [0.3] * 1000), draws=4000)[:, 0]
    low, high = interval(drawn, 0.3)
    assert low == pytest.approx(np.searchsorted(below, 0.05) / 1000, abs=0.004)
    assert high == pytest.approx(np.searchsorted(below, 0.95) / 1000, abs=0.004)


def test_one_wrong_guess_about_a_long_road_is_one_error() -> None:
    """A hundred pieces that share everything are as uncertain as one."""
    drawn = draw_shares(_pieces([1.0] * 100, [0.6] * 100, shared=1.0))[:, 0]
    assert set(np.unique(drawn.round(6))) == {0.0, 1.0}
    assert drawn.mean() == pytest.approx(0.6, abs=0.03)


def test_sharing_widens_the_interval() -> None:
    widths = []
    for shared in (0.0, 0.3, 0.9):
        drawn = draw_shares(_pieces([1.0] * 60, [0.6] * 60, shared=shared))[:, 0]
        low, high = interval(drawn, 0.6)
        widths.append(high - low)
    assert widths[0] < widths[1] < widths[2]


def test_draws_keep_the_probabilities_and_sum_to_one() -> None:
    drawn = draw_shares(_pieces([5.0, 1.0], [0.2, 0.9], shared=0.4), draws=20_000)
    assert drawn.sum(axis=1) == pytest.approx(1.0)
    assert not np.signbit(draw_shares(_pieces([1.0], [1.0]), draws=9)).any()  # no "-0 %"
    assert drawn.mean(axis=0)[0] == pytest.approx((5 * 0.2 + 0.9) / 6, abs=0.01)


def test_a_split_in_doubt_moves_gravel_and_track_and_nothing_that_is_paved() -> None:
    """Sixty guesses, .75 unsealed and .4 of that track; in doubt the share spreads as the rate of
    one region does whose normal score lies about that of .4 with variance v."""
    plain = _pieces([1.0] * 60, [0.25] * 60)
    doubted = replace(plain, split=np.full(60, 0.4), split_group=np.zeros(60, dtype=np.int64))
    first, second = (draw_shares(pieces, draws=8000) for pieces in (plain, doubted))
    assert np.array_equal(first[:, 0], second[:, 0])
    # The rate's mean is N(N^-1(.4) / sqrt(1 + v)); its spread by scipy's quadrature.
    mean = 0.75 * ndtr(ndtri(0.4) / np.sqrt(1.4))
    assert second.mean(axis=0) == pytest.approx([0.25, 0.75 - mean, mean], abs=0.01)
    share = 0.75 * ndtr(ndtri(0.4) + np.sqrt(0.4) * ndtri(np.arange(0.0005, 1, 0.001)))
    expected = np.sqrt(share.var() + np.mean(share * (1 - share)) / 60)
    assert second[:, 2].std() == pytest.approx(expected, rel=0.05)
    assert expected > 1.5 * first[:, 2].std()


def test_same_input_same_numbers_whatever_the_block() -> None:
    pieces = _pieces([1.0, 2.0], [0.3, 0.4])
    assert np.array_equal(draw_shares(pieces), draw_shares(pieces))
    # Of 20,000 pieces a hundred rides are drawn at once: the last ten are a block of their own.
    many = draw_shares(_pieces([1.0] * 20_000, [0.3] * 20_000), draws=110)
    assert many[100:].mean(axis=0) == pytest.approx([0.3, 0.42, 0.28], abs=0.01)


def test_a_fork_adds_its_own_spread() -> None:
    pieces = SharePieces(
        length_m=np.array([10.0, 0.0, 0.0]),
        p=np.array([[1.0, 0, 0], [1.0, 0, 0], [0, 0, 1.0]]),
        shared=np.zeros((3, 1)),
        group=np.zeros((3, 1), dtype=np.int64),
    )
    fork = WayChoice(chance=np.array([0.7, 0.3]), length_m=np.array([[0, 10.0, 0], [0, 0, 10.0]]))
    assert best_shares(pieces, [fork])[0] == pytest.approx(0.85)
    drawn = draw_shares(pieces, [fork])[:, 0]
    assert set(np.unique(drawn.round(6))) == {0.5, 1.0}
    assert (drawn > 0.9).mean() == pytest.approx(0.7, abs=0.03)


def test_interval_is_the_shortest_and_holds_best() -> None:
    values = np.r_[np.full(95, 1.0), np.linspace(0.2, 0.9, 5)]
    assert interval(values, 0.98) == (0.98, 1.0)
    values = np.r_[np.full(60, 1.0), np.linspace(0.5, 0.9, 40)]
    low, high = interval(values, 0.9)
    assert high == 1.0 and 0.55 < low < 0.65


@pytest.mark.parametrize(
    ("most", "low"), [(840, 0.5), (850, 1.0), (900, 1.0), (949, 1.0), (960, 1.0)]
)
def test_a_range_holds_nine_tenths_as_nearly_as_can_be_and_not_under_85(
    most: int, low: float
) -> None:
    """Of 1000 worlds so many are all paved, and the others half: one value or both."""
    values = np.r_[np.full(most, 1.0), np.full(1000 - most, 0.5)]
    assert interval(values, 1.0) == (low, 1.0)


def test_of_ranges_that_hold_as_much_to_a_hundredth_the_shorter_is_told() -> None:
    """896 of 1000 worlds are all paved, 7 more nine tenths: .896 and .903 are both .90."""
    values = np.r_[np.full(896, 1.0), np.full(7, 0.9), np.zeros(97)]
    assert interval(values, 1.0) == (1.0, 1.0)


def test_the_cut_between_gravel_and_track_where_their_split_is_in_doubt() -> None:
    """A quarter paved, .3 of all track: .4 of the rest. In no doubt gravel ends at N^-1(.7); with a
    variance of .25 the middle of each twentieth of what may be, by scipy's normal."""
    p = np.array([[0.25, 0.45, 0.3], [1.0, 0.0, 0.0]])
    cut = shares.split_cuts(p[:1], np.zeros(1))
    assert cut == pytest.approx(np.full((20, 1), ndtri(0.7)))
    cut = shares.split_cuts(p, np.array([0.25, 0.25]))
    track = 0.75 * ndtr(ndtri(0.4) + 0.5 * ndtri(np.arange(0.025, 1.0, 0.05)))
    assert cut[:, 0] == pytest.approx(ndtri(1 - track))
    assert (cut[:, 1] > 6.0).all()  # none of what is paved
    assert (shares.split_cuts(np.array([[0.0, 0.0, 1.0]]), np.zeros(1)) < -5.0).all()


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match="exceed"):
        replace(_pieces([1.0, 1.0], [0.5, 0.5]), shared=np.array([[0.2], [1.2]]))
    for counts in ({"length_m": np.ones(3)}, {"group": np.zeros((2, 2), np.int64)}):
        with pytest.raises(ValueError, match="counts"):
            replace(_pieces([1.0, 1.0], [0.5, 0.5]), **counts)
    with pytest.raises(ValueError, match="fork"):
        WayChoice(chance=np.array([0.7, 0.7]), length_m=np.zeros((2, 1)))


def test_intervals_hold_nine_tenths_on_average_and_none_far_less() -> None:
    """Rides of two to twelve guesses: what an interval holds of outcomes drawn anew."""
    random = np.random.default_rng(7)
    held = []
    for _ in range(60):
        k = int(random.integers(2, 13))
        paved = random.random(k)
        pieces = SharePieces(
            length_m=random.lognormal(6, 1, k),
            p=np.stack([paved, (1 - paved) / 2, (1 - paved) / 2], axis=1),
            shared=np.full((k, 1), 0.2),
            group=np.zeros((k, 1), dtype=np.int64),
        )
        best = float(best_shares(pieces)[0])
        low, high = interval(draw_shares(pieces, draws=1000, seed=1)[:, 0], best)
        again = draw_shares(pieces, draws=1000, seed=2)[:, 0]
        held.append(float(np.mean((again >= low - 1e-9) & (again <= high + 1e-9))))
    assert 0.88 < np.mean(held) < 0.93
    assert min(held) > 0.81  # 0.85 but for the luck of the draws


@pytest.mark.parametrize(
    ("rare", "gravel", "track"), [(0.06, (0.5, 0.6), (0.0, 0.05)), (0.2, (0.05, 0.6), (0.0, 0.5))]
)
def test_ranges_of_grounds_leave_each_other_room(
    rare: float, gravel: tuple[float, float], track: tuple[float, float]
) -> None:
    """Half of a ride is gravel or, rarely, all of it track: no "gravel 5 to 60 %, track 0 to 5 %".

    Where the rare case is seldom enough the range of gravel does without it; else track shows it.
    """
    n = round(1000 * rare)
    values = np.array([[0.4, 0.55, 0.05]] * (1000 - n) + [[0.4, 0.05, 0.55]] * n)
    got = meeting([(0.4, 0.45), (0.05, 0.6), (0.0, 0.05)], values, values.mean(axis=0))
    assert got[1:] == [pytest.approx(gravel), pytest.approx(track)]


@pytest.mark.parametrize(
    ("rare", "gravel", "track"), [(0.1, (0.3, 0.55), (0.0, 0.3)), (0.2, (0.1, 0.55), (0.0, 0.5))]
)
def test_high_ends_are_drawn_in_as_low_ones_are(
    rare: float, gravel: tuple[float, float], track: tuple[float, float]
) -> None:
    """Four tenths are paved and no less than three gravel: no half is track. Where it rarely is
    half, the range of track does without; else that of gravel shows it."""
    n = round(1000 * rare)
    values = np.array([[0.4, 0.5, 0.1]] * (1000 - n) + [[0.4, 0.1, 0.5]] * n)
    got = meeting([(0.4, 0.45), (0.3, 0.55), (0.0, 0.5)], values, values.mean(axis=0))
    assert got == [pytest.approx(row) for row in ((0.4, 0.45), gravel, track)]


def test_the_range_of_what_is_paved_stands_and_the_others_follow_it() -> None:
    """What is told of tarmac is measured to hold (tests/bench/ground_intervals.py)."""
    values = np.array([[0.4, 0.55, 0.05]] * 800 + [[0.9, 0.05, 0.05]] * 200)
    got = meeting([(0.4, 0.45), (0.05, 0.6), (0.0, 0.05)], values, values.mean(axis=0))
    assert got == [pytest.approx(row) for row in ((0.4, 0.45), (0.45, 0.6), (0.0, 0.05))]
    # So it does where no draw comes near its end: what is nearest to its own end has the room.
    values = np.array([[0.6, 0.25, 0.15]] * 9)
    got = meeting([(0.2, 0.9), (0.0, 0.3), (0.0, 0.3)], values, values[0])
    assert got == [pytest.approx(row) for row in ((0.2, 0.9), (0.0, 0.5), (0.0, 0.3))]


def test_ranges_that_meet_are_left_alone_and_high_ends_are_drawn_in_too() -> None:
    values = np.array([[0.5, 0.5]] * 100)
    best = values.mean(axis=0)
    assert meeting([(0.4, 0.6), (0.4, 0.6)], values, best) == [(0.4, 0.6), (0.4, 0.6)]
    assert meeting([(0.4, 0.6), (0.4, 0.9)], values, best)[1] == pytest.approx((0.4, 0.6))


def test_gravel_or_track_is_one_error_for_a_kind_of_road_and_not_for_two() -> None:
    """Of four unsealed roads as likely gravel as track the first two are of one kind, the others
    of another, and a kind's error is much of what there is: of one kind both are track, or none;
    of two kinds as often as if drawn apart."""

    def drawn(groups: list[int], rows: list[int]) -> tuple[float, float]:
        length = np.zeros(4)
        length[rows] = 1.0
        pieces = SharePieces(
            length_m=length, p=np.tile([0.0, 0.5, 0.5], (4, 1)), shared=np.zeros((4, 1)),
            group=np.arange(4)[:, None], split=np.full(4, 50.0), split_group=np.array(groups),
        )  # fmt: skip
        track = draw_shares(pieces, draws=4000)[:, 2]
        return float(track.mean()), float(np.mean(np.abs(track - 0.5) > 0.4))

    for rows, alike in (([0, 1], 0.9), ([2, 3], 0.9)):
        mean, both = drawn([7, 7, 9, 9], rows)
        assert mean == pytest.approx(0.5, abs=0.03)
        assert both > alike
    assert drawn([7, 7, 9, 9], [1, 2])[1] == pytest.approx(0.5, abs=0.05)


def test_of_ranges_as_short_the_one_about_the_best_is_told() -> None:
    """Ten values a tenth each: three in a row hold .3, and those about 5 are 4 to 6."""
    value, up_to = np.arange(10.0), np.linspace(0.0, 1.0, 11)
    low, high = shares._shortest(value, up_to, np.array([0.3]), 5.0)
    assert (low.tolist(), high.tolist()) == ([4.0], [6.0])
