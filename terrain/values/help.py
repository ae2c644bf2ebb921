"""Help by road: fields over a whole region, the operator's own helpers, and what a ride finds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, ClassVar

import numpy as np

from terrain.values.arrays import (
    BoolArray,
    Columns,
    Float32Array,
    FloatArray,
    Int32Array,
    freeze_fields,
)
from terrain.values.exits import Exit
from terrain.values.fleet import Parts
from terrain.values.plain import Plain


class HelpKind(StrEnum):
    """Kinds of help searched over a whole region; the order is the row in a HelpReach."""

    MECHANIC = "mechanic"
    FUEL = "fuel"
    WATER = "water"
    HOSPITAL = "hospital"
    TOWN = "town"  # likely help for common bikes: inferred, never mixed with mapped workshops


class WeakHelp(StrEnum):
    """Weaker help, by the kind of place; the order is the row in HelpFields.weaker_s."""

    TYRES = "tyres"
    CAR_REPAIR = "car_repair"
    CLINIC = "clinic"
    DOCTOR = "doctor"
    PHARMACY = "pharmacy"
    POLICE = "police"
    LODGING = "lodging"


WEAK_HELP: tuple[WeakHelp, ...] = tuple(WeakHelp)

#: A partner farther from any mapped road is not found by road.
HELPER_REACH_M = 1_000.0

HELP_KINDS: tuple[HelpKind, ...] = tuple(HelpKind)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NearestHelp(Columns):
    """The way between every node and the nearest place of each kind, by metres or by seconds.

    cost : [m] or [s], shape (kinds, nodes); NaN where no place of the kind can be reached on
        mapped roads (which says nothing about places the map does not hold)
    place : row of that place in the region's places, shape (kinds, nodes); -1 where NaN
    """

    cost: Float32Array
    place: Int32Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WayOutField:
    """The quickest way from every node to the nearest node of a target network.

    time_s : shape (nodes,); 0 on the network, NaN where it cannot be reached
    next_node : the node to ride to next, shape (nodes,); -1 on the network or where NaN
    """

    time_s: Float32Array
    next_node: Int32Array

    def __post_init__(self) -> None:
        freeze_fields(self, ("time_s", "next_node"))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HelpFields:
    """Everything about help that does not depend on a ride, made once per region.

    to_help_m, to_help_s : shortest and quickest way for you to help, over all roads a motorcycle
        may use, and over those closed by a tag of access alone at RESTRICTED_PRICE times their
        length and time; to_help_m holds that price too
    restricted_m : length of such roads on the ways of to_help_m, shape (kinds, nodes)
    weaker_s : quickest way to weaker help, rows as in WEAK_HELP
    usual_m : distance to each kind that USUAL_SHARE of the region's roads keep within [m], inf
        where more have none, shape (kinds,)
    van_s : quickest way for help to come to you, over roads a breakdown van can use
    to_paved : way out to the paved network; to_van_road : way out to roads a van can use
    edge_time_s, edge_van_s : riding and driving time of each whole edge [s], shape (edges,)
    edge_open, edge_van : may be used by a motorcycle, by a van; shape (edges,)
    edge_restricted, edge_van_restricted : closed by a tag of access alone; shape (edges,)
    edge_emergency, edge_emergency_s : open or restricted, and riding time with the price of
        restricted roads [s]; shape (edges,)
    edge_van_network : may be used by a van and part of a network worth the name; shape (edges,)
    edge_paved : believed paved and part of a paved network worth the name; shape (edges,)
    town_population : places from this size on counted as towns
    """

    to_help_m: NearestHelp
    to_help_s: NearestHelp
    restricted_m: Float32Array
    weaker_s: NearestHelp
    usual_m: FloatArray
    van_s: NearestHelp
    to_paved: WayOutField
    to_van_road: WayOutField
    edge_time_s: Float32Array
    edge_van_s: Float32Array
    edge_open: BoolArray
    edge_restricted: BoolArray
    edge_emergency: BoolArray
    edge_emergency_s: Float32Array
    edge_van_restricted: BoolArray
    edge_van: BoolArray
    edge_van_network: BoolArray
    edge_paved: BoolArray
    town_population: float

    def __post_init__(self) -> None:
        edges = (
            "edge_time_s", "edge_van_s", "edge_open", "edge_restricted", "edge_van",
            "edge_van_restricted",
            "edge_emergency", "edge_emergency_s", "edge_van_network", "edge_paved",
        )  # fmt: skip
        freeze_fields(self, edges, len(self.edge_time_s))
        freeze_fields(self, ("restricted_m", "usual_m"), len(HELP_KINDS))


class HelperKind(StrEnum):
    """What the operator's own partners offer."""

    MECHANIC = "mechanic"
    FUEL = "fuel"
    WATER = "water"
    HOSPITAL = "hospital"
    LODGING = "lodging"
    FOOD = "food"


