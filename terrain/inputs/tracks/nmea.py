"""The fixes of an NMEA 0183 log, through the library that knows its sentences.

RMC gives time, date and place, GGA time, place and height, ZDA the date. Sentences of another
kind, without a fix, or with a wrong checksum are left out; the last are told.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from pathlib import PurePath
from typing import Any

from terrain.errors import TrackError
from terrain.inputs.tracks.fixes import Fixes, plain_fixes
from terrain.text.message import message
from terrain.values.route import Problem

# A logger may put its own mark before the sentence.
_SENTENCE = re.compile(rb"\$[A-Z]{2}(?:RMC|GGA|ZDA),[^\r\n$]*")
_HALF_DAY = timedelta(hours=12)


def is_nmea(content: bytes) -> bool:
    """True if the first lines hold a sentence with a place or a time."""
    return _SENTENCE.search(content[:20_000]) is not None


@dataclass(slots=True)
class _Log:
    """The fixes so far, and the day that the sentences without a date belong to."""

    day: date | None = None
    time_s: list[float] = field(default_factory=list)
    lon: list[float] = field(default_factory=list)
    lat: list[float] = field(default_factory=list)
    ele_m: list[float] = field(default_factory=list)
    dateless: int = 0
    bad: int = 0

    def moment(self, clock: time) -> datetime | None:
        """The time of day on its day: the sentence may be the first after midnight."""
        if self.day is None:
            return None
        found = datetime.combine(self.day, clock, tzinfo=UTC)
        if self.time_s:
            last = datetime.fromtimestamp(self.time_s[-1], tz=UTC)
            if last - found > _HALF_DAY:
                found += timedelta(days=1)
        return found

    def add(self, moment: datetime, fix: Any, ele_m: float) -> None:
        stamp = moment.timestamp()
        if self.time_s and self.time_s[-1] == stamp:  # RMC and GGA of one fix
            if ele_m == ele_m:
                self.ele_m[-1] = ele_m
            return
        self.time_s.append(stamp)
        self.lon.append(float(fix.lon))
        self.lat.append(float(fix.lat))
        self.ele_m.append(ele_m)


def nmea_fixes(content: bytes, source: str) -> Fixes:
    """The fixes of a log, in its own order.

    Raises TrackError for a log without places, or without any date.
    """
    from pynmeagps import NMEAReader
    from pynmeagps.exceptions import NMEAMessageError, NMEAParseError, NMEATypeError

    log = _Log()
    for found in _SENTENCE.finditer(content):
        try:
            fix = NMEAReader.parse(found.group().strip(), validate=1)
        except (NMEAParseError, NMEAMessageError, NMEATypeError, ValueError):
            fix = None
        if fix is None:  # damaged, or without its checksum
            log.bad += 1
            continue
        _take(log, fix)
    if not log.time_s:
        if log.dateless:
            raise TrackError(
                message("the log gives the time of day but never a date"),
                source,
                message("Log the RMC or ZDA sentences too."),
            )
        raise TrackError(
            message("no sentence of the log holds a place with a time"),
            source,
            message("Send the log of a receiver that had a fix."),
        )
    return plain_fixes(
        PurePath(source).stem, log.time_s, log.lon, log.lat, log.ele_m, _problems(log)
    )


def _take(log: _Log, fix: Any) -> None:
    kind = fix.msgID
    if kind == "ZDA":
        if all(isinstance(part, int) for part in (fix.year, fix.month, fix.day)):
            log.day = date(fix.year, fix.month, fix.day)
        return
    if not isinstance(fix.time, time):
        return
    if kind == "RMC" and isinstance(fix.date, date):
        log.day = fix.date
    lost = fix.status != "A" if kind == "RMC" else fix.quality in (0, "")
    if lost or not isinstance(fix.lat, float) or not isinstance(fix.lon, float):
        return
    if kind == "RMC" and isinstance(fix.date, date):
        moment: datetime | None = datetime.combine(fix.date, fix.time, tzinfo=UTC)
    else:
        moment = log.moment(fix.time)
    if moment is None:
        log.dateless += 1
        return
    height = getattr(fix, "alt", "")
    log.add(moment, fix, height if isinstance(height, float) else float("nan"))


def _problems(log: _Log) -> tuple[Problem, ...]:
    found = []
    if log.bad:
        found.append(
            Problem(
                code="bad-sentences",
                what=message(
                    "one damaged sentence in the log", "{n} damaged sentences in the log", n=log.bad
                ),
                action=message("left out"),
            )
        )
    if log.dateless:
        found.append(
            Problem(
                code="no-date-yet",
                what=message(
                    "one fix before the log gives a date",
                    "{n} fixes before the log gives a date",
                    n=log.dateless,
                ),
                action=message("left out"),
            )
        )
    return tuple(found)
