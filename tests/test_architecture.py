"""The house rules that a machine can check: who imports whom, module size, purity."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import networkx as nx

import terrain

_ROOT = Path(str(terrain.__file__)).parent
_MODULES = sorted(p for p in _ROOT.rglob("*.py") if "__pycache__" not in p.parts)

# A layer imports only layers below it; layers of one row never import each other.
_ROWS: tuple[tuple[str, ...], ...] = (
    ("web", "cli"),
    ("batch",),
    ("rides",),
    ("flow", "demo"),
    ("inputs", "region", "report"),
    ("stages",),
    ("tables",),
    ("calc",),
    ("settings", "values"),
    ("errors",),
    ("text",),
)
_RANK = {name: rank for rank, row in enumerate(_ROWS) for name in row}
# What may look sideways or up, with the reason.
_SIDEWAYS = {
    ("web", "cli"): "serve shares the console's messages",
    ("cli", "web"): "the serve command starts the web application",
    ("demo", "flow"): "the demo is a run of the whole job",
}
# Stages in riding order: each imports only those before it.
_ORDER = (
    "ways", "matching", "places", "relief", "weather", "ground", "speed", "exits", "help",
    "detours", "days", "heat", "when", "advice", "plan", "asking", "verdict", "group", "ridden",
)  # fmt: skip
# Within the advice each folder imports only those before it.
_ADVICE_ORDER = ("", "setup", "bikes", "rider", "advise")
_MOST_IN_STAGE = 8
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


@cache
def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def _nodes(path: Path) -> list[ast.AST]:
    return list(ast.walk(_tree(path)))


def _imports(path: Path) -> Iterator[tuple[str, int]]:
    for node in _nodes(path):
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


def test_imports_only_go_inwards() -> None:
    breaches = []
    for path in _MODULES:
        here = _layer(_name(path))
        if here in (None, "__init__", "__main__"):
            continue
        assert here in _RANK, f"layer {here} has no place in the order"
        for module, line in _imports(path):
            there = _layer(module)
            if there is None or there == here or there not in _RANK:
                continue
            if _RANK[there] <= _RANK[here] and (here, there) not in _SIDEWAYS:
                breaches.append(f"{_name(path)}:{line}: {here} imports {there}")
    assert breaches == []


def test_stages_stand_in_riding_order() -> None:
    breaches = []
    for path in _MODULES:
        parts = _name(path).split(".")
        if len(parts) < 3 or parts[1] != "stages":
            continue
        for module, line in _imports(path):
            other = module.split(".")
            if other[:2] != parts[:2] or len(other) < 3:
                continue
            if _ORDER.index(other[2]) > _ORDER.index(parts[2]):
                breaches.append(f"{_name(path)}:{line}: {parts[2]} imports {other[2]}")
            elif parts[2] == other[2] == "advice" and _advice(other) > _advice(parts):
                breaches.append(f"{_name(path)}:{line}: imports {module}")
    assert breaches == []


def _advice(parts: list[str]) -> int:
    folder = parts[3] if len(parts) > 3 and parts[3] != "__init__" else "advise"
    return _ADVICE_ORDER.index(folder if folder in _ADVICE_ORDER else "")


def test_stage_folders_are_small() -> None:
    stages = _ROOT / "stages"
    crowded = {}
    for folder in (stages, *(p for p in stages.rglob("*") if p.is_dir())):
        n = len([p for p in folder.glob("*.py") if p.name != "__init__.py"])
        if n > _MOST_IN_STAGE:
            crowded[str(folder.relative_to(_ROOT))] = n
    assert crowded == {}


def test_writers_only_say_what_the_stages_found() -> None:
    """No writer asks a stage; only those of data read a report as its JSON."""
    breaches = []
    for path in _MODULES:
        parts = _name(path).split(".")
        if parts[1:2] != ["report"]:
            continue
        breaches += [
            f"{_name(path)}:{line}: imports {module}"
            for module, line in _imports(path)
            if module.startswith("terrain.stages")
        ]
        for node in _nodes(path):
            named = isinstance(node, ast.Attribute) and node.attr == "to_dict"
            if named and parts[2:3] != ["data"]:
                breaches.append(f"{_name(path)}:{node.lineno}: reads to_dict")
    assert breaches == []


def test_inputs_do_not_import_each_other() -> None:
    breaches = []
    for path in _MODULES:
        parts = _name(path).split(".")
        if len(parts) < 3 or parts[1] != "inputs":
            continue
        for module, line in _imports(path):
            other = module.split(".")
            if other[:2] != parts[:2] or len(other) < 3 or other[2] in (parts[2], *_COMMON):
                continue
            if (parts[2], other[2]) in _THROUGH:
                continue
            breaches.append(f"{_name(path)}:{line}: {parts[2]} imports {other[2]}")
    assert breaches == []


# What all of them share, with the reason.
_COMMON = {
    "reading": "every input opens its file in one way",
    "tables": "every table is read as spreadsheets write it",
    "faults": "every fault is told in one way",
    "forms": "every TOML file is checked by a form in one way",
    "toml_lines": "every TOML fault names its line",
}
# An input that reads through another, with the reason.
_THROUGH = {("tracks", "lines"): "a recorded ride comes through the guard of planned routes"}


def test_no_circle_between_files() -> None:
    """Following imports never leads back to the file one started from."""
    known = {_name(path).removesuffix(".__init__") for path in _MODULES}
    ahead: dict[str, set[str]] = {}
    for path in _MODULES:
        name = _name(path).removesuffix(".__init__")
        ahead[name] = set(_modules_named(path, known))
    assert _circles(ahead) == []


def _modules_named(path: Path, known: set[str]) -> Iterator[str]:
    """Modules of ours whose code an import runs: of `from a import b`, a.b if it is one."""
    for node in _nodes(path):
        if isinstance(node, ast.ImportFrom) and node.module in known:
            for alias in node.names:
                inner = f"{node.module}.{alias.name}"
                yield inner if inner in known else str(node.module)
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name in known)


def _circles(ahead: dict[str, set[str]]) -> list[list[str]]:
    graph = nx.DiGraph((a, b) for a, found in ahead.items() for b in found)
    parts = nx.strongly_connected_components(graph)
    return [[n] for n in nx.nodes_with_selfloops(graph)] + [sorted(p) for p in parts if len(p) > 1]


def test_modules_are_small() -> None:
    lengths = {_name(p): p.read_text(encoding="utf-8").count("\n") for p in _MODULES}
    assert {name: n for name, n in lengths.items() if n > 500} == {}


def test_the_middle_touches_nothing_outside() -> None:
    """No file, network, clock, environment or print from the stages inwards."""
    breaches = []
    for path in _MODULES:
        if _layer(_name(path)) in _PURE:
            breaches += [f"{_name(path)}:{line}: {what}" for line, what in _impure(path)]
    assert breaches == []


def _impure(path: Path) -> Iterator[tuple[int, str]]:
    tables = _name(path).startswith("terrain.tables.")
    for module, line in _imports(path):
        top = module.split(".")[0]
        # A table may come as a data file of the package itself.
        if top in _IMPURE_MODULES and not (tables and top in ("pathlib", "io")):
            yield line, f"imports {module}"
    for node in _nodes(path):
        called = node.func if isinstance(node, ast.Call) else None
        if isinstance(called, ast.Name) and called.id in _IMPURE_CALLS:
            yield called.lineno, f"{called.id}()"
        if isinstance(node, ast.Attribute) and node.attr in ("now", "today", "utcnow"):
            yield node.lineno, "reads the clock"


def test_every_layer_folder_is_known() -> None:
    folders = {p.name for p in _ROOT.iterdir() if p.is_dir() and any(p.glob("*.py"))}
    assert folders <= set(_RANK)


def test_no_module_hides_a_public_function() -> None:
    functions = {name for name in terrain.__all__ if name.islower() and not name.startswith("_")}
    top = {p.stem for p in _ROOT.glob("*.py")} | {p.name for p in _ROOT.iterdir() if p.is_dir()}
    assert top & functions == set()


def test_no_module_keeps_mutable_state() -> None:
    """No `global` statement anywhere, and no set_x() at module level."""
    breaches = []
    for path in _MODULES:
        breaches += [
            f"{_name(path)}:{node.lineno}: global"
            for node in _nodes(path)
            if isinstance(node, ast.Global)
        ]
        breaches += [
            f"{_name(path)}:{node.lineno}: {node.name}"
            for node in _tree(path).body
            # The web's own are rows of its database, not state of a module.
            if isinstance(node, ast.FunctionDef)
            and node.name.startswith("set_")
            and _layer(_name(path)) != "web"
        ]
    assert breaches == []
