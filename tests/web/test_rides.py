"""After the ride: recordings sent by the link, what is kept of them, and what later reports say."""

from __future__ import annotations

import io
import json
import re
import time
import zipfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import sqlalchemy as sa
from starlette.testclient import TestClient

import terrain
from terrain import rides as riding
from terrain.values.trip import Trip
from terrain.web import bookings, schema
from terrain.web.app import create_app
from terrain.web.retention import forget_old
from terrain.web.rides import learned_text_of
from terrain.web.settings import WebSettings
from terrain.web.summary import Summary
from terrain.web.work import learned_of, unpack
from terrain.web.worker import Worker
from tests.web.conftest import Office, replace

SLOWER = 1.5


@pytest.fixture
def real(settings: WebSettings, island_home: Path) -> Iterator[Office]:
    """A desk on the demo region."""
    told = replace(settings, home=island_home, region="island")
    with TestClient(create_app(told), follow_redirects=False) as client:
        yield Office(told, client)


@pytest.fixture(scope="module")
def plan(island_home: Path) -> bytes:
    return (island_home / "demo" / "routes" / "valleys-and-passes.gpx").read_bytes()


@pytest.fixture(scope="module")
def recording(island_home: Path, plan: bytes) -> bytes:
    """The plan ridden half as slow again as the tables have it, a fix each ten seconds."""
    region = terrain.open_region("island", island_home)
    route = terrain.parse_route(plan, "plan.gpx")
    match = terrain.match(route, region)
    speeds = riding.estimated(route, region, Trip())
    ends_s = SLOWER * np.concatenate([speeds.start_s, [speeds.total_s]])
    ends_m = np.concatenate([speeds.from_m, speeds.to_m[-1:]])
    at_s = np.arange(0.0, ends_s[-1], 10.0)
    lon, lat = match.lonlat(np.interp(at_s, ends_s, ends_m))
    start = datetime(2027, 3, 14, 8, 0, tzinfo=UTC)
    fixes = "".join(
        f'<trkpt lat="{y:.6f}" lon="{x:.6f}"><time>'
        f"{(start + timedelta(seconds=float(s))).strftime('%Y-%m-%dT%H:%M:%SZ')}</time></trkpt>"
        for x, y, s in zip(lon, lat, at_s, strict=True)
    )
    head = '<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
    return f"{head}{fixes}</trkseg></trk></gpx>".encode()


def _work(real: Office) -> None:
    worker = Worker(real.db, real.settings)
    while worker.once():
        pass


def _sent(real: Office, link: str, recording: bytes) -> None:
    files = {"files": ("ride.gpx", recording)}
    assert real.client.post(f"{link}/ride", files=files).status_code == 303
    _work(real)


def test_a_ride_is_read_thrown_away_and_the_next_report_learned_of_it(
    real: Office, plan: bytes, recording: bytes
) -> None:
    link = real.booking(lang="fr")
    real.send(link, plan)
    _work(real)
    first = real.as_role("staff").get("/desk/b/K1/report/1").text
    _sent(real, link, recording)
    page = real.client.get(f"{link}/ride").text
    assert "Le parcours et son plan" in page
    drawn = real.client.get(f"{link}/ride/1")
    assert drawn.status_code == 200 and "<svg" in drawn.text
    # What is kept: no fixes, no stops, no clock of a stop.
    with real.db.read() as conn:
        row = conn.execute(sa.select(schema.rides)).one()
    kept = json.loads(unpack(row.ridden))
    assert row.content is None
    assert kept["stops"] == [] and kept["schema"] == "terrain-ridden/1"
    assert kept["moving_s"] == pytest.approx(SLOWER * kept_expected(kept), rel=0.05)
    # The next report on the road says from how many rides its times are.
    real.booking("K2")
    staff = real.as_role("staff")
    staff.post("/desk/b/K2/routes", files={"files": ("b.gpx", plan)})
    _work(real)
    with real.db.read() as conn:
        told = learned_of(real.settings, learned_text_of(conn))
        second_id = conn.execute(
            sa.select(schema.reports.c.facts).order_by(schema.reports.c.id.desc())
        ).scalar()
    assert told is not None and told.times is not None and told.times.n_rides == 1
    facts = json.loads(unpack(bytes(second_id)))
    assert facts["trip"]["own_rides"]["rides"] == 1
    assert facts["trip"]["own_rides"]["factor"]["paved"] > 1.05
    second = staff.get("/desk/b/K2/report/2").text
    assert "Times from one recorded ride of the operator" in second
    assert second != first
    assert "Times from one ride" in staff.get("/desk/learned").text


