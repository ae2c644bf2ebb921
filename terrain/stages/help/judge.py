"""What help a ride has: farthest points, remote runs, help by bike class."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from terrain.calc.along import Samples, sample_ride
from terrain.calc.geodesy import metres_per_degree
from terrain.calc.places import helper_ref, place_ref
from terrain.calc.snap import Snapped, snap_points
from terrain.stages.help.fields import help_sources
from terrain.stages.help.lanes import (
    NOBODY,
    HelperNets,
    Lanes,
    helper_code,
    mapped_lanes,
    nearer,
    no_lanes,
)
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.exits import Exit
from terrain.values.fleet import BikeClass, Fleet, FleetRules, Parts
from terrain.values.help import (
    HELP_KINDS,
    ClassHelp,
    Farthest,
    Help,
    HelpAlong,
    HelpBasis,
    Helper,
    HelperKind,
    HelpFields,
    HelpKind,
    PlaceRef,
    Remote,
    StretchHelp,
)
from terrain.values.ride import Ride
from terrain.values.views import PlacesView, RoadsView

HELPER_REACH_M = 1_000.0  # a partner farther from any mapped road is not found by road
_SAME_RUN_M = 1_000.0  # remote runs closer than this are one (common practice, no source)
_MOST_ALONG = 600  # positions kept for drawing


class _Found(NamedTuple):
    """All help along one ride, before it is put in words."""

    ride: Ride
    roads: RoadsView
    places: PlacesView
    samples: Samples
    mapped: dict[HelpKind, Lanes]
    kinds: dict[HelpKind, Lanes]  # with the operator's helpers
    helpers: tuple[Helper, ...]
    snapped: Snapped
    nets: HelperNets | None


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
    found = _look(ride, roads, places, fields, tuple(helpers), fleet.rules.town_population)
    rules = fleet.rules
    mechanic, town = found.kinds[HelpKind.MECHANIC], found.mapped[HelpKind.TOWN]
    beyond = _beyond(mechanic, found.samples, rules)
    return Help(
        kinds=tuple((kind, _farthest(found, found.kinds[kind], kind)) for kind in HELP_KINDS),
        remote=_remote_runs(found, mechanic, town, beyond),
        exits=exits,
        classes=tuple(_for_class(found, bike, rules) for bike in fleet.classes),
        stretches=_by_stretch(found, mechanic, town, beyond),
        along=_along(found),
        helpers=tuple(helper_ref(helper) for helper in helpers),
        remote_limit_m=rules.remote_m,
        remote_limit_s=rules.remote_s,
        words=_words(found, fields),
    )


def _look(
    ride: Ride,
    roads: RoadsView,
    places: PlacesView,
    fields: HelpFields,
    helpers: tuple[Helper, ...],
    town_population: float,
) -> _Found:
    samples = sample_ride(ride, roads)
    sources = help_sources(places, fields.town_population)
    mapped = {
        kind: mapped_lanes(samples, roads, fields, places, kind, rows)
        for kind, rows in zip(HELP_KINDS, sources, strict=True)
    }
    snapped = snap_points(
        np.array([h.lon for h in helpers]),
        np.array([h.lat for h in helpers]),
        roads,
        fields.edge_open,
        within_m=HELPER_REACH_M,
    )
    nets = (
        HelperNets(roads, fields) if helpers or town_population != fields.town_population else None
    )
    if nets is not None and town_population != fields.town_population:
        mapped[HelpKind.TOWN] = nets.town_lanes(samples, places, town_population)
    kinds = dict(mapped)
    for kind in HELP_KINDS:
        own = tuple(i for i, h in enumerate(helpers) if h.kind.value == kind.value)
        if own and nets is not None:
            kinds[kind] = nearer(nets.lanes(samples, snapped, own), mapped[kind])
    return _Found(ride, roads, places, samples, mapped, kinds, helpers, snapped, nets)


def _ref(found: _Found, source: int, kind: HelpKind) -> PlaceRef | None:
    if source == NOBODY:
        return None
    if source < NOBODY:
        return helper_ref(found.helpers[helper_code(source)])
    basis = HelpBasis.INFERRED if kind is HelpKind.TOWN else HelpBasis.MAPPED
    word = None if kind is HelpKind.TOWN else kind.value
    return place_ref(found.places, source, basis=basis, kind=word)


def _number(value: float) -> float | None:
    return None if np.isnan(value) else float(value)


def _farthest(found: _Found, lanes: Lanes, kind: HelpKind) -> Farthest:
    samples = found.samples
    unknown = np.isnan(lanes.time.cost) & samples.on_land
    unknown_m = _length(samples, unknown)
    if np.isnan(lanes.time.cost).all():
        return Farthest(
            farthest_m=None, farthest_at_m=None, farthest_s=None, farthest_s_at_m=None,
            place=None, unknown_m=unknown_m, outside_m=None, back_s=None,
        )  # fmt: skip
    by_m, by_s = int(np.nanargmax(lanes.dist.cost)), int(np.nanargmax(lanes.time.cost))
    return Farthest(
        farthest_m=float(lanes.dist.cost[by_m]),
        farthest_at_m=float(samples.at_m[by_m]),
        farthest_s=float(lanes.time.cost[by_s]),
        farthest_s_at_m=float(samples.at_m[by_s]),
        place=_ref(found, int(lanes.time.source[by_s]), kind),
        unknown_m=unknown_m,
        outside_m=_to_map_edge_m(found, float(samples.at_m[by_m])),
        back_s=_number(lanes.back.cost[by_s]),
    )


def _to_map_edge_m(found: _Found, at_m: float) -> float:
    """Distance as the crow flies to the box of the region's roads [m]."""
    lon, lat = found.ride.lonlat(at_m)
    east_m, north_m = metres_per_degree(lat)
    roads = found.roads
    west, east = float(np.min(roads.node_lon)), float(np.max(roads.node_lon))
    south, north = float(np.min(roads.node_lat)), float(np.max(roads.node_lat))
    across = min(lon - west, east - lon) * east_m
    return max(min(across, min(lat - south, north - lat) * north_m), 0.0)


