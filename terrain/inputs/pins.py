"""A guide's pinned days and stops from a TOML file.

start = "08:00"            # local time of setting off each day

[[day]]                    # where a day ends
number = 1
end_km = 182.5             # along the ride; or  end = [lon, lat]
name = "Lower Camp"

[[stop]]
km = 97                    # or  at = [lon, lat]
kind = "lunch"             # fuel, lunch, rest, water, check, van; "pinned" if left out
name = "Mill bridge"
stay_min = 60

[[without]]                # a stop of the plan that is not wanted
km = 120
"""

from __future__ import annotations

import math
import re
import tomllib
from datetime import time
from pathlib import Path
from typing import Any, Literal

from terrain.errors import PlanError
from terrain.inputs.faults import Fault, faults_error, nearest
from terrain.inputs.forms import line_of
from terrain.inputs.reading import read_most
from terrain.inputs.tables import utf8_text
from terrain.inputs.toml_lines import key_lines
from terrain.text.catalogue import N_
from terrain.text.message import Message, message
from terrain.values.plan import PinnedNight, PinnedStop, Pins, StopKind

MOST_BYTES = 1_000_000
_TOP_KEYS = ("start", "day", "stop", "without")
_DAY_KEYS = ("number", "end_km", "end", "name")
_WITHOUT_KEYS = ("km",)
_STOP_KEYS = ("km", "at", "kind", "name", "stay_min")
_STOP_KINDS = tuple(kind for kind in StopKind if kind is not StopKind.NIGHT)
_LONGEST_NAME = 200
_MOST_DAYS = 90


def read_pins(path: str | Path) -> Pins:
    """The pinned days and stops in a TOML file. Raises PlanError if it cannot be used."""
    path = Path(path)
    return parse_pins(read_most(path, MOST_BYTES, PlanError), path.name)


def parse_pins(data: bytes, source: str, *, by_line: bool = True) -> Pins:
    """The pinned days and stops in the bytes of a TOML file.

    source : the file's name as shown to people
    by_line : faults name lines; else the number of the day or stop, for a form
    Raises PlanError naming every fault with its line and the keys or words allowed.
    """
    if len(data) > MOST_BYTES:
        raise PlanError(message("the file is larger than 1 MB"), source)
    text = utf8_text(data, source, PlanError)
    try:
        tree = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as exc:
        fix = message("See the examples of TOML in the manual.")
        raise PlanError(
            message("this is not TOML: {reason}", reason=str(exc)), source, fix
        ) from exc
    reader = _Reader(text, source, by_line=by_line)
    pins = reader.pins(tree)
    if reader.faults:
        raise faults_error(reader.faults, PlanError, source)
    return pins


