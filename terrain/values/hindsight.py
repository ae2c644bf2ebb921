"""How well the reports did on the rides since."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any, ClassVar

from terrain.values.plain import Plain
from terrain.values.rounding import rounded

SCHEMA = "terrain-hindsight/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Held(Plain):
    """How many of the 90 % intervals held the truth: share, low..high its 90 % interval."""

    _keys: ClassVar = {"n": "rides"}
    n: int
    held: int
    share: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Miss(Plain):
    """A ride whose time lay farthest from what was expected.

    ratio : riding time over the expected; reason : what most of the difference comes from
    """

    name: str
    day: date
    moving_s: float
    expected_s: float
    ratio: float
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundCheck(Plain):
    """Ground as the map alone has it, against witnesses who are heard.

    n : statements; right : of them that name the likeliest ground; expected : how many should,
        by the chances given
    """

    _keys: ClassVar = {"n": "statements"}
    n: int
    right: int
    expected: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Hindsight(Plain):
    """The reports judged by the rides.

    mean_error : mean of the absolute difference of time as a share of the ride's own time;
        learned_error : the same by the times learned from these very rides, None without
    bias : mean of the logarithm of time over the expected, as a factor
    """

    time: Held
    mean_error: float | None
    learned_error: float | None
    bias: float | None
    misses: tuple[Miss, ...]
    ground: GroundCheck | None

    def to_dict(self) -> dict[str, Any]:
        told = Plain.to_dict(self)
        told["time"] |= {key: told.pop(key) for key in ("mean_error", "learned_error", "bias")}
        out: dict[str, Any] = rounded({"schema": SCHEMA, **told})
        return out
