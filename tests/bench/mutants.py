"""Do the tests bite: change one place of the code at a time and see whether a test notices.

Run by hand: python -m tests.bench.mutants [--count 200] [--seed 14] [--under terrain/calc ...].
Draws that many places of terrain/stages and terrain/calc, each once; changes each alone, in a
copy of this checkout; and runs the tests that mirror the file, stopping at the first failure. A
change that no test notices survives and is listed. Kept tools rewrite whole modules beforehand
or run the whole suite, and neither goes with compiled kernels and their caches.
"""

from __future__ import annotations

import argparse
import ast
import os
import random
import re
import resource
import shutil
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn

# Loaded once, and had by every process that runs tests.
import networkx
import numba
import pyproj
import pytest
import scipy.ndimage
import scipy.sparse.csgraph
import shapely

_LOADED = (networkx, numba, pyproj, scipy, shapely)
_ROOT = Path(__file__).resolve().parents[2]
_UNDER = ("terrain/stages", "terrain/calc")
_SWAPPED: dict[type[ast.AST], tuple[str, str]] = {
    ast.Lt: ("<", "<="), ast.LtE: ("<=", "<"), ast.Gt: (">", ">="), ast.GtE: (">=", ">"),
    ast.Eq: ("==", "!="), ast.NotEq: ("!=", "=="), ast.Is: ("is", "is not"),
    ast.IsNot: ("is not", "is"), ast.In: ("in", "not in"), ast.NotIn: ("not in", "in"),
    ast.And: ("and", "or"), ast.Or: ("or", "and"),
    ast.Add: ("+", "-"), ast.Sub: ("-", "+"), ast.Mult: ("*", "/"), ast.Div: ("/", "*"),
    ast.FloorDiv: ("//", "*"), ast.Mod: ("%", "+"), ast.Pow: ("**", "*"),
    ast.BitAnd: ("&", "|"), ast.BitOr: ("|", "&"),
}  # fmt: skip
_TWINS = {"min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum",
          "any": "all", "all": "any", "floor": "ceil", "ceil": "floor", "argmin": "argmax",
          "argmax": "argmin", "left": "right", "right": "left"}  # fmt: skip
_KERNEL = re.compile(r"@(kernel|inner|njit)\b")
_IMPORT = re.compile(r"\bfrom (terrain[\w.]*) import")
# What says nothing of what the code does.
_SILENT_KEYWORDS = frozenset({"strict", "cache", "copy", "source"})


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Mutant:
    """One change: the text from `start` to `end` of a file becomes `new`."""

    path: str
    line: int
    start: int
    end: int
    new: str

    def applied(self, text: str) -> str:
        return text[: self.start] + self.new + text[self.end :]

    def told(self, text: str) -> str:
        row = text.count("\n", 0, self.start)
        before = text.split("\n")[row].strip()
        after = self.applied(text).split("\n")[row].strip()
        return f"{self.path}:{self.line}\n    - {before}\n    + {after}"


