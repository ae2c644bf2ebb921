"""Recorded rides: formats, clocks, lost places, two riders, and real recordings."""

from __future__ import annotations

import gzip
from datetime import UTC, datetime, timedelta
from functools import reduce
from operator import xor
from pathlib import Path

import numpy as np
import pytest

from terrain.errors import TrackError
from terrain.inputs.tracks import parse_track, read_ride, read_track

_START = datetime(2027, 3, 14, 6, 30, tzinfo=UTC)


def _point(i: float, *, lat: float | None = None, at_s: float | None = None) -> str:
    stamp = (_START + timedelta(seconds=10 * i if at_s is None else at_s)).isoformat()
    lat = 42.5 + 0.001 * i if lat is None else lat
    return f'<trkpt lat="{lat:.6f}" lon="1.5"><ele>{1000 + i}</ele><time>{stamp}</time></trkpt>'


def _gpx(*tracks: list[str]) -> bytes:
    body = "".join(f"<trk><trkseg>{''.join(points)}</trkseg></trk>" for points in tracks)
    return f'<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">{body}</gpx>'.encode()


def _codes(data: bytes) -> list[str]:
    return [problem.code for problem in parse_track(data, "ride.gpx").problems]


def test_gpx_with_times() -> None:
    track = parse_track(_gpx([_point(i) for i in range(30)]), "ride.gpx")
    assert track.n_fixes == 30
    assert track.time_s[0] == _START.timestamp()
    np.testing.assert_allclose(np.diff(track.time_s), 10.0)
    np.testing.assert_allclose(track.ele_m[:2], [1000.0, 1001.0])
    assert track.problems == ()
    packed = parse_track(gzip.compress(_gpx([_point(i) for i in range(30)])), "ride.gpx.gz")
    np.testing.assert_array_equal(packed.time_s, track.time_s)


def test_gpx_1_0_and_a_time_without_a_zone() -> None:
    points = [_point(i).replace("+00:00", "") for i in range(5)]
    data = _gpx(points).replace(b'"1.1"', b'"1.0"').replace(b"GPX/1/1", b"GPX/1/0")
    track = parse_track(data, "old.gpx")
    assert track.time_s[0] == _START.timestamp()
    assert [problem.code for problem in track.problems] == ["no-zone"]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (_gpx(['<trkpt lat="42.5" lon="1.5"/>', '<trkpt lat="42.6" lon="1.5"/>']), "no times"),
        (b'<gpx version="1.1"><rte><rtept lat="1" lon="2"/></rte></gpx>', "planned route"),
        (b'<gpx version="1.1"></gpx>', "no recorded track"),
        (b"", "empty"),
        (b"just words", "no recording"),
        (b"a,b,c\n1,2,3\n", "no column is named as lat"),
        (b"time,lat,lon\n", "no fixes"),
        (b"time,lat,lon\nyesterday,42.5,1.5\n", "times cannot be read"),
        (b"time,lat,lon\n2027-03-14T07:00:00Z,?,?\n", "no row has numbers"),
        (_gpx([_point(0)]), "fewer than two"),
    ],
)
def test_what_is_no_recording_is_one_clear_error(data: bytes, words: str) -> None:
    with pytest.raises(TrackError, match=words) as caught:
        parse_track(data, "ride")
    assert caught.value.where.startswith("ride")
    assert caught.value.fix


def test_two_riders_in_one_file_are_refused() -> None:
    one, other = [_point(i) for i in range(30)], [_point(i, lat=42.8) for i in range(30)]
    with pytest.raises(TrackError, match="two riders"):
        parse_track(_gpx(one, other), "ride.gpx")
    rows = [f"{10 * i + 1_805_000_000},{42.5 + 0.3 * (i % 2)},1.5" for i in range(60)]
    with pytest.raises(TrackError, match="two riders"):
        parse_track(("time,lat,lon\n" + "\n".join(rows)).encode(), "mixed.csv")
    named = "time,lat,lon,device\n1805000000,42.5,1.5,A7\n1805000010,42.51,1.5,B2\n"
    with pytest.raises(TrackError, match=r"2 riders .*'device': A7, B2"):
        parse_track(named.encode(), "two.csv")


def test_one_ride_in_two_tracks_is_put_in_order() -> None:
    late, early = [_point(i) for i in range(50, 80)], [_point(i) for i in range(30)]
    track = parse_track(_gpx(late, early), "ride.gpx")
    assert (np.diff(track.time_s) > 0).all()
    assert track.lat[0] < track.lat[-1]
    assert [problem.code for problem in track.problems] == ["not-in-order"]
    twice = parse_track(_gpx(early, early), "ride.gpx")
    assert [problem.code for problem in twice.problems][:1] == ["recorded-twice"]


