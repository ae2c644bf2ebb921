"""Where the days of a long ride end, by a shortest path over places to sleep."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.values.arrays import FloatArray, freeze_fields

# Fewer days are better than evener ones, and an even day is worth some way to a bed.
_PER_DAY, _EVEN = 40.0, 12.0
_LONG, _LONG_PER_SHARE = 100.0, 1000.0  # a day over the limit, and per share over it
_LATE, _LATE_PER_H = 150.0, 400.0  # arriving later than wanted, and per hour
NO_BED = 300.0  # price of a night where no lodging is known
_MOST_DAYS = 90


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NightProblem:
    """Places a day may end, in riding order; the first is the start, the last the end.

    ride_s : riding time from the start, shape (n,); price : of a night there, shape (n,)
    day_s : riding time of a full day; share_of_stops : time at stops per riding time
    start_s, latest_s : local time of setting off and of latest arrival, by day, the last one
        repeated; latest inf where not known
    forced : (day from 0, place) pairs the guide asks for
    """

    ride_s: FloatArray
    price: FloatArray
    day_s: float
    share_of_stops: float
    start_s: FloatArray
    latest_s: FloatArray
    forced: tuple[tuple[int, int], ...] = ()

    def __post_init__(self) -> None:
        freeze_fields(self, ("ride_s", "price"), len(self.ride_s))
        freeze_fields(self, ("start_s", "latest_s"), len(self.start_s))


def choose_nights(problem: NightProblem) -> tuple[int, ...]:
    """Ends of the days in order, the ride's end included.

    Over-long days, late arrivals and nights without a bed are priced, not forbidden, so there
    is always an answer; it uses the fewest days that keep the limits where they can be kept.
    """
    n = len(problem.ride_s)
    forced = dict(problem.forced)
    most = max(_days_needed(problem), max(forced, default=-1) + 2)
    cost = np.full(n, np.inf)
    cost[0] = 0.0
    best_end, best_day = np.inf, 0
    before: list[np.ndarray[tuple[int], np.dtype[np.int64]]] = []
    for day in range(most):
        ways = cost[:, None] + _day_price(problem, day)
        if day in forced:
            keep = np.zeros(n, dtype=bool)
            keep[forced[day]] = True
            ways[:, ~keep] = np.inf
        came = np.argmin(ways, axis=0)
        cost = ways[came, np.arange(n)]
        before.append(came)
        # The end may not be reached before the last night the guide asks for.
        if day >= max(forced, default=-1) and cost[-1] < best_end:
            best_end, best_day = float(cost[-1]), day
        cost = cost.copy()
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


def _day_price(problem: NightProblem, day: int) -> FloatArray:
    """Price of riding from each place to each later one on one day, shape (n, n)."""
    ride = problem.ride_s[None, :] - problem.ride_s[:, None]
    share = ride / problem.day_s
    over = np.maximum(share - 1.0, 0.0)
    i = min(day, len(problem.start_s) - 1)
    end_s = problem.start_s[i] + ride * (1.0 + problem.share_of_stops)
    late_h = np.maximum(end_s - problem.latest_s[i], 0.0) / 3600.0
    price = _PER_DAY + _EVEN * share**2
    price += np.where(over > 1e-9, _LONG + _LONG_PER_SHARE * over, 0.0)
    price += np.where(late_h > 1e-9, _LATE + _LATE_PER_H * late_h, 0.0)
    bed = problem.price.copy()
    bed[-1] = 0.0
    price = price + bed[None, :]
    price[np.tril_indices(len(bed))] = np.inf  # only onwards
    return price
