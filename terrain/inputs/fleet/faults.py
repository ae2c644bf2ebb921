"""Faults of a fleet file in plain words, each with its line and what to do."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from terrain.inputs.fleet.lines import Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One fault. line : in the file, from 1; 0 if it is about the whole file."""

    line: int
    what: str
    fix: str

    def __str__(self) -> str:
        where = f"line {self.line}: " if self.line else ""
        return f"{where}{self.what}. {self.fix}".rstrip()


def nearest(word: str, allowed: Iterable[str]) -> str:
    """A hint at the right word: the nearest, or all of them."""
    allowed = list(allowed)
    near = difflib.get_close_matches(word, allowed, n=1)
    if near:
        return f"Did you mean {near[0]}?"
    return f"Use one of {', '.join(allowed)}."


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


def _words(error: Mapping[str, Any], key: str, keys: list[str]) -> tuple[str, str]:
    kind, ctx, value = error["type"], error.get("ctx", {}), error["input"]
    if kind == "extra_forbidden":
        return f"there is no key {key!r}", nearest(key, keys)
    if kind == "missing":
        return f"{key} is missing", f"Write {key} = {_example(key)}."
    if kind == "literal_error":
        allowed = [w.strip().strip("'") for w in ctx["expected"].replace(" or ", ", ").split(",")]
        return f"{key} {value!r} is not known", nearest(str(value), allowed)
    if kind.startswith(("greater", "less")):
        bound = next(ctx[k] for k in ("gt", "ge", "lt", "le") if k in ctx)
        words = {"greater_than": "above", "greater_than_equal": "at least",
                 "less_than": "below", "less_than_equal": "at most"}[kind]  # fmt: skip
        return f"{key} = {value!r} must be {words} {bound:g}", f"Check the unit of {key}."
    if kind in ("too_short", "string_too_short"):
        return f"{key} is empty", f"Write at least one, such as {key} = {_example(key)}."
    if kind == "finite_number":
        return f"{key} must be a number", f"Write {key} = {_example(key)}."
    wanted = _TYPES.get(kind, "something else")
    return f"{key} must be {wanted}, not {value!r}"[:200], f"Write {key} = {_example(key)}."


_TYPES = {
    "float_type": "a number",
    "float_parsing": "a number",
    "int_type": "a whole number",
    "int_parsing": "a whole number",
    "int_from_float": "a whole number",
    "bool_type": "true or false",
    "string_type": "a text in quotes",
    "string_too_long": "a shorter text",
    "list_type": "a list in square brackets",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
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
