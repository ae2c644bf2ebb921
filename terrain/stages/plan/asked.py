"""Stops that have to be made: nights, meetings with the van, what the guide has pinned."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from terrain.stages.days.groups import AT_HAND_M, ROADSIDE, bed_near
from terrain.stages.days.near import FOOD, FUEL, REACH_M, WATER, NearbyPlaces
from terrain.stages.days.nights import Night
from terrain.stages.days.pins import position_of
from terrain.stages.plan.candidates import RequiredStop
from terrain.text.catalogue import N_
from terrain.text.message import join_messages, message, term
from terrain.values.exits import Exit, ExitPoint
from terrain.values.plan import (
    PinnedNight,
    PinnedStop,
    Pins,
    PlanProblem,
    StopKind,
)
from terrain.values.ride import Ride

# Shorter runs off the tarmac are ridden without meeting the van (common practice, no source).
VAN_RUN_M, VAN_RUN_S = 3_000.0, 600.0
_SAME_STOP_M = 2_000.0
# People say where a stop is to a tenth of a kilometre (so the desk's form does).
_AS_SAID_M = 100.0
_SERVES = {StopKind.FUEL: FUEL, StopKind.LUNCH: FOOD, StopKind.WATER: WATER}


def van_stops(exits: Sequence[Exit], length_m: float) -> list[RequiredStop]:
    """Meetings before and after each longer run a van cannot follow; close ones are one stop."""
    spots: list[tuple[float, ExitPoint, str]] = []
    for way in exits:
        if way.van_passes:
            continue
        first = _position(way.van_before, way.from_m)
        last = _position(way.van_after, way.to_m)
        share = (last - first) / max(way.to_m - way.from_m, 1.0)
        if last - first < VAN_RUN_M and share * way.ride_s < VAN_RUN_S:
            continue
        # As the way out tells it: of several parts, what they make together.
        several = len(way.van_gaps) > 1
        gap_m = sum(b - a for a, b in way.van_gaps) if several else last - first
        before = message(
            "Last point for the van before {gap_m} it cannot use: check tyres.", gap_m=gap_m
        )
        after = message(
            "First point for the van after {gap_m} it cannot use: look over the bikes.",
            gap_m=gap_m,
        )
        for spot, text in ((way.van_before, before), (way.van_after, after)):
            # Unpaved parts one after the other share the points where a van can meet.
            if (
                spot is not None
                and spot.at_m is not None
                and not any(spot.at_m == at_m and text == other for at_m, _, other in spots)
            ):
                spots.append((spot.at_m, spot, text))
    spots.sort(key=lambda item: item[0])
    out: list[RequiredStop] = []
    for at_m, spot, why in spots:
        if not _SAME_STOP_M / 4 < at_m < length_m - _SAME_STOP_M / 4:
            continue
        if out and at_m - out[-1].at_m <= _SAME_STOP_M:
            out[-1] = out[-1]._replace(why=join_messages((out[-1].why, why)))
            continue
        out.append(_asked(at_m, (StopKind.VAN,), why, lon=spot.lon, lat=spot.lat))
    return out


def _position(spot: ExitPoint | None, else_m: float) -> float:
    return else_m if spot is None or spot.at_m is None else spot.at_m


def night_stops(
    nights: Sequence[Night], near: NearbyPlaces, pins: Sequence[PinnedNight]
) -> list[RequiredStop]:
    """The ends of the days."""
    out = []
    for day, night in enumerate(nights, start=1):
        item = _asked(night.at_m, (StopKind.NIGHT,), message("End of day {n_day}.", n_day=day))
        if night.pin >= 0:
            pin = pins[night.pin]
            item = item._replace(name=pin.name, pinned=not pin.by_file)
        row = night.near if night.near >= 0 else bed_near(near, night.at_m)
        if row >= 0:
            item = item._replace(
                source=row,
                lon=float(near.lon[row]),
                lat=float(near.lat[row]),
                off_m=float(near.off_m[row]),
                off_s=float(near.off_s[row]),
            )
        out.append(item)
    return out


def pinned_stops(
    pins: Pins, ride: Ride, near: NearbyPlaces
) -> tuple[list[RequiredStop], list[PlanProblem]]:
    """The guide's own stops on the ride, and those that cannot be.

    One for fuel, food or water is at the place that offers it where it was asked for.
    """
    out, problems = [], []
    for pin in pins.stops:
        at_m, problem = position_of(pin, ride)
        if problem is not None:
            problems.append(problem)
        if at_m is not None:
            kinds = (pin.kind,) if pin.kind is StopKind.PINNED else (pin.kind, StopKind.PINNED)
            item = _asked(
                at_m, kinds, term(N_("Asked for by the guide.")), lon=pin.lon, lat=pin.lat
            )
            item = item._replace(name=pin.name, stay_s=pin.stay_s, pinned=True)
            row = _row_meant(pin, at_m, near)
            out.append(item if row < 0 else _at_place(item, row, near))
    return out, problems


def _row_meant(pin: PinnedStop, at_m: float, near: NearbyPlaces) -> int:
    """Row of the nearest place that offers what a stop is for; -1 if there is none."""
    bit = _SERVES.get(pin.kind, 0)
    reach_m = REACH_M if pin.kind is StopKind.FUEL else AT_HAND_M  # as a plan would go
    close = np.flatnonzero(
        ((near.bits & bit) != 0)
        & (np.abs(near.at_m - at_m) <= _AS_SAID_M)
        & (near.off_m <= reach_m)
    )
    return int(close[np.argmin(near.off_m[close])]) if len(close) else ROADSIDE


def _at_place(item: RequiredStop, row: int, near: NearbyPlaces) -> RequiredStop:
    return item._replace(
        at_m=float(near.at_m[row]), source=row, bits=int(near.bits[row]),
        lon=float(near.lon[row]), lat=float(near.lat[row]), off_m=float(near.off_m[row]),
        off_s=float(near.off_s[row]),
    )  # fmt: skip


def met_once(
    vans: Sequence[RequiredStop], pinned: Sequence[RequiredStop]
) -> tuple[RequiredStop, ...]:
    """Meetings with the van and the guide's stops, none of them twice.

    A stop asked for where the van waits is that meeting, at its very spot: a step aside may be
    where no van comes. A meeting that the guide has moved is where the guide wants it.
    """
    left = list(vans)
    out = []
    for item in pinned:
        reach_m = _SAME_STOP_M if StopKind.VAN in item.kinds else _AS_SAID_M
        spot = min(left, key=lambda van: abs(van.at_m - item.at_m), default=None)
        if spot is None or abs(spot.at_m - item.at_m) > reach_m:
            out.append(item)
            continue
        left.remove(spot)
        why = join_messages((item.why, spot.why))
        kinds = tuple(dict.fromkeys((*item.kinds[:-1], StopKind.VAN, StopKind.PINNED)))
        item = item._replace(kinds=kinds, why=why)
        if item.source < 0 and abs(spot.at_m - item.at_m) <= _AS_SAID_M:
            item = item._replace(at_m=spot.at_m, lon=spot.lon, lat=spot.lat)
        out.append(item)
    return (*left, *out)


def unwanted(at_m: float, pins: Pins) -> bool:
    """Whether the guide wants no stop of the plan's own there."""
    return any(abs(at_m - without_m) <= _SAME_STOP_M for without_m in pins.without_m)


def with_places(asked: RequiredStop, near: NearbyPlaces) -> RequiredStop:
    """What there is within a few steps of a stop that has to be made."""
    close = (np.abs(near.at_m - asked.at_m) <= AT_HAND_M) & (near.off_m <= AT_HAND_M)
    bits = int(np.bitwise_or.reduce(near.bits[close])) if close.any() else 0
    return asked._replace(bits=asked.bits | (bits if asked.off_m <= AT_HAND_M else 0))


def _asked(
    at_m: float,
    kinds: tuple[StopKind, ...],
    why: str,
    *,
    lon: float | None = None,
    lat: float | None = None,
) -> RequiredStop:
    return RequiredStop(
        at_m=at_m, kinds=kinds, name=None, why=why, lon=lon, lat=lat, source=ROADSIDE, bits=0,
        off_m=0.0, off_s=0.0, stay_s=None, pinned=False,
    )  # fmt: skip