@dataclass(frozen=True, slots=True, kw_only=True)
class Helper:
    """One of the operator's own partners.

    repairs : bike classes they can mend; empty means all
    where : file and line it was read from, as shown to the user
    """

    name: str
    lon: float
    lat: float
    kind: HelperKind = HelperKind.MECHANIC
    repairs: tuple[str, ...] = ()
    phone: str | None = None
    opening_hours: str | None = None
    note: str | None = None
    where: str = ""


class HelpBasis(StrEnum):
    """What a named source of help rests on."""

    MAPPED = "mapped"  # in the map data
    INFERRED = "inferred"  # a town of that size likely has it
    OPERATOR = "operator"  # named by the operator


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceRef(Plain):
    """A place by name. Texts are None where the map or the operator does not give them.

    near : settlement or spot it lies near, None if none is named or it was not asked for
    """

    name: str | None
    kind: str
    lon: float
    lat: float
    basis: HelpBasis
    phone: str | None = None
    opening_hours: str | None = None
    note: str | None = None
    near: str | None = None
    osm: str | None = None  # such as "node/123"

    @classmethod
    def from_dict(cls, told: Mapping[str, Any]) -> PlaceRef:
        """The place that `to_dict` told; keys that an earlier version did not know are None."""
        texts = ("phone", "opening_hours", "note", "near", "osm")
        return cls(
            name=told["name"], kind=told["kind"], lon=told["lon"], lat=told["lat"],
            basis=HelpBasis(told["basis"]), **{key: told.get(key) for key in texts},
        )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class RestrictedWay(Plain):
    """A way closed by a tag of access alone. access : the value that closes it"""

    way_id: int
    access: str
    name: str | None
    length_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Weaker(Plain):
    """The nearest place of a kind of weaker help, by time, from a point of the ride.

    ferry_m : of the way there; waits are not in its time
    """

    _keys: ClassVar = {"place": "nearest", "time_s": "nearest_s", "length_m": "nearest_m"}
    kind: WeakHelp
    at_m: float
    place: PlaceRef
    time_s: float
    length_m: float
    ferry_m: float = 0.0
    restricted: tuple[RestrictedWay, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Farthest(Plain):
    """The farthest point of the ride from one kind of help, by road.

    All None where none of the kind can be reached on mapped roads from any point of the ride.
    farthest_s_m : the shortest way from the point farthest by time
    place : the nearest place, by time, at the point farthest by time
    ferry_m : of the quickest way to `place`; waits are not in its time
    unknown_m : length of the ride from which none can be reached on mapped roads
    outside_m : at the farthest point, distance as the crow flies to the edge of the map; a
        shorter way to help outside it cannot be seen if this is less than farthest_m
    back_s : time for them to come to that point on roads a van can use; None if they cannot
    restricted : what of the way to `place` is closed by a tag of access; times count it at a price
    """

    _keys: ClassVar = {"place": "nearest"}
    farthest_m: float | None
    farthest_at_m: float | None
    farthest_s: float | None
    farthest_s_at_m: float | None
    farthest_s_m: float | None = None
    place: PlaceRef | None
    unknown_m: float
    outside_m: float | None
    back_s: float | None
    ferry_m: float = 0.0
    restricted: tuple[RestrictedWay, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Remote(Plain):
    """A run of the ride farther from a mechanic than the operator's limits.

    worst_at_m : the point of it farthest by time; nearest_m, nearest_s, nearest : the way from
        there, None if no mechanic can be reached on mapped roads
    back_s : time for the mechanic's van to reach that point; None if it cannot
    town : the nearest town, likely help for common bikes, with its way; None if none is mapped
    ferry_m, town_ferry_m : of the way to `nearest`, to `town`; waits are not in their times
    restricted : what of the way to `nearest` is closed by a tag of access
    weaker : the nearest weaker help of each kind that is nearer than `nearest`, quickest first
    unusual : farther from a mechanic than most roads of the region are
    """

    from_m: float
    to_m: float
    worst_at_m: float
    nearest_m: float | None
    nearest_s: float | None
    nearest: PlaceRef | None
    back_s: float | None
    town: PlaceRef | None
    town_m: float | None
    town_s: float | None
    ferry_m: float = 0.0
    town_ferry_m: float = 0.0
    restricted: tuple[RestrictedWay, ...] = ()
    weaker: tuple[Weaker, ...] = ()
    unusual: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassHelp(Plain):
    """How far from help one bike class gets.

    sources : what counts as help for it
    known : False if nothing that counts is known, so the whole ride must be taken as far off
    remote_m : length of the ride beyond the operator's limits for it
    """

    _keys: ClassVar = {"name": "class"}
    name: str
    parts: Parts
    sources: tuple[HelpBasis, ...]
    known: bool
    farthest_m: float | None
    farthest_s: float | None
    farthest_at_m: float | None
    remote_m: float
    nearest: PlaceRef | None
    words: str


def _whole(value: float) -> int | None:
    return None if np.isnan(value) else round(float(value))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HelpAlong(Columns, Plain):
    """Help at positions along the ride, NaN where not known; shape (s,).

    mechanic_m, mechanic_s : nearest mechanic, mapped or the operator's; back_s : for their van
    to come; town_m, town_s : nearest town (inferred help); fuel_m, water_m, hospital_s
    """

    at_m: FloatArray
    mechanic_m: FloatArray
    mechanic_s: FloatArray
    back_s: FloatArray
    town_m: FloatArray
    town_s: FloatArray
    fuel_m: FloatArray
    water_m: FloatArray
    hospital_s: FloatArray

    def to_dict(self) -> dict[str, list[float | None]]:
        return {
            name: [_whole(x) for x in getattr(self, name)]
            for name in self.__dataclass_fields__
            if name != "at_m"
        } | {"at_m": self.at_m.tolist()}  # rounded, the last would lie beyond the ride's end


@dataclass(frozen=True, slots=True, kw_only=True)
class Help(Plain):
    """What help a ride has, by road.

    kinds : the farthest point from mechanic, fuel, water, hospital and (inferred) town
    weaker : of each kind of weaker help in reach, the nearest at the point farthest from it
    words : what to say of gaps in the map, in plain sentences
    """

    _keys: ClassVar = {"helpers": "operator"}
    _untold: ClassVar = ("kinds", "remote_limit_m", "remote_limit_s")
    kinds: tuple[tuple[HelpKind, Farthest], ...]
    weaker: tuple[Weaker, ...]
    remote: tuple[Remote, ...]
    exits: tuple[Exit, ...]
    classes: tuple[ClassHelp, ...]
    along: HelpAlong
    helpers: tuple[PlaceRef, ...]
    remote_limit_m: float
    remote_limit_s: float
    words: tuple[str, ...]

    def kind(self, kind: HelpKind) -> Farthest:
        return dict(self.kinds)[kind]

    def leaves_alone(self, run: Remote) -> bool:
        """Whether no mechanic can be reached from a part, and no town within the limits."""
        town_s, town_m = run.town_s, run.town_m
        near = (
            town_s is not None
            and town_m is not None
            and town_s <= self.remote_limit_s
            and town_m <= self.remote_limit_m
        )
        return run.nearest_s is None and not near

    def near_town(self, run: Remote) -> bool:
        """Whether a map without workshops is all that speaks against a part: a town is near it."""
        return not run.unusual and run.nearest_s is None and not self.leaves_alone(run)

    def to_dict(self) -> dict[str, Any]:
        """The contract's `help` object."""
        kinds = {kind.value: farthest.to_dict() for kind, farthest in self.kinds}
        limits = {"remote_m": self.remote_limit_m, "remote_s": self.remote_limit_s}
        return {**kinds, **Plain.to_dict(self), "limits": limits}