class _Reader:
    """Checks a parsed file and gathers all its faults."""

    def __init__(self, text: str, source: str, *, by_line: bool) -> None:
        self.lines = key_lines(text)
        self.source, self.by_line = source, by_line
        self.faults: list[Fault] = []

    def pins(self, tree: dict[str, Any]) -> Pins:
        self._known(tree, _TOP_KEYS, "")
        nights = [
            self._night(table, where)
            for table, where in self._tables(tree, "day")
            if self._known(table, _DAY_KEYS, where)
        ]
        stops = [
            self._stop(table, where)
            for table, where in self._tables(tree, "stop")
            if self._known(table, _STOP_KEYS, where)
        ]
        without = [
            self._number(table.get("km"), "km", where, most=100_000.0)
            for table, where in self._tables(tree, "without")
            if self._known(table, _WITHOUT_KEYS, where)
        ]
        numbers = [night.day for night in nights]
        for twice in sorted({n for n in numbers if numbers.count(n) > 1}):
            self._fault("", message("day {n} is given more than once", n=str(twice)))
        return Pins(
            nights=tuple(nights), stops=tuple(stops), start_s=self._start(tree),
            without_m=tuple(1000.0 * km for km in without if km is not None),
        )  # fmt: skip

    def _tables(self, tree: dict[str, Any], key: str) -> list[tuple[dict[str, Any], Message]]:
        """The tables of one kind with their lines in words."""
        tables = tree.get(key, [])
        if not isinstance(tables, list) or not all(isinstance(item, dict) for item in tables):
            self._fault("", message("{key} has to be written as [[{key}]]", key=key))
            return []
        return [(table, self._named(key, i)) for i, table in enumerate(tables)]

    def _named(self, key: str, i: int) -> Message:
        """Where a table stands: its line, or its number in a form that has no lines."""
        if self.by_line:
            return message("line {line}", line=str(line_of((key, i), self.lines)))
        return message("day {n}" if key == "day" else N_("stop {n}"), n=str(i + 1))

    def _known(
        self, table: dict[str, Any], keys: tuple[str, ...], where: Message | Literal[""]
    ) -> bool:
        for key in table:
            if key not in keys:
                what = message("{key} is not known", key=key)
                self._fault(where, what, nearest(key, keys))
        return True

    def _fault(
        self, where: Message | Literal[""], what: Message, fix: Message | Literal[""] = ""
    ) -> None:
        self.faults.append(Fault(at=where, what=what, fix=fix))

    def _night(self, table: dict[str, Any], where: Message) -> PinnedNight:
        day = table.get("number")
        if not isinstance(day, int) or isinstance(day, bool) or not 1 <= day <= _MOST_DAYS:
            what = message("number has to be a whole number from 1 to {most}", most=str(_MOST_DAYS))
            self._fault(where, what)
            day = 1
        at_m, lon, lat = self._place(table, "end_km", "end", where)
        return PinnedNight(
            day=day,
            at_m=at_m,
            lon=lon,
            lat=lat,
            name=self._name(table, where),
            where=message("{file}, {where}", file=self.source, where=where),
        )

    def _stop(self, table: dict[str, Any], where: Message) -> PinnedStop:
        at_m, lon, lat = self._place(table, "km", "at", where)
        word = table.get("kind", StopKind.PINNED.value)
        kind = next((item for item in _STOP_KINDS if item.value == word), None)
        if kind is None:
            allowed = ", ".join(item.value for item in _STOP_KINDS)
            self._fault(
                where, message("kind {word} is none of {allowed}", word=repr(word), allowed=allowed)
            )
        stay = self._number(table.get("stay_min"), "stay_min", where, most=24 * 60.0)
        return PinnedStop(
            kind=kind or StopKind.PINNED,
            at_m=at_m,
            lon=lon,
            lat=lat,
            name=self._name(table, where),
            stay_s=None if stay is None else stay * 60.0,
            where=message("{file}, {where}", file=self.source, where=where),
        )

    def _place(
        self, table: dict[str, Any], km_key: str, point_key: str, where: Message
    ) -> tuple[float | None, float | None, float | None]:
        """Metres along the ride, or lon and lat."""
        if (km_key in table) == (point_key in table):
            self._fault(
                where,
                message("give either {one} or {other} = [lon, lat]", one=km_key, other=point_key),
            )
            return None, None, None
        if km_key in table:
            km = self._number(table[km_key], km_key, where, most=100_000.0)
            return (None if km is None else km * 1000.0), None, None
        point = table[point_key]
        if not isinstance(point, list) or len(point) != 2:
            self._fault(where, message("{key} has to be [lon, lat]", key=point_key))
            return None, None, None
        lon = self._number(
            point[0], message("the longitude of {key}", key=point_key), where, least=-180, most=180
        )
        lat = self._number(
            point[1], message("the latitude of {key}", key=point_key), where, least=-90, most=90
        )
        return None, lon, lat

    def _number(
        self, value: object, what: str, where: Message, *, least: float = 0.0, most: float
    ) -> float | None:
        if value is None:
            return None
        is_number = isinstance(value, int | float) and not isinstance(value, bool)
        if is_number and math.isfinite(float(value)) and least <= float(value) <= most:  # type: ignore[arg-type]
            return float(value)  # type: ignore[arg-type]
        told = message(
            "{key} has to be a number from {least} to {most}",
            key=what, least=f"{least:g}", most=f"{most:g}",
        )  # fmt: skip
        self._fault(where, told)
        return None

    def _name(self, table: dict[str, Any], where: Message) -> str | None:
        name = table.get("name")
        if name is not None and not isinstance(name, str):
            self._fault(where, message("name has to be text"))
            return None
        return name[:_LONGEST_NAME] if name else None

    def _start(self, tree: dict[str, Any]) -> float | None:
        start = tree.get("start")
        if start is None:
            return None
        if isinstance(start, str) and (found := re.fullmatch(r"(\d{1,2}):(\d{2})", start.strip())):
            hour, minute = int(found[1]), int(found[2])
            if hour < 24 and minute < 60:
                return hour * 3600.0 + minute * 60.0
        if isinstance(start, time):
            return start.hour * 3600.0 + start.minute * 60.0 + start.second
        self._fault("", message('start has to be a time such as "08:00"'))
        return None
