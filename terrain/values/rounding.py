"""Numbers of a report cut to the digits they deserve."""

from __future__ import annotations

import math
from typing import Any

# By the unit that ends a name; anything else is a share or an index.
_DIGITS: dict[str, int] = {
    "m": 1, "s": 0, "kph": 1, "pct": 1, "c": 1, "deg": 1, "lon": 6, "lat": 6, "mm": 0, "h": 2,
    "min": 1, "kg": 0, "km": 1, "hpa": 0, "m2": 0, "w": 0, "kw": 2,
}  # fmt: skip
_OTHER = 4


def rounded(value: Any, name: str = "") -> Any:
    """The value with every float rounded by the unit in its name; NaN becomes None.

    Dicts, lists and tuples are copied; tuples become lists; NumPy numbers become Python's.
    """
    if isinstance(value, dict):
        return {key: rounded(item, str(key)) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [rounded(item, name) for item in value]
    if isinstance(value, bool | str | int) or value is None:
        return value
    if hasattr(value, "tolist"):
        return rounded(value.tolist(), name)
    if isinstance(value, float):
        if not math.isfinite(value):
            return None
        # + 0.0 turns -0.0 into 0.0
        return round(value, _DIGITS.get(name.rsplit("_", 1)[-1], _OTHER)) + 0.0
    raise TypeError(f"{name or 'value'} is a {type(value).__name__}, not plain data")
