"""`terrain batch`: every route a row, a bad one too."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from terrain.cli import main


@pytest.fixture(autouse=True)
def _home(island_home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERRAIN_HOME", str(island_home))


@pytest.fixture
def season(island_home: Path, tmp_path: Path) -> Path:
    folder = tmp_path / "season"
    (folder / "sub").mkdir(parents=True)
    first, second = sorted((island_home / "demo" / "routes").glob("*.gpx"))[:2]
    (folder / "a.gpx").write_bytes(first.read_bytes())
    (folder / "sub" / "a.gpx").write_bytes(second.read_bytes())
    (folder / "sub" / "broken.gpx").write_text("<gpx", encoding="utf-8")
    (folder / "notes.txt").write_text("not a route", encoding="utf-8")
    return folder


@pytest.mark.parametrize("workers", ["1", "2"])
def test_one_row_a_route_and_no_stop(
    workers: str, season: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    args = [str(season), "--region", "island", "--out", str(out), "--write", "csv"]
    assert main(["batch", *args, "--workers", workers]) == 0
    printed = capsys.readouterr().out
    assert "2 of 3 routes judged" in printed
    text = (out / "summary.csv").read_text(encoding="utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert [Path(row["file"]).as_posix() for row in rows] == [
        "a.gpx",
        "sub/a.gpx",
        "sub/broken.gpx",
    ]
    assert [bool(row["error"]) for row in rows] == [False, False, True]
    assert 0 <= float(rows[0]["paved"]) <= 1
    page = (out / "summary.html").read_text(encoding="utf-8")
    assert page.count("<tr data-harm") == 3 and "sub/broken.gpx" in page
    # Two files of one name do not overwrite each other.
    assert sorted(p.name for p in out.glob("*-report.csv")) == ["a-report.csv", "sub-a-report.csv"]


def test_errors_are_told_in_the_language_asked_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "x.gpx").write_text("", encoding="utf-8")
    args = [str(tmp_path / "x.gpx"), "--region", "island", "--out", str(tmp_path / "o")]
    assert main(["batch", *args, "--lang", "es"]) == 3
    printed = capsys.readouterr().out
    assert "x.gpx: el archivo está vacío" in printed
    assert "0 de 1 rutas evaluadas." in printed


def test_only_bad_routes_is_3(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "x.gpx").write_text("<gpx", encoding="utf-8")
    args = [str(tmp_path / "x.gpx"), "--region", "island", "--out", str(tmp_path / "o")]
    assert main(["batch", *args]) == 3
    assert "0 of 1 routes judged" in capsys.readouterr().out


def test_nothing_to_judge_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["batch", str(tmp_path), "--region", "island", "--out", str(tmp_path)]) == 3
    assert "no route file found" in capsys.readouterr().err
