"""Every number of the tables says where it comes from: a document, a measurement, or practice."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import terrain

_ROOT = Path(terrain.__file__).parent
# Besides the tables: the rooms whose numbers decide what a rider is told. Sizes of work in the
# others (matching, searches) are chosen by measurement, as tests/bench/README.md tells.
_TOLD = (
    "advice", "asking", "days", "detours", "exits", "ground", "group", "heat", "help", "places",
    "plan", "relief", "ridden", "speed", "verdict", "weather", "when",
)  # fmt: skip
_PLACES = (
    _ROOT / "tables", _ROOT / "calc", *(_ROOT / "stages" / room for room in _TOLD),
)  # fmt: skip

# What a source looks like: a word for one, a document with its year or clause, or a measurement.
_SOURCE = re.compile(
    r"source|practice|from memory|measure|fitted|textbook|handbook|wiki|\bISO\b|\bWMO\b|Regulation"
    r"|\b(?:19|20)\d\d\b|\b_?CP\b|PRACTICE|_GUIDES|by definition|bench"
    r'|"\[\w+\]'  # a key of the sources that the module's head lists
)


def _is_number(node: ast.AST) -> bool:
    """A number that decides something: 0, 1 and -1 are starts, ends and signs."""
    return (
        isinstance(node, ast.Constant)
        and isinstance(node.value, int | float)
        and not isinstance(node.value, bool)
        and abs(node.value) not in (0, 1)
    )


def _values(node: ast.stmt) -> list[ast.expr]:
    """What is given a name: by an assignment, or as a default of a field."""
    rows = node.body if isinstance(node, ast.ClassDef) else [node]
    given = [row.value for row in rows if isinstance(row, ast.Assign | ast.AnnAssign)]
    # The last of a list, or how many there are of a kind, is no number of the trade.
    return [v for v in given if v is not None and not isinstance(v, ast.Subscript)]


def _comment_above(lines: list[str], first: int) -> str:
    """The comment lines right above a line, past assignments it covers; first counts from 1."""
    text, at = "", first - 2
    while at >= 0 and lines[at].strip() and not lines[at].startswith(("def ", "class ", "@")):
        text, at = lines[at] + text, at - 1
    return text


def _unsourced(path: Path) -> Iterator[str]:
    lines = path.read_text(encoding="utf-8").splitlines()
    tree = ast.parse("\n".join(lines))
    classes = {
        node.name: ast.get_source_segment("\n".join(lines), node) or ""
        for node in tree.body
        if isinstance(node, ast.ClassDef)
    }
    for node in tree.body:
        if not any(_is_number(part) for value in _values(node) for part in ast.walk(value)):
            continue
        own = "\n".join(lines[node.lineno - 1 : node.end_lineno])
        made = {
            part.func.id
            for part in ast.walk(node)
            if isinstance(part, ast.Call) and isinstance(part.func, ast.Name)
        }
        said = own + _comment_above(lines, node.lineno) + "".join(classes.get(m, "") for m in made)
        if "top of the module" in said:
            said += ast.get_docstring(tree) or ""
        if not _SOURCE.search(said):
            yield f"{path.name}:{node.lineno}: {lines[node.lineno - 1][:80]}"


@pytest.mark.parametrize("place", _PLACES, ids=lambda place: place.name)
def test_no_number_of_a_table_lacks_its_source(place: Path) -> None:
    """Common practice is told as such; a document with its clause, or as from memory."""
    assert [row for path in sorted(place.rglob("*.py")) for row in _unsourced(path)] == []


def test_a_number_without_a_source_is_found(tmp_path: Path) -> None:
    text = (
        "# Rule of thumb (common practice, no source).\nA = 3.0\n\nB = 4.0\n\n"
        "C = 5  # ISO 7243:2017, table A.1\n\nD = 1\n"
    )
    (tmp_path / "t.py").write_text(text, encoding="utf-8")
    assert [row.split(":")[1] for row in _unsourced(tmp_path / "t.py")] == ["4"]
