"""`terrain when` from the command line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from terrain.cli import main


def test_prints_writes_and_refuses(
    island_home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    monkeypatch.setenv("TERRAIN_HOME", str(island_home))
    route = str(island_home / "demo" / "routes" / "coast-road.gpx")
    picture = tmp_path / "when.svg"
    assert main(["when", route, "--region", "island", "--svg", str(picture)]) == 0
    shown = capsys.readouterr().out
    assert "January" in shown and shown.rstrip().endswith(str(picture))
    assert picture.read_text("utf-8").startswith("<svg ")
    assert main(["when", route, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["schema"] == "terrain-when/1"
    assert main(["when", str(tmp_path / "no.gpx")]) == 3
    assert main(["when", route, "--region", "nowhere"]) == 4
    capsys.readouterr()
    assert main(["when", route, "--svg", str(picture / "x.svg")]) == 1
    assert capsys.readouterr().err.endswith("Choose another folder.\n")  # there is no --out
