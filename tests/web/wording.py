"""What the desk says, found in its templates and in the code whose errors reach its pages."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import terrain

_HERE = Path(terrain.__file__).parent
TEMPLATES = sorted((_HERE / "web" / "templates").glob("*.html"))
#: Not the settings, the backup and the start: their errors are for who runs the desk.
CODE = [
    *(
        _HERE / "web" / f"{name}.py"
        for name in ("access", "app", "bookings", "desk_pages", "guide_pages", "jobs", "keys",
                     "map_pages", "office_pages", "people", "retention", "rider_pages",
                     "tables_in_out", "work", "worker")
    ),
    *sorted((_HERE / "inputs" / "lines").rglob("*.py")),
    _HERE / "stages" / "matching" / "lay.py",
]  # fmt: skip
_CALL = re.compile(r'\b_\("((?:[^"\\]|\\.)*)"')
_SAYS = {"say", "refuse", "told_fault", "HTTPException", "note_event", "LimitedError"}
_FIELD = re.compile(r"\{[^{}]*\}")


def plain(text: str) -> str:
    """A message without the names of its open parts."""
    return _FIELD.sub("{}", text)


def in_templates() -> set[str]:
    return {text for path in TEMPLATES for text in _CALL.findall(path.read_text("utf-8"))}


def in_code() -> dict[str, str]:
    """Every literal sentence of an error, a note of the history or a page, with where it is."""
    found: dict[str, str] = {}
    for path in CODE:
        tree = ast.parse(path.read_text("utf-8"))
        fixed = _constants(tree)
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and _is_said(node.func):
                for given in [*node.args, *(k.value for k in node.keywords if k.arg == "what")]:
                    for text in _texts(given, fixed):
                        if re.search(r"[A-Za-z]{2}", _FIELD.sub("", text)):
                            found[plain(text)] = f"{path.name}:{node.lineno}"
    return found


def _is_said(func: ast.expr) -> bool:
    name = func.attr if isinstance(func, ast.Attribute) else getattr(func, "id", "")
    if name in ("ValueError", "TypeError", "KeyError", "RuntimeError", "NotImplementedError"):
        return False
    return name in _SAYS or name.endswith(("Error", "Refusal", "NotCovering"))


def _constants(tree: ast.Module) -> dict[str, ast.expr]:
    return {
        node.targets[0].id: node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name)
    }


def _texts(node: ast.expr, fixed: dict[str, ast.expr]) -> Iterator[str]:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.JoinedStr):
        yield "".join(str(v.value) if isinstance(v, ast.Constant) else "{}" for v in node.values)
    elif isinstance(node, ast.IfExp):
        yield from _texts(node.body, fixed)
        yield from _texts(node.orelse, fixed)
    elif isinstance(node, ast.Name) and node.id in fixed:
        yield from _texts(fixed[node.id], {k: v for k, v in fixed.items() if k != node.id})
