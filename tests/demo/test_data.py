"""What the package carries of the demo: its files, and nothing that makes them."""

from __future__ import annotations

import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import terrain.demo

_ROOT = Path(__file__).resolve().parents[2]
_DATA = Path(str(terrain.demo.__file__)).parent / "data"


def test_sample_routes_are_the_shipped_routes() -> None:
    shipped = {path.name: path.read_bytes() for path in _DATA.glob("*.gpx")}
    assert {p.name: p.read_bytes() for p in (_ROOT / "sample_routes").glob("*.gpx")} == shipped
    assert len(shipped) == 5


def test_the_wheel_holds_the_data_and_no_generator(tmp_path: Path) -> None:
    """Built by the declared backend, from a copy: a build writes beside what it reads."""
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(_ROOT / name, tmp_path)
    shutil.copytree(_ROOT / "terrain", tmp_path / "terrain",
                    ignore=shutil.ignore_patterns("__pycache__"))  # fmt: skip
    subprocess.run(
        [sys.executable, "-c", "import setuptools.build_meta as b; b.build_wheel('out')"],
        cwd=tmp_path, check=True, capture_output=True, timeout=300,
    )  # fmt: skip
    (wheel,) = (tmp_path / "out").glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
        packed = {name: archive.read(name) for name in names if name.startswith("terrain/demo/")}
    code = {"terrain/demo/__init__.py", "terrain/demo/region.py"}
    data = {f"terrain/demo/data/{path.name}": path.read_bytes() for path in _DATA.iterdir()}
    assert {name: packed[name] for name in packed.keys() - code} == data
    assert code <= packed.keys()
    # Every file that the package needs beside its code is there, and nothing of the tests.
    kept = {path.relative_to(_ROOT).as_posix() for path in (_ROOT / "terrain").rglob("*")
            if path.is_file() and not {"__pycache__"} & set(path.parts)}  # fmt: skip
    inside = {name for name in names if ".dist-info/" not in name}
    assert inside == kept
