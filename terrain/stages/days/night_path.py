"""Where the days of a long ride end, by a shortest path over places to sleep."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from terrain.calc.kernels import inner, kernel, plain
from terrain.values.arrays import FloatArray, IntArray, freeze_fields

# Fewer days are better than evener ones, and an even day is worth some way to a bed.
# All common practice, no source.
_PER_DAY, _EVEN = 40.0, 12.0
_LONG, _LONG_PER_SHARE = 100.0, 1000.0  # a day over the limit, and per share over it
_LATE, _LATE_PER_H = 150.0, 400.0  # arriving later than wanted, and per hour
# A day that ends before it has begun, to save a later one, is worth a little over the limit: no
# guide has a group unpack at ten in the morning (common practice, no source). The last day may be
# as short as it is.
_SHORT, _SHORT_SHARE = 200.0, 1 / 3
NO_BED = 300.0  # price of a night where no lodging is known
_MOST_DAYS = 90


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NightProblem:
    """Places a day may end, in riding order; the first is the start, the last the end.

    ride_s : riding time from the start, shape (n,); price : of a night there, shape (n,)
    off_s : riding time from there to the bed, and back to the ride next day, shape (n,)
    day_s : riding time of a full day; share_of_stops : time at stops per riding time
    start_s, latest_s : local time of setting off and of latest arrival, by day, the last one
        repeated; latest inf where not known
    forced : (day from 0, place) pairs the guide asks for
    """

    ride_s: FloatArray
    price: FloatArray
    off_s: FloatArray
    day_s: float
    share_of_stops: float
    start_s: FloatArray
    latest_s: FloatArray
    forced: tuple[tuple[int, int], ...] = ()

    def __post_init__(self) -> None:
        freeze_fields(self, ("ride_s", "price", "off_s"), len(self.ride_s))
        freeze_fields(self, ("start_s", "latest_s"), len(self.start_s))


def choose_nights(problem: NightProblem) -> tuple[int, ...]:
    """Ends of the days in order, the ride's end included.

    Over-long days, late arrivals and nights without a bed are priced, not forbidden, so there
    is always an answer; it uses the fewest days that keep the limits where they can be kept.
    """
    n = len(problem.ride_s)
    forced = dict(problem.forced)
    most = max(_days_needed(problem), max(forced, default=-1) + 2)
    rows = _Rows(
        plain(problem.ride_s - problem.off_s),
        plain(problem.ride_s + problem.off_s),
        plain(np.append(problem.price[:-1], 0.0)),
        float(problem.day_s),
        float(problem.share_of_stops),
    )
    cost = np.full(n, np.inf)
    cost[0] = 0.0
    best_end, best_day = np.inf, 0
    before: list[IntArray] = []
    for day in range(most):
        i = min(day, len(problem.start_s) - 1)
        hours = float(problem.start_s[i]), float(problem.latest_s[i])
        cost, came = _next_night(rows, plain(cost), *hours)
        if day in forced:
            cost[np.arange(n) != forced[day]] = np.inf
        before.append(came)
        # The end may not be reached before the last night the guide asks for.
        if day >= max(forced, default=-1) and cost[-1] < best_end:
            best_end, best_day = float(cost[-1]), day
        cost[-1] = np.inf
    nights, place = [n - 1], n - 1
    for day in range(best_day, 0, -1):
        place = int(before[day][place])
        nights.append(place)
    return tuple(nights[::-1])


def _days_needed(problem: NightProblem) -> int:
    """Days after which more cannot help."""
    shortest = max(problem.day_s, 1.0)
    if len(problem.latest_s):
        light = (problem.latest_s - problem.start_s) / (1.0 + problem.share_of_stops)
        shortest = min(shortest, max(float(np.min(light)), 0.1 * shortest))
    whole = float(problem.ride_s[-1] - problem.ride_s[0]) / shortest
    return min(int(2 * np.ceil(whole)) + 3, _MOST_DAYS)


class _Rows(NamedTuple):
    """A NightProblem as the kernel takes it; the end costs no bed.

    begin_s, end_s : riding time at which a day begins and ends at each bed
    """

    begin_s: FloatArray
    end_s: FloatArray
    bed: FloatArray
    day_s: float
    share_of_stops: float


@kernel
def _next_night(
    rows: _Rows, cost: FloatArray, start_s: float, latest_s: float
) -> tuple[FloatArray, IntArray]:
    """The least cost of being at each place one day later, and where that day began.

    cost : of being at each place before that day
    """
    n = len(cost)
    later, came = np.full(n, np.inf), np.zeros(n, np.int64)
    # Up to a place: the least cost, and the farthest along that a day may begin.
    least, far = cost.copy(), rows.begin_s.copy()
    for i in range(1, n):
        least[i] = min(least[i], least[i - 1])
        far[i] = max(far[i], far[i - 1])
    for j in range(1, n):
        for back in range(j):
            i = j - 1 - back
            shortest = _day_price(rows, rows.end_s[j] - far[i], start_s, latest_s)
            if least[i] + shortest + rows.bed[j] > later[j]:
                break  # a day that began earlier is no shorter, and costs no less
            price = _day_price(rows, rows.end_s[j] - rows.begin_s[i], start_s, latest_s)
            price += rows.bed[j]
            if j < n - 1 and rows.end_s[j] - rows.begin_s[i] < _SHORT_SHARE * rows.day_s:
                price += _SHORT
            if cost[i] + price <= later[j]:
                later[j], came[j] = cost[i] + price, i
    return later, came


@inner
def _day_price(rows: _Rows, ride: float, start_s: float, latest_s: float) -> float:
    """Price of a day with so much riding [s]."""
    share = ride / rows.day_s
    late_h = (start_s + ride * (1.0 + rows.share_of_stops) - latest_s) / 3600.0
    price = _PER_DAY + _EVEN * share**2
    if share - 1.0 > 1e-9:
        price += _LONG + _LONG_PER_SHARE * (share - 1.0)
    if late_h > 1e-9:
        price += _LATE + _LATE_PER_H * late_h
    return price