def test_single_wrong_clocks_go() -> None:
    points = [_point(i) for i in range(200)]
    points[70] = _point(70, at_s=99_999.0)
    points[120] = _point(120, at_s=5.0)
    track = parse_track(_gpx(points), "ride.gpx")
    assert track.n_fixes == 198
    assert track.piece[-1] == 0
    assert [problem.code for problem in track.problems] == ["out-of-order"]


def test_a_clock_set_back_breaks_the_record() -> None:
    points = [_point(i, at_s=10 * i + (7_200 if i < 40 else 0)) for i in range(100)]
    track = parse_track(_gpx(points), "ride.gpx")
    assert track.n_fixes == 100
    assert (np.diff(track.time_s) > 0).all()
    assert np.flatnonzero(np.diff(track.piece)).tolist() == [39]
    # The later clock is the one that is believed.
    assert track.time_s[-1] == _START.timestamp() + 990.0
    assert [problem.code for problem in track.problems] == ["clock-set-back"]


def test_a_receiver_without_a_fix_yet() -> None:
    odd = [
        '<trkpt lat="42.5" lon="1.5"><time>1980-01-06T00:00:00Z</time></trkpt>',
        '<trkpt lat="0" lon="0"><time>2027-03-14T06:29:59Z</time></trkpt>',
        '<trkpt lat="42.5" lon="1.5"></trkpt>',
    ]
    track = parse_track(_gpx([*odd, *[_point(i) for i in range(20)]]), "ride.gpx")
    assert track.n_fixes == 20
    assert [problem.code for problem in track.problems] == ["no-place", "no-time"]


def test_a_fix_far_off_goes_and_a_leap_breaks_the_record() -> None:
    points = [_point(i) for i in range(60)]
    points[30] = _point(30, lat=43.4)
    assert _codes(_gpx(points)) == ["spikes"]
    leap = [_point(i, lat=42.5 + 0.001 * i + (0.2 if i >= 30 else 0.0)) for i in range(60)]
    track = parse_track(_gpx(leap), "ride.gpx")
    assert np.flatnonzero(np.diff(track.piece)).tolist() == [29]


@pytest.mark.parametrize(
    ("head", "row", "stamp"),
    [
        ("time,lat,lon", "2027-03-14T07:30:05Z,42.5,1.5", 1_805_009_405.0),
        ("Timestamp;Latitude;Longitude", "1805009405;42,5;1,5", 1_805_009_405.0),
        ("GPS Time\tLat (deg)\tLng", "1805009405000\t42.5\t1.5", 1_805_009_405.0),
        ("date,time,latitude,longitude", "14/03/2027,07:30:05,42.5,1.5", 1_805_009_405.0),
        ("date,time,latitude,longitude", "03/14/2027,7:30:05 am,N42.5,1.5 E", 1_805_009_405.0),
        ("fixTime,lat,lon", "14.3.2027 07:30:05,42.5,1.5", 1_805_009_405.0),
        ("when,lat,lon", "2027-03-14 08:30:05+01:00,42.5,1.5", 1_805_009_405.0),
        ("time,lat,lon", "46460.3125578704,42.5,1.5", 1_805_009_405.0),
        ("sep=;\ntime;lat;lon", "2027/03/14 07:30:05;42.5;1.5", 1_805_009_405.0),
    ],
)
def test_tables_under_whatever_names(head: str, row: str, stamp: float) -> None:
    rows = f"{head}\n{row}\n{row.replace('30:05', '30:15').replace('9405', '9415')}\n"
    if "46460" in row:
        rows += row.replace("5578704", "7000000") + "\n"
    track = parse_track(rows.encode(), "ride.csv")
    assert track.time_s[0] == pytest.approx(stamp, abs=0.1)
    assert (track.lat[0], track.lon[0]) == (42.5, 1.5)
    told = track.problems[0]
    assert told.code == "columns"
    assert "time" in told.action or "date" in told.action


def test_south_and_west_are_negative() -> None:
    text = "time,lat,lon\n1805009405,33.9 S,18.4 W\n1805009415,33.901 S,18.4 W\n"
    track = parse_track(text.encode(), "ride.csv")
    assert (track.lat[0], track.lon[0]) == (-33.9, -18.4)


