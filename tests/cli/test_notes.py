"""terrain notes check."""

from __future__ import annotations

from pathlib import Path

import pytest

from terrain.cli import main


def test_a_good_file_is_summed_up(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "notes.csv"
    path.write_text("way_id,ground,date\n7,gravel,2026-01-02\n8,track,\n", encoding="utf-8")
    assert main(["notes", "check", str(path)]) == 0
    out = capsys.readouterr().out
    assert "notes.csv is in order: 2 notes." in out
    assert "1 note without a date" in out


def test_a_bad_file_exits_3_with_each_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "notes.csv"
    path.write_text("way_id,ground\n7,lava\nx,track\n", encoding="utf-8")
    assert main(["notes", "check", str(path)]) == 3
    err = capsys.readouterr().err
    assert "line 2" in err and "line 3" in err and "Traceback" not in err


def test_a_missing_file_exits_3(tmp_path: Path) -> None:
    assert main(["notes", "check", str(tmp_path / "none.csv")]) == 3
