"""What help a ride has: farthest points, remote runs, help by bike class."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from terrain.stages.help.classes import help_for_class
from terrain.stages.help.fields import weak_sources
from terrain.stages.help.found import (
    HelpSearch,
    beyond_limits,
    farthest,
    find_help,
    number,
    odd_on,
    ref,
    steps_of,
)
from terrain.stages.help.way import ToPlaces
from terrain.stages.help.words import help_words
from terrain.stages.places.refs import helper_ref, place_ref
from terrain.values.arrays import BoolArray, even_rows
from terrain.values.exits import Exit
from terrain.values.fleet import Fleet
from terrain.values.help import (
    HELP_KINDS,
    WEAK_HELP,
    Help,
    HelpAlong,
    Helper,
    HelpFields,
    HelpKind,
    Remote,
    Weaker,
    WeakHelp,
)
from terrain.values.ride import Ride
from terrain.values.views import PlacesView, RoadsView

_SAME_RUN_M = 1_000.0  # remote runs closer than this are one (common practice, no source)
_MOST_ALONG = 600  # positions kept for drawing


def judge_help(
    ride: Ride,
    roads: RoadsView,
    places: PlacesView,
    fields: HelpFields,
    *,
    fleet: Fleet,
    helpers: Sequence[Helper] = (),
    exits: tuple[Exit, ...] = (),
) -> Help:
    """Help by road along a ride: mechanic, fuel, water, hospital, and towns as inferred help.

    helpers : the operator's own partners; of equal distance they win over mapped places
    exits : the ways out, found beforehand
    Distances are over mapped roads of the region only; times are those the fields were made
    with. What cannot be reached on mapped roads is None, which says nothing of places the map
    does not hold.
    """
    found = find_help(ride, roads, places, fields, tuple(helpers), fleet)
    rules = fleet.rules
    beyond = beyond_limits(found.kinds[HelpKind.MECHANIC], found.samples, rules)
    kinds = tuple((kind, farthest(found, found.kinds[kind], kind)) for kind in HELP_KINDS)
    weaker = WeakerHelp(found)
    remote, weak_farthest = _remote_runs(found, weaker, beyond), weaker.farthest()
    return Help(
        kinds=kinds,
        weaker=weak_farthest,
        remote=remote,
        exits=exits,
        classes=tuple(help_for_class(found, bike, rules) for bike in fleet.classes),
        along=_along(found),
        helpers=tuple(helper_ref(helper) for helper in helpers),
        remote_limit_m=rules.remote_m,
        remote_limit_s=rules.remote_s,
        words=help_words(found, dict(kinds), remote, weak_farthest, fleet),
    )


def _remote_runs(found: HelpSearch, weaker: WeakerHelp, beyond: BoolArray) -> tuple[Remote, ...]:
    samples = found.samples
    steps = np.flatnonzero(steps_of(samples, beyond) & (samples.step_m > 0))
    runs: list[list[int]] = []
    for i in steps.tolist():
        if runs and samples.at_m[i] - samples.at_m[runs[-1][1]] <= _SAME_RUN_M:
            runs[-1][1] = i + 1
        else:
            runs.append([i, i + 1])
    return tuple(_remote(found, weaker, a, b) for a, b in runs)


def _remote(found: HelpSearch, weaker: WeakerHelp, first: int, last: int) -> Remote:
    mechanic, town = found.kinds[HelpKind.MECHANIC], found.mapped[HelpKind.TOWN]
    span = slice(first, last + 1)
    cost = np.where(np.isnan(mechanic.time.cost[span]), np.inf, mechanic.time.cost[span])
    cost = np.where(found.samples.on_land[span], cost, -1.0)
    # Where no mechanic is in reach the town is the help there is: worst is farthest from it.
    town_s = np.where(np.isnan(town.time.cost[span]), np.inf, town.time.cost[span])
    worst = first + int(np.argmax(np.where(cost == cost.max(), town_s, -1.0)))
    nearest_s, nearest_m = number(mechanic.time.cost[worst]), number(mechanic.dist.cost[worst])
    ferry_m, restricted = odd_on(found, mechanic, HelpKind.MECHANIC, worst)
    town_ferry_m, _ = odd_on(found, town, HelpKind.TOWN, worst)
    usual_m = float(found.fields.usual_m[HELP_KINDS.index(HelpKind.MECHANIC)])
    return Remote(
        from_m=float(found.samples.at_m[first]),
        to_m=float(found.samples.at_m[last]),
        worst_at_m=float(found.samples.at_m[worst]),
        nearest_m=nearest_m,
        nearest_s=nearest_s,
        nearest=ref(found, int(mechanic.time.source[worst]), HelpKind.MECHANIC),
        back_s=number(mechanic.back.cost[worst]),
        town=ref(found, int(town.time.source[worst]), HelpKind.TOWN),
        town_m=number(town.dist.cost[worst]),
        town_s=number(town.time.cost[worst]),
        ferry_m=ferry_m,
        town_ferry_m=town_ferry_m,
        restricted=restricted,
        weaker=weaker.around(worst, nearest_s),
        unusual=usual_m < (_pushed_m(found, worst) if nearest_m is None else nearest_m),
    )


def _pushed_m(found: HelpSearch, i: int) -> float:
    """From sample i along the ride, against one-ways too, to the nearest from which a mechanic can
    be reached, and on to it [m]; inf if there is none. A bike is pushed back up a short street."""
    at_m, dist = found.samples.at_m, found.kinds[HelpKind.MECHANIC].dist.cost
    if np.isnan(dist).all():
        return float("inf")
    return float(np.nanmin(np.abs(at_m - at_m[i]) + dist))


def _along(found: HelpSearch) -> HelpAlong:
    samples, kinds = found.samples, found.kinds
    mechanic, town = kinds[HelpKind.MECHANIC], found.mapped[HelpKind.TOWN]
    # The farthest is drawn as it is told.
    costs = (mechanic.time.cost, town.time.cost)
    farthest = [int(np.nanargmax(cost)) for cost in costs if not np.isnan(cost).all()]
    keep = np.unique([*even_rows(len(samples.at_m), _MOST_ALONG), *farthest])
    return HelpAlong(
        at_m=samples.at_m[keep],
        mechanic_m=mechanic.dist.cost[keep],
        mechanic_s=mechanic.time.cost[keep],
        back_s=mechanic.back.cost[keep],
        town_m=town.dist.cost[keep],
        town_s=town.time.cost[keep],
        fuel_m=kinds[HelpKind.FUEL].dist.cost[keep],
        water_m=kinds[HelpKind.WATER].dist.cost[keep],
        hospital_s=kinds[HelpKind.HOSPITAL].time.cost[keep],
    )


class WeakerHelp:
    """The nearest place of each kind of weaker help, from any sample of a ride."""

    def __init__(self, found: HelpSearch) -> None:
        self.found = found
        weaker = found.fields.weaker_s
        ridden = weak_sources(found.places, among=found.ridden[found.places.edge])
        self.to = {
            kind: ToPlaces(
                found.here, found.fields, found.places,
                cost=weaker.cost[row], place=weaker.place[row], ridden=ridden[row],
            )
            for row, kind in enumerate(WEAK_HELP)
        }  # fmt: skip

    def farthest(self) -> tuple[Weaker, ...]:
        """Of each kind in reach, the nearest at the point farthest from it by time."""
        made = []
        for kind, to in self.to.items():
            if not np.isnan(to.time_s).all():
                made += self._near(kind, int(np.nanargmax(to.time_s)))
        return tuple(made)

    def around(self, i: int, within_s: float | None) -> tuple[Weaker, ...]:
        """Of each kind the nearest to sample i, quickest first, if quicker than `within_s`."""
        near = [item for kind in WEAK_HELP for item in self._near(kind, i)]
        near = [item for item in near if within_s is None or item.time_s < within_s]
        return tuple(sorted(near, key=lambda item: item.time_s))

    def _near(self, kind: WeakHelp, i: int) -> list[Weaker]:
        way = self.to[kind].way(i)
        if way is None:
            return []
        found = self.found
        place = place_ref(found.places, way.row, kind=kind.value, nearby=found.nearby)
        return [
            Weaker(
                kind=kind, at_m=float(found.samples.at_m[i]), place=place, time_s=way.time_s,
                length_m=way.length_m, ferry_m=way.ferry_m, restricted=way.restricted,
            )
        ]  # fmt: skip
