"""The command line as a whole: help, exit status, one message and never a traceback."""

from __future__ import annotations

import socket
import subprocess
import sys
from pathlib import Path

import click
import pytest

from terrain import cli
from terrain.cli import COMMANDS, main
from terrain.errors import TerrainError


@pytest.fixture(autouse=True)
def _home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERRAIN_HOME", str(tmp_path / "home"))
    monkeypatch.delenv("TERRAIN_DEBUG", raising=False)


def _with_subcommands(name: str) -> list[tuple[str, ...]]:
    command = cli.program.get_command(click.Context(cli.program), name)
    subs = command.commands if isinstance(command, click.Group) else ()
    return [(name,), *((name, sub) for sub in subs)]


@pytest.mark.parametrize("name", COMMANDS)
def test_help_has_a_worked_example(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    for names in _with_subcommands(name):
        assert main([*names, "--help"]) == 0
        out = capsys.readouterr().out
        assert "Example" in out
        example = out.split("Example", 1)[1]
        assert " ".join(("terrain", *names)) in example


def test_listing_tells_every_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--help"]) == 0
    out = capsys.readouterr().out
    for name, (_, line) in COMMANDS.items():
        assert f"  {name} " in out
        assert line in out


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (["reprot", "plan.gpx"], "Did you mean report?"),
        (["report"], "Missing argument"),
        (["report", "plan.gpx", "--depart", "tomorrow"], "2027-03-14T07:30"),
        (["report", "plan.gpx", "--depart", "2027-03-14"], "no time of day"),
        (["report", "plan.gpx", "--depart", "0001-01-01T00:00"], "1970 to 2200"),
        (["report", "plan.gpx", "--depart", "9999-12-31T23:59"], "1970 to 2200"),
        (["report", "plan.gpx", "--rider", "brave"], "novice"),
        (["report", "plan.gpx", "--write", "html,docx"], "cannot write docx"),
        (["batch", "x.gpx", "--region", "r", "--out", "o", "--workers", "0"], "workers"),
    ],
)
def test_wrong_usage_is_2_with_one_message(
    args: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(args) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert says in err
    assert "Traceback" not in err


def test_unusable_route_is_3(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "plan.gpx"
    path.write_text("not a route", encoding="utf-8")
    assert main(["report", str(path)]) == 3
    out, err = capsys.readouterr()
    assert out == ""
    assert "plan.gpx" in err
    assert err.count("\n") == 1


def test_an_error_is_told_in_the_language_asked_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "plan.gpx"
    for asked in (["--lang", "de"], ["--lang=de"]):
        assert main(["report", str(path), *asked]) == 3
        assert capsys.readouterr().err == f"{path}: diese Datei gibt es nicht. Namen prüfen.\n"
    assert main(["report", str(path), str(path), "--lang", "it"]) == 3
    assert capsys.readouterr().err.count("questo file non esiste") == 2
    assert main(["report", str(path), "--lang", "xx"]) == 2


_GPX = (
    '<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
    '<trkpt lat="1" lon="1"/><trkpt lat="1.01" lon="1"/></trkseg></trk></gpx>'
)


@pytest.mark.parametrize("extra", [[], ["--region", "nowhere"]])
def test_missing_region_is_4(
    extra: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "plan.gpx"
    path.write_text(_GPX, encoding="utf-8")
    assert main(["report", str(path), *extra]) == 4
    assert "terrain region build" in capsys.readouterr().err


def test_unknown_setting_is_refused_with_the_nearest(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("TERRAIN_HOEM", "/x")
    assert main(["report", "plan.gpx"]) == 2
    assert "TERRAIN_HOME" in capsys.readouterr().err


class _Broken:
    """Stands in for the program and fails in a chosen way."""

    def __init__(self, error: BaseException) -> None:
        self.error = error

    def main(self, **_: object) -> None:
        raise self.error


@pytest.mark.parametrize(
    ("error", "status", "says"),
    [
        (ZeroDivisionError("division by zero"), 1, "TERRAIN_DEBUG=1"),
        (TerrainError("the disk is full", "out", "Free some space."), 1, "Free some space."),
        (KeyboardInterrupt(), 130, "Stopped."),
    ],
)
def test_every_failure_is_one_line(
    error: BaseException,
    status: int,
    says: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr(cli, "program", _Broken(error))
    assert main([]) == status
    err = capsys.readouterr().err
    assert says in err
    assert err.count("\n") == 1


def test_debug_shows_where(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("TERRAIN_DEBUG", "1")
    monkeypatch.setattr(cli, "program", _Broken(ZeroDivisionError("division by zero")))
    assert main([]) == 1
    assert "Traceback" in capsys.readouterr().err


def test_module_is_the_command() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "terrain", "--version"], capture_output=True, text=True, check=True
    )
    assert done.stdout.startswith("terrain 0.")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_no_space_for_the_output_is_one_line() -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "terrain", "--help"],
            stdout=full, stderr=subprocess.PIPE, text=True, check=False,
        )  # fmt: skip
    assert done.returncode == 1
    assert "no space" in done.stderr
    assert done.stderr.count("\n") == 1


@pytest.mark.parametrize("host", ["no.such.host.invalid", "999.1.1.1", "bad..name"])
def test_an_address_that_is_none_is_2_with_one_line(
    host: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def unknown(*_: object, **__: object) -> None:
        raise socket.gaierror(socket.EAI_NONAME, "Name or service not known")

    monkeypatch.setattr(socket, "getaddrinfo", unknown)
    monkeypatch.setenv("TERRAIN_HOME", str(tmp_path))
    assert main(["serve", "--host", host]) == 2
    err = capsys.readouterr().err
    assert host in err
    assert err.count("\n") == 1


def test_a_port_in_use_is_2_with_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("TERRAIN_HOME", str(tmp_path))
    with socket.create_server(("127.0.0.1", 0)) as taken:
        assert main(["serve", "--port", str(taken.getsockname()[1])]) == 2
    err = capsys.readouterr().err
    assert "--port" in err
    assert err.count("\n") == 1
