"""The notebooks: they run or hold what was measured, and their plots can be read."""

from __future__ import annotations

import ast
import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

import terrain

_ROOT = Path(__file__).resolve().parents[1]
_MEASURED = _ROOT / "notebooks" / "growth.ipynb"
_BOOKS = sorted(set((_ROOT / "notebooks").glob("*.ipynb")) - {_MEASURED})
# Axes that count or name things and so have no unit.
_WITHOUT_UNIT = {"month of the ride", "bookings, the most paved first", "basis"}


@pytest.fixture(params=_BOOKS, ids=lambda path: path.stem)
def book(request: pytest.FixtureRequest) -> Path:
    path: Path = request.param
    return path


def test_there_are_two_to_run() -> None:
    assert [path.stem for path in _BOOKS] == ["a-season", "one-route"]


def test_the_measured_one_is_as_its_bench_writes_it(told: dict[Path, Any]) -> None:
    """Cells, exponents and inks of today, drawn from the numbers it holds; small, and readable."""
    import nbformat

    from tests.bench import growth

    assert growth.BOOK == _MEASURED
    held = nbformat.read(growth.BOOK, as_version=4)
    nbformat.validate(held)
    rows = growth.held_rows(held)
    assert {row.axis for row in rows} == set(growth.AXES)
    made = growth.book(rows)
    assert [cell.source for cell in held.cells] == [cell.source for cell in made.cells]
    assert _texts(held) == _texts(made), "run python -m tests.bench.growth --redraw"
    pictures = [out for cell in _code(held) for out in cell.outputs if "data" in out]
    assert len(pictures) == 2
    assert growth.BOOK.stat().st_size < 300_000
    _check_figures(told[_MEASURED]["figures"])
    assert "-0.00" not in told[_MEASURED]["printed"]


def _code(book: Any) -> list[Any]:
    return [cell for cell in book.cells if cell.cell_type == "code"]


def _texts(book: Any) -> list[str]:
    return [out.text for cell in _code(book) for out in cell.outputs if "text" in out]


def test_runs_and_draws(book: Path, told: dict[Path, Any]) -> None:
    assert len(told[book]["figures"]) >= 5
    _check_figures(told[book]["figures"])
    # Whose data it rests on is said with the results.
    assert "Invented map and heights" in told[book]["printed"]
    assert "ITU-R" in told[book]["printed"]


def _check_figures(figures: list[dict[str, Any]]) -> None:
    from matplotlib.image import imread

    for figure in figures:
        pixels = imread(figure["file"])[..., :3]
        assert pixels.std() > 0.02, f"{figure['file']} is blank"
        assert figure["axes"][0]["title"]
        for ax in figure["axes"]:
            assert ax["drawn"] > 0, ax
            _check_label(ax["x"], ax["x_ticks"])
            _check_label(ax["y"], ax["y_ticks"])


def test_uses_public_names_only(book: Path) -> None:
    import nbformat

    cells = nbformat.read(book, as_version=4).cells
    source = "\n\n".join(cell.source for cell in cells if cell.cell_type == "code")
    used: set[str] = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            assert not [a.name for a in node.names if a.name.startswith("terrain.")]
        elif isinstance(node, ast.ImportFrom):
            assert not (node.module or "").startswith("terrain")
        elif isinstance(node, ast.Attribute):
            assert not node.attr.startswith("_")
            if isinstance(node.value, ast.Name) and node.value.id == "terrain":
                used.add(node.attr)
    assert {"open_region", "assess", "Trip"} <= used <= set(terrain.__all__)


def test_is_valid_and_stripped(book: Path) -> None:
    """The notebook format, version 4, by its own schema (nbformat)."""
    import nbformat

    held = nbformat.read(book, as_version=nbformat.NO_CONVERT)
    nbformat.validate(held)
    assert set(held.metadata) <= {"kernelspec", "language_info"}
    assert held.metadata.kernelspec.name == "python3"
    for cell in held.cells:
        assert cell.metadata == {}
        if cell.cell_type == "code":
            assert cell.outputs == []
            assert cell.execution_count is None


@pytest.fixture(scope="module")
def told(island_home: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[Path, Any]:
    """What each notebook prints and draws, run one after the other in a process of their own."""
    books = [*_BOOKS, _MEASURED]
    # A season of four shows that all cells work; fifty take a minute.
    env = os.environ | {"TERRAIN_HOME": str(island_home), "SEASON_ROUTES": "4", "MPLBACKEND": "Agg"}
    warnings = [f"-Werror::{kind}" for kind in ("UserWarning", "RuntimeWarning", "FutureWarning")]
    folder = tmp_path_factory.mktemp("drawn")
    command = [sys.executable, *warnings, "-m", "tests.run_notebook", folder, *books]
    done = subprocess.run(command, cwd=_ROOT, env=env, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-3000:]
    return dict(zip(books, map(json.loads, done.stdout.splitlines()), strict=True))


def _check_label(label: str, ticks: list[str]) -> None:
    """An axis with numbers names the quantity and its unit."""
    numbers = [t for t in ticks if re.fullmatch(r"[−-]?[\d.]+", t)]
    if numbers:
        assert re.search(r"\w \([^()]+\)$", label), label
    elif label:
        assert label in _WITHOUT_UNIT or label.endswith(")"), label