class _Places(ast.NodeVisitor):
    """All changes of one file, in the order of its lines."""

    def __init__(self, path: str, text: str) -> None:
        self.path, self.text = path, text
        self.row_start = [0]
        for line in text.split("\n"):
            self.row_start.append(self.row_start[-1] + len(line) + 1)
        self.found: list[Mutant] = []
        self.visit(ast.parse(text))

    def _at(self, line: int, col: int) -> int:
        # Columns count bytes of UTF-8.
        start = self.row_start[line - 1]
        row = self.text[start : self.row_start[line] - 1]
        return start + len(row.encode()[:col].decode())

    def _span(self, node: ast.expr) -> tuple[int, int]:
        assert node.end_lineno is not None and node.end_col_offset is not None
        return (
            self._at(node.lineno, node.col_offset),
            self._at(node.end_lineno, node.end_col_offset),
        )

    def _add(self, start: int, end: int, new: str) -> None:
        line = self.text.count("\n", 0, start) + 1
        self.found.append(Mutant(path=self.path, line=line, start=start, end=end, new=new))

    def _swap(self, op: ast.AST, left: ast.expr, right: ast.expr) -> None:
        old, new = _SWAPPED.get(type(op), ("", ""))
        if old:
            start, end = self._span(left)[1], self._span(right)[0]
            words = re.escape(old).replace(r"\ ", r"\s+")
            hit = re.search(words, self.text[start:end])
            assert hit is not None, (self.path, left.lineno, old)
            self._add(start + hit.start(), start + hit.end(), new)

    def visit_Compare(self, node: ast.Compare) -> None:
        sides = (node.left, *node.comparators)
        for i, op in enumerate(node.ops):
            self._swap(op, sides[i], sides[i + 1])
        self.generic_visit(node)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        for left, right in zip(node.values, node.values[1:], strict=False):
            self._swap(node.op, left, right)
        self.generic_visit(node)

    def visit_BinOp(self, node: ast.BinOp) -> None:
        self._swap(node.op, node.left, node.right)
        self.generic_visit(node)

    def visit_AugAssign(self, node: ast.AugAssign) -> None:
        self._swap(node.op, node.target, node.value)
        self.generic_visit(node)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        start = self._span(node)[0]
        if isinstance(node.op, ast.Not | ast.USub | ast.Invert):
            self._add(start, self._span(node.operand)[0], "")
        self.generic_visit(node)

    def _condition(self, test: ast.expr) -> None:
        if not isinstance(test, ast.Compare | ast.BoolOp | ast.UnaryOp):
            start, end = self._span(test)
            self._add(start, end, f"not ({self.text[start:end]})")

    def visit_If(self, node: ast.If) -> None:
        if isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING":
            return
        self._condition(node.test)
        self.generic_visit(node)

    def visit_While(self, node: ast.While) -> None:
        self._condition(node.test)
        self.generic_visit(node)

    def visit_IfExp(self, node: ast.IfExp) -> None:
        self._condition(node.test)
        self.generic_visit(node)

    def visit_Constant(self, node: ast.Constant) -> None:
        value, (start, end) = node.value, self._span(node)
        if isinstance(value, bool):
            self._add(start, end, str(not value))
        elif isinstance(value, int):
            self._add(start, end, str(value + 1))
        elif isinstance(value, float):
            self._add(start, end, repr(value * 1.5 if value else 1.0))
        elif value in ("left", "right"):
            self._add(start, end, f'"{_TWINS[value]}"')

    def visit_Call(self, node: ast.Call) -> None:
        name = node.func
        if isinstance(name, ast.Name) and name.id in _TWINS:
            self._add(*self._span(name), _TWINS[name.id])
        elif isinstance(name, ast.Attribute) and name.attr in _TWINS:
            end = self._span(name)[1]
            self._add(end - len(name.attr), end, _TWINS[name.attr])
        self.generic_visit(node)

    def visit_Assign(self, node: ast.Assign) -> None:
        """No room for kernels: more makes no difference, and too little has no error to notice:
        compiled code writes past the end."""
        if not any(isinstance(to, ast.Name) and to.id == "room" for to in node.targets):
            self.generic_visit(node)

    def visit_keyword(self, node: ast.keyword) -> None:
        if node.arg not in _SILENT_KEYWORDS:
            self.generic_visit(node)

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        """Defaults and body; no decorator and no annotation."""
        for part in (*node.args.defaults, *node.args.kw_defaults, *node.body):
            if part is not None:
                self.visit(part)

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        for part in node.body:
            self.visit(part)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self.visit(node.value)

    def visit_Raise(self, node: ast.Raise) -> None:
        """What an error says is for other tests."""

    def visit_Assert(self, node: ast.Assert) -> None:
        """A check of the code by itself."""

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        """Words are for other tests."""


def mutants_in(root: Path, under: tuple[str, ...]) -> list[Mutant]:
    """Every change that can be made below the folders or files."""
    paths = sorted({p for name in under for p in _python_files(root / name)})
    return [
        mutant
        for path in paths
        for mutant in _Places(path.relative_to(root).as_posix(), path.read_text("utf-8")).found
    ]


def _python_files(path: Path) -> Iterator[Path]:
    return iter([path]) if path.is_file() else path.rglob("*.py")


def mirrored(root: Path, path: str) -> tuple[list[str], list[str]]:
    """The tests of a file: those of its own name; the rest of its room, and then the samples."""
    layer, room = Path(path).parts[1:3]
    folder = root / "tests" / (f"stages/{room}" if layer == "stages" else layer)
    name, tests = Path(path).stem, set(folder.rglob("test_*.py"))
    if layer == "calc":  # some formulas are tried where a room needs them
        tests |= set((root / "tests" / "stages").rglob(f"test_{name}*.py"))
    ordered = [*sorted(tests), root / "tests" / "test_samples.py"]
    own = [test for test in ordered if test.stem.removeprefix("test_").startswith(name)]
    rest = [test for test in ordered if test not in own]
    first, then = ([t.relative_to(root).as_posix() for t in part] for part in (own, rest))
    return first, then


