"""What the stages see of a region: roads, ways, places. Arrays only, no files.

Every array is read-only and may be a memory map; a view costs nothing to make.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from enum import IntFlag, StrEnum

from terrain.values.arrays import (
    ByteArray,
    Float32Array,
    FloatArray,
    Int8Array,
    Int16Array,
    Int32Array,
    IntArray,
    freeze_all,
    freeze_fields,
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Category:
    """A column of few distinct texts: `codes` index `values`; -1 is not tagged."""

    codes: Int16Array
    values: tuple[str, ...]

    def __post_init__(self) -> None:
        freeze_fields(self, ("codes",))

    def text(self, i: int) -> str | None:
        code = int(self.codes[i])
        return None if code < 0 else self.values[code]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Texts:
    """A column of many distinct texts: `codes` index strings in a UTF-8 blob; -1 is none."""

    codes: Int32Array
    start: IntArray
    blob: ByteArray

    def __post_init__(self) -> None:
        freeze_fields(self, ("codes", "start", "blob"))

    def text(self, i: int) -> str | None:
        code = int(self.codes[i])
        if code < 0:
            return None
        return bytes(self.blob[self.start[code] : self.start[code + 1]]).decode("utf-8")


class WayFlag(IntFlag):
    """Yes-or-no facts of a way, one bit each."""

    BRIDGE = 1
    TUNNEL = 2
    FORD = 4
    FERRY = 8
    TOLL = 16
    LIT = 32
    FOUR_WD_ONLY = 64
    WINTER_ROAD = 128
    ICE_ROAD = 256
    PATH = 512  # path, bridleway, footway, cycleway, steps: no motor road by default
    ROUNDABOUT = 1024
    NO_MOTORCYCLE = 2048  # closed to motorcycles by tag (no, agricultural, forestry, ...)
    PRIVATE = 4096  # private, permit, customers, delivery
    DESTINATION = 8192  # no through ride
    UNDER_CONSTRUCTION = 16384
    SEASONAL = 32768
    CONDITIONAL = 65536  # carries a *:conditional access or surface tag
    BARRIER = 131072  # a barrier node on the way may stop a motorcycle
    MOTOR_OPEN = 262144  # motorcycle or motor_vehicle says open, against the default of its class
    PROPOSED = 1048576  # planned, not built: nothing to ride
    DISUSED = 524288  # tagged as abandoned, disused or gone, though drawn as a way
    FLOODS = 2097152  # under water at high tide or in floods
    NO_CARS = 4194304  # a ferry tagged as taking no cars; of motorcycles nothing is said


# What a motorcycle may not ride, by how far one looks: never by tag; nor without leave; nor what
# is no plain road all year, so that no way is proposed over it.
SHUT = WayFlag.NO_MOTORCYCLE | WayFlag.UNDER_CONSTRUCTION | WayFlag.PROPOSED
NOT_OPEN = SHUT | WayFlag.PRIVATE
# Closed by a tag of access alone: a road all the same, which an emergency rides.
RESTRICTED = WayFlag.NO_MOTORCYCLE | WayFlag.PRIVATE
NEVER_PROPOSED = (
    NOT_OPEN | WayFlag.PATH | WayFlag.WINTER_ROAD | WayFlag.ICE_ROAD | WayFlag.DISUSED
    | WayFlag.NO_CARS
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WayTable:
    """One row per OSM way. Missing numbers are NaN or -1, missing texts code -1.

    oneway : 1 along the way, -1 against it, 0 both, for a motorcycle
    mtb_scale : 0..6, -1 not tagged
    edited_day : days since 1970-01-01 of the way's last edit, -1 not known
    ferry_s : crossing time of a ferry [s], NaN not tagged
    conditional : raw text of the first *:conditional tag
    """

    way_id: IntArray
    flags: Int32Array
    highway: Category  # "ferry" for ferries
    surface: Category
    tracktype: Category
    smoothness: Category
    access: Category  # most specific of motorcycle, motor_vehicle, vehicle, access
    closed_by: Category  # the tag that keeps motorcycles off, as key=value
    service: Category
    seasonal: Category
    width_m: Float32Array
    lanes: Float32Array
    incline_pct: Float32Array
    maxspeed_kph: Float32Array
    oneway: Int8Array
    mtb_scale: Int8Array
    edited_day: Int32Array
    ferry_s: Float32Array
    name: Texts
    ref: Texts
    conditional: Texts

    def __post_init__(self) -> None:
        _freeze_columns(self, len(self.way_id))

    def __len__(self) -> int:
        return len(self.way_id)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RoadsView:
    """The road graph: ways cut into edges at junctions, with an index over their segments.

    Nodes: node_lon, node_lat [deg], node_id (OSM), shape (n,).
    Edges: edge_u, edge_v node indices in drawing order, edge_way row in `ways`,
        edge_length_m geodesic length, edge_start first point; shape (e,), edge_start (e + 1,).
    Points: pt_lon, pt_lat [deg], pt_edge owning edge, pt_at_m metres from the edge's start;
        shape (p,). Edge k owns points edge_start[k] .. edge_start[k + 1] - 1, ends included.
    Arcs: arc 2k runs edge k from u to v, arc 2k + 1 from v to u. out_arc[out_start[i] :
        out_start[i + 1]] leave node i; beside each stand the node it leads to (arc_head), its
        length (arc_length_m) and its kind (arc_kind).
    Kinds: ways of one highway class, one-way and flags are of one kind, way_kind; kind_way is a
        way of each. Arcs along ways of kind k have arc_kind 2k, arcs against them 2k + 1.
    Grid: cell (row, col) covers grid_south + row * grid_step_lat, grid_west + col *
        grid_step_lon; cell_pt[cell_start[c] : cell_start[c + 1]] with c = row * grid_cols + col
        are the first points of the segments whose box touches it.
    """

    ways: WayTable
    node_lon: FloatArray
    node_lat: FloatArray
    node_id: IntArray
    edge_u: Int32Array
    edge_v: Int32Array
    edge_way: Int32Array
    edge_length_m: FloatArray
    edge_start: Int32Array
    pt_lon: FloatArray
    pt_lat: FloatArray
    pt_edge: Int32Array
    pt_at_m: FloatArray
    out_start: Int32Array
    out_arc: Int32Array
    arc_head: Int32Array
    arc_length_m: FloatArray
    arc_kind: Int32Array
    way_kind: Int32Array
    kind_way: Int32Array
    cell_start: Int32Array
    cell_pt: Int32Array
    grid_west: float
    grid_south: float
    grid_step_lon: float
    grid_step_lat: float
    grid_cols: int
    grid_rows: int

    def __post_init__(self) -> None:
        freeze_all(self)

    @property
    def n_nodes(self) -> int:
        return len(self.node_lon)

    @property
    def n_edges(self) -> int:
        return len(self.edge_way)


class PlaceKind(StrEnum):
    """Places that matter on the road; the order is the code in PlacesView.kind."""

    MECHANIC = "mechanic"  # repairs motorcycles
    CAR_REPAIR = "car_repair"  # weaker help: a car workshop
    PARTS = "parts"  # motorcycle parts
    BICYCLE = "bicycle"  # tubes only
    FUEL = "fuel"
    WATER = "water"
    HOSPITAL = "hospital"
    CLINIC = "clinic"
    PHARMACY = "pharmacy"
    POLICE = "police"
    LODGING = "lodging"
    FOOD = "food"
    SHOP = "shop"
    CITY = "city"
    TOWN = "town"
    VILLAGE = "village"
    HAMLET = "hamlet"
    PASS = "pass"
    FORD = "ford"
    BARRIER = "barrier"
    BORDER = "border"
    LOCALITY = "locality"
    TYRES = "tyres"  # mends a puncture
    DOCTOR = "doctor"


PLACE_KINDS: tuple[PlaceKind, ...] = tuple(PlaceKind)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlacesView:
    """Helpers, settlements and spots, one row each.

    kind : index into PLACE_KINDS
    osm_type : 0 node, 1 way, 2 relation; osm_id its id
    population : people, NaN not tagged
    edge, edge_at_m : nearest road edge a motorcycle may use and metres along it; -1, NaN none
        within 500 m
    tags : JSON object of the other tags worth keeping (opening_hours, phone, fuel:*, ...)
    """

    kind: Int8Array
    osm_type: Int8Array
    osm_id: IntArray
    lon: FloatArray
    lat: FloatArray
    population: FloatArray
    edge: Int32Array
    edge_at_m: FloatArray
    name: Texts
    tags: Texts

    def __post_init__(self) -> None:
        _freeze_columns(self, len(self.kind))

    def __len__(self) -> int:
        return len(self.kind)


def _freeze_columns(table: WayTable | PlacesView, length: int) -> None:
    for field in fields(table):
        column = getattr(table, field.name)
        if isinstance(column, Category | Texts):
            if len(column.codes) != length:
                raise ValueError(f"column {field.name} has {len(column.codes)} rows, not {length}")
        else:
            freeze_fields(table, (field.name,), length)
