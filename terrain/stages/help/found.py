"""All help along one ride, before it is put in words."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.calc.along import Samples, sample_ride
from terrain.calc.geodesy import metres_per_degree
from terrain.calc.snap import Snapped, snap_points
from terrain.stages.help.fields import help_sources
from terrain.stages.help.lanes import (
    NOBODY,
    HelperNets,
    NearestByKind,
    RideOnRoads,
    helper_code,
    here_of,
    mapped_lanes,
    nearer,
)
from terrain.stages.help.way import ToPlaces, is_ferry
from terrain.stages.places.near import Nearby
from terrain.stages.places.refs import helper_ref, place_ref
from terrain.values.arrays import BoolArray
from terrain.values.fleet import Fleet, FleetRules
from terrain.values.help import (
    HELP_KINDS,
    HELPER_REACH_M,
    Farthest,
    HelpBasis,
    Helper,
    HelpFields,
    HelpKind,
    PlaceRef,
    RestrictedWay,
)
from terrain.values.ride import Ride
from terrain.values.views import PlacesView, RoadsView


class HelpSearch(NamedTuple):
    """All help along one ride, before it is put in words."""

    ride: Ride
    roads: RoadsView
    places: PlacesView
    samples: Samples
    mapped: dict[HelpKind, NearestByKind]
    kinds: dict[HelpKind, NearestByKind]  # with the operator's helpers
    helpers: tuple[Helper, ...]
    snapped: Snapped
    nets: HelperNets | None
    nearby: Nearby
    here: RideOnRoads
    fields: HelpFields
    ridden: BoolArray  # edges of the ride, and False for none, shape (e + 1,)
    has_odd: bool  # whether the region has ferries, or roads closed by a tag of access alone


def find_help(
    ride: Ride,
    roads: RoadsView,
    places: PlacesView,
    fields: HelpFields,
    helpers: tuple[Helper, ...],
    fleet: Fleet,
) -> HelpSearch:
    town_population = fleet.rules.town_population
    samples = sample_ride(ride, roads)
    here = here_of(samples, roads, fields)
    # A place on a ridden edge may lie between the sample and the edge's ends.
    ridden = np.zeros(roads.n_edges + 1, dtype=bool)
    ridden[ride.match.edge] = True
    ridden[-1] = False
    sources = help_sources(places, fields.town_population, among=ridden[places.edge])
    mapped = {
        kind: mapped_lanes(here, fields, places, kind, rows)
        for kind, rows in zip(HELP_KINDS, sources, strict=True)
    }
    snapped = snap_points(
        np.array([h.lon for h in helpers]),
        np.array([h.lat for h in helpers]),
        roads,
        fields.edge_open,
        within_m=HELPER_REACH_M,
    )
    nets = None
    if helpers or town_population != fields.town_population:
        nets = HelperNets(here, snapped, fields)
    if nets is not None and town_population != fields.town_population:
        mapped[HelpKind.TOWN] = nets.town_lanes(places, town_population)
    kinds = dict(mapped)
    for kind in HELP_KINDS:
        own = tuple(
            i for i, h in enumerate(helpers) if h.kind.value == kind.value and mends_all(h, fleet)
        )
        if own and nets is not None:
            kinds[kind] = nearer(nets.lanes(own), mapped[kind])
    return HelpSearch(
        ride, roads, places, samples, mapped, kinds, helpers, snapped, nets, Nearby(places),
        here, fields, ridden,
        bool(fields.edge_restricted.any() or is_ferry(roads, slice(None)).any()),
    )  # fmt: skip


def mends_all(helper: Helper, fleet: Fleet) -> bool:
    """Whether a helper is one for whatever bike of the fleet is ridden."""
    return not helper.repairs or {bike.name for bike in fleet.classes} <= set(helper.repairs)


def ref(found: HelpSearch, source: int, kind: HelpKind) -> PlaceRef | None:
    if source == NOBODY:
        return None
    if source < NOBODY:
        return helper_ref(found.helpers[helper_code(source)])
    basis = HelpBasis.INFERRED if kind is HelpKind.TOWN else HelpBasis.MAPPED
    word = None if kind is HelpKind.TOWN else kind.value
    return place_ref(found.places, source, basis=basis, kind=word, nearby=found.nearby)


def to_kind(found: HelpSearch, kind: HelpKind) -> ToPlaces:
    """Ways to the mapped places of a kind of help."""
    row = HELP_KINDS.index(kind)
    among = found.ridden[found.places.edge]
    (rows,) = help_sources(found.places, found.fields.town_population, among=among, kinds=[kind])
    return ToPlaces(
        found.here, found.fields, found.places,
        cost=found.fields.to_help_s.cost[row], place=found.fields.to_help_s.place[row],
        ridden=rows,
    )  # fmt: skip


def odd_on(
    found: HelpSearch, lanes: NearestByKind, kind: HelpKind, i: int
) -> tuple[float, tuple[RestrictedWay, ...]]:
    """What the way from sample i to a mapped place of a kind has of ferries [m], and what of it is
    closed by a tag of access."""
    if int(lanes.time.source[i]) < 0 or not found.has_odd:
        return 0.0, ()
    way = to_kind(found, kind).way(i)
    if way is None or way.row != int(lanes.time.source[i]):
        return 0.0, ()
    return way.ferry_m, way.restricted


def number(value: float) -> float | None:
    return None if np.isnan(value) else float(value)


def farthest(found: HelpSearch, lanes: NearestByKind, kind: HelpKind) -> Farthest:
    samples = found.samples
    unknown = np.isnan(lanes.time.cost) & samples.on_land
    unknown_m = length_of(samples, unknown)
    if np.isnan(lanes.time.cost).all():
        return Farthest(
            farthest_m=None, farthest_at_m=None, farthest_s=None, farthest_s_at_m=None,
            place=None, unknown_m=unknown_m, outside_m=None, back_s=None,
        )  # fmt: skip
    by_m, by_s = int(np.nanargmax(lanes.dist.cost)), int(np.nanargmax(lanes.time.cost))
    ferry_m, restricted = odd_on(found, lanes, kind, by_s)
    return Farthest(
        farthest_m=float(lanes.dist.cost[by_m]),
        farthest_at_m=float(samples.at_m[by_m]),
        farthest_s=float(lanes.time.cost[by_s]),
        farthest_s_at_m=float(samples.at_m[by_s]),
        farthest_s_m=number(lanes.dist.cost[by_s]),
        place=ref(found, int(lanes.time.source[by_s]), kind),
        ferry_m=ferry_m,
        restricted=restricted,
        unknown_m=unknown_m,
        outside_m=_to_map_edge_m(found, float(samples.at_m[by_m])),
        back_s=number(lanes.back.cost[by_s]),
    )


def _to_map_edge_m(found: HelpSearch, at_m: float) -> float:
    """Distance as the crow flies to the box of the region's roads [m]."""
    lon, lat = found.ride.lonlat(at_m)
    east_m, north_m = metres_per_degree(lat)
    roads = found.roads
    west, east = float(np.min(roads.node_lon)), float(np.max(roads.node_lon))
    south, north = float(np.min(roads.node_lat)), float(np.max(roads.node_lat))
    across = min(lon - west, east - lon) * east_m
    return max(min(across, min(lat - south, north - lat) * north_m), 0.0)


def beyond_limits(lanes: NearestByKind, samples: Samples, rules: FleetRules) -> BoolArray:
    """Samples on land beyond the operator's limits, or from which no help is known."""
    known = ~np.isnan(lanes.time.cost)
    near = (lanes.dist.cost <= rules.remote_m) & (lanes.time.cost <= rules.remote_s)
    return samples.on_land & ~(known & near)


def steps_of(samples: Samples, mask: BoolArray) -> BoolArray:
    """Steps between samples of which either end is masked: rather too long than too short."""
    return (mask[1:] | mask[:-1]) & samples.on_land[1:] & samples.on_land[:-1]


def length_of(samples: Samples, mask: BoolArray) -> float:
    return float(samples.step_m[steps_of(samples, mask)].sum())
