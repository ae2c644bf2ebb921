"""The operator's fleet file (TOML): read, checked with all faults at once, written.

name = "Island rentals"

[class.trail]
like = "light-trail"      # start from a generic class, and write only what differs
title = "trail bike"
mass_kg = 125
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import fields
from pathlib import Path as FilePath
from typing import Any

from pydantic import BaseModel, ValidationError

from terrain.errors import FleetError
from terrain.inputs.faults import Fault, faults_error, nearest
from terrain.inputs.fleet.form import RULES, ClassForm, FleetForm, IncidentForm, LogForm, RulesForm
from terrain.inputs.fleet.write import class_table
from terrain.inputs.forms import line_of, told
from terrain.inputs.reading import read_most
from terrain.inputs.tables import utf8_text
from terrain.inputs.toml_lines import Path, key_lines
from terrain.tables.advice import WEIGHTS
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.text.message import message
from terrain.values.fleet import BikeClass, Cooling, Fleet, FleetRules, IncidentRate, Parts, Repair
from terrain.values.trip import Luggage, Rider

__all__ = ["Fault", "check_fleet", "parse_fleet", "read_fleet"]

_MAX_BYTES = 1_000_000
_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,39}")
_TOML_PLACE = re.compile(r"\s*\(at (?:line (\d+), column \d+|end of document)\)$")
_FORMS: dict[str, type[BaseModel]] = {"rules": RulesForm, "log": LogForm}


def read_fleet(path: str | FilePath) -> Fleet:
    """The fleet in a file. Raises FleetError with all its faults."""
    path = FilePath(path)
    data = read_most(path, _MAX_BYTES, FleetError)
    if len(data) > _MAX_BYTES:
        raise FleetError(
            message("the file is too big for a fleet file"), path.name, message("Check the name.")
        )
    text = utf8_text(data, path.name, FleetError)
    return parse_fleet(text, path.name)


def parse_fleet(text: str, source: str) -> Fleet:
    """The fleet in a text. Raises FleetError with all its faults, each with line and fix."""
    fleet, faults = check_fleet(text)
    if fleet is not None:
        return fleet
    raise faults_error(faults, FleetError, source)


def check_fleet(text: str) -> tuple[Fleet | None, tuple[Fault, ...]]:
    """The fleet in a text, or None and its faults in the order of the file."""
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as exc:
        return None, (_syntax(exc, text),)
    lines = key_lines(text)
    faults: list[Fault] = []
    form = _checked(FleetForm, raw, (), lines, faults)
    classes = [
        _class_form(name, table, lines, faults) for name, table in _dict(raw.get("class")).items()
    ]
    weights = _weights(_dict(raw.get("weights")), lines, faults)
    if faults or form is None:
        unique = {(f.line, f.what): f for f in faults}.values()
        return None, tuple(sorted(unique, key=lambda f: f.line))
    log = form.log
    return Fleet(
        name=form.name,
        classes=tuple(c for c in classes if c is not None),
        rules=_rules(form.rules),
        weights=weights,
        rentals=None if log is None else log.rentals,
        rentals_span=None if log is None else log.span,
    ), ()


def _dict(value: Any) -> dict[str, Any]:
    return value if isinstance(value, dict) else {}


def _syntax(exc: tomllib.TOMLDecodeError, text: str) -> Fault:
    found = _TOML_PLACE.search(str(exc))
    line = int(found.group(1)) if found and found.group(1) else text.count("\n") + 1
    what = _TOML_PLACE.sub("", str(exc))
    return Fault(
        line=line,
        what=message("this is not TOML ({reason})", reason=what[0].lower() + what[1:]),
        fix=message('Texts need quotes, as in title = "trail bike".'),
    )


def _checked(
    form: type[Any],
    raw: Mapping[str, Any],
    path: Path,
    lines: Mapping[Path, int],
    faults: list[Fault],
) -> Any:
    """The table as a form, or None with its faults added."""
    try:
        return form.model_validate(raw)
    except ValidationError as exc:
        errors = exc.errors(include_url=False)
        missing = [e for e in errors if e["type"] == "missing" and form is ClassForm]
        if len(missing) > 2:
            names = ", ".join(str(e["loc"][-1]) for e in missing)
            faults.append(
                Fault(
                    line=line_of(path, lines),
                    what=message("class {name} lacks {names}", name=str(path[-1]), names=names),
                    fix=message(
                        'Write them, or like = "dual-sport" to start from a generic class.'
                    ),
                )
            )
            errors = [e for e in errors if e not in missing]
        for error in errors:
            loc = tuple(p for p in error["loc"] if p != "class_")
            full = (*path, *loc)
            keys = _keys_beside(form, loc)
            faults.append(told(error, full, line_of(full, lines), keys))
    return None


def _keys_beside(form: type[BaseModel], loc: tuple[Any, ...]) -> list[str]:
    """The keys allowed where an error is."""
    inner = form
    if form is FleetForm and len(loc) > 1:
        inner = _FORMS.get(str(loc[0]), form)
    elif form is ClassForm and len(loc) > 1:
        inner = IncidentForm
    keys = [f.alias or name for name, f in inner.model_fields.items()]
    return [*keys, "like"] if inner is ClassForm else keys


def _class_form(
    name: str, table: Any, lines: Mapping[Path, int], faults: list[Fault]
) -> BikeClass | None:
    path: Path = ("class", name)
    line = line_of(path, lines)
    if not _NAME.fullmatch(name):
        what = message(
            "class name {name} must be lower-case letters, digits and hyphens", name=repr(name)
        )
        faults.append(
            Fault(line=line, what=what, fix=message("Write it as in [class.light-trail]."))
        )
    if not isinstance(table, dict):
        what = message("class.{name} must be a table", name=name)
        fix = message("Write [class.{name}] on a line of its own.", name=name)
        faults.append(Fault(line=line, what=what, fix=fix))
        return None
    raw = dict(table)
    like = raw.pop("like", None)
    if like is not None:
        model = DEFAULT_FLEET.named(like) if isinstance(like, str) else None
        if model is None:
            known = [c.name for c in DEFAULT_FLEET.classes]
            faults.append(
                Fault(
                    line=line_of((*path, "like"), lines),
                    what=message("there is no generic class {name} to start from", name=repr(like)),
                    fix=nearest(str(like), known),
                )
            )
            return None
        raw = {**class_table(model), **raw}
    form = _checked(ClassForm, raw, path, lines, faults)
    if form is None:
        return None
    _cross_checks(form, path, lines, faults)
    return _bike_class(name, form)


def _cross_checks(
    form: ClassForm, path: Path, lines: Mapping[Path, int], faults: list[Fault]
) -> None:
    if form.fan and form.cooling == "air":
        faults.append(
            Fault(
                line=line_of((*path, "fan"), lines),
                what=message('fan = true does not go with cooling = "air"'),
                fix=message("Only engines with a radiator have a fan."),
            )
        )
    if form.coolant_l is not None and form.cooling != "liquid":
        faults.append(
            Fault(
                line=line_of((*path, "coolant_l"), lines),
                what=message(
                    'coolant_l does not go with cooling = "{cooling}"', cooling=form.cooling
                ),
                fix=message('Leave it out, or write cooling = "liquid".'),
            )
        )
    low, rate, high = form.incident_low, form.incident_rate, form.incident_high
    if (low is not None and low > rate) or (high is not None and high < rate):
        faults.append(
            Fault(
                line=line_of((*path, "incident_rate"), lines),
                what=message("incident_rate lies outside incident_low..incident_high"),
                fix=message("Correct the three numbers, or learn them again from the log."),
            )
        )


def _bike_class(name: str, form: ClassForm) -> BikeClass:
    plain = form.model_dump(
        exclude={"cooling", "parts", "repair", "minimum_rider", "luggage", "tyres", "incidents",
                 "failed"}
    )  # fmt: skip
    return BikeClass(
        name=name,
        **plain,
        cooling=Cooling(form.cooling),
        parts=Parts(form.parts),
        repair=Repair(form.repair),
        minimum_rider=Rider(form.minimum_rider),
        luggage=tuple(Luggage(word) for word in form.luggage),
        tyres=tuple(form.tyres),
        failed=tuple(form.failed),
        incidents=tuple(IncidentRate(**i.model_dump()) for i in form.incidents),
    )


def _rules(form: RulesForm) -> FleetRules:
    given = {
        name: getattr(form, key) * factor
        for key, name, factor in RULES
        if getattr(form, key) is not None
    }
    return FleetRules(**{f.name: given.get(f.name, f.default) for f in fields(FleetRules)})


def _weights(
    raw: dict[str, Any], lines: Mapping[Path, int], faults: list[Fault]
) -> tuple[tuple[str, float], ...]:
    good: list[tuple[str, float]] = []
    for name, value in raw.items():
        line = line_of(("weights", name), lines)
        if name not in WEIGHTS:
            what = message("there is no weight {name}", name=repr(name))
            faults.append(Fault(line=line, what=what, fix=nearest(name, WEIGHTS)))
        elif isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= 100:
            what = message("weight {name} must be a number from 0 to 100, not {value}",
                           name=name, value=repr(value))  # fmt: skip
            example = f"{WEIGHTS[name].weight:g}"
            fix = message("Write {key} = {example}.", key=name, example=example)
            faults.append(Fault(line=line, what=what, fix=fix))
        else:
            good.append((name, float(value)))
    weight = {name: row.weight for name, row in WEIGHTS.items()} | dict(good)
    if not faults and not sum(weight.values()) > 0:
        faults.append(
            Fault(
                line=line_of(("weights",), lines),
                what=message("all weights are 0, so no bike can be told from another"),
                fix=message("Give at least one of them a number above 0."),
            )
        )
    return tuple(good)
