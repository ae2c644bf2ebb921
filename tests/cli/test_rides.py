"""`terrain ridden` and `terrain learn`, from a recording to the next report."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

import terrain
from terrain.cli import main
from terrain.flow import match
from terrain.values.arrays import FloatArray
from tests.ride_sim import START_S, Habits, Maker, TrueRide


def _gpx(lon: FloatArray, lat: FloatArray, time_s: FloatArray | None = None) -> str:
    points = []
    for i, (x, y) in enumerate(zip(lon.tolist(), lat.tolist(), strict=True)):
        stamp = ""
        if time_s is not None:
            stamp = f"<time>{datetime.fromtimestamp(time_s[i], UTC).isoformat()}</time>"
        points.append(f'<trkpt lat="{y:.6f}" lon="{x:.6f}">{stamp}</trkpt>')
    body = "".join(points)
    return f'<gpx version="1.1"><trk><trkseg>{body}</trkseg></trk></gpx>\n'


@pytest.fixture(scope="module")
def folder(island_home: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A plan, and five recordings of rides that took a quarter longer than the tables say."""
    out = tmp_path_factory.mktemp("rides")
    region = terrain.open_region("island", island_home)
    base = match(terrain.read_route(Path("sample_routes") / "coast-road.gpx"), region)
    ride: TrueRide | None = None
    for i in range(5):
        maker = Maker(region.roads, region.ground.p, np.random.default_rng(i))
        ride = maker.ride(base, Habits(factor=(1.5, 1.5, 1.5), leaves=0))
        track = maker.record(ride, 10.0).track
        (out / f"ride{i}.gpx").write_text(_gpx(track.lon, track.lat, track.time_s + 86_400.0 * i))
    assert ride is not None
    (out / "plan.gpx").write_text(_gpx(ride.plan.lon, ride.plan.lat))
    return out


@pytest.fixture(autouse=True)
def _home(island_home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERRAIN_HOME", str(island_home))


def test_ridden_says_and_writes_json(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    args = ["ridden", str(folder / "ride0.gpx"), "--plan", str(folder / "plan.gpx")]
    assert main(args) == 0
    assert "riding" in capsys.readouterr().out
    assert main([*args, "--json", "--rider", "expert", "--bike", "enduro"]) == 0
    facts = json.loads(capsys.readouterr().out)
    assert facts["schema"] == "terrain-ridden/1"
    assert facts["off_plan_m"] == 0.0
    assert facts["missed_m"] < 100.0
    assert (facts["rider"], facts["bike_class"]) == ("expert", "enduro")
    assert facts["day"] == datetime.fromtimestamp(START_S, UTC).date().isoformat()


def test_from_rides_to_the_next_report(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ridden", str(folder / "ride4.gpx"), "--json"]) == 0
    (folder / "ride4.json").write_text(capsys.readouterr().out)
    learned = folder / "learned.toml"
    rides = [str(folder / f"ride{i}.gpx") for i in range(4)] + [str(folder / "ride4.json")]
    assert main(["learn", *rides, "--out", str(learned)]) == 0
    out = capsys.readouterr().out
    assert "Times from 5 rides" in out
    assert "steady (5 rides): paved 1." in out
    plan = [str(folder / "plan.gpx"), "--json", "--region", "island"]
    assert main(["report", *plan]) == 0
    before = json.loads(capsys.readouterr().out)
    assert main(["report", *plan, "--learned", str(learned)]) == 0
    after = json.loads(capsys.readouterr().out)
    assert before["trip"]["own_rides"] is None
    assert after["trip"]["own_rides"]["rides"] == 5
    assert after["speed"]["riding_s"] > 1.15 * before["speed"]["riding_s"]
    assert main(["report", *plan[:1], "--learned", str(learned), "--out", str(folder)]) == 0
    page = (folder / "plan-report.html").read_text(encoding="utf-8")
    assert "Times from 5 recorded rides of the operator" in page


def test_faults_have_their_exit_status(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ridden", str(folder / "plan.gpx")]) == 3
    assert "no times" in capsys.readouterr().err
    assert main(["ridden", str(folder / "nothing.gpx")]) == 3
    assert main(["ridden", str(folder / "ride0.gpx"), "--bike", "hovercraft"]) == 2
    said = capsys.readouterr().err
    assert "no class 'hovercraft' in the fleet" in said and "--bike" in said and "enduro" in said
    assert main(["learn", "--out", str(folder / "x.toml")]) == 2
    capsys.readouterr()
    # One bad file among several is told and left out.
    rides = [str(folder / "ride0.gpx"), str(folder / "plan.gpx")]
    assert main(["learn", *rides, "--out", str(folder / "x.toml")]) == 0
    told = capsys.readouterr()
    assert "Times from one ride, " in told.out
    assert "no times" in told.err
    assert "Traceback" not in told.err
    abroad = folder / "abroad.csv"
    rows = [f"{START_S + 10 * i:.0f},{48.0 + 0.001 * i},11.0" for i in range(100)]
    abroad.write_text("time,lat,lon\n" + "\n".join(rows) + "\n")
    assert main(["ridden", str(abroad), "--region", "island"]) == 4


def test_is_it_true(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rides = [str(folder / f"ride{i}.gpx") for i in range(3)]
    assert main(["hindsight", *rides, "--json"]) == 0
    facts = json.loads(capsys.readouterr().out)
    assert facts["time"]["rides"] == 3
    # Half as long again as the tables say.
    assert 1.2 < facts["time"]["bias"] < 1.8
    assert len(facts["misses"]) == 3
    assert main(["hindsight", *rides]) == 0
    assert "within their 90 % interval of time" in capsys.readouterr().out


def test_ground_and_what_is_given_back(
    folder: Path, island_home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    region = terrain.open_region("island", island_home)
    tagged = region.roads.ways.surface.codes >= 0
    sure = np.flatnonzero(tagged & (region.ground.p[:, 0] >= 0.95))[:4]
    untagged = np.flatnonzero(~tagged & (region.ground.p.max(axis=1) < 0.9))[0]
    ids = region.roads.ways.way_id
    rows = ["way_id,said,who,date"]
    for who in ("ana", "ben", "cy"):
        rows += [f"{ids[row]},paved,{who},2027-03-14" for row in sure]
        rows.append(f"{ids[untagged]},gravel,{who},2027-03-14")
    rows.append(f"{ids[untagged]},track,stranger,2027-03-14")
    said = folder / "said.csv"
    said.write_text("\n".join(rows) + "\n")
    out, back = folder / "ground.toml", folder / "back.geojson"
    args = ["learn", "--debrief", str(said), "--out", str(out), "--give-back", str(back)]
    assert main(args) == 2  # no region
    assert main([*args, "--region", "island"]) == 0
    told = capsys.readouterr().out
    assert f"way {ids[untagged]}: gravel" in told
    assert "not believed: stranger" in told
    features = json.loads(back.read_text(encoding="utf-8"))["features"]
    assert [f["properties"]["way_id"] for f in features] == [ids[untagged]]
