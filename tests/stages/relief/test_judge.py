"""Relief of invented rides on invented ground: every rule by itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.stages.relief.judge import judge_relief
from terrain.values.heights import VOID, HeightsView
from terrain.values.match import LegKind, Match
from terrain.values.relief import EleBasis, Relief
from terrain.values.views import WayFlag
from tests.heights import heights_of
from tests.stages.relief.rides import NO_ROADS, ride_along, roads_of

LON, LAT = 8.5, 46.5
M_LON = 111_195.0 * np.cos(np.radians(LAT))


def ground(height_m: np.ndarray) -> HeightsView:
    """Strips running north: height_m per column of a tile around (8.5, 46.5), 3 arc seconds."""
    grid = np.tile(np.rint(height_m).astype(np.int16), (1201, 1))
    return heights_of([grid], south_west=[(8, 46)], step_deg=1 / 1200, source="invented tiles")


def column_m() -> np.ndarray:
    """Metres east of the ride's start, per column of the tile."""
    return (8 + np.arange(1201) / 1200 - LON) * M_LON


def eastward(length_m: float = 5000.0, **more: object) -> Match:
    at = np.linspace(0, length_m, 51)
    return ride_along(LON + at / M_LON, np.full(51, LAT), at_m=at, **more)  # type: ignore[arg-type]


def told(relief: Relief) -> dict[str, object]:
    return relief.to_dict()


def test_a_steady_climb() -> None:
    """10 % over 5 km: 500 m up, and every 100 m as steep as the next."""
    relief = judge_relief(eastward(), NO_ROADS, ground(1000 + 0.1 * column_m()))
    assert relief.ascent_m == pytest.approx(500, abs=1)
    assert relief.descent_m == 0
    assert (relief.min_ele_m, relief.max_ele_m) == (
        pytest.approx(1000, abs=1), pytest.approx(1500, abs=1)
    )  # fmt: skip
    assert len(relief.steepest) == 5
    assert [ramp.grade_pct for ramp in relief.steepest] == pytest.approx([10] * 5, abs=0.3)
    assert relief.grade_at(np.array([2500.0])) == pytest.approx([10], abs=0.3)
    assert relief.ele_at(np.array([0, 2500, 5000.0])) == pytest.approx([1000, 1250, 1500], abs=1)
    assert relief.source == "invented tiles"
    assert relief.known_share == 1


def test_mean_grade_of_stretches() -> None:
    shape = np.where(column_m() < 2000, 0.08 * column_m(), 160 - 0.04 * (column_m() - 2000))
    relief = judge_relief(eastward(), NO_ROADS, ground(500 + shape))
    from_m, to_m = np.array([0, 500, 2500, 700.0]), np.array([5000, 1500, 4500, 704.0])
    wanted = [(160 - 120) / 50, 8, -4, 8]
    assert relief.grade_between(from_m, to_m) == pytest.approx(wanted, abs=0.2)


def test_flat_ground_climbs_nothing_and_has_no_ramps() -> None:
    rng = np.random.default_rng(5)
    relief = judge_relief(eastward(), NO_ROADS, ground(200 + rng.integers(0, 3, 1201)))
    assert (relief.ascent_m, relief.descent_m) == (0, 0)
    assert relief.steepest == ()
    assert relief.ramps == ()


def test_a_tunnel_runs_straight_from_portal_to_portal() -> None:
    hill = 1000 + 600 * np.exp(-(((column_m() - 2500) / 500) ** 2))
    through = [
        (1000.0, LegKind.MATCHED, 0),
        (4000.0, LegKind.MATCHED, 1),
        (5000.0, LegKind.MATCHED, 0),
    ]
    over = judge_relief(
        eastward(legs=[(5000.0, LegKind.MATCHED, 0)]),
        roads_of([("primary", WayFlag(0))]),
        ground(hill),
    )
    roads = roads_of([("primary", WayFlag(0)), ("primary", WayFlag.TUNNEL)])
    under = judge_relief(eastward(legs=through), roads, ground(hill))
    assert over.max_ele_m is not None and over.max_ele_m > 1500
    assert over.ascent_m is not None and over.ascent_m > 550
    assert under.max_ele_m == pytest.approx(1000, abs=3)
    assert under.ascent_m == 0
    assert under.share_of(EleBasis.SPANNED) == pytest.approx(0.6, abs=0.01)


