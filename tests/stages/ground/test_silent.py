"""Where the map is silent: access tags, unlike regions, and estimates that rest on little."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.stages.ground.judge import ground_along
from terrain.stages.ways.fit import fit_way_ground
from terrain.tables.ground_coefficients import COEFFICIENTS
from terrain.tables.ground_errors import ENOUGH_WAYS
from terrain.values.ground import GroundKind
from tests.stages.ground.handmade import DrawnWay, places, ride, roads

_KINDS = {
    "farm or forest only": "forestry", "private": "private", "customers or delivery": "delivery",
    "destination": "destination", "closed": "no", "closed but to buses": "bus",
}  # fmt: skip


def _lane(number: int, row: float, **tags: str) -> DrawnWay:
    """One of many lanes 30 km apart from the next, so that no neighbour speaks for it."""
    x = number * 30_000.0
    return DrawnWay(
        way_id=1 + number + int(row) * 1000, start=(x, row), end=(x + 900.0, row),
        tags={"highway": "unclassified", **tags},
    )  # fmt: skip


@pytest.mark.parametrize("access", _KINDS.values())
@pytest.mark.parametrize("surface", ["gravel", "asphalt"])
def test_access_says_what_it_says_in_this_region(access: str, surface: str) -> None:
    """Roads with the tag are all of one ground here and all others of the other one: whatever
    is carried from elsewhere, an untagged road with it is told as this region's are."""
    other = "asphalt" if surface == "gravel" else "gravel"
    drawn = [_lane(i, 0.0, access=access, surface=surface) for i in range(60)]
    drawn += [_lane(i, 9000.0, surface=other) for i in range(60)]
    drawn += [_lane(70, 0.0, access=access), _lane(70, 9000.0)]
    paved = fit_way_ground(roads(drawn), places()).p[-2:, 0]
    assert (paved > 0.5).tolist() == [surface == "asphalt", other == "asphalt"], paved
    assert abs(paved[0] - (surface == "asphalt")) < 0.35, paved


def test_what_is_carried_of_access_stays_near_what_the_tag_means() -> None:
    """A road for foresters is less often sealed than others, and none of the kinds, each known
    from few ways of one or two regions, is worth more than odds of 5 to 1."""
    carried = {row.name: row.unsealed for row in COEFFICIENTS if row.name.startswith("access ")}
    assert set(carried) == {f"access {kind}" for kind in _KINDS}
    assert carried["access farm or forest only"] > 1
    assert max(np.abs(list(carried.values()))) < np.log(5)


@pytest.mark.parametrize("n_tagged", [0, ENOUGH_WAYS - 1, ENOUGH_WAYS])
def test_a_thin_estimate_says_so(n_tagged: int) -> None:
    """The ride goes over untagged tracks; the others of their class are tagged, half of each."""
    drawn = [DrawnWay(way_id=i + 1, start=(i * 1000.0, 0.0), end=((i + 1) * 1000.0, 0.0),
                      tags={"highway": "track"}) for i in range(6)]  # fmt: skip
    drawn += [
        DrawnWay(way_id=100 + i, start=(i * 900.0, 4000.0), end=(i * 900.0, 4500.0),
                 tags={"highway": "track", "surface": "gravel" if i % 2 else "asphalt"})
        for i in range(n_tagged)
    ]  # fmt: skip
    view = roads(drawn)
    said = ground_along(ride(view, range(6)), view, fit_way_ground(view, places())).words
    thin = [text for text in said if "that is thin" in text]
    assert bool(thin) == (n_tagged < ENOUGH_WAYS), said
    assert all(f"fewer than {ENOUGH_WAYS} tagged ways" in text for text in thin), thin


def test_a_thin_estimate_that_is_firm_is_not_called_wide() -> None:
    """An untagged motorway is sealed, however few tagged ones lie near: 99 to 100 % is no range."""
    drawn = [DrawnWay(way_id=i + 1, start=(i * 1000.0, 0.0), end=((i + 1) * 1000.0, 0.0),
                      tags={"highway": "motorway"}) for i in range(6)]  # fmt: skip
    view = roads(drawn)
    ground = ground_along(ride(view, range(6)), view, fit_way_ground(view, places()))
    assert ground.shares is not None
    assert all(share.high - share.low < 0.05 for share in ground.shares.values())
    assert not any("that is thin" in text for text in ground.words)


def test_a_thin_estimate_is_wider() -> None:
    """The same estimate of the same ride, resting on enough tagged ways and on none."""
    drawn = [DrawnWay(way_id=i + 1, start=(i * 1000.0, (i % 2) * 9000.0),
                      end=((i + 1) * 1000.0, (i % 2) * 9000.0), tags={"highway": "track"})
             for i in range(20)]  # fmt: skip
    view = roads(drawn)
    ground = fit_way_ground(view, places())
    near = np.zeros_like(ground.evidence.near)
    near[:, :2] = ENOUGH_WAYS
    known = replace(ground, evidence=replace(ground.evidence, near=near))
    widths = []
    for g in (known, ground):
        shares = ground_along(ride(view, range(20)), view, g).shares
        assert shares is not None
        share = shares[GroundKind.TRACK]
        widths.append(share.high - share.low)
    assert widths[1] > widths[0] + 0.05, widths


def test_gravel_or_track_rests_on_the_unsealed_ways_that_are_tagged() -> None:
    """The same estimate with as many tagged ways about, all sealed or all gravel: what is paved
    is told as well by either, what is track only by the gravel ones."""
    drawn = [DrawnWay(way_id=i + 1, start=(i * 1000.0, (i % 2) * 9000.0),
                      end=((i + 1) * 1000.0, (i % 2) * 9000.0), tags={"highway": "track"})
             for i in range(20)]  # fmt: skip
    view = roads(drawn)
    ground = fit_way_ground(view, places())
    told = []
    for kind in (0, 1):
        near = np.zeros_like(ground.evidence.near)
        near[:, kind] = 2 * ENOUGH_WAYS
        known = replace(ground, evidence=replace(ground.evidence, near=near))
        shares = ground_along(ride(view, range(20)), view, known).shares
        assert shares is not None
        told.append(shares)
    sealed, gravel = told
    assert sealed[GroundKind.PAVED] == gravel[GroundKind.PAVED]
    widths = [share[GroundKind.TRACK].high - share[GroundKind.TRACK].low for share in told]
    assert widths[0] > widths[1] + 0.1, widths
