"""Which OSM objects are places that help or areas that limit, and which tags are worth keeping.

Sources: the OSM wiki pages of each tag; the order of mechanics is ours (common practice).
"""

from __future__ import annotations

import json
import re
from typing import Final

from terrain.region.tags import PATH_CLASSES, ROAD_CLASSES, Tags, barrier_stops
from terrain.values.places import AreaKind
from terrain.values.views import PlaceKind

_AMENITIES: Final = {
    "fuel": PlaceKind.FUEL,
    "drinking_water": PlaceKind.WATER,
    "hospital": PlaceKind.HOSPITAL,
    "clinic": PlaceKind.CLINIC,
    "doctors": PlaceKind.DOCTOR,
    "pharmacy": PlaceKind.PHARMACY,
    "police": PlaceKind.POLICE,
    "restaurant": PlaceKind.FOOD,
    "cafe": PlaceKind.FOOD,
    "fast_food": PlaceKind.FOOD,
}
_LODGINGS: Final = frozenset(
    {"hotel", "guest_house", "hostel", "motel", "chalet", "camp_site", "alpine_hut"}
)
_SHOPS: Final = {
    "motorcycle_repair": PlaceKind.MECHANIC,
    "car_repair": PlaceKind.CAR_REPAIR,
    "tyres": PlaceKind.TYRES,
    "motorcycle_parts": PlaceKind.PARTS,
    "bicycle": PlaceKind.BICYCLE,
    "supermarket": PlaceKind.SHOP,
    "convenience": PlaceKind.SHOP,
}
_SETTLEMENTS: Final = {
    "city": PlaceKind.CITY,
    "town": PlaceKind.TOWN,
    "village": PlaceKind.VILLAGE,
    "hamlet": PlaceKind.HAMLET,
    "isolated_dwelling": PlaceKind.LOCALITY,
    "locality": PlaceKind.LOCALITY,
}
SETTLEMENT_KINDS: Final = frozenset(_SETTLEMENTS.values())
# Kinds that mean something only on the node of a road.
ROAD_NODE_KINDS: Final = frozenset({PlaceKind.FORD, PlaceKind.BARRIER, PlaceKind.BORDER})

_BARRIERS = (
    "block", "bollard", "border_control", "bump_gate", "bus_trap", "cattle_grid", "chain",
    "coupure", "cycle_barrier", "debris", "entrance", "full-height_turnstile", "gate",
    "hampshire_gate", "height_restrictor", "horse_stile", "jersey_barrier", "kent_carriage_gap",
    "kissing_gate", "lift_gate", "log", "motorcycle_barrier", "planter", "rope", "sally_port",
    "sliding_gate", "spikes", "stile", "sump_buster", "swing_gate", "toll_booth", "turnstile",
    "wicket_gate", "yes",
)  # fmt: skip
_FORDS = ("yes", "stepping_stones", "boat", "intermittent", "seasonal")

# Tags of areas: OSM wiki, Key:military, Tag:boundary=protected_area, Tag:leisure=nature_reserve.
# Bunkers and memorials keep no road closed, so they are not here.
_MILITARY: Final = frozenset({
    "airfield", "barracks", "base", "danger_area", "exclusion_zone", "naval_base",
    "nuclear_explosion_site", "range", "training_area",
})  # fmt: skip
_PROTECTED: Final = {
    ("boundary", "protected_area"),
    ("boundary", "national_park"),
    ("leisure", "nature_reserve"),
}
AREA_TAGS: Final = (
    ("landuse", "military"),
    *(("military", value) for value in sorted(_MILITARY)),
    *sorted(_PROTECTED),
)
# Every tag that makes an object worth reading; all others are dropped before Python sees them.
WANTED_TAGS: Final = (
    *(("highway", value) for value in (*ROAD_CLASSES, *PATH_CLASSES, "construction", "proposed")),
    ("route", "ferry"),
    *(("amenity", value) for value in _AMENITIES),
    *(("tourism", value) for value in sorted(_LODGINGS)),
    *(("shop", value) for value in (*_SHOPS, "motorcycle")),
    *(("place", value) for value in _SETTLEMENTS),
    *(("barrier", value) for value in _BARRIERS),
    *(("ford", value) for value in _FORDS),
    ("mountain_pass", "yes"),
    ("natural", "saddle"),
    ("natural", "spring"),
    ("man_made", "water_tap"),
    ("motorcycle:repair", "yes"),
    ("motorcycle:parts", "yes"),
    ("service:vehicle:motorcycle", "yes"),
)
READ_TAGS: Final = (*WANTED_TAGS, *AREA_TAGS)

# An object without any of these keys is no place.
PLACE_KEYS: Final = frozenset(key for key, _ in WANTED_TAGS) - {"highway", "route"}

