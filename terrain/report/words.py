"""Words of one language and one system of units: distances, times, shares, dates as text.

Nothing here knows a report; `terrain.report.findings` says what is worth saying.
"""

from __future__ import annotations

import gettext
import math
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from pathlib import Path
from typing import Any

_LOCALES = Path(__file__).parent / "locales"
_MILE_M = 1609.344  # international mile, exact since 1959
_FOOT_M = 0.3048  # international foot, exact

LANGUAGES: tuple[str, ...] = ("en", "es", "fr")


class Units(StrEnum):
    """What distances, heights and temperatures are told in."""

    METRIC = "metric"
    IMPERIAL = "imperial"


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """Text in one language and one system of units.

    lang : one of LANGUAGES; units : metric or imperial
    """

    lang: str = "en"
    units: Units = Units.METRIC
    _catalogue: gettext.NullTranslations = field(
        default_factory=gettext.NullTranslations, repr=False, compare=False
    )

    def _(self, message: str, **values: Any) -> str:
        """The message in this language, its {named} fields filled in."""
        text = self._catalogue.gettext(message)
        return text.format(**values) if values else text

    def n_(self, one: str, many: str, n: int, **values: Any) -> str:
        """The message for n things, in this language's plural."""
        return self._catalogue.ngettext(one, many, n).format(n=n, **values)

    @property
    def plain_english(self) -> bool:
        """True if sentences that the stages made, in metric English, can stand as they are."""
        return self.lang == "en" and self.units is Units.METRIC

    def said(self, sentence: str) -> str:
        """A sentence made by a stage, in this language where the catalogue holds it."""
        return self._catalogue.gettext(sentence) if sentence else ""

    def tell(self, said: dict[str, Any] | str) -> str:
        """A sentence of advice in this language and these units, from its open message."""
        if isinstance(said, str):
            return self.said(said)
        numbers = {key: self._figure(key, value) for key, value in said["numbers"].items()}
        message = str(said["message"])
        # Kit for some bikes only ends with their names; the catalogue holds it without.
        ending = " ({classes})." if message.endswith(" ({classes}).") else ""
        plain = f"{message.removesuffix(ending)}." if ending else message
        text = self._catalogue.gettext(plain)
        try:
            return (text.removesuffix(".") + ending if ending else text).format(**numbers)
        except (KeyError, IndexError, ValueError):
            # A name with braces in it, or a message without numbers: the plain text stands.
            return str(said["text"])

    def _figure(self, name: str, value: Any) -> str:
        """A number of advice by the unit that ends its name."""
        if value is None:
            return self._("not known")
        if isinstance(value, bool | str):
            return self.said(value) if isinstance(value, str) else self.yes(value)
        if name == "at_m":
            return self.at(value)
        for end, teller in (
            ("_at_m", self.at), ("_ele_m", self.height), ("_m", self.far), ("_s", self.lasting),
            ("_c", self.temp), ("_share", self.percent), ("_pct", self._grade),
            ("_kph", self.speed), ("_kg", self.number), ("_cc", self.number),
            ("_mm", self.number), ("_bar", self._tenth),
        ):  # fmt: skip
            if name.endswith(end):
                return teller(value)
        return self.number(value, 0 if float(value).is_integer() else 1)

    def _tenth(self, value: float) -> str:
        return self.number(value, 1)

    def _grade(self, grade_pct: float) -> str:
        return f"{self.number(grade_pct)}\u00a0%"

    def yes(self, value: bool | None) -> str:
        if value is None:
            return self._("not known")
        return self._("yes") if value else self._("no")

    # Numbers ----------------------------------------------------------------

    def number(self, value: float, digits: int = 0) -> str:
        """A number with the language's decimal mark and a thin space between thousands."""
        text = f"{value:,.{digits}f}"
        mark = "." if self.lang == "en" else ","
        return text.replace(",", "\u202f").replace(".", mark)

    def percent(self, share: float) -> str:
        """A share 0..1 as whole percent; a trace is not rounded to nothing or to all."""
        if 0 < share < 0.005:
            return self._("under 1 %")
        if 0.995 <= share < 1:
            return self._("over 99 %")
        return f"{self.number(100 * share)}\u00a0%"

    def interval(self, share: dict[str, float]) -> str:
        """A share with its interval: "71 % (66 to 76)"."""
        low, high = _round_half_up(100 * share["low"]), _round_half_up(100 * share["high"])
        best = self.percent(share["best"])
        if low == high == _round_half_up(100 * share["best"]):
            return best
        return self._("{best} ({low} to {high})", best=best, low=low, high=high)

    # Lengths ----------------------------------------------------------------

    @property
    def far_unit(self) -> str:
        return "km" if self.units is Units.METRIC else self._("mi")

    @property
    def far_m(self) -> float:
        """Metres in the unit of distance."""
        return 1000.0 if self.units is Units.METRIC else _MILE_M

    def far(self, metres: float) -> str:
        """A distance along a road, to the whole km above 20, else to a tenth."""
        return f"{self.far_number(metres)}\u00a0{self.far_unit}"

    def far_number(self, metres: float) -> str:
        value = metres / self.far_m
        if 0 < value < 0.05:
            return self.number(0.1, 1)
        return self.number(value, 0 if value >= 20 else 1)

    def span(self, from_m: float, to_m: float) -> str:
        """Where a stretch lies: "km 31 to 62"."""
        a, b = from_m / self.far_m, to_m / self.far_m
        digits = 0 if b - a >= 2 else 1
        return self._(
            "{unit} {a} to {b}",
            unit=self.far_unit,
            a=self.number(a, digits),
            b=self.number(b, digits),
        )

    def at(self, at_m: float) -> str:
        """Where a point lies: "km 31"."""
        value = at_m / self.far_m
        return f"{self.far_unit}\u00a0{self.number(value, 0 if value >= 20 else 1)}"

    @property
    def height_unit(self) -> str:
        return "m" if self.units is Units.METRIC else self._("ft")

    def height_value(self, metres: float) -> float:
        return metres if self.units is Units.METRIC else metres / _FOOT_M

    def height(self, metres: float) -> str:
        """A height or climb, to the ten."""
        value = self.height_value(metres)
        return f"{self.number(round(value / 10) * 10)}\u00a0{self.height_unit}"

    def speed(self, kph: float) -> str:
        if self.units is Units.METRIC:
            return f"{self.number(kph)}\u00a0km/h"
        return f"{self.number(kph * 1000 / _MILE_M)}\u00a0mph"

    # Temperature and time -----------------------------------------------------

    @property
    def temp_unit(self) -> str:
        return "°C" if self.units is Units.METRIC else "°F"

    def temp_value(self, temp_c: float) -> float:
        return temp_c if self.units is Units.METRIC else temp_c * 9 / 5 + 32

    def temp(self, temp_c: float) -> str:
        return f"{self.number(self.temp_value(temp_c))}\u00a0{self.temp_unit}"

    def lasting(self, seconds: float) -> str:
        """A time to five minutes (to the minute below a quarter of an hour)."""
        minutes = seconds / 60
        step = 1 if minutes < 15 else 5
        whole = max(step, int(_round_half_up(minutes / step)) * step) if minutes > 0 else 0
        hours, rest = divmod(whole, 60)
        if not hours:
            return f"{rest}\u00a0min"
        return f"{hours}\u00a0h" if not rest else f"{hours}\u00a0h\u00a0{rest:02d}"

    def day(self, moment: date) -> str:
        """A date in words, without a system locale: "14 March 2027"."""
        return self._(
            "{day} {month} {year}",
            day=moment.day,
            month=self._(_MONTHS[moment.month - 1]),
            year=moment.year,
        )

    def month(self, number: int) -> str:
        return self._(_MONTHS[number - 1])

    def clock(self, moment: datetime) -> str:
        return f"{moment:%H:%M}"

    def listing(self, items: list[str]) -> str:
        """Items in one phrase: "a, b and c"."""
        if len(items) < 2:
            return "".join(items)
        return self._("{first} and {last}", first=", ".join(items[:-1]), last=items[-1])


def words_for(lang: str = "en", units: str | Units = Units.METRIC) -> Words:
    """The words of a language; English needs no catalogue.

    Raises ValueError for a language or unit system that is not there.
    """
    if lang not in LANGUAGES:
        raise ValueError(f"no language {lang!r}; choose from {', '.join(LANGUAGES)}")
    if lang == "en":
        return Words(units=Units(units))
    catalogue = gettext.translation("terrain", localedir=_LOCALES, languages=[lang])
    return Words(lang=lang, units=Units(units), _catalogue=catalogue)


def _round_half_up(value: float) -> float:
    return math.floor(value + 0.5)


def N_(message: str) -> str:  # noqa: N802 - the name extraction tools look for
    """Marks a message that is translated later."""
    return message


_MONTHS: tuple[str, ...] = (
    N_("January"), N_("February"), N_("March"), N_("April"), N_("May"), N_("June"), N_("July"),
    N_("August"), N_("September"), N_("October"), N_("November"), N_("December"),
)  # fmt: skip