@pytest.mark.parametrize("flag", [WayFlag.BRIDGE, WayFlag.TUNNEL])
def test_a_bridge_and_a_tunnel_with_a_short_gap_between_count_as_one(flag: WayFlag) -> None:
    gorge = np.where(np.abs(column_m() - 2500) < 150, 700, 1000)
    legs = [
        (2200.0, LegKind.MATCHED, 0), (2480.0, LegKind.MATCHED, 1), (2520.0, LegKind.MATCHED, 0),
        (2800.0, LegKind.MATCHED, 1), (5000.0, LegKind.MATCHED, 0),
    ]  # fmt: skip
    roads = roads_of([("primary", WayFlag(0)), ("primary", flag)])
    relief = judge_relief(eastward(legs=legs), roads, ground(gorge))
    assert relief.min_ele_m == pytest.approx(1000, abs=1)


@pytest.mark.parametrize("break_m", [2480.0, 2500.0, 2520.0])
def test_bridges_on_either_side_of_a_break_are_two(break_m: float) -> None:
    """The line goes on elsewhere after a break: what lies between is no bridge."""
    gorge = np.where(np.abs(column_m() - 2500) < 150, 700, 1000)
    legs = [
        (2200.0, LegKind.MATCHED, 0), (2480.0, LegKind.MATCHED, 1), (2520.0, LegKind.MATCHED, 0),
        (2800.0, LegKind.MATCHED, 1), (5000.0, LegKind.MATCHED, 0),
    ]  # fmt: skip
    roads = roads_of([("primary", WayFlag(0)), ("primary", WayFlag.BRIDGE)])
    ride = replace(eastward(legs=legs), breaks_m=(break_m,))
    assert judge_relief(ride, roads, ground(gorge)).min_ele_m < 900


def test_a_ferry_does_not_climb() -> None:
    waves = 5 + 10 * (np.arange(1201) % 7)
    legs = [(500.0, LegKind.MATCHED, 0), (4500.0, LegKind.FERRY, 1), (5000.0, LegKind.MATCHED, 0)]
    roads = roads_of([("primary", WayFlag(0)), ("ferry", WayFlag.FERRY)])
    relief = judge_relief(eastward(legs=legs), roads, ground(waves.astype(float)))
    at = np.linspace(800, 4200, 50)
    assert np.ptp(np.diff(relief.ele_at(at))) < 0.1


def test_a_tunnel_whose_portal_is_unknown_stays_unknown() -> None:
    hole = np.where(np.abs(column_m() - 1200) < 300, VOID, 1000)
    legs = [
        (1000.0, LegKind.MATCHED, 0), (4000.0, LegKind.MATCHED, 1), (5000.0, LegKind.MATCHED, 0),
    ]  # fmt: skip
    roads = roads_of([("primary", WayFlag(0)), ("primary", WayFlag.TUNNEL)])
    relief = judge_relief(eastward(legs=legs), roads, ground(hole))
    assert np.isnan(relief.ele_at(np.array([2500.0]))).all()
    assert relief.ele_at(np.array([4500.0])) == pytest.approx([1000])


def test_no_elevation_at_all_stays_unknown() -> None:
    relief = judge_relief(eastward(), NO_ROADS, None)
    facts = relief.to_dict()
    for key in ("source", "ascent_m", "descent_m", "min_ele_m", "max_ele_m", "climbed_known_m"):
        assert facts[key] is None
    assert facts["steepest"] == []
    assert set(facts["profile"]["ele_m"]) == {None}
    assert np.isnan(relief.grade_between(np.array([0.0]), np.array([100.0]))).all()


