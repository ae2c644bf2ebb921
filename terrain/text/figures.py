"""Numbers as text: distances, times, shares, temperatures, dates, in one system of units.

Metric English here; `terrain.text.translator` says the same in other languages by its catalogues.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from functools import lru_cache
from typing import Any

from terrain.text.catalogue import N_

_MILE_M = 1609.344  # international mile, exact since 1959
_FOOT_M = 0.3048  # international foot, exact
_POUND_KG = 0.45359237  # avoirdupois pound, exact since 1959
_INCH_MM = 25.4  # exact
_PSI_BAR = 0.0689475729  # pound-force per square inch, NIST SP 811 appendix B
_US_GALLON_L = 3.785411784  # 231 cubic inches, NIST SP 811 appendix B
NBSP, THIN, MINUS = "\u00a0", "\u202f", "\u2212"


def told_minutes(seconds: float) -> int:
    """A time as it is told: to five minutes, to the minute below ten."""
    minutes = seconds / 60
    step = 1 if minutes < 9.5 else 5
    return int(_half_up(minutes / step)) * step


class Units(StrEnum):
    """What distances, heights and temperatures are told in."""

    METRIC = "metric"
    IMPERIAL = "imperial"


MONTHS: tuple[str, ...] = (
    N_("January"), N_("February"), N_("March"), N_("April"), N_("May"), N_("June"), N_("July"),
    N_("August"), N_("September"), N_("October"), N_("November"), N_("December"),
)  # fmt: skip


def whole_percents(shares: list[float]) -> list[int]:
    """Whole percents of shares of one whole, by largest remainder, so that they sum to 100.

    Shares that do not sum to 1 are rounded each for itself.
    """
    nearest = [int(_half_up(100 * share)) for share in shares]
    if abs(sum(shares) - 1) > 1e-3:
        return nearest
    whole = [math.floor(100 * share + 1e-9) for share in shares]
    by_rest = sorted(range(len(shares)), key=lambda i: whole[i] - 100 * shares[i])
    for i in by_rest[: max(0, 100 - sum(whole))]:
        whole[i] += 1
    return whole


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """How numbers are written. lang : of the decimal mark and the catalogue; units : of measure."""

    lang: str = "en"
    units: Units = Units.METRIC

    def _(self, message: str, **values: Any) -> str:
        """The message in this language, its {named} fields filled in."""
        return message.format(**values) if values else message

    def n_(self, one: str, many: str, n: int, **values: Any) -> str:
        """The message for n things, in this language's plural."""
        return (one if n == 1 else many).format(n=n, **values)

    @property
    def metric(self) -> bool:
        return self.units is Units.METRIC

    # Numbers ----------------------------------------------------------------

    def number(self, value: float, digits: int = 0) -> str:
        """A number with the language's decimal mark and a thin space between thousands."""
        # + 0.0 turns a negative nothing into nothing
        text = f"{round(value, digits) + 0.0:,.{digits}f}"
        if digits and self.lang != "en":
            whole, _, tail = text.rpartition(".")
            text = f"{whole.replace(',', THIN)},{tail}"
        elif "," in text:
            text = text.replace(",", THIN)
        return MINUS + text[1:] if value < 0 and text[0] == "-" else text

    def amount(self, value: float, unit: str, digits: int = 0) -> str:
        """A number and its unit, kept on one line."""
        return f"{self.number(value, digits)}{NBSP}{unit}"

    def percent(self, share: float) -> str:
        """A share 0..1 as whole percent; a trace is not rounded to nothing or to all."""
        if 0 < share < 0.005:
            return self._("under 1 %")
        if 0.995 <= share < 1:
            return self._("over 99 %")
        return self.amount(100 * share, "%")

    def intervals(self, shares: dict[str, dict[str, float]]) -> dict[str, str]:
        """Shares of one whole with their intervals: "71 % (66 to 76)"; the bests sum to 100 %."""
        whole = whole_percents([share["best"] for share in shares.values()])
        return {
            key: self._interval(share, best)
            for (key, share), best in zip(shares.items(), whole, strict=True)
        }

    def _interval(self, share: dict[str, float], whole: int) -> str:
        low = min(_half_up(100 * share["low"]), whole)
        high = max(_half_up(100 * share["high"]), whole)
        trace = 0 < share["best"] < 0.005 or 0.995 <= share["best"] < 1
        best = self.percent(share["best"]) if trace else self.amount(whole, "%")
        if low == high:
            return best
        return self._("{best} ({low} to {high})", best=best, low=int(low), high=int(high))

    # Lengths ----------------------------------------------------------------

    @property
    def distance_unit(self) -> str:
        return "km" if self.metric else self._("mi")

    @property
    def distance_unit_m(self) -> float:
        """Metres in the unit of distance."""
        return 1000.0 if self.metric else _MILE_M

    def distance(self, metres: float) -> str:
        """A distance along a road: "640 m", "4.3 km", "31 km"."""
        if metres <= 0:
            return f"0{NBSP}{self.distance_unit}"
        if self.metric and metres < 950:
            return self.amount(max(10 * _half_up(metres / 10), 10), "m")
        if not self.metric and metres < 0.2 * _MILE_M:
            return self.amount(max(50 * _half_up(metres / _FOOT_M / 50), 50), self._("ft"))
        return f"{self.distance_number(metres)}{NBSP}{self.distance_unit}"

    def distance_number(self, metres: float) -> str:
        """A distance to the whole km or mile from 20 on, else to a tenth."""
        value = metres / self.distance_unit_m
        return self._tenth(0.1 if 0 < value < 0.05 else value)

    def _tenth(self, value: float, whole: float | None = 19.95) -> str:
        """To a tenth, from `whole` on to a whole number, without a needless nought."""
        tenths = _half_up(10 * value)
        if whole is not None and value >= whole:
            return self.number(_half_up(value))
        return self.number(tenths / 10, 0 if tenths % 10 == 0 else 1)

    def km_range(self, from_m: float, to_m: float) -> str:
        """Where a stretch lies: "km 31 to 62"; "km 31" if both ends read the same."""
        a, b = from_m / self.distance_unit_m, to_m / self.distance_unit_m
        digits = 0 if b - a >= 10 else 1
        if digits:
            first, last = self._tenth(a, whole=None), self._tenth(b, whole=None)
        else:
            first, last = self.number(a), self.number(b)
        if first == last:
            return self.km_mark(from_m)
        message = N_("km\u00a0{a} to {b}") if self.metric else N_("miles\u00a0{a} to {b}")
        return self._(message, a=first, b=last)

    def km_mark(self, at_m: float) -> str:
        """Where a point lies: "km 31"."""
        message = N_("km\u00a0{a}") if self.metric else N_("mile\u00a0{a}")
        return self._(message, a=self._tenth(at_m / self.distance_unit_m))

    @property
    def height_unit(self) -> str:
        return "m" if self.metric else self._("ft")

    def height_value(self, metres: float) -> float:
        return metres if self.metric else metres / _FOOT_M

    def height(self, metres: float) -> str:
        """A height or climb, to the ten."""
        return self.amount(10 * round(self.height_value(metres) / 10), self.height_unit)

    def speed(self, kph: float) -> str:
        if self.metric:
            return self.amount(kph, "km/h")
        return self.amount(kph * 1000 / _MILE_M, "mph")

    # Other measures -----------------------------------------------------------

    @property
    def temp_unit(self) -> str:
        return "°C" if self.metric else "°F"

    def temp_value(self, temp_c: float) -> float:
        return temp_c if self.metric else temp_c * 9 / 5 + 32

    def temp(self, temp_c: float) -> str:
        return self.amount(self.temp_value(temp_c), self.temp_unit)

    def volume(self, litres: float) -> str:
        """Fuel or water: litres, or US gallons and quarts by name."""
        if self.metric:
            return f"{self._tenth(litres)}{NBSP}L"
        if litres < _US_GALLON_L:
            return f"{self._tenth(4 * litres / _US_GALLON_L)}{NBSP}{self._('US qt')}"
        return f"{self._tenth(litres / _US_GALLON_L)}{NBSP}{self._('US gal')}"

    def mass(self, kg: float) -> str:
        return self.amount(kg, "kg") if self.metric else self.amount(kg / _POUND_KG, "lb")

    def pressure(self, bar: float) -> str:
        return self.amount(bar, "bar", 1) if self.metric else self.amount(bar / _PSI_BAR, "psi")

    def length_mm(self, mm: float) -> str:
        """A clearance or an amount of rain."""
        if self.metric:
            return self.amount(mm, "mm")
        return self.amount(mm / _INCH_MM, self._("in"), 1)

    # Time -----------------------------------------------------------------------

    def duration(self, seconds: float) -> str:
        """A time to five minutes (to the minute below ten): "8 min", "1 h 05 min"."""
        if 0 < seconds < 60:
            return self._("under a minute")
        hours, rest = divmod(told_minutes(seconds), 60)
        if not hours:
            return f"{rest}{NBSP}min"
        if not rest:
            return f"{hours}{NBSP}h"
        return self._("{hours}\u00a0h\u00a0{minutes}\u00a0min", hours=hours, minutes=f"{rest:02d}")

    def day(self, moment: date) -> str:
        """A date in words, without a system locale: "14 March 2027"."""
        return self._(
            "{day} {month} {year}",
            day=moment.day,
            month=self.month(moment.month),
            year=moment.year,
        )

    def month(self, number: int) -> str:
        return self._(MONTHS[number - 1])

    def hour(self, clock: str) -> str:
        """A time of the day as "HH:MM", to five minutes; "" if there is none.

        clock : as "HH:MM", with "+1" behind it on the next day
        """
        if not clock:
            return ""
        time, _, later = clock.partition("+")
        hours, minutes = (int(part) for part in time.split(":"))
        whole = 24 * 60 * int(later or 0) + 5 * int(_half_up((60 * hours + minutes) / 5))
        days, whole = divmod(whole, 24 * 60)
        told = f"{whole // 60:02d}:{whole % 60:02d}"
        if not days:
            return told
        return self.n_("{time} the next day", "{time}, {n} days later", days, time=told)

    def clock(self, moment: datetime) -> str:
        return f"{moment:%H:%M}"

    # Words ------------------------------------------------------------------------

    def yes(self, value: bool | None) -> str:
        if value is None:
            return self._("not known")
        return self._("yes") if value else self._("no")

    def listing(self, items: list[str]) -> str:
        """Items in one phrase: "a, b and c"."""
        if len(items) < 2:
            return "".join(items)
        return self._("{first} and {last}", first=", ".join(items[:-1]), last=items[-1])

    # By name ----------------------------------------------------------------------

    def fill(self, message: str, many: str, numbers: Mapping[str, object]) -> str:
        """A message with its numbers filled in, each told by the end of its name.

        many : the message where the number `n` is not 1; empty if it has no plural
        """
        if not numbers:
            return self._(message)
        shown: dict[str, Any] = {name: _Shown(self, name, value) for name, value in numbers.items()}
        if many:
            del shown["n"]
            n: Any = numbers["n"]
            return self.n_(message, many, n, **shown)
        return self._(message, **shown)

    def figure(self, name: str, value: Any, *, bare: bool = False) -> str:
        """A number as text by the end of its name; bare: without its unit."""
        if isinstance(value, str):
            return self._day_of(value) if name.endswith("_day") else self.translate(value)
        if value is None:
            return self._("not known")
        if isinstance(value, bool):
            return self.yes(value)
        if isinstance(value, list | tuple):
            return self.listing([self.figure(name, item) for item in value])
        text = self._measure(name, float(value))
        return text.partition(NBSP)[0] if bare else text

    def translate(self, text: Any) -> str:
        """A text filled in as it stands: figures know no messages."""
        return str(text)

    def after_colon(self, said: Any) -> str:
        """A text told after a colon; in English as it stands."""
        return self.translate(said)

    def _measure(self, name: str, value: float) -> str:
        measure = _measure_of(name)
        if measure:
            return str(getattr(self, measure)(value))
        if name.endswith("_month"):
            return self.month(int(value))
        return self.number(value, 0 if value.is_integer() else 1)

    def _grade(self, grade_pct: float) -> str:
        return self.amount(grade_pct, "%")

    def _volume_cc(self, cc: float) -> str:
        return self.amount(cc, "cc")

    def _power(self, kw: float) -> str:
        return self.amount(kw, "kW")

    def _day_of(self, iso: str) -> str:
        if len(iso) == 7:
            year, month = iso.split("-")
            return self._("{month} {year}", month=self.month(int(month)), year=year)
        return self.day(date.fromisoformat(iso))


