"""A ride's `terrain-ridden/1` read back, for learning."""

from __future__ import annotations

import json
from datetime import date
from functools import lru_cache
from sys import intern
from typing import Any

from pydantic import BaseModel, ValidationError

from terrain.errors import TrackError
from terrain.text.message import message
from terrain.values.ground import Basis, GroundKind, Severity
from terrain.values.ridden import SCHEMA, Ridden, RiddenPart
from terrain.values.trip import Rider

_FIX = message("Make it again with 'terrain ridden --json'.")


class _Chances(BaseModel):
    paved: float
    gravel: float
    track: float


class _Part(BaseModel):
    from_m: float
    to_m: float
    way_id: int | None
    highway: str | None = None
    name: str | None = None
    ground: GroundKind
    p: _Chances | None = None
    basis: Basis | None = None
    severity: Severity | None = None
    grade_pct: float | None = None
    moving_s: float | None
    expected_s: float
    clock_s: float = 0.0
    off_plan: bool | None = None
    shown: bool = True


class _Ride(BaseModel):
    name: str = ""
    region: str = ""
    day: date
    start_time: str = ""
    end_time: str = ""
    rider: Rider
    bike_class: str | None = None
    length_m: float
    moving_s: float
    moving_low_s: float | None = None
    moving_high_s: float | None = None
    standing_s: float
    expected_s: float
    expected_low_s: float
    expected_high_s: float
    night_s: float = 0.0
    far_s: float | None = None
    median_gap_s: float = 0.0
    parts: list[_Part]


def is_ridden(data: bytes) -> bool:
    """Whether the bytes look like the JSON of a ride."""
    return data.lstrip()[:1] == b"{" and SCHEMA.encode() in data[:2_000]


def parse_ridden(data: bytes, source: str) -> Ridden:
    """The ride in `terrain-ridden/1`: its times and parts; stops and plan are left aside.

    Raises TrackError if it is not that.
    """
    try:
        facts: Any = json.loads(data)
        ride = _Ride.model_validate(facts)
    except (ValueError, RecursionError, ValidationError) as exc:
        fault = str(exc).splitlines()[0]
        raise TrackError(
            message("this is no {schema} ({fault})", schema=str(SCHEMA), fault=str(fault)),
            source,
            _FIX,
        ) from exc
    kept = {name: getattr(ride, name) for name in _Ride.model_fields if name != "parts"}
    for end in ("moving_low_s", "moving_high_s"):
        # A ride that was read before there was a band.
        kept[end] = ride.moving_s if kept[end] is None else kept[end]
    return Ridden(
        **kept,
        parts=tuple(_part(row) for row in ride.parts), stops=(), times=(), plan=None, problems=(),
    )  # fmt: skip


def _part(row: _Part) -> RiddenPart:
    p = None if row.p is None else _chances(row.p.paved, row.p.gravel, row.p.track)
    kept = {name: getattr(row, name) for name in _Part.model_fields if name != "p"}
    return RiddenPart(**kept | {"highway": _same(row.highway), "name": _same(row.name)}, p=p)


# Rides go over the same ways again and again: a thousand of them share what they say of a way.
@lru_cache(maxsize=100_000)
def _chances(paved: float, gravel: float, track: float) -> tuple[float, float, float]:
    return paved, gravel, track


def _same(text: str | None) -> str | None:
    return None if text is None else intern(text)
