"""What was learned from rides, as a file (TOML) that later reports read."""

from __future__ import annotations

import tomllib
from datetime import date
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from terrain.errors import LearnedError
from terrain.inputs.faults import faults_error
from terrain.inputs.forms import line_of, told
from terrain.inputs.reading import read_most
from terrain.inputs.tables import utf8_text
from terrain.inputs.toml_lines import key_lines
from terrain.text.message import message
from terrain.values.ground import GroundKind
from terrain.values.learned import (
    Learned,
    LearnedTimes,
    LearnedWay,
    PacedWay,
    PaceRow,
    Said,
    Witness,
)
from terrain.values.trip import OwnPace, Rider, Three

SCHEMA = "terrain-learned/1"
_MAX_BYTES = 50_000_000
_FIX = message("Learn it again with 'terrain learn'.")
Factor = tuple[float, float, float]


class _Form(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)


class _Times(_Form):
    rides: int = Field(ge=1)
    length_m: float = Field(ge=0)
    first_day: date
    last_day: date
    ride_sd: float = Field(gt=0, lt=2)
    ground_sd: float = Field(gt=0, lt=2)
    stretch_sd: float = Field(gt=0, lt=2)


class _Pace(_Form):
    rider: Literal["novice", "steady", "expert"]
    bike_class: str | None = None
    rides: int = Field(ge=0)
    factor: list[float] = Field(min_length=3, max_length=3)
    low: list[float] = Field(min_length=3, max_length=3)
    high: list[float] = Field(min_length=3, max_length=3)
    spread: list[float] = Field(min_length=3, max_length=3)


class _Way(_Form):
    way_id: int = Field(gt=0)
    ground: Literal["paved", "gravel", "track"] | None = None
    p: list[float] | None = Field(default=None, min_length=3, max_length=3)
    trust: float = Field(ge=0, le=1)
    said: dict[Literal["paved", "gravel", "track"], int] = Field(default_factory=dict)
    shut: int = Field(default=0, ge=0)
    witnesses: int = Field(ge=1)
    against: int = Field(default=0, ge=0)
    last_day: date
    against_map: bool = False


class _Paced(_Form):
    way_id: int = Field(gt=0)
    ground: Literal["paved", "gravel", "track"]
    p: list[float] = Field(min_length=3, max_length=3)
    trust: float = Field(ge=0, le=1)
    rides: int = Field(ge=1)
    last_day: date


class _Witness(_Form):
    who: str
    errs: float = Field(ge=0, le=1)
    checks: int = Field(ge=0)
    statements: int = Field(ge=0)
    heard: bool


class _File(_Form):
    schema_: Literal["terrain-learned/1"] = Field(alias="schema")
    times: _Times | None = None
    pace: list[_Pace] = Field(default_factory=list)
    way: list[_Way] = Field(default_factory=list)
    paced: list[_Paced] = Field(default_factory=list)
    witness: list[_Witness] = Field(default_factory=list)


def read_learned(path: str | Path) -> Learned:
    """What a file of `terrain learn` holds.

    Raises LearnedError if it cannot be read or is of another kind.
    """
    path = Path(path)
    data = read_most(path, _MAX_BYTES, LearnedError)
    if len(data) > _MAX_BYTES:
        raise LearnedError(message("the file is too big"), path.name, _FIX)
    return parse_learned(data, path.name)


def parse_learned(data: bytes, source: str) -> Learned:
    """What the bytes of such a file hold; see `read_learned`."""
    text = utf8_text(data, source, LearnedError)
    try:
        file = _File.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as exc:
        raise LearnedError(
            message("the file is not TOML ({reason})", reason=str(exc)), source, _FIX
        ) from exc
    except ValidationError as exc:
        lines = key_lines(text)
        faults = [
            told(error, error["loc"], line_of(error["loc"], lines), _File.model_fields)
            for error in exc.errors(include_url=False)
        ]
        raise faults_error(faults, LearnedError, source) from exc
    return Learned(
        times=_times(file),
        ways=tuple(_way(row) for row in file.way),
        witnesses=tuple(Witness(**row.model_dump()) for row in file.witness),
        paced=tuple(
            PacedWay(
                way_id=row.way_id,
                ground=GroundKind(row.ground),
                p=_three(row.p),
                trust=row.trust,
                n_rides=row.rides,
                last_day=row.last_day,
            )
            for row in file.paced
        ),
    )


def _times(file: _File) -> LearnedTimes | None:
    times = file.times
    if times is None:
        return None
    rows = tuple(
        PaceRow(
            rider=Rider(row.rider),
            bike_class=row.bike_class,
            pace=OwnPace(
                factor=_three(row.factor), low=_three(row.low), high=_three(row.high),
                spread=_three(row.spread), ten_min_sd=times.stretch_sd,
                n_rides=times.rides, n_alike=row.rides,
                first_day=times.first_day, last_day=times.last_day,
            ),
        )
        for row in file.pace
    )  # fmt: skip
    return LearnedTimes(
        n_rides=times.rides, length_m=times.length_m, first_day=times.first_day,
        last_day=times.last_day, ride_sd=times.ride_sd, ground_sd=times.ground_sd,
        stretch_sd=times.stretch_sd, rows=rows,
    )  # fmt: skip


def _way(row: _Way) -> LearnedWay:
    said = tuple(Said(ground=GroundKind(kind), n=n) for kind, n in row.said.items())
    return LearnedWay(
        way_id=row.way_id, ground=None if row.ground is None else GroundKind(row.ground),
        p=None if row.p is None else _three(row.p), trust=row.trust, said=said, shut=row.shut,
        witnesses=row.witnesses, against=row.against, last_day=row.last_day,
        against_map=row.against_map,
    )  # fmt: skip


def _three(values: list[float]) -> Three:
    a, b, c = values
    return a, b, c
