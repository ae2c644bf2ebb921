"""A ride as a strip: few enough parts to be kept with it and drawn in a table."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from terrain.values.ground import GroundKind
from terrain.values.verdict import RidePart


@dataclass(frozen=True, slots=True, kw_only=True)
class StripPart:
    """A part of the strip: chances of paved, gravel, track, or the ground where they are None."""

    from_m: float
    to_m: float
    p: tuple[float, ...] | None
    ground: GroundKind


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """The ground along a ride, coarse, and what stands out on it.

    hard : where it is too hard for an easy ride; closed : to motorcycles; nights_m : where a day
    ends, metres along the ride
    """

    length_m: float
    parts: tuple[StripPart, ...]
    hard: tuple[RidePart, ...] = ()
    closed: tuple[RidePart, ...] = ()
    nights_m: tuple[float, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """As few characters as will do: metres and hundredths."""
        return {
            "length_m": round(self.length_m),
            "parts": [
                [round(x.from_m), round(x.to_m), *(round(100 * p) for p in x.p)]
                if x.p is not None
                else [round(x.from_m), round(x.to_m), x.ground.value]
                for x in self.parts
            ],
            "hard": [[round(x.from_m), round(x.to_m)] for x in self.hard],
            "closed": [[round(x.from_m), round(x.to_m)] for x in self.closed],
            "nights_m": [round(at_m) for at_m in self.nights_m],
        }

    @classmethod
    def from_dict(cls, told: Mapping[str, Any]) -> Strip:
        return cls(
            length_m=float(told["length_m"]),
            parts=tuple(_part(*row) for row in told["parts"]),
            hard=tuple(RidePart(from_m=a, to_m=b) for a, b in told["hard"]),
            closed=tuple(RidePart(from_m=a, to_m=b) for a, b in told["closed"]),
            nights_m=tuple(float(at_m) for at_m in told["nights_m"]),
        )


def _part(from_m: float, to_m: float, *ground: Any) -> StripPart:
    if len(ground) == 1:
        return StripPart(from_m=from_m, to_m=to_m, p=None, ground=GroundKind(ground[0]))
    return StripPart(
        from_m=from_m, to_m=to_m, p=tuple(x / 100 for x in ground), ground=GroundKind.PAVED
    )
