"""What a plan takes for granted, in plain sentences."""

from __future__ import annotations

from terrain.values.fleet import FleetRules
from terrain.values.plan import FuelRange
from terrain.values.trip import Trip


def plan_words(
    fuel: FuelRange | None, trip: Trip, rules: FleetRules, *, has_light: bool
) -> tuple[str, ...]:
    """Assumptions of the plan."""
    words = []
    if fuel is not None:
        words.append(
            f"Fuel by the {fuel.bike}, which gets least far: {fuel.range_m / 1000:.0f} km on "
            f"tarmac with {rules.range_reserve:.0%} of the tank kept back, less off road. The "
            "tank is full at the start."
        )
    words.append(
        f"A stop of 15 minutes or more every {rules.rest_every_s / 60:.0f} minutes or "
        f"{rules.rest_every_m / 1000:.0f} km of riding, sooner in the heat."
    )
    if not has_light:
        words.append("No date is known, so daylight is not checked.")
    if trip.depart is None:
        words.append("No time of departure is known: the clock starts at 08:30.")
    words.append("Opening hours, prices and free beds are not checked. Call ahead.")
    return tuple(words)
