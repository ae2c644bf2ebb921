"""Darkness, heat, cold, water on the way, the end of the map and a hot engine as findings."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime

import numpy as np

from terrain.stages.heat.words import cause_terms
from terrain.stages.verdict.parts import merged, place_of, sampled, total_m, within
from terrain.tables.heat import ICE_C, OVER_LIMIT_H, Measure, levels_c
from terrain.tables.verdict import LIMITS
from terrain.text.catalogue import N_
from terrain.text.message import Message, join_messages, message, term
from terrain.text.terms import CONCERN_TERMS
from terrain.values.advice import LawKind, RiderVerdict
from terrain.values.closed import closed_on
from terrain.values.ground import GroundKind
from terrain.values.heat import AirAlong, Concern, EngineHeat, Heat
from terrain.values.plan import Day, ProblemKind
from terrain.values.report import Assessed
from terrain.values.verdict import Finding, FindingKind, PerAudience, Rank, RidePart, for_all

# Levels of heat in the wind of riding [deg C]: rest often; stop, for anybody.
_REST, _, _STOP = levels_c(Measure.RIDING)[-3:]

_OFF_TARMAC = (GroundKind.GRAVEL, GroundKind.TRACK, GroundKind.UNMAPPED)


def dark(ride: Assessed) -> Iterator[Finding]:
    """Days that begin before dawn or end in the dark, or in the hour before it; a ride on which no
    sun rises."""
    late = [day for day in ride.plan.days if day.margin_s is not None and day.margin_s < 0]
    for day in late:
        yield _late(day, ride)
    for day in ride.plan.days:
        if day.daylight is not None and day.start_s < day.daylight.dawn_s:
            yield _early(day, day.daylight.dawn_s, ride)
    nights = [p for p in ride.plan.problems if p.kind is ProblemKind.DAYLIGHT]
    if nights and not late and all(day.daylight is None for day in ride.plan.days):
        parts = merged((p.from_m, p.to_m) for p in nights)
        yield Finding(
            kind=FindingKind.DARK,
            rank=Rank.DANGER,
            what=message("The sun does not rise."),
            do=for_all(message("No tracks in the dark: go at another time of year.")),
            parts=parts,
            place=place_of(parts, ride.places),
            size=total_m(parts),
        )


def tunnel(ride: Assessed) -> Iterator[Finding]:
    """Long tunnels that no tag calls lit."""
    codes = (LawKind.TUNNEL.value, f"{LawKind.TUNNEL.value}-more")
    runs = merged(span for item in ride.advice.law if item.code in codes for span in item.places)
    parts = tuple(part for part in runs if part.length_m >= LIMITS.tunnel_m)
    if parts:
        yield Finding(
            kind=FindingKind.TUNNEL,
            rank=Rank.CARE,
            what=message("{run_m} of tunnel that the map does not call lit.",
                         run_m=total_m(parts)),
            do=for_all(
                message("Sunglasses off before it; it may be dark, wet and of one lane.")
            ),
            parts=parts,
            place=place_of(parts, ride.places),
            size=total_m(parts),
        )  # fmt: skip


def _late(day: Day, ride: Assessed) -> Finding:
    dusk_m = day.to_m if day.daylight is None else _ridden_by(day, day.daylight.dusk_s, ride)
    if day.is_dark:
        return _dark_part(
            RidePart(from_m=day.from_m, to_m=day.to_m), -(day.margin_s or 0.0), day, ride,
            N_("Day {n_day} is ridden in the dark: {off_m} of it off tarmac."),
            N_("Day {n_day} is ridden in the dark."),
            message("Set off when it is light."),
        )  # fmt: skip
    sooner = message("Start earlier or ride less: plan to arrive an hour before dark.")
    part, left_s = RidePart(from_m=dusk_m, to_m=day.to_m), day.before_dark_s or 0.0
    if left_s >= 0.0:
        form = N_("Day {n_day} ends only {dark_s} before dark.")
        short = _dark_part(part, left_s, day, ride, form, form, sooner)
        return replace(short, size=-(day.margin_s or 0.0))
    return _dark_part(
        part, -left_s, day, ride,
        N_("Day {n_day} ends {dark_s} after dark: {off_m} off tarmac in the dark."),
        N_("Day {n_day} ends {dark_s} after dark."), sooner,
    )  # fmt: skip


def _early(day: Day, dawn_s: float, ride: Assessed) -> Finding:
    return _dark_part(
        RidePart(from_m=day.from_m, to_m=_ridden_by(day, dawn_s, ride)), dawn_s - day.start_s,
        day, ride,
        N_("Day {n_day} sets off {dark_s} before dawn: {off_m} off tarmac in the dark."),
        N_("Day {n_day} sets off {dark_s} before dawn."),
        message("Set off when it is light."),
    )  # fmt: skip


def _dark_part(
    part: RidePart, dark_s: float, day: Day, ride: Assessed, loose: str, firm: str, do: Message
) -> Finding:
    """The end or start of a day without light: a danger where enough of it is off tarmac."""
    off_m = _off_tarmac_m(part, ride)
    grave = off_m >= LIMITS.dark_m
    return Finding(
        kind=FindingKind.DARK,
        rank=Rank.DANGER if grave else Rank.CARE,
        what=message(loose, n_day=day.number, dark_s=dark_s, off_m=off_m)
        if grave
        else message(firm, n_day=day.number, dark_s=dark_s),
        do=for_all(do),
        parts=(part,),
        place=place_of((part,), ride.places),
        size=dark_s,
    )


def _off_tarmac_m(part: RidePart, ride: Assessed) -> float:
    return sum(
        max(0.0, min(s.to_m, part.to_m) - max(s.from_m, part.from_m))
        for s in ride.ground.stretches if s.ground in _OFF_TARMAC
    )  # fmt: skip


def _ridden_by(day: Day, clock_s: float, ride: Assessed) -> float:
    """Where on the day's ride one is at a time of day [m], within the day.

    Stops are spread evenly over the day.
    """
    if day.end_s <= day.start_s:
        return day.to_m
    share = min(max((clock_s - day.start_s) / (day.end_s - day.start_s), 0.0), 1.0)
    from_s, to_s = (float(x) for x in ride.ride.time_s(np.array([day.from_m, day.to_m])))
    at_m = float(ride.ride.at_time(np.array([from_s + share * (to_s - from_s)]))[0])
    return min(max(at_m, day.from_m), day.to_m)


def heat(ride: Assessed) -> Iterator[Finding]:
    """Heat above what riders there bear, and where; below that, that it is hot.

    An hour above the limit of ISO 7243 is a danger, and so is the level at which all stop.
    """
    rider, air = ride.heat.rider, ride.heat.air
    if rider is None or air is None:
        return
    wbgt_c = rider.max_wbgt_riding_c
    stop, over = wbgt_c >= _STOP, rider.over_riding_h >= OVER_LIMIT_H
    # The lowest level is reached on any sunny day; in mild air its advice goes without saying.
    if not (stop or over) and (wbgt_c < _REST or rider.max_air_temp_c < LIMITS.hot_air_c):
        return
    drink = message(
        "Drink {water_l} an hour, rest in shade with the gear open.", water_l=rider.water_most_l_h
    )
    if over and not stop:
        parts = merged(rider.over_riding)
    else:
        parts = sampled(air.at_m, air.wbgt_riding_c >= (_STOP if stop else _REST))
    yield Finding(
        kind=FindingKind.HEAT,
        rank=Rank.DANGER if stop or over else Rank.CARE,
        what=message(
            "Heat: up to {max_air_c} ({low_c:n} to {high_c:n}).",
            max_air_c=rider.max_air_temp_c, low_c=rider.max_air_temp_low_c,
            high_c=rider.max_air_temp_high_c,
        ),
        do=for_all(
            join_messages([*([_before_it(ride.heat, air)] if stop else []), drink, *_by(ride)])
        ),
        parts=parts,
        place=place_of(parts, ride.places),
        size=wbgt_c,
    )  # fmt: skip


def _by(ride: Assessed) -> tuple[str, ...]:
    """The forecast and its hour, where it tells some of the ride's heat."""
    if ride.weather is None or ride.heat.forecast_share <= 0:
        return ()
    return ride.weather.words[:1]


