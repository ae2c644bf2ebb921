"""What a forecast changed in a report, and what to say of it."""

from __future__ import annotations

import numpy as np

from terrain.stages.weather.along import rain_between
from terrain.text.message import Message, message
from terrain.values.forecast import PAST_DAYS, Forecast, Weather
from terrain.values.heat import Heat
from terrain.values.match import Match

# Common practice, no source.
_PLACES = 60
_AHEAD_DAYS = 7


def judge_weather(forecast: Forecast, match: Match, heat: Heat) -> Weather:
    """The forecast as the report tells it, once heat was judged by it."""
    at_m = np.linspace(0.0, match.length_m, _PLACES)
    lon, lat = match.lonlat(at_m)
    past = rain_between(forecast, lon, lat, 0, PAST_DAYS)
    ahead = rain_between(forecast, lon, lat, PAST_DAYS, _AHEAD_DAYS)
    return Weather(
        source=forecast.source, asked_at=forecast.asked_at, made_at=forecast.made_at,
        heat_share=heat.forecast_share, rain_past_mm=past, rain_ahead_mm=ahead,
        words=_words(forecast, heat, past, ahead),
        why=forecast.why if forecast.made_at is None else "",
    )  # fmt: skip


_Span = tuple[float, float] | None


def _words(forecast: Forecast, heat: Heat, past: _Span, ahead: _Span) -> tuple[str, ...]:
    if forecast.made_at is None:
        return ()  # why there is none stands among what is not known
    share = heat.forecast_share
    zone = heat.zone
    made = forecast.made_at.astimezone(zone)
    words: list[str] = [
        message(
            "Weather forecast of {made_day}, {made_hour}: {source}.",
            made_day=made.date().isoformat(), made_hour=made.strftime("%H:%M"),
            source=forecast.source,
        )
    ]  # fmt: skip
    if 0.0 < share < 0.995:
        words.append(
            message(
                "It reaches {told_share} of the ride; for the rest heat is the mean of the month.",
                told_share=share,
            )
        )
    elif share <= 0.0:
        words.append(message("It does not reach the ride: heat is the mean of the month."))
    if forecast.why:
        words.append(
            message(
                "For some places there was no answer: {why}.",
                why=forecast.why,
            )
        )
    return (*words, _rain(past, ahead))


def _rain(past: _Span, ahead: _Span) -> Message:
    if past is not None and ahead is not None:
        return message(
            "Rain along the ride: {past_mm} at most in the 14 days before, {ahead_mm} at most in "
            "the 7 days from then.",
            past_mm=past[1], ahead_mm=ahead[1],
        )  # fmt: skip
    if ahead is not None:
        return message(
            "Rain along the ride: {ahead_mm} at most in the 7 days from then. The rain before is "
            "not told, so soft ground is taken as no drier than the month's mean.",
            ahead_mm=ahead[1],
        )
    if past is not None:
        return message(
            "Rain along the ride: {past_mm} at most in the 14 days before.", past_mm=past[1]
        )
    return message("No rain is told for the week: soft ground goes by the month's mean.")
