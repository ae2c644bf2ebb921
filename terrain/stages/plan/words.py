"""What a plan takes for granted, in plain sentences."""

from __future__ import annotations

from terrain.values.figures import N_
from terrain.values.fleet import FleetRules
from terrain.values.plan import FuelRange
from terrain.values.sentences import sentence, word
from terrain.values.trip import Trip


def plan_words(
    fuel: FuelRange | None, trip: Trip, rules: FleetRules, *, has_light: bool
) -> tuple[str, ...]:
    """Assumptions of the plan."""
    words: list[str] = []
    if fuel is not None:
        words.append(
            sentence(
                "Fuel is planned for the {bike}, which gets least far: {range_m} on tarmac with "
                "{reserve_share} of the tank kept back, less off road. The tank is full at the "
                "start.",
                bike=word(fuel.title),
                range_m=fuel.range_m,
                reserve_share=rules.range_reserve,
            )
        )
    words.append(
        sentence(
            "A stop of 15 minutes or more every {rest_s} or {rest_m} of riding, sooner in the "
            "heat.",
            rest_s=rules.rest_every_s,
            rest_m=rules.rest_every_m,
        )
    )
    if not has_light and trip.depart is None:
        words.append(word(N_("No date is known, so daylight is not checked.")))
    if trip.depart is None:
        words.append(word(N_("No time of departure is known: the clock starts at 08:30.")))
    words.append(word(N_("Opening hours, prices and free beds are not checked. Call ahead.")))
    return tuple(words)