def _before_it(heat: Heat, air: AirAlong) -> Message:
    """To be through by the hour at which the heat first says stop; early, if it is met so."""
    zone = heat.zone
    met = [datetime.fromtimestamp(float(moment), zone) for moment in air.unix_s]
    hot = np.flatnonzero(air.wbgt_riding_c >= _STOP)
    first = min(hot, key=lambda i: met[i].time())
    if first == 0 or met[first - 1].date() != met[first].date():
        return message("Ride early, or go on another day.")
    quarter = met[first].replace(minute=met[first].minute // 15 * 15)
    return message("Be through before {hour}, or go on another day.", hour=f"{quarter:%H:%M}")


def cold(ride: Assessed) -> Iterator[Finding]:
    """Wind chill at riding speed below freezing; where the air is too, ice on the road."""
    rider, air = ride.heat.rider, ride.heat.air
    if rider is None or air is None or rider.min_wind_chill_c > LIMITS.chill_c:
        return
    chill_c = rider.min_wind_chill_c
    grave = chill_c <= LIMITS.chill_danger_c
    ferries = ((s.from_m, s.to_m) for s in ride.ground.stretches if s.ground is GroundKind.FERRY)
    on_road = ~within(air.at_m, ferries)
    frozen = (air.temp_c <= LIMITS.frost_c) & on_road
    frost = float(frozen.mean()) >= LIMITS.frost_share
    parts = sampled(
        air.at_m,
        frozen if frost
        else on_road & (air.wind_chill_c <= (LIMITS.chill_danger_c if grave else LIMITS.chill_c)),
    )  # fmt: skip
    what = message("Cold: it may feel like {chill_c} at speed.", chill_c=chill_c)
    do: str = message("Warm layers and gloves.")
    if frost:
        what = message(
            N_("Frost: {min_c} on the road, and it may feel like {chill_c} at speed.")
            if ride.heat.forecast_share > 0
            else N_(
                "Frost: {min_c} on the road on a mean day, and it may feel like {chill_c} at speed."
            ),
            min_c=float(air.temp_c[frozen].min()), chill_c=chill_c,
        )  # fmt: skip
        snow = (ride.heat.rain_mm or 0.0) >= LIMITS.snow_mm
        do = join_messages([
            message("Snow or rain that freezes is forecast for the day.") if snow else "",
            message("Wet road is ice, on which no motorcycle holds: ride only if it is dry and "
                    "cleared, or wait. Warm layers and gloves."),
        ])  # fmt: skip
    elif (air.temp_c <= ICE_C).any():
        do = message("Warm layers and gloves; ice is possible.")
    yield Finding(
        kind=FindingKind.COLD,
        rank=Rank.DANGER if grave or frost else Rank.CARE,
        what=what,
        do=for_all(join_messages([do, *_by(ride)])),
        parts=parts,
        place=place_of(parts, ride.places),
        size=-chill_c,
    )


def water(ride: Assessed) -> Iterator[Finding]:
    """What the tide or a flood may cover, and fords that no reason of the rider's tells."""
    codes = (LawKind.FLOODS.value, f"{LawKind.FLOODS.value}-more")
    parts = merged(span for item in ride.advice.law if item.code in codes for span in item.places)
    if parts:
        yield Finding(
            kind=FindingKind.WATER,
            rank=Rank.DANGER,
            what=message("Under water at high tide or in floods, by the map."),
            do=for_all(
                message("Ask for the hours of the tide and after rain; turn round while it rises.")
            ),
            parts=parts,
            place=place_of(parts, ride.places),
            size=total_m(parts),
        )
    fit = ride.advice.rider
    told = fit.reasons[: fit.n_worst] if fit.verdict is not RiderVerdict.WITHIN else ()
    fords = [item for item in fit.reasons if item.code in ("fords", "ford-one")]
    if fords and fords[0] not in told:
        parts = merged(fords[0].places)
        yield Finding(
            kind=FindingKind.WATER,
            rank=Rank.CARE,
            what=message("A ford on the way.", "{n} fords on the way.", n=len(parts)),
            do=for_all(
                message(
                    "Fords: walk them first; not above the axle, nor when rising, brown or unseen."
                )
            ),
            parts=parts,
            place=place_of(parts, ride.places),
            size=float(len(parts)),
        )


def ferry(ride: Assessed) -> Iterator[Finding]:
    """The ferries, and first those that take no cars."""
    no_cars = merged(ride.places.no_cars)
    if no_cars:
        yield Finding(
            kind=FindingKind.FERRY,
            rank=Rank.DANGER,
            what=message(
                "A ferry that takes no cars, by the map: perhaps no motorcycles either.",
                "Ferries that take no cars, by the map: perhaps no motorcycles either.",
                n=len(no_cars),
            ),
            do=for_all(message("Ask before you set out, and have another way ready.")),
            parts=no_cars,
            place=place_of(no_cars, ride.places),
            size=total_m(no_cars),
        )
    parts = merged(
        (s.from_m, s.to_m)
        for s in ride.ground.stretches
        if s.ground is GroundKind.FERRY and not closed_on(ride.places.closed, s.from_m, s.to_m)
    )
    if parts:
        ends_m = np.array([(part.from_m, part.to_m) for part in parts])
        ferry_s = float(np.diff(ride.ride.time_s(ends_m)).sum())
        yield Finding(
            kind=FindingKind.FERRY,
            rank=Rank.CARE,
            what=message(
                "A ferry of {run_m}.", "Ferries, {run_m} in all.", n=len(parts),
                run_m=total_m(parts),
            ),
            do=for_all(message(
                "Ask whether it takes motorcycles, and its hours; the crossing, {ferry_s}, counts "
                "as riding, the wait does not.",
                "Ask whether they take motorcycles, and their hours; the crossings, {ferry_s}, "
                "count as riding, the wait does not.",
                n=len(parts), ferry_s=ferry_s,
            )),
            parts=parts,
            place=place_of(parts, ride.places),
            size=total_m(parts),
        )  # fmt: skip


def outside_words(parts: tuple[RidePart, ...]) -> Message:
    return message(
        "{outside_m} lie outside the map of the region: neither roads nor closures nor help are "
        "known there.",
        outside_m=total_m(parts),
    )


def outside(ride: Assessed) -> Iterator[Finding]:
    """That the region ends before the ride does: what is said holds of the rest."""
    parts = merged(ride.places.outside)
    if total_m(parts) >= LIMITS.doubt_m:
        yield Finding(
            kind=FindingKind.GUESS,
            rank=Rank.CARE,
            what=outside_words(parts),
            do=for_all(message("Have it read on a map that holds all of it.")),
            parts=parts,
            place=place_of(parts, ride.places),
            size=total_m(parts),
        )


def guess(ride: Assessed) -> Iterator[Finding]:
    """That the region ends before the ride does, or that the way itself was guessed between
    points too far apart to show it."""
    yield from outside(ride)
    match = ride.match
    if not match.matched_m or match.filled_m / match.matched_m < LIMITS.guessed_share:
        return
    parts = merged(match.gaps)
    yield Finding(
        kind=FindingKind.GUESS,
        rank=Rank.CARE,
        what=message(
            "{filled_m} lie between points too far apart to show the road: the likely one was "
            "chosen.",
            filled_m=match.filled_m,
        ),
        do=PerAudience(
            rider=message("Send the plan as a track, so that the way is yours."),
            staff=message("Ask for the plan as a track before you answer."),
            guide=message("Draw the plan as a track, so that the way is yours."),
        ),
        parts=parts,
        place=place_of(parts, ride.places),
        size=match.filled_m,
    )


def engine(ride: Assessed) -> Iterator[Finding]:
    """That the engine of the bike that goes, or of the hardest class, leans on its cooling."""
    hot = _engine(ride)
    if hot is None or hot.concern is Concern.LOW:
        return
    parts = merged((run.from_m, run.to_m) for run in hot.runs)
    yield Finding(
        kind=FindingKind.ENGINE,
        rank=Rank.CARE if hot.is_high else Rank.NOTE,
        what=message(
            "Engine heat of the {bike}: {level} ({why}).",
            bike=term(hot.title), level=term(CONCERN_TERMS[hot.concern]),
            why=cause_terms(hot.causes),
        ),
        do=PerAudience(
            rider=message("Check coolant and oil before it; stop and let it cool if it boils."),
            staff=message("Check coolant, oil and fan before it goes out."),
            guide=message("Check coolant and oil before it; plan a stop to let it cool."),
        ),
        parts=parts,
        place=place_of(parts, ride.places),
        size=total_m(parts),
    )  # fmt: skip


def _engine(ride: Assessed) -> EngineHeat | None:
    """Of the bike asked for if it may go, else of the first that may, else of the hardest class."""
    going = [fit.name for fit in ride.advice.bikes]
    name = ride.trip.wanted_class if ride.trip.wanted_class in going else next(iter(going), None)
    return next((item for item in ride.heat.engines if item.bike == name), ride.heat.hardest)