def kept_expected(kept: dict) -> float:
    return sum(part["expected_s"] for part in kept["parts"] if part["moving_s"] is not None)


def test_three_taps_become_ground_of_the_next_report(real: Office, plan: bytes) -> None:
    link = real.booking(starts_on="2027-03-14")
    real.send(link, plan)
    _work(real)
    page = real.client.get(f"{link}/ride").text
    keys = list(dict.fromkeys(re.findall(r'name="(way\.\d+\.\d+)"', page)))
    assert 4 <= len(keys) <= 6
    # Who tells of roads that the map knows as it does is believed on those it does not.
    right, doubtful = _told_right(real, keys)
    assert len(right) >= 2 and len(doubtful) >= 2
    said = {**right, doubtful[0]: "track", doubtful[1]: "shut"}
    assert real.client.post(f"{link}/ride", data=said).status_code == 303
    _work(real)
    with real.db.read() as conn:
        told = learned_of(real.settings, learned_text_of(conn))
        rows = conn.execute(sa.select(schema.statements)).all()
    assert told is not None
    assert {"track", "shut"} <= {row.said for row in rows}
    # A way told as shut is a danger of the next ride; one told of is noted.
    assert any(way.shut for way in told.ways)
    staff = real.as_role("staff")
    real.booking("K2")
    staff.post("/desk/b/K2/routes", files={"files": ("b.gpx", plan)})
    _work(real)
    assert "Riders found" in staff.get("/desk/b/K2/report/2").text
    shown = staff.get("/desk/learned").text
    assert "found shut by one" in shown
    assert any(item.ground.value == "track" for way in told.ways for item in way.said)
    # Said otherwise later, the last word counts.
    real.client.post(f"{link}/ride", data={doubtful[0]: "not", doubtful[1]: "paved"})
    _work(real)
    with real.db.read() as conn:
        told = learned_of(real.settings, learned_text_of(conn))
    assert told is not None and not any(way.shut for way in told.ways)


def _told_right(real: Office, keys: list[str]) -> tuple[dict[str, str], list[str]]:
    """What the map knows well, as it knows it; and the parts of which it is not sure."""
    region = terrain.open_region("island", real.settings.home)
    with real.db.read() as conn:
        (row,) = bookings.standings(conn, [1])[1]
    right, doubtful = {}, []
    for key, ways in zip(keys, (row.summary or Summary()).after, strict=True):
        p = region.ground.p[np.isin(region.roads.ways.way_id, ways)]
        if (p.max(axis=1) >= 0.9).all():
            right[key] = ("paved", "gravel", "track")[int(p[0].argmax())]
        else:
            doubtful.append(key)
    return right, doubtful


def test_a_file_that_is_no_recording_is_told_and_thrown_away(real: Office, plan: bytes) -> None:
    link = real.booking()
    _sent(real, link, plan)  # a plan has no times
    page = real.client.get(f"{link}/ride").text
    # The file's name stands once.
    assert '<span class="fault">The points of the track have no times.' in page
    with real.db.read() as conn:
        row = conn.execute(sa.select(schema.rides)).one()
    assert row.content is None and row.ridden is None
    empty = real.client.post(f"{link}/ride", data={"way.1.0": "paved"})
    assert empty.status_code == 422 and "Choose a file first" in empty.text
    assert real.client.get(f"{link}/ride/99").status_code == 404


