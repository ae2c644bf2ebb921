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

from terrain.calc.kernels import Index, inner, kernel, plain
from terrain.values.arrays import BoolArray, Columns, FloatArray, Int32Array, IntArray

# Costs are minutes of a rider's time; these outweigh any sum of them.
# All common practice, no source.
SHORT_OF_FUEL = 1e6
SHORT_PER_L4 = 1e6  # by the fourth power: many little canisters before one great one
OVER_REST = 1e5
_EVEN = 6.0  # price of a leg as long as allowed, falling with the square: even legs are better
_WIDEST = 1.5  # legs looked at, as a multiple of the limit


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StopProblem(Columns):
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


class Chosen(NamedTuple):
    """Candidates stopped at in riding order, start and end included, and where lunch is had."""

    stops: tuple[int, ...]
    lunches: tuple[int, ...]
    cost: float


@kernel
def fuel_price(short_l: float) -> float:
    """Price of arriving at a pump with less than the reserve, by litres short."""
    return SHORT_OF_FUEL + SHORT_PER_L4 * short_l**4 if short_l > 1e-9 else 0.0


@kernel
def leg_price(strain: float) -> float:
    """Price of a leg by its strain."""
    even = _EVEN * min(strain, 1.0) ** 2
    return even + OVER_REST * strain if strain > 1.0 + 1e-9 else even


def choose_stops(problem: StopProblem) -> Chosen:
    """The cheapest stops that reach the end.

    Time grows with candidates within a leg times pumps times candidates.
    """
    n = len(problem.strain)
    is_pump = problem.fuel.copy()
    is_pump[0] = True  # the tank is full at the start
    is_pump[-1] = False
    pumps = np.flatnonzero(is_pump)
    table = _table(n, len(pumps))
    _fill(
        _Rows(
            plain(problem.strain),
            plain(problem.litres),
            plain(problem.off_l),
            plain(problem.price),
            plain(problem.must, np.bool_),
            plain(problem.lunch),
            plain(problem.night, np.bool_),
            plain(problem.no_lunch),
            float(problem.usable_l),
        ),
        plain(pumps, np.int64),
        table,
    )
    return _read(table, n)


class _Rows(NamedTuple):
    """A StopProblem as the kernels take it."""

    strain: FloatArray
    litres: FloatArray
    off_l: FloatArray
    price: FloatArray
    must: BoolArray
    lunch: FloatArray
    night: BoolArray
    no_lunch: FloatArray
    usable_l: float


class _Table(NamedTuple):
    """cost[j, f, b] : best way to stand at j, last filled at pump f, lunch had today or not.

    before : where each state came from: the stop before, its pump and its lunch; lunch_here :
    lunch is had at j
    """

    cost: FloatArray
    before: Int32Array
    lunch_here: BoolArray


def _table(n: int, n_pumps: int) -> _Table:
    shape = (n, n_pumps, 2)
    cost = np.full(shape, np.inf)
    cost[0, 0, 0] = 0.0
    return _Table(cost, np.full((*shape, 3), -1, dtype=np.int32), np.zeros(shape, dtype=bool))


@kernel
def _fill(rows: _Rows, pumps: IntArray, table: _Table) -> None:
    """All states of all candidates, in riding order. pumps : candidates with fuel, the start too"""
    n, no, yes = np.int64(len(rows.strain)), np.int64(0), np.int64(1)
    best, came = np.empty((len(pumps), 2)), np.empty((len(pumps), 2), np.int64)
    first: Index = no
    last_must: Index = no
    passed: Index = no  # pumps passed: no other can have been filled at
    for j in range(1, n):
        # The earliest stop a leg to j may come from.
        while rows.strain[first] < rows.strain[j] - _WIDEST:
            first += 1
        while passed < len(pumps) and pumps[passed] < j:
            passed += 1
        start = max(min(first, j - 1), last_must)
        _come(rows, table.cost, start, j, best[:passed], came)
        _come_far(rows, table.cost, pumps[:passed], last_must, start, j, best[:passed], came)
        if j == n - 1:
            f, g = _fill_up(rows, pumps, j, best[:passed], rows.no_lunch[j])
            if best[f, 0] <= best[g, 1]:
                _keep(table, j, no, no, best[f, 0], (came[f, 0], f, no))
            else:
                _keep(table, j, no, no, best[g, 1], (came[g, 1], g, yes))
        elif passed < len(pumps) and pumps[passed] == j:
            f, g = _fill_up(rows, pumps, j, best[:passed], 0.0)
            arrive = best[f, 0], best[g, 1]
            _stand(rows, table, j, passed, arrive, (came[f, 0], came[g, 1]), (f, g))
        else:
            for f in range(passed):
                arrive = best[f, 0], best[f, 1]
                _stand(rows, table, j, f, arrive, (came[f, 0], came[f, 1]), (f, f))
        if rows.must[j]:
            last_must = j