def _nmea(body: str) -> str:
    # Checksum: all characters between $ and * by exclusive or, NMEA 0183 section 5.3 (from memory).
    return f"${body}*{reduce(xor, body.encode()):02X}\r\n"


def test_nmea_sentences_of_the_usual_example() -> None:
    # The two sentences that receiver handbooks print; 48 07.038' N is 48.1173 degrees.
    log = (
        "$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A\r\n"
        "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n"
    )
    log += _nmea("GPRMC,123529,A,4807.100,N,01131.000,E,022.4,084.4,230394,003.1,W")
    track = parse_track(log.encode(), "log.nmea")
    assert track.n_fixes == 2
    assert datetime.fromtimestamp(track.time_s[0], UTC) == datetime(
        1994, 3, 23, 12, 35, 19, tzinfo=UTC
    )
    assert track.lat[0] == pytest.approx(48.1173, abs=1e-6)
    assert track.lon[0] == pytest.approx(11.516667, abs=1e-6)
    assert track.ele_m[0] == 545.4


def test_nmea_over_midnight_with_damage_and_without_a_fix() -> None:
    log = _nmea("GPZDA,235950,13,03,2027,00,00")
    for clock, lat in (("235950", "4807.0"), ("235955", "4807.1"), ("000005", "4807.2")):
        log += _nmea(f"GPGGA,{clock},{lat},N,01131.0,E,1,08,0.9,545,M,46,M,,")
    log += _nmea("GPGGA,000015,,,,,0,00,,,M,,M,,") + "$GPGGA,000020,4807.3,N,01131.0,E,1*00\r\n"
    track = parse_track(log.encode(), "log.txt")
    assert np.diff(track.time_s).tolist() == [5.0, 10.0]
    assert [problem.code for problem in track.problems] == ["bad-sentences"]
    no_date = _nmea("GPGGA,235950,4807.0,N,01131.0,E,1,08,0.9,545,M,46,M,,")
    with pytest.raises(TrackError, match="never a date"):
        parse_track(no_date.encode(), "log.txt")


def test_any_damage_is_one_error_or_a_track() -> None:
    rng = np.random.default_rng(7)
    whole = [
        _gpx([_point(i) for i in range(40)]),
        b"time,lat,lon\n" + b"\n".join(b"180500%04d,42.5,1.5" % (7 * i) for i in range(40)),
        b"".join(_nmea(f"GPGGA,1200{i:02d},4807.{i:02d},N,01131.0,E,1,08,0.9,5,M,4,M,,").encode()
                 for i in range(40)) + _nmea("GPZDA,120000,13,03,2027,00,00").encode(),
    ]  # fmt: skip
    n_tracks = 0
    for round_ in range(600):
        data = bytearray(whole[round_ % 3])
        for at in rng.integers(0, len(data), 1 + round_ % 7):
            data[at] = rng.integers(0, 256)
        try:
            n_tracks += parse_track(bytes(data[: rng.integers(1, len(data) + 1)]), "x").n_fixes > 1
        except TrackError as fault:
            assert fault.fix
    assert n_tracks > 0


def test_several_files_of_a_trip(tmp_path: Path) -> None:
    (tmp_path / "b.gpx").write_bytes(_gpx([_point(i) for i in range(20)]))
    (tmp_path / "a.gpx").write_bytes(_gpx([_point(i) for i in range(100, 120)]))
    track = read_ride([tmp_path / "a.gpx", tmp_path / "b.gpx"])
    assert track.n_fixes == 40
    assert track.source == "b.gpx, a.gpx"
    (tmp_path / "c.gpx").write_bytes(_gpx([_point(i, lat=40.0) for i in range(20)]))
    with pytest.raises(TrackError, match="two riders"):
        read_ride([tmp_path / "b.gpx", tmp_path / "c.gpx"])


def test_real_recordings(shared_data: Path) -> None:
    """Four motorcycle rides at 1 Hz (fastgpx test data, MIT); lengths and gaps of its notes."""
    rides = {
        "moto-trace-2024-06-25.gpx": (546, 560.0), "moto-trace-2024-08-16.gpx": (1030, 1066.0),
        "moto-trace-2024-08-12.gpx": (8323, 31_405.0),
        "moto-trace-2024-08-18.gpx": (10_030, 20_457.0),
    }  # fmt: skip
    for name, (n, lasted_s) in rides.items():
        track = read_track(shared_data / "gpx" / name)
        assert track.n_fixes > 0.99 * n
        assert track.time_s[-1] - track.time_s[0] == pytest.approx(lasted_s, rel=0.002)
        assert np.median(np.diff(track.time_s)) == 1.0