_MEASURES: tuple[tuple[str, str], ...] = (
    ("_at_m", "km_mark"), ("_ele_m", "height"), ("_m", "distance"), ("_s", "duration"),
    ("_c", "temp"), ("_share", "percent"), ("_pct", "_grade"), ("_kph", "speed"), ("_kg", "mass"),
    ("_cc", "_volume_cc"), ("_kw", "_power"), ("_mm", "length_mm"), ("_bar", "pressure"),
    ("_l", "volume"),
)  # fmt: skip


@lru_cache(maxsize=1024)
def _measure_of(name: str) -> str:
    """The method that tells a number of this name; "" if its name has no unit."""
    return next((t for end, t in _MEASURES if name.endswith(end) or name == end[1:]), "")


class _Shown:
    """A number that `str.format` asks for its text.

    "n" as format asks for it without its unit, "c" for a message that stands after a colon.
    """

    __slots__ = ("figures", "name", "value")
    figures: Figures

    def __init__(self, figures: Figures, name: str, value: object) -> None:
        self.figures, self.name, self.value = figures, name, value

    def __format__(self, spec: str) -> str:
        if spec == "c":
            return self.figures.after_colon(self.value)
        return self.figures.figure(self.name, self.value, bare=spec == "n")


def _half_up(value: float) -> float:
    return math.floor(value + 0.5)
