"""`terrain region` as a user meets it."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from terrain.cli import main
from terrain.region.pack import current_pack
from tests.region.osm_xml import OsmXml, crossing


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("TERRAIN_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


def run(capsys: pytest.CaptureFixture[str], *args: str) -> tuple[int, str, str]:
    status = main(["region", *args])
    out, err = capsys.readouterr()
    assert "Traceback" not in err
    return status, out, err


def test_build_list_show_remove(capsys: pytest.CaptureFixture[str], crossing_file: Path) -> None:
    status, out, err = run(capsys, "build", "here", "--osm", str(crossing_file))
    assert (status, err) == (0, "")
    assert "Region here is ready" in out
    status, out, _ = run(capsys, "list")
    assert status == 0
    assert re.search(r"^here +7\.0 km +map of 2023-05-02 +\d\d kB$", out, re.M)
    status, out, _ = run(capsys, "show", "here", "--check")
    assert status == 0
    for word in ("paved", "gravel", "track", "tagged", "inferred", "OpenStreetMap contributors",
                 "10.000° E to 10.040° E", "as they were built", "crossing.osm"):  # fmt: skip
        assert word in out
    status, out, _ = run(capsys, "remove", "here")
    assert status == 0
    status, out, err = run(capsys, "list")
    assert (status, out) == (0, "")
    assert "no regions yet" in err


def test_show_as_json(capsys: pytest.CaptureFixture[str], crossing_file: Path) -> None:
    run(capsys, "build", "here", "--osm", str(crossing_file))
    _, out, _ = run(capsys, "show", "here", "--json")
    facts = json.loads(out)
    assert facts["map_date"] == "2023-05-02"
    assert facts["elevation"] is None
    assert sum(facts["ground_m"].values()) == pytest.approx(facts["road_m"], rel=1e-5)


@pytest.mark.parametrize(
    ("args", "status", "said"),
    [
        (["build", "here", "--osm", "nowhere.osm.pbf"], 3, "no such file"),
        (["build", "../x", "--osm", "nowhere.osm.pbf"], 2, "cannot name a region"),
        (["build", "here"], 2, "--osm"),
        (["show", "there"], 4, "no region 'there'"),
        (["remove", "there"], 4, "no region 'there'"),
        (["fetch", "here"], 2, "--around"),
    ],
)
def test_faults_have_their_exit_status(
    capsys: pytest.CaptureFixture[str], args: list[str], status: int, said: str
) -> None:
    found, out, err = run(capsys, *args)
    assert (found, out) == (status, "")
    assert said in err


def test_a_damaged_region_is_listed_with_its_fault(
    capsys: pytest.CaptureFixture[str], crossing_file: Path, home: Path
) -> None:
    run(capsys, "build", "here", "--osm", str(crossing_file))
    run(capsys, "build", "good", "--osm", str(crossing_file))
    (current_pack(home / "regions" / "here") / "roads" / "pt_lon.npy").unlink()
    status, out, _ = run(capsys, "list")
    assert status == 0
    assert re.search(r"^here +cannot be used: .*--replace", out, re.M)
    assert re.search(r"^good +7", out, re.M)
    status, _, err = run(capsys, "show", "here")
    assert status == 4
    assert "missing" in err


@pytest.mark.parametrize("name", ["build", "list", "show", "remove", "fetch"])
def test_every_command_shows_an_example(capsys: pytest.CaptureFixture[str], name: str) -> None:
    status, out, _ = run(capsys, name, "--help")
    assert status == 0
    assert re.search(rf"Examples?:\n +terrain region {name}", out)


def test_names_of_the_map_are_shown_as_text(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    osm: OsmXml = crossing()
    osm.node(50, 10.005, 45.001, {"place": "village", "name": "\u202eevil\u001b[31m"})
    path = tmp_path / "map.osm"
    path.write_text(osm.text().replace("\u001b", ""), encoding="utf-8")
    status, out, _ = run(capsys, "build", "here", "--osm", str(path))
    assert status == 0
    assert "evil" not in out