_KEPT_KEYS = frozenset(
    {
        "access", "amenity", "barrier", "bicycle", "brand", "capacity", "contact:mobile",
        "contact:phone", "depth", "description", "drinking_water", "emergency", "fee", "ford",
        "locked", "motor_vehicle", "mountain_pass", "natural", "opening_hours", "operator:type",
        "phone", "place", "seasonal", "self_service", "shop", "smoothness", "surface", "tourism",
        "vehicle",
    }
)  # fmt: skip
_KEPT_STARTS = ("fuel:", "motorcycle", "service:vehicle:motorcycle", "payment:cash")
_LONGEST_VALUE = 200


def area_kind(tags: Tags) -> AreaKind | None:
    """What an area with these tags is; None if it limits no ride."""
    if tags.get("landuse") == "military" or tags.get("military") in _MILITARY:
        return AreaKind.MILITARY
    if any(tags.get(key) == value for key, value in _PROTECTED):
        return AreaKind.PROTECTED
    return None


def place_kinds(tags: Tags, *, is_node: bool) -> tuple[PlaceKind, ...]:
    """What an object is to a rider; empty if it is nothing we know. One object may be several."""
    if tags.get("disused", "no") != "no" or tags.get("abandoned", "no") != "no":
        return ()
    kinds = [*_helper_kinds(tags), *_settlement_kinds(tags, is_node=is_node)]
    if is_node:
        kinds += _road_node_kinds(tags)
    if "highway" in tags and not is_node:
        kinds = []  # a road that carries a name of a place is still only a road
    return tuple(dict.fromkeys(kinds))


def _helper_kinds(tags: Tags) -> list[PlaceKind]:
    kinds = []
    if (workshop := _workshop_kind(tags)) is not None:
        kinds.append(workshop)
    if (amenity := _AMENITIES.get(tags.get("amenity", ""))) is not None:
        undrinkable = amenity is PlaceKind.WATER and tags.get("drinking_water") == "no"
        if not undrinkable:
            kinds.append(amenity)
    spring_or_tap = tags.get("natural") == "spring" or tags.get("man_made") == "water_tap"
    if spring_or_tap and tags.get("drinking_water") == "yes":
        kinds.append(PlaceKind.WATER)
    if tags.get("tourism") in _LODGINGS:
        kinds.append(PlaceKind.LODGING)
    return kinds


def _workshop_kind(tags: Tags) -> PlaceKind | None:
    """MECHANIC if motorcycles are repaired here; weaker help by the kind of shop."""
    shop = tags.get("shop")
    repair = tags.get("motorcycle:repair")
    service = tags.get("service:vehicle:motorcycle")
    if shop is None:
        is_workshop = tags.get("craft") is not None or tags.get("amenity") == "vehicle_repair"
        return PlaceKind.MECHANIC if is_workshop and "yes" in (repair, service) else None
    if shop == "motorcycle_repair" or repair == "yes":
        return PlaceKind.MECHANIC
    if shop == "motorcycle":
        return PlaceKind.PARTS if "no" in (repair, service) else PlaceKind.MECHANIC
    if shop == "car_repair" and service == "yes":
        return PlaceKind.MECHANIC
    if tags.get("motorcycle:parts") == "yes":
        return PlaceKind.PARTS
    return _SHOPS.get(shop)


def _settlement_kinds(tags: Tags, *, is_node: bool) -> list[PlaceKind]:
    kinds = []
    settlement = _SETTLEMENTS.get(tags.get("place", ""))
    if settlement is not None and "name" in tags:
        kinds.append(settlement)
    named_saddle = tags.get("natural") == "saddle" and "name" in tags
    if is_node and (tags.get("mountain_pass") == "yes" or named_saddle):
        kinds.append(PlaceKind.PASS)
    return kinds


def _road_node_kinds(tags: Tags) -> list[PlaceKind]:
    kinds = []
    if tags.get("ford", "no") != "no":
        kinds.append(PlaceKind.FORD)
    barrier = tags.get("barrier")
    if barrier == "border_control":
        kinds.append(PlaceKind.BORDER)
    elif barrier in _BARRIERS and barrier_stops(tags):
        kinds.append(PlaceKind.BARRIER)
    return kinds


def kept_tags(tags: Tags) -> str:
    """The tags worth keeping as a JSON object, keys in order; "" if none."""
    kept = {
        key: value[:_LONGEST_VALUE]
        for key, value in sorted(tags.items())
        if key in _KEPT_KEYS or key.startswith(_KEPT_STARTS)
    }
    return json.dumps(kept, ensure_ascii=False, separators=(",", ":")) if kept else ""


def place_name(tags: Tags) -> str | None:
    """The name to show: name, else what else is commonly tagged in its stead.

    Without the spaces and commas that mappers leave around it.
    """
    named = tags.get("name") or tags.get("name:en") or tags.get("operator") or tags.get("brand")
    return " ".join(named.split()).strip(" ,;") or None if named else None


def population(text: str | None) -> float:
    """People, from digits with or without group separators; NaN for anything else."""
    digits = re.sub(r"[\s,.'\u00a0\u202f]", "", text) if text else ""
    return float(digits) if digits.isdecimal() and len(digits) <= 8 else float("nan")