@inner
def _come(
    rows: _Rows, cost: FloatArray, first: Index, j: Index, best: FloatArray, came: IntArray
) -> None:
    """The cheapest way to come to j from a stop from `first` on, by pump and lunch."""
    for f in range(len(best)):
        for b in range(2):
            best[f, b], came[f, b] = np.inf, first
    for i in range(first, j):
        leg = leg_price(rows.strain[j] - rows.strain[i]) + rows.price[j]
        for f in range(len(best)):
            for b in range(2):
                if cost[i, f, b] + leg < best[f, b]:
                    best[f, b] = cost[i, f, b] + leg
                    came[f, b] = i


@inner
def _come_far(
    rows: _Rows, cost: FloatArray, pumps: IntArray, last_must: Index, first: Index, j: Index,
    best: FloatArray, came: IntArray,
) -> None:  # fmt: skip
    """Arrive at j from a full tank, or from where one has to stop, before `first`: to ride too far
    without a rest is better than to run dry.
    """
    for q in range(len(pumps)):
        i = pumps[q]
        if last_must <= i < first:
            leg = leg_price(rows.strain[j] - rows.strain[i]) + rows.price[j]
            for b in range(2):
                if cost[i, q, b] + leg < best[q, b]:
                    best[q, b] = cost[i, q, b] + leg
                    came[q, b] = i
    if last_must < first:
        leg = leg_price(rows.strain[j] - rows.strain[last_must]) + rows.price[j]
        for f in range(len(best)):
            for b in range(2):
                if cost[last_must, f, b] + leg < best[f, b]:
                    best[f, b] = cost[last_must, f, b] + leg
                    came[f, b] = last_must


@inner
def _fill_up(
    rows: _Rows, pumps: IntArray, j: Index, best: FloatArray, hungry: float
) -> tuple[int, int]:
    """Add what it costs to come that far on one tank, and to come `hungry`; the best pumps last
    filled at, without lunch and with.
    """
    f_hungry, f_fed = 0, 0
    for f in range(len(best)):
        pump = pumps[f]
        short = rows.litres[j] - rows.litres[pump] + rows.off_l[j] + rows.off_l[pump]
        dry = fuel_price(short - rows.usable_l)
        best[f, 0] += dry + hungry
        best[f, 1] += dry
        f_hungry = f if best[f, 0] < best[f_hungry, 0] else f_hungry
        f_fed = f if best[f, 1] < best[f_fed, 1] else f_fed
    return f_hungry, f_fed


@inner
def _stand(
    rows: _Rows, table: _Table, j: Index, f: Index, arrive: tuple[float, float],
    came: tuple[int, int], pump: tuple[int, int],
) -> None:  # fmt: skip
    """Stand at j, with or without having lunch here; a night begins a new day.

    f : pump last filled at; arrive, came, pump : cost of arriving, and from where, by lunch had
    """
    no, yes = np.int64(0), np.int64(1)
    eaten = arrive[0] + rows.lunch[j]
    here = eaten < arrive[1]
    fed, side = (eaten, no) if here else (arrive[1], yes)
    if rows.night[j]:
        hungry = arrive[0] + rows.no_lunch[j]
        take_fed = fed < hungry
        column = side if take_fed else no
        least = fed if take_fed else hungry
        _keep(table, j, f, no, least, (came[column], pump[column], column))
        table.lunch_here[j, f, 0] = take_fed and here
        return
    _keep(table, j, f, no, arrive[0], (came[0], pump[0], no))
    _keep(table, j, f, yes, fed, (came[side], pump[side], side))
    table.lunch_here[j, f, 1] = here


@inner
def _keep(
    table: _Table, j: Index, f: Index, b: Index, cost: float, before: tuple[Index, Index, Index]
) -> None:
    """Keep a state's cost and where it came from, number by number: a row set whole takes a fifth
    of the time in which all kernels are compiled.
    """
    table.cost[j, f, b] = cost
    for k in range(3):
        table.before[j, f, b, k] = before[k]


def _read(table: _Table, n: int) -> Chosen:
    """Back from the end."""
    stops, lunches, state = [n - 1], [], (n - 1, 0, 0)
    while state[0] > 0:
        came = tuple(int(x) for x in table.before[state])
        state = (came[0], came[1], came[2])
        stops.append(state[0])
        if table.lunch_here[state]:
            lunches.append(state[0])
    return Chosen(tuple(stops[::-1]), tuple(lunches[::-1]), float(table.cost[n - 1, 0, 0]))
