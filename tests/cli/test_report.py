"""`terrain report` on the invented island: what is printed, what is written."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from terrain.cli import main
from terrain.report.data.jsonfile import report_schema


@pytest.fixture(autouse=True)
def _home(island_home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERRAIN_HOME", str(island_home))


@pytest.fixture
def routes(island_home: Path) -> list[Path]:
    found = sorted((island_home / "demo" / "routes").glob("*.gpx"))
    assert len(found) >= 4
    return found


def test_summary_fits_a_small_terminal(
    routes: list[Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    args = [str(routes[0]), "--region", "island", "--out", str(tmp_path)]
    assert main(["report", *args]) == 0
    lines = capsys.readouterr().out.splitlines()
    told = [line for line in lines if str(tmp_path) not in line]
    assert 10 <= len(told) <= 30
    assert max(len(line) for line in told) <= 80
    assert "\x1b" not in "".join(lines)
    assert any(line.startswith("paved ") for line in told)
    assert any("░" in line for line in told)
    # The page is the one default, and its path is the last line.
    written = list(tmp_path.iterdir())
    assert [str(p) for p in written] == [lines[-1]]
    assert written[0].name == f"{routes[0].stem}-report.html"


def test_json_alone_on_stdout_validates(
    routes: list[Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for route in routes:
        args = [str(route), "--depart", "2027-03-14T07:30", "--json", "--out", str(tmp_path)]
        assert main(["report", *args]) == 0
        facts = json.loads(capsys.readouterr().out)
        Draft202012Validator(report_schema()).validate(facts)
        assert facts["region"]["name"] == "island"  # found by the route
        assert facts["trip"]["depart"] == "2027-03-14T07:30:00"
    assert list(tmp_path.iterdir()) == []


def test_what_is_told_of_the_rider_reaches_the_report(
    routes: list[Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    args = [str(routes[0]), "--rider", "novice", "--json", "--out", str(tmp_path)]
    assert main(["report", *args, "--riding", "new", "--wants", "open"]) == 0
    facts = json.loads(capsys.readouterr().out)
    Draft202012Validator(report_schema()).validate(facts)
    assert (facts["trip"]["rider"], facts["trip"]["riding"]) == ("novice", "new")
    assert facts["trip"]["wants"] == "open"
    assert "road-tourer" not in {fit["class"] for fit in facts["advice"]["bikes"]}
    # Not asked is not known, and asks nothing of old scripts.
    assert main(["report", *args]) == 0
    facts = json.loads(capsys.readouterr().out)
    assert facts["trip"]["riding"] is None and facts["trip"]["wants"] is None
    with pytest.raises(SystemExit) as failed:
        raise SystemExit(main(["report", *args, "--riding", "old"]))
    assert failed.value.code == 2
    assert "'new', 'practised'" in capsys.readouterr().err


def test_the_bike_wanted_is_named_as_it_is_printed(
    routes: list[Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    args = ["report", str(routes[0]), "--json", "--out", str(tmp_path)]
    for said in (["light-trail"], ["Light trail"], ["trail ligera", "--lang", "es"]):
        assert main([*args, "--wanted", *said]) == 0
        assert json.loads(capsys.readouterr().out)["trip"]["wanted_class"] == "light-trail"
    assert main([*args, "--wanted", "cruiser"]) == 2
    err = capsys.readouterr().err
    assert "'cruiser'" in err and "light-trail (light trail)" in err


def test_several_routes_with_one_bad(
    routes: list[Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bad = tmp_path / "bad.gpx"
    bad.write_text("<gpx", encoding="utf-8")
    out = tmp_path / "out"
    args = [str(routes[0]), str(bad), str(routes[1]), "--write", "json,csv", "--out", str(out)]
    assert main(["report", *args]) == 3
    assert "bad.gpx" in capsys.readouterr().err
    names = sorted(p.name for p in out.iterdir())
    stems = sorted([routes[0].stem, routes[1].stem])
    assert names == [f"{stem}-report.{ext}" for stem in stems for ext in ("csv", "json")]


def test_routes_of_one_name_keep_a_report_each(routes: list[Path], tmp_path: Path) -> None:
    paths = []
    for folder, route in zip(("a", "b"), routes, strict=False):
        path = tmp_path / folder / "plan.gpx"
        path.parent.mkdir()
        path.write_bytes(route.read_bytes())
        paths.append(str(path))
    out = tmp_path / "out"
    assert main(["report", *paths, "--write", "json", "--out", str(out)]) == 0
    told = {p.name: json.loads(p.read_text("utf-8"))["route"]["name"] for p in out.iterdir()}
    assert sorted(told) == ["plan-2-report.json", "plan-report.json"]
    assert told["plan-report.json"] != told["plan-2-report.json"]


def test_closed_streams_do_no_harm(
    routes: list[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # What Python makes of `>&-` and `2>&-`.
    for name in ("stdout", "stderr"):
        with monkeypatch.context() as patch:
            patch.setattr("sys." + name, None)
            args = [str(routes[0]), "--write", "json", "--out", str(tmp_path / name)]
            assert main(["report", *args]) == 0
        assert list((tmp_path / name).iterdir())


def test_unwritable_folder_is_one_message(
    routes: list[Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    assert main(["report", str(routes[0]), "--out", str(tmp_path / "file" / "x")]) == 1
    err = capsys.readouterr().err
    assert "--out" in err
    assert err.count("\n") == 1
