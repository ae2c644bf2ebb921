"""What the ground is, how sure we are, and what that rests on."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class GroundKind(StrEnum):
    """What is under the wheels."""

    PAVED = "paved"  # sealed or bound surface
    GRAVEL = "gravel"  # unsealed but built and maintained
    TRACK = "track"  # unsealed, unbuilt or degraded
    FERRY = "ferry"
    UNMAPPED = "unmapped"


class Basis(StrEnum):
    """What a stretch's ground rests on."""

    TAGGED = "tagged"  # a surface tag
    GRADED = "graded"  # tracktype or smoothness
    INFERRED = "inferred"  # class and surroundings
    NOTED = "noted"  # the operator's own note
    UNMAPPED = "unmapped"


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A share 0..1 of matched land length with its 90 % interval."""

    best: float
    low: float
    high: float

    def __post_init__(self) -> None:
        if not 0 <= self.low <= self.best <= self.high <= 1:
            raise ValueError(f"share out of order: {self.low} {self.best} {self.high}")

    def to_dict(self) -> dict[str, float]:
        return {"best": self.best, "low": self.low, "high": self.high}
