"""A fleet as the text of a fleet file."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

from terrain.errors import FleetError
from terrain.inputs.fleet.form import RULES, ClassForm
from terrain.inputs.toml_lines import quoted
from terrain.tables.advice import WEIGHTS
from terrain.text.message import message
from terrain.values.fleet import BikeClass, Fleet


def class_table(bike: BikeClass) -> dict[str, Any]:
    """The class as the plain values of its table."""
    table: dict[str, Any] = {}
    for key in ClassForm.model_fields:
        value = getattr(bike, key)
        if key == "incidents":
            if value:
                table[key] = [asdict(rate) for rate in value]
        elif isinstance(value, tuple):
            if value:
                table[key] = [str(word) for word in value]
        elif isinstance(value, str):
            table[key] = str(value)
        elif value is not None:
            table[key] = value
    return table


def fleet_text(fleet: Fleet, *, header: tuple[str, ...] = ()) -> str:
    """A fleet file that reads back as the same fleet. header : comment lines at its top."""
    lines = [f"# {line}".rstrip() for line in header]
    lines += [f"name = {_value(fleet.name)}", ""]
    if fleet.rentals is not None:
        lines += ["[log]", f"rentals = {fleet.rentals}"]
        lines += [f"span = {_value(fleet.rentals_span)}"] if fleet.rentals_span else []
        lines += [""]
    lines += ["[rules]"]
    for key, name, factor in RULES:
        lines.append(f"{key} = {_value(getattr(fleet.rules, name) / factor)}")
    weights = {name: row.weight for name, row in WEIGHTS.items()} | dict(fleet.weights)
    lines += ["", "[weights]", *(f"{name} = {_value(w)}" for name, w in weights.items())]
    for bike in fleet.classes:
        table = class_table(bike)
        incidents = table.pop("incidents", [])
        lines += ["", f"[class.{bike.name}]"]
        lines += [f"{key} = {_value(value)}" for key, value in table.items()]
        for row in incidents:
            lines += ["", f"[[class.{bike.name}.incidents]]"]
            lines += [f"{key} = {_value(value)}" for key, value in row.items()]
    return "\n".join(lines) + "\n"


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return (
            str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(round(value, 6))
        )
    if isinstance(value, list):
        return "[" + ", ".join(_value(item) for item in value) + "]"
    return quoted(str(value))


def save_beside(text: str, path: Path, *, exact: bool) -> Path:
    """Write a new file; never over an old one.

    exact : write this very file, which must not exist; else find a free name like it, such as
        fleet-learnt.toml, fleet-learnt-2.toml
    Returns: the file written. Raises FleetError.
    """
    for number in range(1, 1000):
        target = path
        if not exact:
            count = f"-{number}" if number > 1 else ""
            target = path.with_name(f"{path.stem}-learnt{count}{path.suffix}")
        try:
            with target.open("x", encoding="utf-8") as stream:
                stream.write(text)
        except FileExistsError as exc:
            if exact:
                raise FleetError(
                    message("the file exists already"),
                    str(target),
                    message("Choose another name with --out."),
                ) from exc
            continue
        except OSError as exc:
            raise FleetError(
                message("the file cannot be written ({strerror})", strerror=str(exc.strerror)),
                str(target),
                message("Choose another folder."),
            ) from exc
        return target
    raise FleetError(
        message("there are too many learnt files"), str(path), message("Remove some of them.")
    )
