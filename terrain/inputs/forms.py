"""Faults of a TOML file checked by a form (pydantic), in plain words, each with its line."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from terrain.inputs.faults import Fault, nearest
from terrain.inputs.toml_lines import Path
from terrain.text.catalogue import N_
from terrain.text.message import Message, message, term


def line_of(path: Path, lines: Mapping[Path, int]) -> int:
    """The line of a path, or of the nearest thing that holds it."""
    while path and path not in lines:
        path = path[:-1]
    return lines.get(path, 0)


def told(error: Mapping[str, Any], path: Path, line: int, keys: Iterable[str]) -> Fault:
    """A pydantic error in plain words.

    path : where it is in the file; keys : the keys allowed beside it
    """
    key = next((str(p) for p in reversed(path) if isinstance(p, str)), "")
    what, fix = _words(error, key, sorted(keys))
    return Fault(line=line, what=what, fix=fix)


def _words(error: Mapping[str, Any], key: str, keys: list[str]) -> tuple[Message, Message]:
    kind, ctx, value = error["type"], error.get("ctx", {}), error["input"]
    write = message("Write {key} = {example}.", key=key, example=_example(key))
    if kind == "extra_forbidden":
        return message("there is no key {key}", key=repr(key)), nearest(key, keys)
    if kind == "missing":
        return message("{key} is missing", key=key), write
    if kind == "literal_error":
        allowed = [w.strip().strip("'") for w in ctx["expected"].replace(" or ", ", ").split(",")]
        what = message("{key} {value} is not known", key=key, value=repr(value))
        return what, nearest(str(value), allowed)
    if kind in _BOUNDS:
        bound = next(ctx[k] for k in ("gt", "ge", "lt", "le") if k in ctx)
        what = message(_BOUNDS[kind], key=key, value=repr(value), bound=f"{bound:g}")
        return what, message("Check the unit of {key}.", key=key)
    if kind in ("too_short", "string_too_short"):
        fix = message("Write at least one, such as {key} = {example}.",
                      key=key, example=_example(key))  # fmt: skip
        return message("{key} is empty", key=key), fix
    if kind == "finite_number":
        return message("{key} must be a number", key=key), write
    wanted = term(_TYPES.get(kind, N_("something else")))
    what = message("{key} must be {wanted}, not {value}",
                   key=key, wanted=wanted, value=repr(value)[:150])  # fmt: skip
    return what, write


_BOUNDS = {
    "greater_than": N_("{key} = {value} must be above {bound}"),
    "greater_than_equal": N_("{key} = {value} must be at least {bound}"),
    "less_than": N_("{key} = {value} must be below {bound}"),
    "less_than_equal": N_("{key} = {value} must be at most {bound}"),
}
_TYPES = {
    "float_type": N_("a number"),
    "float_parsing": N_("a number"),
    "int_type": N_("a whole number"),
    "int_parsing": N_("a whole number"),
    "int_from_float": N_("a whole number"),
    "bool_type": N_("true or false"),
    "string_type": N_("a text in quotes"),
    "string_too_long": N_("a shorter text"),
    "list_type": N_("a list in square brackets"),
    "dict_type": N_("a table"),
    "model_type": N_("a table"),
    "model_attributes_type": N_("a table"),
}

# A value of the right kind for each key, shown in the fix.
_EXAMPLES = {
    "name": '"Island rentals"', "title": '"dual-sport"', "mass_kg": "150", "payload_kg": "150",
    "power_kw": "22", "displacement_cc": "300", "drag_area_m2": "0.5", "cooling": '"liquid"',
    "fan": "true", "tank_l": "8.0", "consumption_l_100km": "3.8", "seats": "2",
    "luggage": '["none", "soft"]', "clearance_mm": "260", "tyres": '["road", "mixed"]',
    "kick_start": "false", "parts": '"rare"', "repair": '"fair"', "off_road": "0.75",
    "motorway": "0.6", "minimum_rider": '"steady"', "incident_rate": "0.1",
    "incident_basis": '"our guess"', "ground": '"track"', "rentals": "40", "incidents": "[]",
    "remote_km": "50", "remote_min": "60", "range_reserve": "0.2", "carry_l": "5",
    "rest_every_min": "90", "rest_every_km": "100", "ride_day_h": "6", "town_population": "5000",
    "motorway_min_cc": "125", "rate": "0.1", "low": "0.05", "high": "0.2", "class": "a table",
    "rules": "a table", "weights": "a table", "log": "a table",
}  # fmt: skip


def _example(key: str) -> str:
    return _EXAMPLES.get(key, "1")
