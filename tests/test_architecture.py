"""The house rules that a machine can check: who imports whom, module size, purity."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import terrain

_ROOT = Path(str(terrain.__file__)).parent
_MODULES = sorted(p for p in _ROOT.rglob("*.py") if "__pycache__" not in p.parts)

# A layer imports only layers to its right; layers of one row never import each other, except
# that a subpackage may import within itself.
_ROWS: tuple[tuple[str, ...], ...] = (
    ("cli", "web"),
    ("flow", "batch", "demo", "joins", "joins_advice"),
    ("inputs", "region", "report"),
    ("stages",),
    ("calc", "tables"),
    ("values",),
    ("settings",),
    ("errors",),
)
_RANK = {name: rank for rank, row in enumerate(_ROWS) for name in row}
# What may look sideways, with the reason.
_SIDEWAYS = {
    ("demo", "flow"): "the demo is a run of the whole job",
    ("batch", "flow"): "many routes are many runs of the one job",
    ("flow", "joins"): "joins are the flow's own adapters",
    ("flow", "joins_advice"): "joins are the flow's own adapters",
    ("calc", "tables"): "a formula may take its constants from a table",
    ("tables", "calc"): "a table may be computed",
    ("web", "cli"): "serve shares the console's messages",
    ("cli", "web"): "the serve command starts the web application",
}
_PURE = ("stages", "calc", "tables", "values")
_IMPURE_MODULES = {
    "os", "io", "socket", "urllib", "http", "requests", "subprocess", "tempfile", "shutil",
    "time", "random", "sqlite3", "logging", "pathlib", "sys",
}  # fmt: skip
_IMPURE_CALLS = {"open", "print", "input", "exec", "eval"}


def _name(path: Path) -> str:
    return ".".join(path.relative_to(_ROOT.parent).with_suffix("").parts)


def _layer(module: str) -> str | None:
    parts = module.split(".")
    return parts[1] if len(parts) > 1 and parts[0] == "terrain" else None


def _imports(tree: ast.AST) -> Iterator[tuple[str, int]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield alias.name, node.lineno
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "relative imports are not used"
            assert node.module is not None
            if node.module == "terrain":
                for alias in node.names:
                    yield f"terrain.{alias.name}", node.lineno
            else:
                yield node.module, node.lineno


def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("path", _MODULES, ids=_name)
def test_imports_only_go_inwards(path: Path) -> None:
    here = _layer(_name(path))
    if here in (None, "__init__", "__main__"):
        return
    assert here in _RANK, f"layer {here} has no place in the order"
    for module, line in _imports(_tree(path)):
        there = _layer(module)
        if there is None or there == here or there not in _RANK:
            continue
        sideways = (here, there) in _SIDEWAYS
        assert sideways or _RANK[there] > _RANK[here], (
            f"{path.name}:{line}: {here} must not import {there}"
        )


@pytest.mark.parametrize("path", _MODULES, ids=_name)
def test_stages_do_not_import_each_other(path: Path) -> None:
    parts = _name(path).split(".")
    if len(parts) < 3 or parts[1] not in ("stages", "inputs"):
        return
    for module, line in _imports(_tree(path)):
        other = module.split(".")
        if other[:2] == parts[:2] and len(other) > 2:
            allowed = _STAGE_SERVES.get(other[2], ())
            assert other[2] == parts[2] or parts[2] in allowed, (
                f"{path.name}:{line}: {parts[2]} must not import {other[2]}"
            )


# Stages that serve others with a formula of their own: who may ask them.
_STAGE_SERVES: dict[str, tuple[str, ...]] = {"climate": ("heat",)}


@pytest.mark.parametrize("path", _MODULES, ids=_name)
def test_modules_are_small(path: Path) -> None:
    lines = path.read_text(encoding="utf-8").count("\n")
    assert lines <= 500, f"{path.name} has {lines} lines; split it by concept"


@pytest.mark.parametrize("path", _MODULES, ids=_name)
def test_the_middle_touches_nothing_outside(path: Path) -> None:
    """No file, network, clock, environment or print from the stages inwards."""
    if _layer(_name(path)) not in _PURE:
        return
    tree = _tree(path)
    for module, line in _imports(tree):
        top = module.split(".")[0]
        if (path.name, top) not in _MAY_READ:
            assert top not in _IMPURE_MODULES, f"{path.name}:{line}: imports {module}"
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            assert node.func.id not in _IMPURE_CALLS, f"{path.name}:{node.lineno}: {node.func.id}()"
        if isinstance(node, ast.Attribute) and node.attr in ("now", "today", "utcnow"):
            raise AssertionError(f"{path.name}:{node.lineno}: reads the clock")


# Scripts that make the tables which come as data files of the package itself.
_MAY_READ: frozenset[tuple[str, str]] = frozenset(
    (script, module) for script in ("make.py", "fit_stations.py") for module in ("pathlib", "sys")
)


def test_every_layer_folder_is_known() -> None:
    folders = {p.name for p in _ROOT.iterdir() if p.is_dir() and any(p.glob("*.py"))}
    assert folders <= set(_RANK)


def test_no_module_is_named_like_a_public_function() -> None:
    functions = {"assess", "find_region", "match", "open_region", "read_route", "climate_at"}
    # A value's module may share a noun; a module at the top would hide the function.
    top = {p.stem for p in _ROOT.glob("*.py")} | {p.name for p in _ROOT.iterdir() if p.is_dir()}
    assert not top & functions


def test_no_module_keeps_mutable_state() -> None:
    """No `global` statement anywhere, and no set_x() at module level."""
    for path in _MODULES:
        for node in ast.walk(_tree(path)):
            assert not isinstance(node, ast.Global), f"{path.name}:{node.lineno}: global"
        for node in _tree(path).body:
            if isinstance(node, ast.FunctionDef):
                assert not node.name.startswith("set_"), f"{path.name}: {node.name}"
