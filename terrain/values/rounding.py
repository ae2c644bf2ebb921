"""Numbers of a report cut to the digits they deserve."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

from terrain.text.message import Message

# By the unit that ends a name; anything else is a share or an index.
_DIGITS: dict[str, int] = {
    "m": 1, "s": 0, "kph": 1, "pct": 1, "c": 1, "deg": 1, "lon": 6, "lat": 6, "mm": 0, "h": 2,
    "min": 1, "kg": 0, "km": 1, "hpa": 0, "m2": 0, "w": 0, "kw": 2,
}  # fmt: skip
_OTHER = 4
_AS_IT_STANDS = frozenset({str, Message, int, bool, type(None)})  # a report holds many


def rounded(value: Any, name: str = "") -> Any:
    """The value with every float rounded by the unit in its name; NaN becomes None.

    Dicts, lists and tuples are copied; tuples become lists; NumPy numbers become Python's.
    """
    if type(value) is float:
        # + 0.0 turns -0.0 into 0.0
        return round(value, _digits(name)) + 0.0 if math.isfinite(value) else None
    if isinstance(value, dict):
        return {
            key: item if type(item) in _AS_IT_STANDS else rounded(item, str(key))
            for key, item in value.items()
        }
    if isinstance(value, list | tuple):
        if value and isinstance(value[0], float):
            return _series(value, name)
        return [item if type(item) in _AS_IT_STANDS else rounded(item, name) for item in value]
    if isinstance(value, bool | str | int) or value is None:
        return value
    if hasattr(value, "tolist"):
        return rounded(value.tolist(), name)
    raise TypeError(f"{name or 'value'} is a {type(value).__name__}, not plain data")


@lru_cache(maxsize=1024)
def _digits(name: str) -> int:
    if "_per_km" in name or "_per_m" in name:
        return _OTHER  # a rate, not a length: 0.033 L a km is not 0.0
    return _DIGITS.get(name.rsplit("_", 1)[-1], _OTHER)


def _series(values: list[Any] | tuple[Any, ...], name: str) -> list[Any]:
    """A list that starts with a float, likely of many; the digits are looked up once."""
    digits, finite = _digits(name), math.isfinite
    return [
        (round(v, digits) + 0.0 if finite(v) else None) if type(v) is float else rounded(v, name)
        for v in values
    ]