def test_half_known_gives_heights_but_no_total() -> None:
    relief = judge_relief(
        eastward(), NO_ROADS, ground(np.where(column_m() < 2500, 1000 + 0.1 * column_m(), VOID))
    )
    assert relief.known_share == pytest.approx(0.5, abs=0.03)
    assert relief.ascent_m is None
    assert relief.climbed_known_m == pytest.approx(245, abs=6)
    assert relief.min_ele_m == pytest.approx(1000, abs=1)
    assert relief.source is not None and "not known on 5" in relief.source
    profile = relief.to_dict()["profile"]["ele_m"]
    assert None in profile and profile[0] == pytest.approx(1000, abs=1)


def test_the_files_own_heights_are_used_only_where_tiles_are_missing() -> None:
    ride = eastward()
    own = 700 + 0.05 * ride.at_m
    whole = judge_relief(ride, NO_ROADS, ground(1000 + 0.1 * column_m()), file_ele_m=own)
    assert whole.share_of(EleBasis.FILE) == 0
    assert whole.ascent_m == pytest.approx(500, abs=1)

    none = judge_relief(ride, NO_ROADS, None, file_ele_m=own)
    assert none.ascent_m == pytest.approx(250, abs=1)
    assert none.share_of(EleBasis.FILE) == 1
    assert none.source == "the route file's own heights: the region has no elevation here"


def test_the_files_heights_are_set_level_with_the_tiles() -> None:
    """A receiver counts from the ellipsoid: here 52 m too high, without a step in the profile."""
    ride = eastward()
    true = 1000 + 0.1 * column_m()
    own = 1052 + 0.1 * ride.at_m
    relief = judge_relief(
        ride, NO_ROADS, ground(np.where(column_m() < 2500, true, VOID)), file_ele_m=own
    )
    assert relief.share_of(EleBasis.FILE) == pytest.approx(0.5, abs=0.03)
    assert relief.ele_at(np.array([4000.0])) == pytest.approx([1400], abs=1)
    assert relief.ascent_m == pytest.approx(500, abs=2)
    assert relief.source is not None
    assert "invented tiles; the route file's own heights on 5" in relief.source


def test_faults_among_the_files_heights_are_left_out() -> None:
    """Programs write 0, or the void's -32768, where they knew no height."""
    ride = eastward()
    own = 700 + 0.05 * ride.at_m
    own[[5, 20, 33]], own[[8, 40]] = 0.0, -32768.0
    relief = judge_relief(ride, NO_ROADS, None, file_ele_m=own)
    assert relief.min_ele_m == pytest.approx(700, abs=1)
    assert relief.ascent_m == pytest.approx(250, abs=1)


@pytest.mark.parametrize("own", [np.zeros(51), np.full(51, 250.0), np.full(51, np.nan)])
def test_a_file_that_gives_one_height_for_all_gives_none(own: np.ndarray) -> None:
    relief = judge_relief(eastward(), NO_ROADS, None, file_ele_m=own)
    assert relief.source is None
    assert relief.ascent_m is None


def test_file_heights_are_not_joined_across_a_long_gap() -> None:
    own = np.full(51, np.nan)
    own[:11], own[-5:] = 100 + np.arange(11), 300
    relief = judge_relief(eastward(), NO_ROADS, None, file_ele_m=own)
    assert np.isnan(relief.ele_at(np.array([2500.0]))).all()
    assert relief.ele_at(np.array([300.0, 4900.0])) == pytest.approx([103, 300], abs=1)
    assert relief.ascent_m is None


def test_a_jump_of_the_line_is_no_climb() -> None:
    """The file's line stops at 2.5 km and goes on 20 km farther east and 2 km higher."""
    at = np.r_[np.linspace(0, 2500, 26), np.linspace(2500, 5000, 26)]
    east = at + np.repeat([0, 20_000], 26)
    ride = ride_along(LON + east / M_LON, np.full(52, LAT), at_m=at, breaks_m=(2500.0,))
    relief = judge_relief(ride, NO_ROADS, ground(1000 + 0.1 * column_m()))
    assert relief.ascent_m == pytest.approx(500, abs=2)
    assert max(abs(ramp.grade_pct) for ramp in (*relief.ramps, *relief.steepest)) < 11
    grades = relief.grade_between(np.array([2400.0, 2500.0]), np.array([2500.0, 2600.0]))
    assert grades == pytest.approx([10, 10], abs=0.5)
    profile = relief.to_dict()["profile"]
    assert profile["at_m"].count(2500) == 2


