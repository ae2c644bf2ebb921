"""What help a ride has: farthest points, remote runs, help by bike class."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from terrain.stages.help.classes import help_for_class
from terrain.stages.help.found import (
    Found,
    beyond_limits,
    farthest,
    look,
    mends_all,
    number,
    ref,
    restricted_on,
    steps_of,
)
from terrain.stages.help.weaker import WeakerHelp
from terrain.stages.places.refs import helper_ref
from terrain.text.message import Message, message
from terrain.values.arrays import BoolArray
from terrain.values.exits import Exit
from terrain.values.fleet import Fleet
from terrain.values.help import (
    HELP_KINDS,
    HELPER_REACH_M,
    Farthest,
    Help,
    HelpAlong,
    Helper,
    HelperKind,
    HelpFields,
    HelpKind,
    Remote,
)
from terrain.values.ride import Ride
from terrain.values.views import PLACE_KINDS, PlaceKind, PlacesView, RoadsView

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
    found = look(ride, roads, places, fields, tuple(helpers), fleet)
    rules = fleet.rules
    beyond = beyond_limits(found.kinds[HelpKind.MECHANIC], found.samples, rules)
    kinds = tuple((kind, farthest(found, found.kinds[kind], kind)) for kind in HELP_KINDS)
    weaker = WeakerHelp(found)
    return Help(
        kinds=kinds,
        weaker=weaker.farthest(),
        remote=_remote_runs(found, weaker, beyond),
        exits=exits,
        classes=tuple(help_for_class(found, bike, rules) for bike in fleet.classes),
        along=_along(found),
        helpers=tuple(helper_ref(helper) for helper in helpers),
        remote_limit_m=rules.remote_m,
        remote_limit_s=rules.remote_s,
        words=_words(found, kinds, fleet),
    )


def _remote_runs(found: Found, weaker: WeakerHelp, beyond: BoolArray) -> tuple[Remote, ...]:
    samples = found.samples
    steps = np.flatnonzero(steps_of(samples, beyond) & (samples.step_m > 0))
    runs: list[list[int]] = []
    for i in steps.tolist():
        if runs and samples.at_m[i] - samples.at_m[runs[-1][1]] <= _SAME_RUN_M:
            runs[-1][1] = i + 1
        else:
            runs.append([i, i + 1])
    return tuple(_remote(found, weaker, a, b) for a, b in runs)


def _remote(found: Found, weaker: WeakerHelp, first: int, last: int) -> Remote:
    mechanic, town = found.kinds[HelpKind.MECHANIC], found.mapped[HelpKind.TOWN]
    span = slice(first, last + 1)
    cost = np.where(np.isnan(mechanic.time.cost[span]), np.inf, mechanic.time.cost[span])
    cost = np.where(found.samples.on_land[span], cost, -1.0)
    worst = first + int(np.argmax(cost))
    nearest_s, nearest_m = number(mechanic.time.cost[worst]), number(mechanic.dist.cost[worst])
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
        restricted=restricted_on(found, mechanic, HelpKind.MECHANIC, worst),
        weaker=weaker.around(worst, nearest_s),
        unusual=usual_m < (np.inf if nearest_m is None else nearest_m),
    )


def _along(found: Found) -> HelpAlong:
    samples, kinds = found.samples, found.kinds
    n = len(samples.at_m)
    keep = np.unique(np.linspace(0, n - 1, min(n, _MOST_ALONG)).round().astype(np.int64))
    mechanic, town = kinds[HelpKind.MECHANIC], found.mapped[HelpKind.TOWN]
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


def _words(
    found: Found, farthest_of: tuple[tuple[HelpKind, Farthest], ...], fleet: Fleet
) -> tuple[str, ...]:
    words: list[str] = []
    is_mechanic = found.places.kind == PLACE_KINDS.index(PlaceKind.MECHANIC)
    count = int((is_mechanic & (found.places.edge >= 0)).sum())
    if not count:
        words.append(
            message(
                "The map data of this region hold no motorcycle workshop. That is not the same as "
                "none: workshops are badly mapped in many countries. Ask before you go."
            )
        )
    elif np.isnan(found.mapped[HelpKind.MECHANIC].time.cost).all():
        words.append(
            message(
                "No motorcycle workshop in the map data can be reached by road from this ride. "
                "That is not the same as none."
            )
        )
    else:
        words.append(
            message(
                "The map data of this region hold one motorcycle workshop; there may be others, "
                "and it may have closed.",
                "The map data of this region hold {n} motorcycle workshops; there may be others, "
                "and these may have closed.",
                n=count,
            )
        )
    words += _own_words(found, fleet)
    mechanic = dict(farthest_of)[HelpKind.MECHANIC]
    if mechanic.farthest_m is not None and (mechanic.outside_m or 0.0) < mechanic.farthest_m:
        words.append(
            message("The edge of the map is nearer than the help: there may be some beyond it.")
        )
    words.append(
        message(
            "Towns are likely help for common bikes only: inferred from their size, never mapped."
        )
    )
    return tuple(words)


def _own_words(found: Found, fleet: Fleet) -> list[Message]:
    """What the operator's own partners count for."""
    words = []
    own = [helper for helper in found.helpers if helper.kind is HelperKind.MECHANIC]
    some = sum(not mends_all(helper, fleet) for helper in own)
    if len(own) > some:
        words.append(
            message(
                "One of the operator's own partners counts as a mechanic.",
                "{n} of the operator's own partners count as mechanics.",
                n=len(own) - some,
            )
        )
    if some:
        words.append(
            message(
                "One of the operator's own partners mends some classes only, and counts for "
                "these alone.",
                "{n} of the operator's own partners mend some classes only, and count for these "
                "alone.",
                n=some,
            )
        )
    for i, helper in enumerate(found.helpers):
        if found.snapped.edge[i] < 0:
            place = f" ({helper.where})" if helper.where else ""
            words.append(
                message(
                    "{helper}{place} lies more than {limit_m} from any road of the region and is "
                    "left out of distances.",
                    helper=helper.name,
                    place=place,
                    limit_m=HELPER_REACH_M,
                )
            )
    return words
