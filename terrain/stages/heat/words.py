"""What to know of heat, in plain sentences."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from enum import Enum

from terrain.tables.heat import COLD_TOLD_C, HEAT_TOLD_C, Measure
from terrain.text.message import Message, message, term
from terrain.text.terms import CAUSE_TERMS
from terrain.values.heat import EngineHeat, LevelHours, MonthHeat, RiderHeat


class Unknown(Enum):
    """What is not known of most of a ride."""

    HEIGHTS = "heights"
    GRADES = "grades"


def heat_words(
    rider: RiderHeat | None,
    engines: Sequence[EngineHeat],
    months: Sequence[MonthHeat],
    *,
    unknown: Unknown | None,
) -> tuple[str, ...]:
    """Sentences, the weightiest first. unknown : why engines are not judged, None if they are"""
    words: list[str] = []
    if rider is not None:
        words += _rider(rider)
    elif months:
        words.append(_year(months))
    words += _engines(engines)
    if unknown is Unknown.GRADES:
        words.append(
            message(
                "The elevation data has holes on most of the way, so the grades are not known: the "
                "engine is judged as on level ground, and climbs may make it hotter."
            )
        )
    elif unknown is Unknown.HEIGHTS:
        words.append(
            message(
                "Heights are not known: the engine is judged as on level ground, and climbs may "
                "make it hotter; air temperature takes the mean height of the country."
            )
        )
    return tuple(words)


def _rider(rider: RiderHeat) -> list[str]:
    words = _cold(rider)
    if words and rider.max_air_temp_c < HEAT_TOLD_C:
        return words
    words.append(
        message(
            "Up to {max_c} on the way ({low_c:n} to {high_c:n}). Drink about {water_l} of water "
            "an hour.",
            max_c=rider.max_air_temp_c,
            low_c=rider.max_air_temp_low_c,
            high_c=rider.max_air_temp_high_c,
            water_l=rider.water_most_l_h,
        )
    )
    riding, still = (_top_level(rider, measure) for measure in (Measure.RIDING, Measure.WBGT))
    if riding is not None:
        words.append(
            message(
                "In the wind of riding, the heat is at the level “{level}” for {level_s}.",
                level_s=3600.0 * riding.hours,
                level=term(riding.word),
            )
        )
    if still is not None and (riding is None or still.above > riding.above):
        words.append(
            message(
                "Where you stop in the sun or go at walking pace, it reaches “{level}”: rest in "
                "shade, gear open.",
                level=term(still.word),
            )
        )
    elif riding is not None:
        words.append(message("Rest in shade, gear open."))
    return words


def _cold(rider: RiderHeat) -> list[str]:
    """In cold months the cold is what matters; empty if it is not cold."""
    if rider.min_wind_chill_c >= COLD_TOLD_C:
        return []
    return [
        message(
            "Cold: down to {min_c} on the way and {max_c} at the warmest; at riding speed it may "
            "feel like {chill_c} (wind chill, Environment Canada and US National Weather Service "
            "2001). Warm layers and gloves; stop before the fingers are numb.",
            min_c=rider.min_air_temp_c,
            max_c=rider.max_air_temp_c,
            chill_c=rider.min_wind_chill_c,
        )
    ]


def _top_level(rider: RiderHeat, measure: Measure) -> LevelHours | None:
    """The gravest level that is passed, if it asks for more than caution."""
    passed = [x for x in rider.hours_above if x.measure == measure.value and x.hours > 0]
    return passed[-1] if len(passed) > 1 else None


def _engines(engines: Sequence[EngineHeat]) -> list[str]:
    words: list[str] = []
    for engine in engines:
        if engine.is_high and engine.cooling == "liquid":
            words.append(
                message(
                    "{bike}: engine heat is high ({why}) and only the fan cools it. Test the fan "
                    "before you go.",
                    bike=term(engine.title),
                    why=cause_terms(engine.causes),
                )
            )
        elif engine.is_high:
            words.append(
                message(
                    "{bike}: engine heat is high ({why}), too much for its oil. Stop and let it "
                    "cool.",
                    bike=term(engine.title),
                    why=cause_terms(engine.causes),
                )
            )
    return words


def cause_terms(causes: Iterable[str]) -> tuple[Message, ...]:
    """What makes an engine hot, to be said in a message."""
    return tuple(term(CAUSE_TERMS[cause]) for cause in causes)


def _year(months: Sequence[MonthHeat]) -> str:
    hot = max(months, key=lambda m: m.max_air_temp_c)
    cold = min(months, key=lambda m: m.max_air_temp_c)
    return message(
        "No date is known. In the heat of a mean day the ride reaches {hot_c} in {hot_month} and "
        "{cold_c} in {cold_month}.",
        hot_c=hot.max_air_temp_c,
        hot_month=hot.month,
        cold_c=cold.max_air_temp_c,
        cold_month=cold.month,
    )