def _beyond(lanes: Lanes, samples: Samples, rules: FleetRules) -> BoolArray:
    """Samples on land beyond the operator's limits, or from which no help is known."""
    known = ~np.isnan(lanes.time.cost)
    near = (lanes.dist.cost <= rules.remote_m) & (lanes.time.cost <= rules.remote_s)
    return samples.on_land & ~(known & near)


def _steps(samples: Samples, mask: BoolArray) -> BoolArray:
    """Steps between samples of which either end is masked: rather too long than too short."""
    return (mask[1:] | mask[:-1]) & samples.on_land[1:] & samples.on_land[:-1]


def _length(samples: Samples, mask: BoolArray) -> float:
    return float(samples.step_m[_steps(samples, mask)].sum())


def _remote_runs(
    found: _Found, mechanic: Lanes, town: Lanes, beyond: BoolArray
) -> tuple[Remote, ...]:
    samples = found.samples
    steps = np.flatnonzero(_steps(samples, beyond) & (samples.step_m > 0))
    runs: list[list[int]] = []
    for i in steps.tolist():
        if runs and samples.at_m[i] - samples.at_m[runs[-1][1]] <= _SAME_RUN_M:
            runs[-1][1] = i + 1
        else:
            runs.append([i, i + 1])
    return tuple(_remote(found, mechanic, town, a, b) for a, b in runs)


def _remote(found: _Found, mechanic: Lanes, town: Lanes, first: int, last: int) -> Remote:
    span = slice(first, last + 1)
    cost = np.where(np.isnan(mechanic.time.cost[span]), np.inf, mechanic.time.cost[span])
    cost = np.where(found.samples.on_land[span], cost, -1.0)
    worst = first + int(np.argmax(cost))
    return Remote(
        from_m=float(found.samples.at_m[first]),
        to_m=float(found.samples.at_m[last]),
        worst_at_m=float(found.samples.at_m[worst]),
        nearest_m=_number(mechanic.dist.cost[worst]),
        nearest_s=_number(mechanic.time.cost[worst]),
        nearest=_ref(found, int(mechanic.time.source[worst]), HelpKind.MECHANIC),
        back_s=_number(mechanic.back.cost[worst]),
        town=_ref(found, int(town.time.source[worst]), HelpKind.TOWN),
        town_m=_number(town.dist.cost[worst]),
        town_s=_number(town.time.cost[worst]),
    )


def _for_class(found: _Found, bike: BikeClass, rules: FleetRules) -> ClassHelp:
    """Help that counts for one bike class, by how common its parts are."""
    able = tuple(
        i
        for i, helper in enumerate(found.helpers)
        if helper.kind is HelperKind.MECHANIC
        and (not helper.repairs or bike.name in helper.repairs)
    )
    lanes = no_lanes(found.samples)
    sources = [HelpBasis.OPERATOR]
    if able and found.nets is not None:
        lanes = found.nets.lanes(found.samples, found.snapped, able)
    if bike.parts is not Parts.RARE:
        lanes = nearer(lanes, found.mapped[HelpKind.MECHANIC])
        sources.append(HelpBasis.MAPPED)
    if bike.parts is Parts.COMMON:
        lanes = nearer(lanes, found.mapped[HelpKind.TOWN])
        sources.append(HelpBasis.INFERRED)
    far = _farthest(found, lanes, HelpKind.MECHANIC)
    place = far.place
    if far.farthest_s_at_m is not None and bike.parts is Parts.COMMON:
        place = _class_place(found, lanes)
    return ClassHelp(
        name=bike.name,
        parts=bike.parts,
        sources=tuple(sources),
        known=far.farthest_s is not None,
        farthest_m=far.farthest_m,
        farthest_s=far.farthest_s,
        farthest_at_m=far.farthest_s_at_m,
        remote_m=_length(found.samples, _beyond(lanes, found.samples, rules)),
        nearest=place,
        words=_class_words(bike, known=far.farthest_s is not None),
    )


