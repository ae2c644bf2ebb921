"""The coefficients of the climate model, as fitted by `tests/bench/climate_fit.py`."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

MODEL_FILE = "model.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class LinearFit:
    """constant + sum of coefficient x predictor, in kelvins."""

    constant: float
    coefficients: dict[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class ClimateModel:
    """Correction of the monthly mean, daily range, and half-width of the 90 % band."""

    source: str
    mean: LinearFit
    range: LinearFit
    band: LinearFit


@cache
def climate_model() -> ClimateModel:
    """The shipped coefficients, read at the first call and kept."""
    text = files(__package__).joinpath(MODEL_FILE).read_text(encoding="utf-8")
    data: dict[str, Any] = json.loads(text)
    return ClimateModel(
        source=data["source"],
        mean=LinearFit(**data["mean"]),
        range=LinearFit(**data["range"]),
        band=LinearFit(**data["band"]),
    )
