"""Every message that a report may hold, found in the source: what a catalogue must hold."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

import terrain
from terrain.stages.advice.words import MESSAGES
from terrain.tables.advice_kit import CHECKS, SPARES
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.tables.ground_severity import SEVERITIES
from terrain.tables.heat import COLD_LEVELS, HEAT_LEVELS, HEIGHT_LEVELS
from terrain.values.advice import Tyres
from terrain.values.trip import Luggage, Rider

Key = str | tuple[str, str]  # a plural is a pair

_ROOT = Path(str(terrain.__file__)).parent
_IN_TEMPLATE = re.compile(r"""(?<![\w.])_\(\s*"((?:[^"\\]|\\.)*)\"""")
_SPOKEN = ("text", "report", "values", "stages", "tables", "inputs", "calc", "region", "demo")


@cache
def source_messages() -> frozenset[Key]:
    """Messages of the code and templates behind a report."""
    found: set[Key] = set()
    paths = [path for name in _SPOKEN for path in sorted((_ROOT / name).rglob("*.py"))]
    for path in [*paths, *sorted(_ROOT.glob("*.py")), _ROOT / "web" / "ruling.py"]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                found |= _of_call(node)
    for path in sorted((_ROOT / "report" / "templates").glob("*.*")):
        if path.suffix in (".html", ".txt"):
            found |= set(_IN_TEMPLATE.findall(path.read_text(encoding="utf-8")))
    return frozenset(found)


def _of_call(node: ast.Call) -> set[Key]:
    called = node.func
    name = called.attr if isinstance(called, ast.Attribute) else getattr(called, "id", "")
    texts = [a.value for a in node.args if isinstance(a, ast.Constant) and isinstance(a.value, str)]
    # Advice says its sentences by code, a translator by message.
    says = name == "say" and isinstance(called, ast.Attribute)
    if (name in ("n_", "NN_", "message") or says) and len(texts) >= 2:
        return {(texts[0], texts[1])}
    if (name in ("_", "N_", "message", "term") or says) and texts:
        return {texts[0]}
    if name == "join_messages" and len(node.args) == 2 and texts:
        return {texts[-1]}
    return set()


@cache
def needed_messages() -> frozenset[Key]:
    """All a catalogue must hold: the source's own, advice by code, and texts of the tables."""
    texts = {row.text for row in (*CHECKS, *SPARES, *HEIGHT_LEVELS, *COLD_LEVELS)}
    texts |= {level.word for level in HEAT_LEVELS}
    texts |= {text for row in SEVERITIES for text in (row.name, row.ground, row.loaded, row.novice)}
    for bike in DEFAULT_FLEET.classes:
        texts |= {bike.title, bike.name.replace("-", " "), bike.incident_basis}
    texts |= {value.value for kind in (Rider, Luggage, Tyres) for value in kind}
    return source_messages() | set(MESSAGES.values()) | texts
