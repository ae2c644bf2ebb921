"""Every message of the report, found in the source: what a catalogue must hold."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import terrain.report as report_package
from terrain.stages.advice.words import MESSAGES

_ROOT = Path(str(report_package.__file__)).parent
_IN_TEMPLATE = re.compile(r"""(?<![\w.])_\(\s*"((?:[^"\\]|\\.)*)\"""")


def source_messages() -> set[str | tuple[str, str]]:
    """Messages of the report's own code and templates; a plural is a pair."""
    found: set[str | tuple[str, str]] = set()
    for path in sorted(_ROOT.glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                found |= _of_call(node)
    for path in sorted((_ROOT / "templates").glob("*.*")):
        if path.suffix in (".html", ".txt"):
            found |= set(_IN_TEMPLATE.findall(path.read_text(encoding="utf-8")))
    return found


def _of_call(node: ast.Call) -> set[str | tuple[str, str]]:
    called = node.func
    name = called.attr if isinstance(called, ast.Attribute) else getattr(called, "id", "")
    texts = [a.value for a in node.args if isinstance(a, ast.Constant) and isinstance(a.value, str)]
    if name in ("_", "N_") and texts:
        return {texts[0]}
    if name == "n_" and len(texts) >= 2:
        return {(texts[0], texts[1])}
    return set()


def advice_messages() -> set[str]:
    """The sentences of the advice, their numbers left open."""
    return set(MESSAGES.values())
