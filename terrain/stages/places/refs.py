"""Places by name, with what the map says of them."""

from __future__ import annotations

import json

from terrain.stages.places.near import Nearby
from terrain.values.help import HelpBasis, Helper, PlaceRef
from terrain.values.views import PLACE_KINDS, PlacesView

_OSM_TYPES = ("node", "way", "relation")


def place_tags(places: PlacesView, row: int) -> dict[str, str]:
    """The kept tags of a place; empty if none."""
    text = places.tags.text(row)
    return dict(json.loads(text)) if text else {}


def is_private(places: PlacesView, row: int) -> bool:
    """True if a tag keeps strangers out."""
    text = places.tags.text(row)
    if text is None or '"access"' not in text:
        return False
    return place_tags(places, row).get("access") in ("no", "private")


def place_ref(
    places: PlacesView,
    row: int,
    *,
    basis: HelpBasis = HelpBasis.MAPPED,
    kind: str | None = None,
    nearby: Nearby | None = None,
) -> PlaceRef:
    """A place of the region by name.

    kind : what it is taken for, else its own kind; nearby : tells near what it lies
    """
    tags = place_tags(places, row)
    lon, lat = float(places.lon[row]), float(places.lat[row])
    phone = tags.get("phone") or tags.get("contact:phone") or tags.get("contact:mobile")
    return PlaceRef(
        name=places.name.text(row),
        kind=kind or PLACE_KINDS[int(places.kind[row])].value,
        lon=lon,
        lat=lat,
        basis=basis,
        phone=phone,
        opening_hours=tags.get("opening_hours"),
        near=None
        if nearby is None
        else nearby.name(float(places.lon[row]), float(places.lat[row])),
        osm=f"{_OSM_TYPES[int(places.osm_type[row])]}/{int(places.osm_id[row])}",
    )


def helper_ref(helper: Helper) -> PlaceRef:
    """One of the operator's own partners as a place."""
    mends = f"mends {', '.join(helper.repairs)}" if helper.repairs else None
    return PlaceRef(
        name=helper.name,
        kind=helper.kind.value,
        lon=helper.lon,
        lat=helper.lat,
        basis=HelpBasis.OPERATOR,
        phone=helper.phone,
        opening_hours=helper.opening_hours,
        note="; ".join(text for text in (helper.note, mends) if text) or None,
    )
