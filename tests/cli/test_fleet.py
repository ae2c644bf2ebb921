"""`terrain fleet`: check, example, learn."""

from __future__ import annotations

from pathlib import Path

import pytest

from terrain.cli import main
from terrain.inputs.fleet import read_fleet


def run(capsys: pytest.CaptureFixture[str], *args: str) -> tuple[int, str, str]:
    status = main(["fleet", *args])
    captured = capsys.readouterr()
    return status, captured.out, captured.err


@pytest.fixture
def fleet_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    path = tmp_path / "fleet.toml"
    status, out, _ = run(capsys, "example")
    assert status == 0
    path.write_text(out, encoding="utf-8")
    return path


def test_the_example_is_in_order(fleet_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, err = run(capsys, "check", str(fleet_file))
    assert status == 0 and not err
    assert out.startswith("fleet.toml is in order: generic fleet, 5 classes.")
    assert "light-trail" in out


def test_faults_on_stderr_and_status_3(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "bad.toml"
    path.write_text('name = "x"\n[class.a]\nlike = "enduro"\nmas_kg = 1\nseats = 9\n')
    status, out, err = run(capsys, "check", str(path))
    assert status == 3 and not out
    assert err.splitlines() == [
        "bad.toml: 2 faults",
        "  line 4: there is no key 'mas_kg'. Did you mean mass_kg?",
        "  line 5: seats = 9 must be at most 2. Check the unit of seats.",
    ]
    assert "Traceback" not in err


def _log(path: Path, n: int, incidents: int) -> Path:
    rows = ["class,incident,km,ground,date"]
    rows += [
        f"dual-sport,{'yes' if i < incidents else 'no'},300,track,2026-05-{i % 28 + 1:02}"
        for i in range(n)
    ]
    path.write_text("\n".join(rows), encoding="utf-8")
    return path


def test_learn_writes_a_new_file_beside_the_old(
    fleet_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = fleet_file.read_bytes()
    log = _log(tmp_path / "log.csv", 214, 43)
    status, out, err = run(capsys, "learn", str(log), "--fleet", str(fleet_file))
    assert status == 0 and not err
    assert "214 rentals in log.csv." in out
    assert "dual-sport on track: 43 in 214 rentals" in out
    assert fleet_file.read_bytes() == before
    learnt = read_fleet(tmp_path / "fleet-learnt.toml")
    assert (learnt.rentals, learnt.rentals_span) == (214, "2026-05-01 to 2026-05-28")
    bike = learnt.named("dual-sport")
    assert bike is not None and bike.incident_rate == pytest.approx(45 / 234, abs=1e-4)
    status, _, err = run(capsys, "learn", str(log), "--fleet", str(tmp_path / "fleet-learnt.toml"))
    assert status == 3 and "learnt from 214 rentals already" in err


def test_three_rentals_teach_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = _log(tmp_path / "log.csv", 3, 3)
    status, out, _ = run(capsys, "learn", str(log))
    assert status == 0
    assert "too few for a rate" in out and "no file was written" in out
    assert sorted(p.name for p in tmp_path.iterdir()) == ["log.csv"]


def test_out_is_exact_and_never_overwritten(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = _log(tmp_path / "log.csv", 50, 5)
    out_file = tmp_path / "new.toml"
    assert run(capsys, "learn", str(log), "--out", str(out_file))[0] == 0
    status, _, err = run(capsys, "learn", str(log), "--out", str(out_file))
    assert status == 3 and "exists already" in err


def test_a_bad_log_is_status_3(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = tmp_path / "log.csv"
    log.write_text("klass,incident\na,no\n", encoding="utf-8")
    status, out, err = run(capsys, "learn", str(log))
    assert status == 3 and not out
    assert "Write 'class'" in err
    log.write_text("class,incident\nspaceship,no\nspaceship,yes\n", encoding="utf-8")
    status, out, err = run(capsys, "learn", str(log))
    assert status == 3 and not out
    assert "none of its 2 rentals is of a class of the fleet" in err and "dual-sport" in err
    assert not list(tmp_path.glob("*.toml"))


@pytest.mark.parametrize("args", [("--help",), ("check", "--help"), ("learn", "--help")])
def test_help_has_a_worked_example(
    args: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    status, out, _ = run(capsys, *args)
    assert status == 0 and "Example:" in out and "terrain fleet" in out
