"""What to know of heat, in plain sentences."""

from __future__ import annotations

from collections.abc import Sequence

from terrain.values.heat import Concern, EngineHeat, MonthHeat, RiderHeat

_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip


def heat_words(
    rider: RiderHeat | None,
    engines: Sequence[EngineHeat],
    months: Sequence[MonthHeat],
    *,
    knows_grades: bool,
) -> tuple[str, ...]:
    """Sentences, the weightiest first."""
    words: list[str] = []
    if rider is not None:
        words += _rider(rider)
    elif months:
        words.append(_year(months))
    words += _engines(engines)
    if not knows_grades:
        words.append(
            "Heights are not known, so the heat of climbs on the engine is not judged, and air "
            "temperature takes the mean height of the country."
        )
    return tuple(words)


def _rider(rider: RiderHeat) -> list[str]:
    low, high = rider.max_air_temp_low_c, rider.max_air_temp_high_c
    words = [
        f"Up to {rider.max_air_temp_c:.0f} °C on the way ({low:.0f} to {high:.0f}), "
        f"about {rider.water_l_h:.1f} L of water an hour."
    ]
    steps = [level for level in rider.hours_above if level.measure == "wbgt_c" and level.hours > 0]
    if steps and steps[-1].above >= 25.0:
        top = steps[-1]
        words.append(
            f"When you stop or go at walking pace, {top.hours:.1f} h of the ride are at the heat "
            f"level “{top.word}”: rest in shade, gear open."
        )
    if rider.min_wind_chill_c < 5.0:
        words.append(f"At speed it may feel like {rider.min_wind_chill_c:.0f} °C at the coldest.")
    return words


def _engines(engines: Sequence[EngineHeat]) -> list[str]:
    words = []
    for engine in engines:
        if engine.concern is Concern.HIGH and engine.cooling == "liquid":
            words.append(
                f"{engine.title}: {engine.fan_s / 60:.0f} min of the ride rest on the fan, "
                f"{engine.longest_s / 60:.0f} min at a stretch. Test the fan before you go."
            )
        elif engine.concern is Concern.HIGH:
            words.append(
                f"{engine.title}: the engine may get too hot for its oil for "
                f"{engine.longest_s / 60:.0f} min at a stretch. Stop and let it cool."
            )
    return words


def _year(months: Sequence[MonthHeat]) -> str:
    hot = max(months, key=lambda m: m.max_air_temp_c)
    cold = min(months, key=lambda m: m.max_air_temp_c)
    when_hot, when_cold = _MONTHS[hot.month - 1], _MONTHS[cold.month - 1]
    return (
        "No date is known. In the heat of a mean day the ride reaches "
        f"{hot.max_air_temp_c:.0f} °C in {when_hot} and "
        f"{cold.max_air_temp_c:.0f} °C in {when_cold}."
    )