def test_a_wall_on_a_public_road_is_cut_and_marked() -> None:
    wall = np.where(column_m() < 2500, 1000, 1300)
    legs = [(5000.0, LegKind.MATCHED, 0)]
    public = judge_relief(eastward(legs=legs), roads_of([("secondary", WayFlag(0))]), ground(wall))
    assert public.steepest[0].grade_pct == 25
    assert public.steepest[0].doubtful
    assert np.nanmax(public.grade_pct) == 25
    path = judge_relief(eastward(legs=legs), roads_of([("track", WayFlag(0))]), ground(wall))
    assert path.steepest[0].grade_pct > 40
    assert path.steepest[0].doubtful


def test_a_ramp_over_a_filled_void_is_doubtful() -> None:
    """As where a gorge of Andorra is void in its tile: the filling makes the ramp."""
    slope = 1000 + np.clip(0.15 * (column_m() - 1000), 0, 450)
    sound = ground(slope)
    void = replace(sound, filled_bits=np.full_like(sound.filled_bits, 0xFF))
    roads = roads_of([("primary", WayFlag(0))])
    ride = eastward(legs=[(5000.0, LegKind.MATCHED, 0)])
    measured, guessed = judge_relief(ride, roads, sound), judge_relief(ride, roads, void)
    assert not any(ramp.doubtful for ramp in (*measured.steepest, *measured.ramps))
    assert guessed.steepest and guessed.ramps
    assert all(ramp.doubtful for ramp in (*guessed.steepest, *guessed.ramps))
    assert guessed.steepest[0].grade_pct == measured.steepest[0].grade_pct


def test_ramps_are_listed_in_riding_order_with_their_sign() -> None:
    slope = np.select(
        [column_m() < 1000, column_m() < 2000, column_m() < 3000, column_m() < 4000],
        [0, 0.15, 0, -0.13], 0,
    )  # fmt: skip
    step = float(np.diff(column_m())[0])
    relief = judge_relief(eastward(), NO_ROADS, ground(1000 + np.cumsum(slope) * step))
    assert [ramp.grade_pct for ramp in relief.ramps] == pytest.approx([15, -13], abs=1)
    assert relief.ramps[0].from_m == pytest.approx(1000, abs=200)
    assert relief.ramps[1].to_m == pytest.approx(4000, abs=200)
    assert not any(ramp.doubtful for ramp in relief.ramps)


def test_hairpins_are_counted_but_not_in_a_roundabout() -> None:
    turn = np.linspace(-np.pi / 2, np.pi / 2, 12)
    x = np.r_[0, 300 + 12 * np.cos(turn), 0]
    y = np.r_[0, 12 + 12 * np.sin(turn), 24]
    lon, lat = LON + x / M_LON, LAT + y / 111_195
    road = roads_of([("tertiary", WayFlag(0)), ("tertiary", WayFlag.ROUNDABOUT)])
    for row, wanted in ((0, 1), (1, 0)):
        ride = ride_along(lon, lat, legs=[(637.0, LegKind.MATCHED, row)])
        relief = judge_relief(ride, road, None)
        assert len(relief.hairpins_m) == wanted
        assert relief.to_dict()["hairpins"] == wanted


def test_a_long_profile_is_light_and_keeps_its_tops() -> None:
    at = np.linspace(0, 60_000, 601)
    hills = 1000 + 300 * np.sin(column_m() / 900)
    relief = judge_relief(
        ride_along(8.1 + at / M_LON, np.full(601, LAT), at_m=at), NO_ROADS, ground(hills)
    )
    profile = relief.to_dict()["profile"]
    assert len(profile["at_m"]) <= 2000 < len(relief.at_m)
    assert profile["at_m"] == sorted(profile["at_m"])
    assert profile["at_m"][0] == 0 and profile["at_m"][-1] == 60_000
    assert max(profile["ele_m"]) == relief.max_ele_m
    assert min(profile["ele_m"]) == relief.min_ele_m


