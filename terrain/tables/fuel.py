"""What ground does to the fuel a motorcycle burns."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class FuelModel:
    """Consumption over that on tarmac.

    ground : on paved, gravel, track; unmapped : where no way is mapped; hard : on ground off
        tarmac of hard_severity (0..5) or more
    """

    ground: tuple[float, float, float] = (1.0, 1.2, 1.35)
    unmapped: float = 1.35
    hard: float = 1.5
    hard_severity: float = 4.0
    source: str = "off-road consumption +20 to 50 %: common practice, no source"


FUEL_MODEL = FuelModel()
