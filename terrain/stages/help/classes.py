"""Help that counts for one bike class, by how common its parts are."""

from __future__ import annotations

import numpy as np

from terrain.stages.help.found import HelpSearch, beyond_limits, farthest, length_of, ref
from terrain.stages.help.lanes import NearestByKind, nearer, no_lanes
from terrain.text.catalogue import N_
from terrain.text.message import term
from terrain.values.fleet import BikeClass, FleetRules, Parts
from terrain.values.help import (
    ClassHelp,
    HelpBasis,
    HelperKind,
    HelpKind,
    PlaceRef,
)
from terrain.values.views import PLACE_KINDS, PlaceKind

_SETTLEMENTS = (PlaceKind.CITY, PlaceKind.TOWN, PlaceKind.VILLAGE)


def help_for_class(found: HelpSearch, bike: BikeClass, rules: FleetRules) -> ClassHelp:
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
        lanes = found.nets.lanes(able)
    if bike.parts is not Parts.RARE:
        lanes = nearer(lanes, found.mapped[HelpKind.MECHANIC])
        sources.append(HelpBasis.MAPPED)
    if bike.parts is Parts.COMMON:
        lanes = nearer(lanes, found.mapped[HelpKind.TOWN])
        sources.append(HelpBasis.INFERRED)
    far = farthest(found, lanes, HelpKind.MECHANIC)
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
        remote_m=length_of(found.samples, beyond_limits(lanes, found.samples, rules)),
        nearest=place,
        words=term(_class_words(bike, known=far.farthest_s is not None)),
    )


def _class_place(found: HelpSearch, lanes: NearestByKind) -> PlaceRef | None:
    """The place at the farthest point, told as a town or as a mechanic by what it is."""
    source = int(lanes.time.source[int(np.nanargmax(lanes.time.cost))])
    is_town = source >= 0 and PLACE_KINDS[int(found.places.kind[source])] in _SETTLEMENTS
    return ref(found, source, HelpKind.TOWN if is_town else HelpKind.MECHANIC)


def _class_words(bike: BikeClass, *, known: bool) -> str:
    if bike.parts is Parts.RARE:
        if known:
            return N_("Parts are rare: only the operator's own partners count as help.")
        return N_(
            "Parts are rare and no partner of the operator who mends this class is known: "
            "take the whole ride as far from help."
        )
    if not known:
        return N_("No help for this class is in the map data, which is not the same as none.")
    if bike.parts is Parts.COMMON:
        return N_("Parts are common: towns count as likely help (inferred, not mapped).")
    return N_("Mapped workshops and the operator's partners count as help.")
