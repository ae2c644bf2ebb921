"""The public names: all there, no others, and cheap to import."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import terrain


def test_every_public_name_resolves() -> None:
    assert len(terrain.__all__) == len(set(terrain.__all__))
    for name in terrain.__all__:
        value = getattr(terrain, name)
        assert value is not None
        # Loading on first use must not change what is got on the second.
        assert getattr(terrain, name) is value


def test_typed_names_are_the_public_names() -> None:
    tree = ast.parse(Path(str(terrain.__file__)).read_text(encoding="utf-8"))
    block = next(node for node in tree.body if isinstance(node, ast.If))
    typed = {
        alias.name
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert typed | {"__version__"} == set(terrain.__all__)
    assert dir(terrain) == sorted(terrain.__all__)


def test_unknown_name_is_an_attribute_error() -> None:
    assert not hasattr(terrain, "no_such_name")


def test_contract_names_are_public() -> None:
    contract = {"read_route", "open_region", "match", "assess", "Trip", "climate_at"}
    assert contract <= set(terrain.__all__)


def test_import_loads_no_heavy_library() -> None:
    code = (
        "import sys, terrain, terrain.cli\n"
        "heavy = {'numpy', 'scipy', 'pandas', 'geopandas', 'shapely', 'osmium', 'numba', 'rich'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "[]"


def test_first_kernel_of_a_report_loads_no_linear_algebra() -> None:
    code = (
        "import sys, terrain.flow\n"
        "from terrain.calc.geodesy import metres_per_degree\n"
        "metres_per_degree(46.0)\n"
        "print([name for name in sys.modules if name.startswith('scipy.linalg')])\n"
        "import scipy.linalg.cython_blas"  # whoever needs it has it
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "[]"