def _two_riders(recording: bytes) -> bytes:
    """The ride, and another rider at the same time a hundred kilometres south."""
    head, _, rest = recording.partition(b"<trk>")
    track = b"<trk>" + rest.partition(b"</gpx>")[0]
    aside = re.sub(rb'lat="(\d+)', lambda m: b'lat="%d' % (int(m[1]) - 1), track)
    return head + track + aside + b"</gpx>"


def _abroad(recording: bytes) -> bytes:
    return re.sub(rb'lat="(\d+)', lambda m: b'lat="%d' % (int(m[1]) + 30), recording)


@pytest.mark.parametrize(
    ("spoil", "words"), [(_two_riders, "two riders"), (_abroad, "No part of the route")]
)
def test_a_doubtful_recording_is_one_clear_error_and_teaches_nothing(
    real: Office, recording: bytes, spoil: Callable[[bytes], bytes], words: str
) -> None:
    link = real.booking()
    _sent(real, link, spoil(recording))
    page = real.client.get(f"{link}/ride").text
    assert page.count('class="fault"') == 1 and words in page
    with real.db.read() as conn:
        row = conn.execute(sa.select(schema.rides)).one()
        assert learned_text_of(conn) == ""
    assert (row.content, row.ridden) == (None, None)


def test_a_ride_is_laid_against_the_plan_of_its_own_day(
    real: Office, island_home: Path, plan: bytes, recording: bytes
) -> None:
    link = real.booking()
    other = (island_home / "demo" / "routes" / "coast-road.gpx").read_bytes()
    files = [("files", ("first.gpx", other)), ("files", ("second.gpx", plan))]
    real.client.post(link, data={"rider": "steady"}, files=files)
    _work(real)
    _sent(real, link, recording)
    with real.db.read() as conn:
        kept = json.loads(unpack(conn.execute(sa.select(schema.rides.c.ridden)).scalar()))
    # Both share some road with the ride; the one it kept to counts.
    assert kept["plan"]["name"] == terrain.parse_route(plan, "plan.gpx").name
    assert kept["off_plan_m"] < 200.0


def test_recordings_are_kept_only_on_purpose_and_go_with_the_booking(
    real: Office, recording: bytes
) -> None:
    told = replace(real.settings, keep_tracks_days=10)
    desk = Office(told, TestClient(create_app(told), follow_redirects=False))
    link = desk.booking()
    _sent(desk, link, recording)

    def kept() -> list[bool]:
        with desk.db.read() as conn:
            return [row.content is not None for row in conn.execute(sa.select(schema.rides))]

    now = time.time()
    assert kept() == [True]
    staff = desk.as_role("staff")
    staff.post("/desk/b/K1/incidents", {"bike": "dual-sport", "failed": "chain"})
    archive = zipfile.ZipFile(io.BytesIO(staff.get("/desk/b/K1/export.zip").content))
    told = json.loads(archive.read("booking.json"))
    assert told["rides"][0]["ridden"]["moving_s"] > 0
    assert [row["failed"] for row in told["incidents"]] == ["chain"]
    assert archive.read("ride-1.recording") == recording
    assert b"<svg" in archive.read("ride-1.html")
    forget_old(desk.db, 180, now + 9 * 86400, keep_tracks_days=10)
    assert kept() == [True]
    forget_old(desk.db, 180, now + 11 * 86400, keep_tracks_days=10)
    assert kept() == [False]
    # A booking whose time is over leaves times by way that name nobody; one deleted leaves none.
    forget_old(desk.db, 180, now + 400 * 86400)
    with desk.db.read() as conn:
        (row,) = conn.execute(sa.select(schema.rides)).all()
    assert (row.booking_id, row.name, row.page) == (None, "ride", None) and row.ridden
    link = desk.booking("K2")
    _sent(desk, link, recording)
    desk.as_role("staff").post("/desk/b/K2/delete", {"sure": "yes"})
    _work(desk)
    with desk.db.read() as conn:
        assert len(conn.execute(sa.select(schema.rides)).all()) == 1
        assert not conn.execute(sa.select(schema.incidents)).all()
        # What was learned is learned again without it.
        told = learned_of(desk.settings, learned_text_of(conn))
    assert told is not None and told.times is not None and told.times.n_rides == 1
