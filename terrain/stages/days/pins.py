"""Where the guide asks for a night or a stop, and which wishes cannot be had."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from terrain.calc.geodesy import metres_per_degree
from terrain.text.catalogue import N_
from terrain.text.message import message, term
from terrain.values.match import Match
from terrain.values.plan import PinnedNight, PinnedStop, Pins, PlanProblem, ProblemKind
from terrain.values.ride import Ride
from terrain.values.route import Route

# Common practice, no source.
_PIN_REACH_M = 5_000.0


def with_days(pins: Pins | None, route: Route, match: Match) -> Pins:
    """The wishes, and where the file ends each day of which the guide does not say it."""
    pins = pins or Pins()
    nights, said = list(pins.nights), {pin.day for pin in pins.nights}
    for day, start in enumerate(route.day_starts, start=1):
        known = match.point_at_m[:start]
        known = known[~np.isnan(known)]
        if len(known) and day not in said:
            night = PinnedNight(day=day, at_m=float(known[-1]), where=route.source, by_file=True)
            nights.append(night)
    return replace(pins, nights=tuple(nights))


def pinned_nights(
    pins: Pins, ride: Ride
) -> tuple[list[tuple[int, PinnedNight, float]], list[PlanProblem]]:
    """The guide's own nights as (index, pin, position), and those that cannot be."""
    out: list[tuple[int, PinnedNight, float]] = []
    problems = []
    last: tuple[int, float] = (0, 0.0)
    for index, pin in sorted(enumerate(pins.nights), key=lambda item: item[1].day):
        at_m, problem = position_of(pin, ride)
        if at_m is not None and at_m <= last[1]:
            form = N_("day {n_day} would end before day {n_other} does")
            if last[0] and last[1] - at_m < 1.0:
                form = N_(
                    "day {n_day} would be a rest where day {n_other} ends: the plan holds none, "
                    "and dates what follows a day too early"
                )
            text = message(form, n_day=pin.day, n_other=last[0])
            problem = _broken(pin, at_m, text)
            at_m = None
        elif at_m is not None and at_m >= ride.length_m - 1.0:
            text = message("day {n_day} would end at the end of the ride anyway", n_day=pin.day)
            problem = _broken(pin, at_m, text)
            at_m = None
        if problem is not None:
            problems.append(problem)
        if at_m is not None:
            out.append((index, pin, at_m))
            last = (pin.day, at_m)
    return out, problems


def position_of(
    pin: PinnedNight | PinnedStop, ride: Ride
) -> tuple[float | None, PlanProblem | None]:
    """Where along the ride a pin lies; None with a problem if it lies off it."""
    if pin.at_m is not None:
        if 0.0 <= pin.at_m <= ride.length_m:
            return pin.at_m, None
        text = message(
            "{pin_at_m} is beyond the ride, which ends at {end_at_m}",
            pin_at_m=pin.at_m,
            end_at_m=ride.length_m,
        )
        return None, _broken(pin, min(pin.at_m, ride.length_m), text)
    if pin.lon is None or pin.lat is None:
        return None, _broken(pin, 0.0, term(N_("it says neither a distance nor a point")))
    line = ride.match
    east_m, north_m = metres_per_degree(pin.lat)
    # Between drawn points the line may pass nearer: look at it every 100 m.
    at = np.arange(0.0, ride.length_m + 100.0, 100.0).clip(0.0, ride.length_m)
    lon, lat = line.lonlat(at)
    gap = np.hypot((lon - pin.lon) * east_m, (lat - pin.lat) * north_m)
    i = int(np.argmin(gap))
    if gap[i] > _PIN_REACH_M:
        text = message("it lies {gap_m} off the ride", gap_m=float(gap[i]))
        return None, _broken(pin, float(at[i]), text)
    return float(at[i]), None


def _broken(pin: PinnedNight | PinnedStop, at_m: float, text: str) -> PlanProblem:
    told = message(
        "{pin}{where} is left out: {why}.",
        pin=pin.name or term(N_("A wish without a name")),
        where=f" ({pin.where})" if pin.where else "",
        why=text,
    )
    return PlanProblem(kind=ProblemKind.PIN, from_m=at_m, to_m=at_m, text=told)
