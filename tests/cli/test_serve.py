"""What a new desk says before it listens."""

from __future__ import annotations

import io
import re
import sys
from pathlib import Path

import click
import pytest

from terrain.cli import main, serve
from terrain.web.database import Database
from terrain.web.people import has_accounts
from tests.terminal import Terminal


def _say(home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> str:
    monkeypatch.setenv("TERRAIN_HOME", str(home))
    monkeypatch.setattr(serve, "_serve", lambda *_: None)
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    assert main(["serve"]) == 0
    return capsys.readouterr().err


def test_without_account_and_map_it_says_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    said = _say(tmp_path, monkeypatch, capsys)
    assert "terrain serve admin NAME" in said
    assert "terrain demo" in said
    assert "terrain region build" in said


def test_with_both_it_says_nothing(
    island_home: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    (tmp_path / "regions").symlink_to(island_home / "regions")
    monkeypatch.setenv("TERRAIN_HOME", str(tmp_path))
    monkeypatch.setattr(sys, "stdin", io.StringIO("four odd words here\n"))
    assert main(["serve", "admin", "robin", "--password-stdin"]) == 0
    capsys.readouterr()
    assert _say(tmp_path, monkeypatch, capsys) == ""


def test_without_a_terminal_a_password_is_not_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("TERRAIN_HOME", str(tmp_path))
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    assert main(["serve", "admin", "robin"]) == 2
    assert "--password-stdin" in capsys.readouterr().err


@pytest.mark.parametrize("wanted", [True, False])
def test_in_a_terminal_it_offers_a_map(
    wanted: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    """The invented island is built if it is wanted; else how a map is made is told."""
    monkeypatch.setattr(click, "confirm", lambda *_, **__: wanted)
    serve._first_map(tmp_path, asks=True)
    assert (tmp_path / "regions" / "island").is_dir() is wanted
    said = capsys.readouterr().err
    assert ("region build" in said) is not wanted
    if wanted:
        folder = Path(said.partition(": ")[2].strip())
        assert (folder / "coast-road.gpx").is_file()


def test_in_a_terminal_it_asks_for_the_first_account(tmp_path: Path) -> None:
    """The password is asked again if it is weak; then the desk listens on a free port."""
    shown = Terminal(["serve", "--port", "0"], tmp_path)
    try:
        shown.wait_for("Name:")
        shown.answer("robin")
        for n, password in enumerate(("short", "four odd words here"), start=1):
            shown.wait_for("Password:", n)
            shown.answer(password)
            shown.wait_for("Repeat", n)
            shown.answer(password)
        shown.wait_for("invented island to try the desk with?")
        shown.answer("n")
        shown.wait_for("/desk and sign in")
        port = re.search(r"http://127\.0\.0\.1:(\d+)/desk", shown.text)
        assert port is not None and int(port[1]) > 0
        assert "12 to 128 characters" in shown.text
        assert "four odd" not in shown.text
    finally:
        shown.end()
    db = Database(f"sqlite:///{tmp_path / 'web' / 'desk.sqlite'}")
    with db.read() as conn:
        assert has_accounts(conn)
    db.close()
