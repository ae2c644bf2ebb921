"""What the report cannot say: one list, with the key of the JSON and the reason."""

from __future__ import annotations

from collections.abc import Iterator

from terrain.stages.verdict.parts import merged, total_m, where
from terrain.stages.verdict.weather import outside_words
from terrain.tables.verdict import LIMITS
from terrain.text.catalogue import N_
from terrain.text.message import join_messages, message
from terrain.values.ground import Basis, GroundKind
from terrain.values.report import Assessed
from terrain.values.verdict import Unknown

# Common practice, no source.
_SNOW_ABOVE_C = 10.0  # 1,500 m above the mean height of the country it freezes then
_VOID_M = 200.0  # a shorter part without a grade changes neither speed nor heat


def list_unknown(ride: Assessed) -> tuple[Unknown, ...]:
    """All that is not known, in the order of the report."""
    return (
        *(Unknown(key="region.notes", why=note) for note in ride.region.notes),
        *_roads(ride),
        *_date(ride),
        *_weather(ride),
        *_heights(ride),
        *_workshops(ride),
        *_map(ride),
    )


def _roads(ride: Assessed) -> Iterator[Unknown]:
    match, least_m = ride.match, LIMITS.gap_m
    outside = merged(ride.places.outside)
    if outside:
        yield Unknown(key="match.unmapped_m", why=outside_words(outside),
                      length_m=total_m(outside), parts=outside)  # fmt: skip
    off_m = match.unmapped_m - total_m(outside)
    if off_m > least_m:
        # A line drawn the wrong way over a carriageway is left off the map where it turns into it.
        why = message(
            "{unmapped_m} fit no road of the map, or none in the direction drawn.",
            unmapped_m=off_m,
        )
        parts = where(
            ride.ground.stretches,
            lambda s: (
                s.ground is GroundKind.UNMAPPED
                and not any(a <= s.from_m < b for a, b in ride.places.outside)
            ),
        )
        yield Unknown(key="match.unmapped_m", why=why, length_m=off_m, parts=parts)
    share = ride.ground.basis_shares.get(Basis.INFERRED, 0.0)
    inferred_m = share * (match.matched_m + match.unmapped_m)
    if inferred_m > least_m:
        why = message(
            "{inferred_m} carry no ground tag: our estimate from the kind of road and its "
            "surroundings.",
            inferred_m=inferred_m,
        )
        parts = where(ride.ground.stretches, lambda s: s.basis is Basis.INFERRED)
        yield Unknown(key="ground.basis.inferred", why=why, length_m=inferred_m, parts=parts)
    if match.filled_m > least_m:
        why = message(
            "{filled_m} lie between points too far apart to show the road: the likely one was "
            "chosen.",
            filled_m=match.filled_m,
        )
        yield Unknown(key="match.filled_m", why=why, length_m=match.filled_m)


def _date(ride: Assessed) -> Iterator[Unknown]:
    if ride.trip.depart is None:
        why = message("No date: heat, daylight and season are not judged for a day of travel.")
        yield Unknown(key="trip.depart", why=why)


def _weather(ride: Assessed) -> Iterator[Unknown]:
    if ride.weather is not None and ride.weather.why:
        why = message(
            "The weather of the week, though it was asked for: {why}. Heat, and rain on soft "
            "ground, are the month's means.",
            why=ride.weather.why,
        )
        yield Unknown(key="weather", why=why)
    elif ride.weather is not None and len(ride.weather.words) > 2:
        # Between who says it and the rain: where it does not reach.
        yield Unknown(key="weather", why=join_messages(ride.weather.words[:-1]))


def _heights(ride: Assessed) -> Iterator[Unknown]:
    relief, rider = ride.relief, ride.heat.rider
    if relief.source is None:
        form = N_(
            "No heights: the region has no elevation here. Climbs, steep ramps, and cold or snow "
            "high up are not judged."
        )
        if rider is not None and rider.min_air_temp_c >= _SNOW_ABOVE_C:
            form = N_(
                "No heights: the region has no elevation here. Climbs and steep ramps are not "
                "judged."
            )
        why = message(form)
        yield Unknown(key="relief", why=why)
    elif relief.ascent_m is None:
        why = message("The climb and descent: heights are known for too little of the ride.")
        yield Unknown(key="relief.ascent_m", why=why)
    if relief.void_m >= _VOID_M:
        why = message(
            "The grade of {void_m}: the heights have holes there, so speed and engine go by what "
            "is usual.",
            void_m=relief.void_m,
        )
        yield Unknown(key="stretches.grade_pct", why=why, length_m=relief.void_m)


def _workshops(ride: Assessed) -> Iterator[Unknown]:
    """A map without workshops in reach, where towns are near enough for help to be likely."""
    runs = [run for run in ride.help.remote if ride.help.near_town(run)]
    if runs:
        # "At most" is said of all parts without a workshop, those far from a town as well.
        unreached = [run for run in ride.help.remote if run.nearest_s is None]
        far = max(unreached, key=lambda run: run.town_s or 0.0)
        form = N_(
            "Where a mechanic is: the map has none in reach, which is not the same as none. Help "
            "is likely in the nearest town{named}, {far_s} away at most."
        )
        if far.town_ferry_m:
            form = N_(
                "Where a mechanic is: the map has none in reach, which is not the same as none. "
                "Help is likely in the nearest town{named}, {far_s} away at most with a ferry, "
                "whose hours and wait come on top."
            )
        why = message(
            form,
            named="" if far.town is None or not far.town.name else f" ({far.town.name})",
            far_s=far.town_s,
        )
        yield Unknown(key="help.mechanic", why=why)


def _map(ride: Assessed) -> Iterator[Unknown]:
    if ride.region.map_date is None:
        yield Unknown(key="region.map_date", why=message("The map carries no date."))
    age_days = ride.region.map_age_days
    if age_days is not None and age_days > LIMITS.old_map_days:
        why = message(
            "What was built, sealed, closed or washed out since the map of {map_day}: ask locally.",
            map_day=ride.region.map_date,
        )
        yield Unknown(key="region.map_date", why=why)
