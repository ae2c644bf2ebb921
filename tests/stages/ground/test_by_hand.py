"""What is said and kept of the ground, a case on each side of each limit, by hand."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from terrain.stages.ground.cuts import outdated, years_since
from terrain.stages.ground.words import (
    _chances,
    _near_words,
    _others,
    ride_words,
    severity_tags,
    severity_words,
    tag_facts,
)
from terrain.values.ground import BASES, LAND_GROUNDS, Basis, Count, Severity, Share
from terrain.values.views import WayFlag
from tests.stages.ground.handmade import DrawnWay, way_table


def _plain(text: object) -> str:
    return str(text).replace("\xa0", " ").replace("\u202f", " ")


@pytest.mark.parametrize(
    ("p", "told"),
    [
        ((0.7, 0.25, 0.05), ["paved 70 %", "gravel 25 %"]),
        ((0.05, 0.0, 0.95), ["track 95 %", "paved 5 %"]),
        ((0.049, 0.951, 0.0), ["gravel 95 %"]),
    ],
)
def test_the_two_likeliest_grounds_are_told(p: tuple[float, float, float], told: list[str]) -> None:
    got = _plain(_chances(p))
    assert got.count("%") == len(told)
    assert [got.index(part) for part in told] == sorted(got.index(part) for part in told)


def _count(what: str, n: int, paved: int, km: float | None = None) -> Count:
    return Count(
        what=what, n=n, paved=paved, gravel=n - paved, track=0, unpaved=0, within_km=km, examples=()
    )


@pytest.mark.parametrize(
    ("count", "words"),
    [
        (None, "No tagged way of its class is near"),
        (_count("near", 4, 2, 5.0), "2 of 4 tagged tracks within 5.0 km are sealed"),
        (_count("near", 4, 1, 5.0), "3 of 4 tagged tracks within 5.0 km are unsealed"),
        (_count("near", 4, 3), "3 of 4 tagged tracks are sealed"),
    ],
)
def test_the_greater_half_of_the_ways_near_is_told(count: Count | None, words: str) -> None:
    assert words.replace("5.0", "5") in _plain(_near_words(count, "track")).replace("5.0", "5")


@pytest.mark.parametrize(
    ("count", "words"),
    [
        (_count("near", 4, 2), []),
        (_count("road", 4, 3), ["3 of 4 tagged parts of the same road are sealed"]),
        (_count("joined", 2, 1), ["Of 2 tagged roads it meets, one is sealed"]),
        (_count("joined", 3, 2), ["Of 3 tagged roads it meets, 2 are sealed"]),
        (_count("joined", 1, 1), ["The tagged road it meets is sealed"]),
        (_count("joined", 1, 0), ["The tagged road it meets is unsealed"]),
    ],
)
def test_what_the_same_road_and_its_junctions_say(count: Count, words: list[str]) -> None:
    got = [_plain(text) for text in _others((count,))]
    assert len(got) == len(words)
    assert all(want in text for want, text in zip(words, got, strict=True))


@pytest.mark.parametrize(
    ("tags", "flags", "n"),
    [
        ({}, 0, 0),
        ({"surface": "gravel"}, 0, 1),
        ({"tracktype": "grade3", "smoothness": "bad"}, 0, 2),
        ({}, int(WayFlag.FORD), 1),
        ({}, int(WayFlag.FOUR_WD_ONLY), 1),
        ({}, int(WayFlag.FOUR_WD_ONLY | WayFlag.FORD), 2),
        ({"mtb:scale": "0"}, 0, 0),
        ({"mtb:scale": "1"}, 0, 1),
    ],
)
def test_what_tags_say_of_hard_ways(tags: dict[str, str], flags: int, n: int) -> None:
    drawn = DrawnWay(way_id=7, start=(0, 0), end=(9, 0), tags=tags, flags=flags)
    ways = way_table([drawn, drawn])
    assert len(severity_tags(ways, 0)) == len(severity_tags(ways, 1)) == n
    assert severity_tags(ways, -1) == ()


def test_no_severity_has_no_words_and_a_tag_is_named() -> None:
    assert severity_words(None) == ""
    assert _plain(severity_words(Severity.SMOOTH)).startswith("May be ")
    assert not _plain(severity_words(Severity.SMOOTH, ("x",))).startswith("May be ")  # type: ignore[arg-type]


@pytest.mark.parametrize(("day", "edited"), [(0, None), (1, "1970-01-02"), (365, "1971-01-01")])
def test_a_tag_is_of_the_day_of_its_edit(day: int, edited: str | None) -> None:
    drawn = DrawnWay(
        way_id=7, start=(0, 0), end=(9, 0), edited_day=day,
        tags={"highway": "track", "surface": "mud"},
    )  # fmt: skip
    facts = tag_facts(way_table([drawn]), 0)
    assert [(f.key, f.value, f.edited) for f in facts] == [
        ("surface", "mud", edited), ("highway", "track", edited),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("map_day", "today", "years"),
    [
        (0, date(1971, 1, 1), 365 / 365.25), (365, date(1971, 1, 1), 0.0),
        (366, date(1971, 1, 1), 0.0), (1, date(1974, 1, 2), 4.0), (-1, date(1971, 1, 1), 0.0),
        (0, None, 0.0),
    ],
)  # fmt: skip
def test_years_since_the_map(map_day: int, today: date | None, years: float) -> None:
    assert years_since(map_day, today) == pytest.approx(years)


@pytest.mark.parametrize(
    ("basis", "later"),
    [
        # In ten years 1 - exp(-.1) = .09516 of the unsealed get sealed where no surface tag speaks,
        # and 1 - exp(-.013) = .01292 of the tagged turn into either other kind.
        (Basis.INFERRED, (0.2761, 0.4524, 0.2715)),
        (Basis.GRADED, (0.2761, 0.4524, 0.2715)),
        (Basis.TAGGED, (0.2026, 0.4968, 0.3006)),
    ],
)
def test_ground_ten_years_later(basis: Basis, later: tuple[float, float, float]) -> None:
    got = outdated(np.array([[0.2, 0.5, 0.3]]), np.array([BASES.index(basis)], np.int8), 10.0)
    assert got[0] == pytest.approx(later, abs=2e-4)


def _told(
    *, share: float = 1.0, thin_m: float = 0.0, width: float = 0.1, gravel_m: float = 500.0
) -> list[str]:
    """10 km: some of it gravel by a tag, the rest paved by our estimate, some of that thin."""
    length = np.array([gravel_m, 10_000.0 - gravel_m - thin_m, thin_m])
    p = np.array([[0.1, 0.8, 0.1], [0.8, 0.1, 0.1], [0.8, 0.1, 0.1]])
    tagged, inferred = BASES.index(Basis.TAGGED), BASES.index(Basis.INFERRED)
    shares = {
        kind: Share(best=0.5, low=0.5, high=0.5 + (width if not i else 0.0))
        for i, kind in enumerate(LAND_GROUNDS)
    }
    words = ride_words(
        length, p, np.array([tagged, inferred, inferred], np.int8), shares,
        {Basis.TAGGED: share, Basis.INFERRED: 0.5}, thin=np.array([False, False, True]),
    )  # fmt: skip
    return [_plain(word) for word in words]


@pytest.mark.parametrize(("share", "told"), [(0.0049, False), (0.005, True)])
def test_half_a_percent_of_a_basis_is_told(share: float, told: bool) -> None:
    assert ("on surface tags" in _told(share=share)[0]) == told


@pytest.mark.parametrize(
    ("thin_m", "width", "told"),
    [(49.0, 0.1, False), (50.0, 0.1, True), (5_000.0, 0.049, False), (5_000.0, 0.051, True)],
)
def test_thin_is_told_from_half_a_percent_and_where_it_is_wide(
    thin_m: float, width: float, told: bool
) -> None:
    assert any("that is thin" in word for word in _told(thin_m=thin_m, width=width)) == told


@pytest.mark.parametrize(("gravel_m", "told"), [(49.9, False), (50.0, True)])
def test_fifty_metres_of_a_ground_are_told(gravel_m: float, told: bool) -> None:
    (paved, gravel, track) = _told(gravel_m=gravel_m)[-3:]
    assert ("tagged so" in gravel) == told
    assert ("no stretch" in gravel) != told
    assert "estimated" in paved and "tagged so" not in paved and "no stretch" in track


def test_a_ride_off_the_map_has_one_sentence() -> None:
    none = np.zeros(0)
    (word,) = ride_words(none, np.zeros((0, 3)), np.zeros(0, np.int8), None, {}, thin=none > 0)
    assert "No part of the ride lies on mapped land" in _plain(word)


def test_a_tag_that_leaves_the_ground_open_does_not_tell_it() -> None:
    """surface=unpaved of a forest way, 56 % track, was told as "tagged so"."""
    p = np.array([[0.0, 0.44, 0.56], [0.0, 0.02, 0.98]])
    whole = dict.fromkeys(LAND_GROUNDS, Share(best=0.3, low=0.0, high=1.0))
    *_, track = ride_words(
        np.array([3_800.0, 1_000.0]), p, np.full(2, BASES.index(Basis.TAGGED), np.int8), whole,
        {Basis.TAGGED: 1.0}, thin=np.zeros(2, np.bool_),
    )  # fmt: skip
    assert "1 km tagged so and 3.8 km by a tag that leaves it open" in _plain(track)
