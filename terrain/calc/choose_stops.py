"""The best set of stops along a ride, by dynamic programming over candidates.

A state is the last stop, the last fill of the tank, and whether today's lunch is had. Every stop
ends the strain since the last one; only a fill ends the thirst of the tank. Limits may be broken
at a price far above any other cost, so there is always an answer and it breaks as little as can
be.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from terrain.values.arrays import BoolArray, FloatArray, IntArray, freeze_fields

# Costs are minutes of a rider's time; these outweigh any sum of them.
SHORT_OF_FUEL = 1e6
SHORT_PER_L4 = 1e6  # by the fourth power: many little canisters before one great one
OVER_REST = 1e5
_EVEN = 6.0  # price of a leg as long as allowed, falling with the square: even legs are better
_WIDEST = 1.5  # legs looked at, as a multiple of the limit


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StopProblem:
    """Candidates in riding order; the first is the start, the last the end. Shape (n,) each.

    strain : rest load from the start as a multiple of the most allowed between stops
    litres : fuel burnt from the start; off_l : fuel to ride from the route to the place
    fuel : there is fuel; price : of stopping there [min]; must : it has to be stopped at
    lunch : extra price of having lunch there [min], inf where the hour is wrong
    night : a day ends there; no_lunch : price of ending that day, or the ride, without lunch
    usable_l : what the tank gives with the reserve kept; it is full at the start
    """

    strain: FloatArray
    litres: FloatArray
    off_l: FloatArray
    fuel: BoolArray
    price: FloatArray
    must: BoolArray
    lunch: FloatArray
    night: BoolArray
    no_lunch: FloatArray
    usable_l: float

    def __post_init__(self) -> None:
        names = (
            "strain", "litres", "off_l", "fuel", "price", "must", "lunch", "night", "no_lunch",
        )  # fmt: skip
        freeze_fields(self, names, len(self.strain))


class Chosen(NamedTuple):
    """Candidates stopped at in riding order, start and end included, and where lunch is had."""

    stops: tuple[int, ...]
    lunches: tuple[int, ...]
    cost: float


def fuel_price(short_l: FloatArray) -> FloatArray:
    """Price of arriving at a pump with less than the reserve, by litres short."""
    return np.where(short_l > 1e-9, SHORT_OF_FUEL + SHORT_PER_L4 * short_l**4, 0.0)


def leg_price(strain: FloatArray) -> FloatArray:
    """Price of a leg by its strain."""
    return _EVEN * np.minimum(strain, 1.0) ** 2 + np.where(
        strain > 1.0 + 1e-9, OVER_REST * strain, 0.0
    )


def choose_stops(problem: StopProblem) -> Chosen:
    """The cheapest stops that reach the end.

    Time grows with candidates within a leg times pumps times candidates.
    """
    table = _Table(problem)
    for j in range(1, len(problem.strain)):
        table.fill(j)
    return table.read()


class _Table:
    """cost[j, f, b] : best way to stand at j, last filled at pump f, lunch had today or not."""

    def __init__(self, problem: StopProblem) -> None:
        n = len(problem.strain)
        self.problem = problem
        is_pump = problem.fuel.copy()
        is_pump[0] = True  # the tank is full at the start
        is_pump[-1] = False
        self.pumps: IntArray = np.flatnonzero(is_pump)
        self.pump_of = np.full(n, -1, dtype=np.int64)
        self.pump_of[self.pumps] = np.arange(len(self.pumps))
        shape = (n, len(self.pumps), 2)
        self.cost = np.full(shape, np.inf)
        self.cost[0, 0, 0] = 0.0
        # Where each state came from: the stop before, its pump and its lunch.
        self.before = np.full((*shape, 3), -1, dtype=np.int32)
        self.lunch_here = np.zeros(shape, dtype=bool)
        self.last_must = 0

    def fill(self, j: int) -> None:
        """All states of candidate j."""
        p = self.problem
        first = self._first_before(j)
        leg = leg_price(p.strain[j] - p.strain[first:j])
        ways = self.cost[first:j] + leg[:, None, None]
        came = np.argmin(ways, axis=0)
        best = np.take_along_axis(ways, came[None], axis=0)[0] + p.price[j]
        came = came + first
        if j == len(p.strain) - 1:
            self._end(j, best, came)
            return
        pump = int(self.pump_of[j])
        if pump < 0:
            rows = np.arange(len(self.pumps))
            self._stand(j, rows, best, came, np.column_stack((rows, rows)))
        else:
            short = p.litres[j] - p.litres[self.pumps] + p.off_l[j] + p.off_l[self.pumps]
            filled = best + fuel_price(short - p.usable_l)[:, None]
            last = np.argmin(filled, axis=0)  # the best pump to come from, by lunch
            pick = (last, np.arange(2))
            self._stand(j, np.array([pump]), filled[pick][None], came[pick][None], last[None])
        if p.must[j]:
            self.last_must = j

    def _first_before(self, j: int) -> int:
        """The earliest stop a leg to j may come from."""
        p = self.problem
        near = int(np.searchsorted(p.strain[:j], p.strain[j] - _WIDEST))
        return max(min(near, j - 1), self.last_must)

    def _stand(
        self, j: int, rows: IntArray, cost: FloatArray, came: IntArray, pump: IntArray
    ) -> None:
        """Stand at j, with or without having lunch here; a night begins a new day.

        rows : pumps last filled at; cost, came, pump : of arriving, by lunch had, (rows, 2)
        """
        p = self.problem
        eaten = cost[:, 0] + p.lunch[j]
        here = eaten < cost[:, 1]
        fed = np.where(here, eaten, cost[:, 1])
        side = np.where(here, 0, 1)  # column one comes from
        k = np.arange(len(rows))
        hungry = cost[:, 0] + (p.no_lunch[j] if p.night[j] else 0.0)
        if p.night[j]:
            take_fed = fed < hungry
            self.cost[j, rows, 0] = np.where(take_fed, fed, hungry)
            self.lunch_here[j, rows, 0] = take_fed & here
            column = np.where(take_fed, side, 0)
            self.before[j, rows, 0] = np.column_stack((came[k, column], pump[k, column], column))
            return
        self.cost[j, rows, 0] = hungry
        self.before[j, rows, 0] = np.column_stack((came[:, 0], pump[:, 0], np.zeros_like(k)))
        self.cost[j, rows, 1] = fed
        self.lunch_here[j, rows, 1] = here
        self.before[j, rows, 1] = np.column_stack((came[k, side], pump[k, side], side))

    def _end(self, j: int, best: FloatArray, came: IntArray) -> None:
        p = self.problem
        short = p.litres[j] - p.litres[self.pumps] + p.off_l[j] + p.off_l[self.pumps]
        total = best + fuel_price(short - p.usable_l)[:, None]
        total[:, 0] += p.no_lunch[j]
        f, b = np.unravel_index(int(np.argmin(total)), total.shape)
        self.cost[j, 0, 0] = total[f, b]
        self.before[j, 0, 0] = (came[f, b], f, b)

    def read(self) -> Chosen:
        """Back from the end."""
        n = len(self.problem.strain)
        stops, lunches, state = [n - 1], [], (n - 1, 0, 0)
        while state[0] > 0:
            came = tuple(int(x) for x in self.before[state])
            state = (came[0], came[1], came[2])
            stops.append(state[0])
            if self.lunch_here[state]:
                lunches.append(state[0])
        return Chosen(tuple(stops[::-1]), tuple(lunches[::-1]), float(self.cost[n - 1, 0, 0]))