def _class_place(found: _Found, lanes: Lanes) -> PlaceRef | None:
    """The place at the farthest point, told as a town or as a mechanic by what it is."""
    source = int(lanes.time.source[int(np.nanargmax(lanes.time.cost))])
    towns = help_sources(found.places, 0.0)[HELP_KINDS.index(HelpKind.TOWN)]
    is_town = source >= 0 and bool(np.isin(source, towns))
    return _ref(found, source, HelpKind.TOWN if is_town else HelpKind.MECHANIC)


def _class_words(bike: BikeClass, *, known: bool) -> str:
    if bike.parts is Parts.RARE:
        if known:
            return "Parts are rare: only the operator's own partners count as help."
        return (
            "Parts are rare and no partner of the operator who mends this class is known: "
            "take the whole ride as far from help."
        )
    if not known:
        return "No help for this class is in the map data, which is not the same as none."
    if bike.parts is Parts.COMMON:
        return "Parts are common: towns count as likely help (inferred, not mapped)."
    return "Mapped workshops and the operator's partners count as help."


def _by_stretch(
    found: _Found, mechanic: Lanes, town: Lanes, beyond: BoolArray
) -> tuple[StretchHelp, ...]:
    ride, at = found.ride, found.samples.at_m
    if not len(at):
        return ()
    first = np.searchsorted(at, ride.from_m, side="left")
    last = np.searchsorted(at, ride.to_m, side="right")
    first = np.minimum(first, len(at) - 1)
    last = np.maximum(last, first + 1)
    worst = {
        name: _worst(cost, found.samples.on_land, first, last)
        for name, cost in (
            ("mechanic_m", mechanic.dist.cost),
            ("mechanic_s", mechanic.time.cost),
            ("back_s", mechanic.back.cost),
            ("town_s", town.time.cost),
            ("remote", beyond.astype(np.float64)),
        )
    }
    return tuple(
        StretchHelp(
            from_m=float(ride.from_m[i]),
            to_m=float(ride.to_m[i]),
            mechanic_m=_number(worst["mechanic_m"][i]),
            mechanic_s=_number(worst["mechanic_s"][i]),
            back_s=_number(worst["back_s"][i]),
            town_s=_number(worst["town_s"][i]),
            remote=bool(worst["remote"][i] > 0),
        )
        for i in range(len(first))
    )


def _worst(cost: FloatArray, on_land: BoolArray, first: IntArray, last: IntArray) -> FloatArray:
    """The largest cost in each range of samples; NaN if any on land is NaN, or none is on land."""
    value = np.where(on_land, np.where(np.isnan(cost), np.inf, cost), -1.0)
    ends = np.column_stack((first, last)).ravel()
    padded = np.append(value, -1.0)
    peak = np.maximum.reduceat(padded, ends)[::2]
    return np.where((peak < 0) | ~np.isfinite(peak), np.nan, peak)


def _along(found: _Found) -> HelpAlong:
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


def _words(found: _Found, fields: HelpFields) -> tuple[str, ...]:
    words = []
    count = len(help_sources(found.places, fields.town_population)[0])
    own = sum(helper.kind is HelperKind.MECHANIC for helper in found.helpers)
    if not count:
        words.append(
            "The map data of this region holds no motorcycle workshop. That is not the same as "
            "none: workshops are badly mapped in many countries. Ask before you go."
        )
    elif np.isnan(found.mapped[HelpKind.MECHANIC].time.cost).all():
        words.append(
            "No motorcycle workshop in the map data can be reached by road from this ride. That "
            "is not the same as none."
        )
    else:
        words.append(
            f"The map data of this region holds {count} motorcycle workshop"
            f"{'' if count == 1 else 's'}; there may be others, and these may have closed."
        )
    if own:
        words.append(f"{own} of the operator's own partners counted as mechanics.")
    words.append(
        "Towns are likely help for common bikes only: inferred from their size, never mapped."
    )
    for i, helper in enumerate(found.helpers):
        if found.snapped.edge[i] < 0:
            place = f" ({helper.where})" if helper.where else ""
            words.append(
                f"{helper.name}{place} lies more than 1 km from any road of the region and is "
                "left out of distances."
            )
    return tuple(words)
