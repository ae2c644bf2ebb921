"""What OSM tags of a way mean for a motorcycle: access, direction, numbers with units.

Sources: the OSM wiki pages Key:access, Key:oneway, Key:highway, Key:barrier, Map features/Units,
and "OSM tags for routing/Access restrictions".
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Final

from terrain.values.views import WayFlag

Tags = Mapping[str, str]

ROAD_CLASSES: Final = (
    "motorway", "motorway_link", "trunk", "trunk_link", "primary", "primary_link", "secondary",
    "secondary_link", "tertiary", "tertiary_link", "unclassified", "residential",
    "living_street", "service", "road", "track",
)  # fmt: skip
PATH_CLASSES: Final = ("path", "bridleway", "footway", "cycleway", "pedestrian", "steps")
WAY_CLASSES: Final = frozenset(ROAD_CLASSES + PATH_CLASSES)

_ACCESS_KEYS = ("motorcycle", "motor_vehicle", "vehicle", "access")
_OPEN = frozenset({"yes", "designated", "permissive", "official", "public", "destination"})
_CLOSED = frozenset(
    {
        "no", "agricultural", "forestry", "military", "emergency", "psv", "bus", "hgv", "taxi",
        "foot", "bicycle", "horse", "use_sidepath", "agricultural_forestry", "restricted",
    }
)  # fmt: skip
_BY_LEAVE = frozenset(
    {"private", "permit", "customers", "delivery", "residents", "employees", "members", "students"}
)
# A way once used; as `*=yes` beside highway, or as a lifecycle prefix on it.
_GONE = ("abandoned", "demolished", "destroyed", "disused", "razed", "removed")
# All that the functions below look at, *:conditional keys apart.
WAY_KEYS: Final = frozenset(
    {
        *_ACCESS_KEYS, *_GONE, *(f"{word}:highway" for word in _GONE),
        "4wd_only", "area", "bridge", "construction", "conveying", "cycleway",
        "duration", "est_width", "flood_prone", "footway", "ford", "highway", "ice_road", "incline",
        "indoor", "junction", "lanes", "lit", "maxspeed", "maxspeed:motorcycle", "motorcar",
        "mtb:scale",
        "oneway", "oneway:motor_vehicle", "oneway:motorcycle", "oneway:vehicle", "path",
        "pedestrian", "proposed", "route", "seasonal", "service", "smoothness", "surface", "tidal",
        "toll", "toll:motorcycle", "tracktype", "tunnel", "width", "winter_road",
    }
)  # fmt: skip
_CONDITIONAL_KEYS = (*_ACCESS_KEYS, "oneway", "surface", "smoothness")
# Beside a road, never a line a motorcycle is planned on.
_SIDEWALKS = frozenset({"sidewalk", "crossing", "traffic_island", "access_aisle"})
# Barriers that let a motor vehicle by unless a tag says otherwise.
_PASSABLE_BARRIERS = frozenset(
    {
        "border_control", "bump_gate", "cattle_grid", "coupure", "entrance", "height_restrictor",
        "kerb", "lift_gate", "no", "rope", "sally_port", "toll_booth", "traffic_calming",
    }
)  # fmt: skip


def way_class(tags: Tags) -> str | None:
    """The kept value of highway, "ferry" for a ferry, None for the rest."""
    if tags.get("route") == "ferry":
        return "ferry"
    highway = tags.get("highway")
    if highway is None or tags.get("area") == "yes":
        return None
    if highway == "construction":
        planned = tags.get("construction", "road")
        return planned if planned in ROAD_CLASSES else "road" if planned == "yes" else None
    if highway == "proposed":
        planned = tags.get("proposed", "")
        return planned if planned in ROAD_CLASSES else "road" if planned == "yes" else None
    if highway not in WAY_CLASSES:
        return None
    if highway in PATH_CLASSES:
        if tags.get("indoor", "no") != "no" or tags.get("conveying", "no") != "no":
            return None
        if any(tags.get(highway) == side for side in _SIDEWALKS):
            return None
    return highway


def motor_access(tags: Tags) -> str | None:
    """The most specific of motorcycle, motor_vehicle, vehicle, access; None if none is tagged."""
    for key in _ACCESS_KEYS:
        value = tags.get(key)
        if value is not None and value != "unknown":
            return value
    return None


def _words(value: str | None) -> frozenset[str]:
    return frozenset(word.strip() for word in value.split(";")) if value else frozenset()


def is_open(access: str | None) -> bool:
    """True if a tag says a motorcycle may ride here, if only to a destination."""
    return bool(_words(access) & _OPEN)


def is_closed(access: str | None) -> bool:
    """True if a tag says a motorcycle may not ride here."""
    words = _words(access)
    return bool(words) and words <= _CLOSED


def access_flags(access: str | None) -> WayFlag:
    """NO_MOTORCYCLE, PRIVATE, DESTINATION from the resolved access value."""
    words = _words(access)
    if is_closed(access):
        return WayFlag.NO_MOTORCYCLE
    flags = WayFlag(0)
    if words & _BY_LEAVE and not words & _OPEN:
        flags |= WayFlag.PRIVATE
    if "destination" in words:
        flags |= WayFlag.DESTINATION
    return flags


def _is_set(tags: Tags, key: str) -> bool:
    return tags.get(key, "no") not in ("no", "false", "0")


_PLAIN_FLAGS = (
    ("bridge", WayFlag.BRIDGE),
    ("tunnel", WayFlag.TUNNEL),
    ("ford", WayFlag.FORD),
    ("winter_road", WayFlag.WINTER_ROAD),
    ("ice_road", WayFlag.ICE_ROAD),
    ("seasonal", WayFlag.SEASONAL),
)


def is_disused(tags: Tags) -> bool:
    """True if the way is tagged as no longer used, or gone, though highway still stands.

    Source: OSM wiki, Lifecycle prefix and Key:abandoned.
    """
    return any(tags.get(word) == "yes" or f"{word}:highway" in tags for word in _GONE)


def motor_open(tags: Tags) -> bool:
    """True if the most specific tag that names motor vehicles says a motorcycle may ride here.

    Steps are ridden by nobody, whatever a tag says.
    """
    if tags.get("highway") == "steps":
        return False
    for key in ("motorcycle", "motor_vehicle"):
        if key in tags and tags[key] != "unknown":
            return is_open(tags[key])
    return False


def takes_no_cars(tags: Tags) -> bool:
    """True if a ferry is tagged as taking no cars, and not whether it takes motorcycles.

    A motorcycle is no kind of motorcar: motor_vehicle is what covers both. Most such ferries carry
    people alone, so it is to be asked. Source: OSM wiki, Key:access.
    """
    said = any(tags.get(key, "unknown") != "unknown" for key in _ACCESS_KEYS[:2])
    return not said and is_closed(tags.get("motorcar"))


def way_flags(tags: Tags) -> WayFlag:
    """All flags of a kept way but BARRIER, which its nodes decide."""
    highway = way_class(tags)
    flags = access_flags(motor_access(tags))
    for key, flag in _PLAIN_FLAGS:
        if _is_set(tags, key):
            flags |= flag
    if tags.get("toll:motorcycle", tags.get("toll", "no")) == "yes":
        flags |= WayFlag.TOLL
    if tags.get("lit", "no") not in ("no", "disused"):
        flags |= WayFlag.LIT
    if tags.get("4wd_only") in ("yes", "extreme"):
        flags |= WayFlag.FOUR_WD_ONLY
    if highway in PATH_CLASSES:
        flags |= WayFlag.PATH
        if motor_open(tags):
            flags |= WayFlag.MOTOR_OPEN
    if highway == "ferry":
        flags |= WayFlag.FERRY
        if takes_no_cars(tags):
            flags |= WayFlag.NO_CARS
    # OSM wiki, Key:tidal and Key:flood_prone.
    if "yes" in (tags.get("tidal"), tags.get("flood_prone")):
        flags |= WayFlag.FLOODS
    if is_disused(tags):
        flags |= WayFlag.DISUSED
    if tags.get("junction") in ("roundabout", "circular"):
        flags |= WayFlag.ROUNDABOUT
    if _under_construction(tags) is not None:
        flags |= WayFlag.UNDER_CONSTRUCTION
    if tags.get("highway") == "proposed":
        flags |= WayFlag.PROPOSED
    if conditional(tags) is not None or oneway_changes(tags):
        flags |= WayFlag.CONDITIONAL
    return flags


# Works on a road that is ridden meanwhile: OSM wiki, Key:construction (from memory).
_OPEN_WORKS = frozenset({"no", "minor", "widening"})


def _under_construction(tags: Tags) -> str | None:
    """The tag that says the way is being built, as key=value; None if none does."""
    if tags.get("highway") == "construction":
        return "highway=construction"
    works = tags.get("construction", "no")
    return None if works in _OPEN_WORKS else f"construction={works}"


def closing_tag(tags: Tags) -> str | None:
    """The tag that keeps a motorcycle off, or lets it by only to a destination, as key=value.

    Access by the most specific key, else works, else a plan, else a class that is no motor road
    by default. Sources: OSM wiki, Key:access, Key:construction, Tag:highway=proposed.
    """
    for key in _ACCESS_KEYS:
        value = tags.get(key)
        if value is None or value == "unknown":
            continue
        if access_flags(value):
            return f"{key}={value}"
        break
    if (works := _under_construction(tags)) is not None:
        return works
    if tags.get("highway") == "proposed":
        return "highway=proposed"
    highway = way_class(tags)
    return f"highway={highway}" if highway in PATH_CLASSES and not motor_open(tags) else None


def conditional(tags: Tags) -> str | None:
    """The *:conditional tag of access or surface, the most specific of access, as key=value.

    None of access whose key a plain tag of a more specific one overrules: OSM wiki, Key:access.
    """
    overruled = False
    for first in _CONDITIONAL_KEYS:
        for key in sorted(tags):
            parts = key.split(":")
            if parts[-1] != "conditional" or parts[0] != first:
                continue
            if not (overruled and first in _ACCESS_KEYS):
                return f"{key}={tags[key]}"
        overruled |= tags.get(first, "unknown") != "unknown"
    return None


def _oneway_tag(tags: Tags) -> str | None:
    for key in ("oneway:motorcycle", "oneway:motor_vehicle", "oneway:vehicle", "oneway"):
        if key in tags:
            return tags[key]
    return None


def oneway_changes(tags: Tags) -> bool:
    """True where the direction changes by the hour."""
    return _oneway_tag(tags) in ("reversible", "alternating")


def oneway(tags: Tags) -> int:
    """1 along the way, -1 against it, 0 both. A direction that changes by the hour counts as 0."""
    value = _oneway_tag(tags)
    if value in ("yes", "true", "1"):
        return 1
    if value in ("-1", "reverse"):
        return -1
    if value in ("no", "false", "0", "reversible", "alternating"):
        return 0
    implied = tags.get("highway") == "motorway" or tags.get("junction") in (
        "roundabout",
        "circular",
    )
    return int(implied)


def barrier_stops(tags: Tags) -> bool:
    """True if a barrier node may stop a motorcycle: by tag, or by its kind if no tag says."""
    barrier = tags.get("barrier")
    if barrier is None:
        return False
    access = motor_access(tags)
    if access is not None:
        return not is_open(access)
    return barrier not in _PASSABLE_BARRIERS


_NUMBER = r"[-+]?\d{1,6}(?:[.,]\d{1,6})?"
_LENGTH = re.compile(rf"^({_NUMBER})\s*(m|metres?|meters?|cm|km|ft|feet)?$")
_FEET = re.compile(r"""^(\d+)\s*(?:'|ft)\s*(?:(\d+(?:\.\d+)?)\s*(?:"|''|in)?)?$""")
_SPEED = re.compile(rf"^({_NUMBER})\s*(km/h|kmh|kph|mph|knots)?$")
_INCLINE = re.compile(rf"^({_NUMBER})\s*(%|°)?$")
_PLAIN = re.compile(rf"^{_NUMBER}$")
_CLOCK = re.compile(r"^(\d{1,3}):(\d{2})(?::(\d{2}))?$")
_ISO_DURATION = re.compile(r"^P(?:(\d+)D)?(?:T(?:(\d+)H)?(?:(\d+)M)?(?:(\d+)S)?)?$")
_METRES = {"cm": 0.01, "km": 1000.0, "ft": 0.3048, "feet": 0.3048}
_KPH = {"mph": 1.609344, "knots": 1.852}
_NAN = math.nan


def _float(text: str) -> float:
    return float(text.replace(",", "."))


def length_m(text: str | None) -> float:
    """A length in metres from "3.5", "3.5 m", "12 ft" or 7'4"; NaN if it is none of these."""
    if text is None:
        return _NAN
    text = text.strip()
    if found := _LENGTH.match(text):
        return _float(found[1]) * _METRES.get(found[2] or "m", 1.0)
    if found := _FEET.match(text):
        return (float(found[1]) + float(found[2] or 0) / 12) * 0.3048
    return _NAN


def speed_kph(text: str | None) -> float:
    """A speed in km/h; words ("none", "walk", "XX:rural") give NaN."""
    found = _SPEED.match(text.strip()) if text else None
    return _float(found[1]) * _KPH.get(found[2] or "km/h", 1.0) if found else _NAN


def incline_pct(text: str | None) -> float:
    """A grade in percent along the way, + is up; "up", "down" and nonsense give NaN."""
    found = _INCLINE.match(text.strip()) if text else None
    if not found:
        return _NAN
    value = _float(found[1])
    if found[2] == "°":
        return 100 * math.tan(math.radians(value)) if abs(value) < 60 else _NAN
    return value if abs(value) <= 100 else _NAN


def within(value: float, low: float, high: float) -> float:
    """The value itself, NaN if it is outside what can be: such a tag is a slip of the pen."""
    return value if low <= value <= high else _NAN


def number(text: str | None) -> float:
    """A plain number; NaN for anything else."""
    return _float(text.strip()) if text and _PLAIN.match(text.strip()) else _NAN


def duration_s(text: str | None) -> float:
    """Seconds from "1:30" (hours:minutes), "00:05:30", "PT1H30M" or plain minutes; NaN else."""
    if not text:
        return _NAN
    text = text.strip()
    if found := _CLOCK.match(text):
        return int(found[1]) * 3600 + int(found[2]) * 60 + int(found[3] or 0)
    if (found := _ISO_DURATION.match(text)) and any(found.groups()):
        days, hours, minutes, seconds = (int(part or 0) for part in found.groups())
        return days * 86400 + hours * 3600 + minutes * 60 + seconds
    minutes_only = number(text)
    return minutes_only * 60 if minutes_only > 0 else _NAN


def ferry_s(tags: Tags) -> float:
    """Crossing time of a ferry; NaN if not tagged, or no ferry."""
    return duration_s(tags.get("duration")) if way_class(tags) == "ferry" else _NAN


def leading_int(text: str | None, low: int, high: int, missing: int) -> int:
    """The whole number a text starts with, if within low..high, else `missing`."""
    found = re.match(r"^\s*([-+]?\d+)", text) if text else None
    value = int(found[1]) if found else missing
    return value if low <= value <= high else missing
