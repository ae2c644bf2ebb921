"""What a map's age does to its ground: roads get sealed, tags go out of date."""

from __future__ import annotations

from datetime import date

import numpy as np

from terrain.stages.ground.tags import bounded, changed_since
from terrain.tables.ground import TRUST, TagTrust
from terrain.values.arrays import FloatArray, Int8Array
from terrain.values.ground import BASES, Basis

_EPOCH = date(1970, 1, 1)


def years_since(map_day: int, today: date | None) -> float:
    """Years from the map's newest edit to `today`; 0 if either is not known."""
    if today is None or map_day < 0:
        return 0.0
    return max(0.0, ((today - _EPOCH).days - map_day) / 365.25)


def outdated(p: FloatArray, basis: Int8Array, years: float, trust: TagTrust = TRUST) -> FloatArray:
    """Probabilities `years` after the map was made, shape (n, 3).

    Unsealed roads get sealed at trust.sealed_per_year where only a grade or an estimate speaks;
    where a surface tag speaks, the ground turns into either other kind at the rate at which such
    tags were seen to change.
    """
    age = np.full(1, years)
    sealed = float(changed_since(age, trust.sealed_per_year)[0])
    changed = float(changed_since(age, trust.surface_change_per_year)[0])
    gone = sealed * p[:, 1:]
    later = np.concatenate([p[:, :1] + gone.sum(axis=1, keepdims=True), p[:, 1:] - gone], axis=1)
    told = (1 - changed) * p + changed * (1 - p) / 2
    tagged = basis == BASES.index(Basis.TAGGED)
    return bounded(np.where(tagged[:, None], told, later), trust.least)
