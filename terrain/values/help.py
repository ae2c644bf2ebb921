"""Help by road: fields over a whole region, the operator's own helpers, and what a ride finds."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from terrain.values.arrays import (
    BoolArray,
    Float32Array,
    Int32Array,
    freeze_fields,
)


class HelpKind(StrEnum):
    """Kinds of help searched over a whole region; the order is the row in a HelpReach."""

    MECHANIC = "mechanic"
    FUEL = "fuel"
    WATER = "water"
    HOSPITAL = "hospital"
    TOWN = "town"  # likely help for common bikes: inferred, never mixed with mapped workshops


HELP_KINDS: tuple[HelpKind, ...] = tuple(HelpKind)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HelpReach:
    """Shortest and quickest way between every node and the nearest place of each kind.

    dist_m, time_s : shape (kinds, nodes); NaN where no place of the kind can be reached on
        mapped roads (which says nothing about places the map does not hold)
    dist_place, time_place : row in the region's places of the place nearest by distance and of
        the one nearest by time, shape (kinds, nodes); -1 where NaN
    """

    dist_m: Float32Array
    dist_place: Int32Array
    time_s: Float32Array
    time_place: Int32Array

    def __post_init__(self) -> None:
        freeze_fields(self, ("dist_m", "dist_place", "time_s", "time_place"), len(HELP_KINDS))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WayOut:
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

    to_help, from_help : you to them, them to you, over all roads a motorcycle may use
    to_help_van, from_help_van : the same over roads a breakdown van can use
    to_paved : way out to the paved network; to_van_road : way out to roads a van can use
    edge_time_s, edge_van_s : riding and driving time of each whole edge [s], shape (edges,)
    edge_open, edge_van : may be used by a motorcycle, by a van; shape (edges,)
    edge_paved : believed paved and part of a paved network worth the name; shape (edges,)
    town_population : places from this size on counted as towns
    """

    to_help: HelpReach
    from_help: HelpReach
    to_help_van: HelpReach
    from_help_van: HelpReach
    to_paved: WayOut
    to_van_road: WayOut
    edge_time_s: Float32Array
    edge_van_s: Float32Array
    edge_open: BoolArray
    edge_van: BoolArray
    edge_paved: BoolArray
    town_population: float

    def __post_init__(self) -> None:
        edges = ("edge_time_s", "edge_van_s", "edge_open", "edge_van", "edge_paved")
        freeze_fields(self, edges, len(self.edge_time_s))
