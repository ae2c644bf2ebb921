"""`terrain demo` with the network cut off."""

from __future__ import annotations

import json
import socket
from pathlib import Path

import pytest

from terrain.cli import main


@pytest.fixture()
def no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*args: object, **kwargs: object) -> None:
        raise AssertionError("the demo must not use the network")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    monkeypatch.setattr(socket, "create_connection", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)


@pytest.mark.usefixtures("no_network")
def test_demo_reports_and_says_where_the_files_are(
    island_home: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("TERRAIN_HOME", str(island_home))
    assert main(["demo", "--out", str(tmp_path / "out")]) == 0
    shown = capsys.readouterr().out
    written = sorted((tmp_path / "out").iterdir())
    assert [p.suffix for p in written] == [".html", ".json"]
    for path in written:
        assert str(path) in shown
    assert str(island_home / "demo" / "routes") in shown
    assert "paved" in shown
    facts = json.loads(written[1].read_text(encoding="utf-8"))
    assert facts["schema"] == "terrain-report/1"
    assert facts["region"]["name"] == "island"
    assert 120_000 < facts["route"]["length_m"] < 200_000
    shares = facts["ground"]["shares"]
    assert all(shares[kind]["best"] > 0.01 for kind in ("paved", "gravel", "track"))
