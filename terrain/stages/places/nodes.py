"""Fords, border posts and barriers that a ride comes by."""

from __future__ import annotations

import numpy as np

from terrain.calc.geodesy import metres_per_degree
from terrain.stages.places.areas import FOR_MOTORCYCLES, LETS_BY
from terrain.stages.places.refs import place_tags
from terrain.values.match import Match
from terrain.values.places import RideNode
from terrain.values.views import PLACE_KINDS, PlaceKind, PlacesView

_KINDS: dict[PlaceKind, str] = {
    PlaceKind.FORD: "ford", PlaceKind.BORDER: "border", PlaceKind.BARRIER: "barrier",
}  # fmt: skip
# Common practice, no source.
_ON_RIDE_M = 1.0  # a node of the ridden way lies on the ride; one of a drive 2.4 m off and more
# Built for people on foot or against motorcycles. Source: OSM wiki, Key:barrier.
_FOR_WALKERS = frozenset({
    "full-height_turnstile", "horse_stile", "kissing_gate", "motorcycle_barrier", "stile",
    "turnstile",
})  # fmt: skip


def nodes_along(match: Match, places: PlacesView) -> tuple[RideNode, ...]:
    """Fords, border posts and barriers that are nodes of the ridden ways, in riding order."""
    wanted = np.isin(places.kind, [PLACE_KINDS.index(kind) for kind in _KINDS])
    box = (places.lon >= match.lon.min() - 0.001) & (places.lon <= match.lon.max() + 0.001)
    box &= (places.lat >= match.lat.min() - 0.001) & (places.lat <= match.lat.max() + 0.001)
    rows = np.flatnonzero(wanted & box)
    if not len(rows):
        return ()
    m_lon, m_lat = metres_per_degree(float(match.lat.mean()))
    at_m = np.union1d(match.at_m, np.arange(0.0, match.length_m, 5.0))
    lon, lat = match.lonlat(at_m)
    ride = np.column_stack([lon * m_lon, lat * m_lat])
    here = np.column_stack([places.lon[rows] * m_lon, places.lat[rows] * m_lat])
    # Few such nodes against many points of the ride: the ride is no tree but a sorted list.
    order = np.argsort(ride[:, 0], kind="stable")
    ends = np.searchsorted(ride[order, 0], here[:, :1] + [-_ON_RIDE_M, _ON_RIDE_M])
    found: list[RideNode] = []
    for row, spot, (low, high) in zip(rows, here, ends.tolist(), strict=True):
        near = order[low:high]
        near = np.sort(near[np.hypot(*(ride[near] - spot).T) <= _ON_RIDE_M])
        if len(near):
            kind = PLACE_KINDS[int(places.kind[row])]
            passes = at_m[near]
            visits = np.split(passes, np.flatnonzero(np.diff(passes) > 200.0) + 1)
            shut = kind is PlaceKind.BARRIER and _is_shut(place_tags(places, int(row)))
            found += [
                RideNode(at_m=float(v.mean()), kind=_KINDS[kind], shut=shut,
                         name=places.name.text(int(row)))
                for v in visits
            ]  # fmt: skip
    return tuple(sorted(found, key=lambda spot: spot.at_m))


def _is_shut(tags: dict[str, str]) -> bool:
    """Whether a barrier is tagged as locked, or as closed to motorcycles by the most specific key,
    or is one that none gets through, unless a key says otherwise.

    Source: OSM wiki, Key:barrier, Key:locked and Key:access.
    """
    if tags.get("locked") == "yes":
        return True
    said = next((tags[key] for key in FOR_MOTORCYCLES if tags.get(key, "unknown") != "unknown"), "")
    if not said:
        return tags.get("barrier") in _FOR_WALKERS
    return not LETS_BY & {word.strip() for word in said.split(";")}
