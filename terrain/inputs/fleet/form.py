"""The shape of a fleet file: what each key may hold, with its unit in its name."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

_Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
_NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
_Share = Annotated[float, Field(ge=0, le=1)]
_Text = Annotated[str, Field(min_length=1, max_length=200)]


class _Form(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class IncidentForm(_Form):
    """[[class.NAME.incidents]]: written by `terrain fleet learn`."""

    ground: Literal["paved", "gravel", "track", "mixed"]
    rate: _Share
    low: _Share
    high: _Share
    rentals: Annotated[int, Field(ge=1)]
    incidents: Annotated[int, Field(ge=0)]


class ClassForm(_Form):
    """[class.NAME]: one kind of bike."""

    title: _Text
    mass_kg: Annotated[float, Field(ge=50, le=600)]
    payload_kg: Annotated[float, Field(ge=50, le=400)]
    power_kw: Annotated[float, Field(ge=2, le=200)]
    displacement_cc: Annotated[float, Field(ge=0, le=3000)]
    drag_area_m2: Annotated[float, Field(ge=0.1, le=1.5)]
    cooling: Literal["liquid", "air", "oil"]
    fan: bool
    tank_l: Annotated[float, Field(gt=0, le=60)]
    consumption_l_100km: Annotated[float, Field(ge=0.5, le=20)]
    seats: Annotated[int, Field(ge=1, le=2)]
    luggage: Annotated[list[Literal["none", "soft", "boxes"]], Field(min_length=1)]
    clearance_mm: Annotated[float, Field(ge=50, le=500)]
    tyres: Annotated[list[Literal["road", "mixed", "block"]], Field(min_length=1)]
    kick_start: bool
    parts: Literal["common", "fair", "rare"]
    repair: Literal["easy", "fair", "hard"]
    off_road: _Share
    motorway: _Share
    minimum_rider: Literal["novice", "steady", "expert"]
    incident_rate: _Share
    incident_basis: _Text
    incident_low: _Share | None = None
    incident_high: _Share | None = None
    incidents: list[IncidentForm] = []
    failed: Annotated[list[_Text], Field(max_length=100)] = []
    coolant_l: Annotated[float, Field(ge=0.3, le=10)] | None = None
    coolant_check: _Text | None = None


class RulesForm(_Form):
    """[rules]: the operator's own limits; what is not written keeps its default."""

    remote_km: _Positive | None = None
    remote_min: _Positive | None = None
    range_reserve: Annotated[float, Field(ge=0, le=0.9)] | None = None
    carry_l: _NotNegative | None = None
    rest_every_min: _Positive | None = None
    rest_every_km: _Positive | None = None
    ride_day_h: Annotated[float, Field(gt=0, le=24)] | None = None
    town_population: _NotNegative | None = None
    motorway_min_cc: _NotNegative | None = None
    new_rider_kg: _Positive | None = None
    new_rider_kw: _Positive | None = None


class LogForm(_Form):
    """[log]: written by `terrain fleet learn`."""

    rentals: Annotated[int, Field(ge=1)]
    span: _Text | None = None


class FleetForm(_Form):
    """A whole fleet file. Classes and weights are checked one by one."""

    name: _Text
    rules: RulesForm = RulesForm()
    log: LogForm | None = None
    weights: dict[str, Any] = {}
    class_: dict[str, Any] = Field(alias="class", min_length=1)


# The rules in the file's units: name there, name in FleetRules, factor.
RULES: tuple[tuple[str, str, float], ...] = (
    ("remote_km", "remote_m", 1000.0),
    ("remote_min", "remote_s", 60.0),
    ("range_reserve", "range_reserve", 1.0),
    ("carry_l", "carry_l", 1.0),
    ("rest_every_min", "rest_every_s", 60.0),
    ("rest_every_km", "rest_every_m", 1000.0),
    ("ride_day_h", "ride_day_s", 3600.0),
    ("town_population", "town_population", 1.0),
    ("motorway_min_cc", "motorway_min_cc", 1.0),
    ("new_rider_kg", "new_rider_kg", 1.0),
    ("new_rider_kw", "new_rider_kw", 1.0),
)