def test_the_shortest_of_rides() -> None:
    for length in (0.5, 9.0, 25.0):
        at = np.array([0.0, length])
        ride = ride_along(LON + at / M_LON, np.full(2, LAT), at_m=at)
        relief = judge_relief(ride, NO_ROADS, ground(np.full(1201, 800.0)))
        assert relief.ascent_m == 0
        assert relief.max_ele_m == 800
        assert relief.grade_between(np.array([0.0]), np.array([length])) == pytest.approx([0])


def test_reading_off_does_not_change_the_arrays() -> None:
    relief = judge_relief(eastward(), NO_ROADS, ground(1000 + 0.1 * column_m()))
    with pytest.raises(ValueError, match="read-only"):
        relief.ele_m[0] = 5.0


def _half_void(slope: np.ndarray) -> HeightsView:
    """A tile whose western part, up to 1500 m from the start, is a void that was filled."""
    sound = ground(slope)
    rows = np.tile(column_m() < 1500, (1201, 1))
    bits = np.packbits(rows.ravel(), bitorder="big")
    flags = np.zeros_like(sound.filled_bits)
    flags[: len(bits)] = bits
    return replace(sound, filled_bits=flags)


def test_a_grade_over_filled_heights_is_not_known() -> None:
    heights = _half_void(1000 + 0.15 * column_m())
    roads = roads_of([("primary", WayFlag(0))])
    relief = judge_relief(eastward(legs=[(5000.0, LegKind.MATCHED, 0)]), roads, heights)
    assert relief.share_of(EleBasis.FILLED) == pytest.approx(0.3, abs=0.02)
    from_m, to_m = np.array([0, 1400, 1000, 2000.0]), np.array([1000, 1404, 3000, 4000.0])
    grades = relief.grade_between(from_m, to_m)
    assert np.isnan(grades[:2]).all()
    assert grades[2:] == pytest.approx([15, 15], abs=0.3)  # mostly measured, and all of it
    # At the last height filled in they are 6 of the 11 in the 100 m around, one on 5 of them.
    last = int(np.flatnonzero(relief.basis == EleBasis.FILLED)[-1])
    assert np.isnan(relief.grade_pct[last - 5 : last + 6]).tolist() == [True] * 6 + [False] * 5
    assert relief.void_m == pytest.approx(1500, abs=60)
    assert {ramp.void for ramp in relief.ramps if ramp.to_m < 1500} <= {True}
    assert judge_relief(eastward(), roads, ground(1000 + 0.15 * column_m())).void_m == 0


def test_a_short_bridge_that_ends_in_a_void_has_no_grade() -> None:
    heights = _half_void(1000 + 0.15 * column_m())
    roads = roads_of([("primary", WayFlag(0)), ("primary", WayFlag.BRIDGE)])
    for bridge_m, known in ((490.0, False), (510.0, True)):
        first, end = 1400.0, 1400.0 + bridge_m
        legs = [
            (first, LegKind.MATCHED, 0),
            (end, LegKind.MATCHED, 1),
            (5000.0, LegKind.MATCHED, 0),
        ]
        relief = judge_relief(eastward(legs=legs), roads, heights)
        assert np.isfinite(relief.grade_between(np.array([first]), np.array([end])))[0] == known


def test_the_steepest_stay_in_order_where_some_were_cut() -> None:
    """45 % on a road is cut to 25; a path's 35 % is then the steepest."""
    slope = 1000 + 0.45 * np.clip(column_m() - 500, 0, 500)
    slope += 0.35 * np.clip(column_m() - 3000, 0, 500)
    roads = roads_of([("primary", WayFlag(0)), ("track", WayFlag(0))])
    legs = [(2000.0, LegKind.MATCHED, 0), (5000.0, LegKind.MATCHED, 1)]
    steepest = judge_relief(eastward(legs=legs), roads, ground(slope)).steepest
    assert steepest[0].from_m > 2000
    grades = [abs(ramp.grade_pct) for ramp in steepest]
    assert grades == sorted(grades, reverse=True)
