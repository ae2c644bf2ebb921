"""Chosen stops with their reasons, in words."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.stages.plan.candidates import Asked
from terrain.stages.plan.course import Course
from terrain.stages.plan.near import FUEL, TOWN, WATER
from terrain.stages.plan.setting import Setting
from terrain.values.clock import LUNCH_S
from terrain.values.figures import N_
from terrain.values.plan import Stop, StopKind
from terrain.values.sentences import joined, sentence, word

# At least 15 minutes: UK Highway Code, rule 91.
STAY_S = 900.0


class Visit(NamedTuple):
    """One chosen stop before it is told."""

    row: int
    kinds: tuple[StopKind, ...]
    stay_s: float
    asked: Asked | None


def visit_of(row: int, setting: Setting) -> Visit:
    """One chosen candidate with its reasons and stay."""
    item = setting.asked_at(row)
    bits = int(setting.candidates.bits[row])
    kinds = list(item.kinds) if item else []
    if bits & FUEL:
        kinds.append(StopKind.FUEL)
    if row in setting.chosen.lunches:
        kinds.append(StopKind.LUNCH)
    if not kinds:
        hot = bool(setting.course.is_hot(setting.candidates.at_m[row : row + 1])[0])
        kinds.append(StopKind.WATER if hot and bits & WATER else StopKind.REST)
    stay = LUNCH_S if StopKind.LUNCH in kinds else STAY_S
    if StopKind.NIGHT in kinds:  # the day ends on arrival, whatever is eaten there
        stay = 0.0
    if item is not None and item.stay_s is not None:
        stay = item.stay_s
    return Visit(row, tuple(dict.fromkeys(kinds)), stay, item)


def tell_stop(visit: Visit, setting: Setting, *, day: int, arrive_s: float) -> Stop:
    """A visit as a stop of the plan."""
    candidates, namer = setting.candidates, setting.namer
    row, item = visit.row, visit.asked
    at_m = float(candidates.at_m[row])
    near_row = int(candidates.near[row]) if item is None else item.source
    place = namer.place(near_row)
    lon, lat = namer.ride.lonlat(at_m)
    if place is not None:
        lon, lat = place.lon, place.lat
    elif item is not None and item.lon is not None and item.lat is not None:
        lon, lat = item.lon, item.lat
    name = item.name if item is not None else None
    if name is None and place is not None:
        name = place.name
    if name is None and (around := namer.near_name(at_m)) is not None:
        name = sentence("near {place}", place=around)
    return Stop(
        at_m=at_m,
        off_m=float(candidates.off_m[row]),
        kinds=visit.kinds,
        name=name,
        lon=lon,
        lat=lat,
        why=_why(visit, int(candidates.bits[row]), setting.course, at_m),
        day=day,
        arrive_s=arrive_s,
        stay_s=visit.stay_s,
        van_access=bool(namer.near.van[near_row]) if near_row >= 0 else namer.van_at(at_m),
        place=place,
        pinned=item is not None and item.pinned,
    )


def _why(visit: Visit, bits: int, course: Course, at_m: float) -> str:
    hot = bool(course.is_hot(np.array([at_m]))[0])
    texts = [visit.asked.why] if visit.asked is not None else []
    alone = visit.asked is None and not {StopKind.LUNCH, StopKind.NIGHT} & set(visit.kinds)
    reasons = {
        # A station is often chosen for the rest alone, long before the tank asks for it.
        StopKind.FUEL: N_("Rest and fill up.") if alone else N_("Fill up."),
        StopKind.LUNCH: N_("Lunch."),
        StopKind.CHECK: N_("Check coolant and oil: a hard day."),
        StopKind.WATER: N_("Rest and drink: it is hot, and water is mapped here."),
        StopKind.REST: N_("Rest: the limit of time or distance is near."),
    }
    texts += [word(reasons[kind]) for kind in visit.kinds if kind in reasons]
    if hot and StopKind.REST in visit.kinds:
        texts.append(
            word(N_("Hot: shade is likely in the village, but no water is mapped here."))
            if bits & TOWN
            else word(N_("Hot: look for shade; no water is mapped here."))
        )
    return joined(texts)
