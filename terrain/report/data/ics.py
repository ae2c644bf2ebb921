"""The plan's days for a calendar: iCalendar, an event a day, in local time.

Source: RFC 5545. Written by the icalendar library, which folds, escapes and names time zones.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from terrain.errors import UsageError
from terrain.text.message import message, spaced
from terrain.text.plain import plain_line
from terrain.text.terms import STOP_TERMS
from terrain.text.translator import Translator
from terrain.values.match import ride_coords
from terrain.values.plan import Day, Stop, clock
from terrain.values.report import Report

if TYPE_CHECKING:
    from icalendar import Event


def render_ics(report: Report, translator: Translator | None = None) -> bytes:
    """The days of the plan as events with their stops, UTF-8.

    translator : language and units of the texts
    Raises UsageError if the ride has no day of departure.
    """
    from icalendar import Calendar

    whole = report.assessed
    if whole.trip.depart is None:
        raise UsageError(
            message("a calendar needs the day of departure"),
            "--write ics",
            message("Give --depart DATE_AND_TIME."),
        )
    translator = translator or Translator()
    calendar = Calendar()
    calendar.add("prodid", f"-//terrain//{report.terrain_version}//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", _line(whole.route.name))
    first = whole.trip.depart.date()
    zone = whole.heat.zone
    for day in whole.plan.days:
        calendar.add_component(_event(report, day, first, zone, translator))
    calendar.add_missing_timezones()
    return bytes(calendar.to_ical())


def _event(report: Report, day: Day, first: date, zone: ZoneInfo, translator: Translator) -> Event:
    from icalendar import Event

    whole = report.assessed
    name = whole.route.name
    if len(whole.plan.days) > 1:
        name = translator.say("Day {n_day}: {route}", n_day=day.number, route=name)
    on = first + timedelta(days=day.number - 1)
    event = Event()
    stamp = report.made_at.astimezone(UTC)
    event.add("uid", f"{_uid(report, on)}@terrain.invalid")
    event.add("dtstamp", stamp)
    event.add("dtstart", _moment(on, day.start_s, zone))
    event.add("dtend", _moment(on, max(day.end_s, day.start_s + 60.0), zone))
    event.add("summary", _line(name))
    event.add("description", "\n".join(_texts(report, day, translator)))
    lon, lat = ride_coords(whole.match, day.from_m, max(day.to_m, day.from_m + 1.0))[0].tolist()
    event.add("geo", (round(lat, 6), round((lon + 180.0) % 360.0 - 180.0, 6)))
    return event


def _uid(report: Report, on: date) -> str:
    """The same for the same ride and day, so that a newer file replaces an older one."""
    import hashlib

    text = f"{report.assessed.route.name}\n{report.assessed.route.source}\n{on.isoformat()}"
    return hashlib.sha256(text.encode("utf-8", errors="replace")).hexdigest()[:24]


def _moment(on: date, time_s: float, zone: ZoneInfo) -> datetime:
    """A local time to the minute; past midnight it is the next day."""
    midnight = datetime(on.year, on.month, on.day)
    return (midnight + timedelta(minutes=round(time_s / 60.0))).replace(tzinfo=zone)


def _texts(report: Report, day: Day, translator: Translator) -> list[str]:
    whole = report.assessed
    ride = f"{translator.km_range(day.from_m, day.to_m)}, {translator.duration(day.riding_s)}"
    rows = [translator.translate(report.verdict.headline), ride]
    rows += [_stop(stop, translator) for stop in whole.plan.stops if stop.day == day.number]
    if day.lodging is not None and day.lodging.name:
        rows.append(translator._("Overnight: {name}", name=day.lodging.name))
    if day.daylight is not None:
        light = translator._("Sunset {clock}", clock=clock(day.daylight.sunset_s))
        rows.append(light)
    rows.append(translator._("A line on a map is not permission to ride it."))
    rows += whole.region.attribution
    return [_line(row) for row in rows]


def _stop(stop: Stop, translator: Translator) -> str:
    kinds = ", ".join(translator._(STOP_TERMS[kind]) for kind in stop.kinds)
    name = f" {stop.name}" if stop.name else ""
    return f"{clock(stop.arrive_s)} {translator.km_mark(stop.at_m)}: {kinds}{name}"


def _line(text: str) -> str:
    return spaced(plain_line(_encodable(text)))


def _encodable(text: str) -> str:
    """Text that UTF-8 can hold."""
    return text.encode("utf-8", errors="replace").decode("utf-8")