class Bench:
    """A copy of the checkout in which one file at a time is another."""

    def __init__(self, root: Path) -> None:
        self.root = root
        texts = {p: p.read_text("utf-8") for p in (root / "terrain").rglob("*.py")}
        self._kernels = {p for p, text in texts.items() if _KERNEL.search(text)}
        self._imports = {p: set(_IMPORT.findall(text)) for p, text in texts.items()}

    def _compiled_with(self, path: Path) -> set[Path]:
        """Modules whose compiled code may hold this one's: itself and all that import it."""
        known = {path} & self._kernels
        while True:
            names = {".".join(p.relative_to(self.root).with_suffix("").parts) for p in known}
            more = {p for p, imported in self._imports.items() if imported & names}
            if more <= known:
                return known
            known |= more

    def run(self, tests: list[str], most_s: int) -> tuple[bool, float]:
        """Whether all tests pass within some processor time, and how much of it they took."""
        child = os.fork()
        if child == 0:
            _run_tests(self.root, tests, most_s)
        _, status, used = os.wait4(child, 0)
        return status == 0, used.ru_utime + used.ru_stime

    def survives(self, mutant: Mutant, runs: tuple[list[str], ...], most_s: int) -> bool:
        """True if all tests pass with the change made, one run after the other; all is as before
        afterwards."""
        path = self.root / mutant.path
        text = path.read_text("utf-8")
        compiled = self._compiled_with(path)
        moved: list[tuple[Path, Path]] = []
        with tempfile.TemporaryDirectory() as aside:
            kept = Path(aside) / "kept.py"
            shutil.copy2(path, kept)
            for module in compiled:
                for old in (module.parent / "__pycache__").glob(f"{module.stem}.*.nb[ic]"):
                    moved.append((old, Path(aside) / f"{len(moved)}"))
                    shutil.move(old, moved[-1][1])
            try:
                path.write_text(mutant.applied(text), "utf-8")
                return all(self.run(tests, most_s)[0] for tests in runs if tests)
            finally:
                shutil.copy2(kept, path)
                for module in compiled:
                    for new in (module.parent / "__pycache__").glob(f"{module.stem}.*.nb[ic]"):
                        new.unlink()
                for old, there in moved:
                    shutil.move(there, old)


def _run_tests(root: Path, tests: list[str], most_s: int) -> NoReturn:
    """Run tests of a checkout in this process, which ends with their exit status."""
    resource.setrlimit(resource.RLIMIT_CPU, (most_s, most_s))
    os.chdir(root)
    sys.path[:] = [str(root), *(p for p in sys.path if p and Path(p).resolve() != _ROOT)]
    for name in [name for name in sys.modules if name.split(".")[0] == "tests"]:
        del sys.modules[name]
    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 1)
    os.dup2(quiet, 2)
    sys.dont_write_bytecode = True
    told = ["-q", "-x", "-n", "0", "-p", "no:cacheprovider", *tests]
    status: int = pytest.main(told, plugins=[_AsGiven()])
    os._exit(status)


class _AsGiven:
    """Keeps tests in the order they are named in: what is likeliest to fail comes first."""

    @pytest.hookimpl(wrapper=True, tryfirst=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> Iterator[None]:
        given = list(items)
        yield
        kept = set(items)
        items[:] = [item for item in given if item in kept]


def _copied(to: Path) -> Path:
    """A copy of the checkout, its open data beside it, without what git leaves out."""
    (to / "shared").symlink_to(_ROOT.parent / "shared")
    copy = to / "checkout"
    shutil.copytree(
        _ROOT, copy, ignore=shutil.ignore_patterns(".git", ".venv", ".*_cache", ".hypothesis")
    )
    return copy


def _main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.mutants", description=__doc__)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=14)
    parser.add_argument("--under", nargs="+", default=_UNDER)
    given = parser.parse_args()
    every = mutants_in(_ROOT, tuple(given.under))
    chosen = random.Random(given.seed).sample(every, min(given.count, len(every)))
    print(f"{len(chosen)} of {len(every)} places, seed {given.seed}", flush=True)
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(_copied(Path(folder)))
        limit_s: dict[tuple[str, ...], int] = {}
        survivors: list[Mutant] = []
        for number, mutant in enumerate(chosen, start=1):
            runs = mirrored(bench.root, mutant.path)
            tests = sorted([*runs[0], *runs[1]])
            key = tuple(tests)
            if key not in limit_s:
                passed, took_s = bench.run(tests, 3_600)
                if not passed:
                    sys.exit(f"the tests of {mutant.path} fail before anything is changed")
                limit_s[key] = round(30 + 3 * took_s)
            if bench.survives(mutant, runs, limit_s[key]):
                survivors.append(mutant)
                print(mutant.told((bench.root / mutant.path).read_text("utf-8")), flush=True)
            if number % 10 == 0:
                print(f"{number} done, {number - len(survivors)} killed", flush=True)
    killed = len(chosen) - len(survivors)
    print(f"{killed} of {len(chosen)} killed ({killed / len(chosen):.0%})")


if __name__ == "__main__":
    _main()
