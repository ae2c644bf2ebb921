"""The report as JSON, and the schema that describes it."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any, cast

import orjson

from terrain.values.report import Report


def render_json(report: Report) -> bytes:
    """`terrain-report/1` as UTF-8."""
    return json_bytes(report.to_dict())


def report_data(report: Report) -> dict[str, Any]:
    """The report as plain data, for templates and programs of other people."""
    return report.to_dict()


def json_bytes(facts: dict[str, Any], *, indented: bool = True) -> bytes:
    """Plain data as UTF-8, a value a line or all on one line."""
    return orjson.dumps(
        facts, option=orjson.OPT_APPEND_NEWLINE | (indented and orjson.OPT_INDENT_2)
    )


def report_schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) of `terrain-report/1`."""
    return schema("terrain-report-1")


def schema_names() -> tuple[str, ...]:
    """The schemas that ship, by the names of `schema`."""
    found = (files("terrain.report") / "schema").iterdir()
    return tuple(sorted(p.name.removesuffix(_SUFFIX) for p in found if p.name.endswith(_SUFFIX)))


def schema(name: str) -> dict[str, Any]:
    """A JSON Schema by its name, such as "terrain-report-1"."""
    path = files("terrain.report") / "schema" / f"{name}{_SUFFIX}"
    return cast(dict[str, Any], json.loads(path.read_text(encoding="utf-8")))


_SUFFIX = ".schema.json"
