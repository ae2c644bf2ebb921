"""What the model is told of a way, fact by fact, and the groups and counts it learns from."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.ways import tags
from terrain.stages.ways.columns import (
    WayFeatures,
    column_names,
    columns,
    name_words,
    way_facts,
)
from terrain.stages.ways.evidence import labelled_kind, way_evidence
from terrain.stages.ways.fit import (
    _class_counts,
    map_day,
    region_labels,
    tag_age_years,
)
from terrain.stages.ways.groups import SORTS, _hats, memberships, road_numbers
from terrain.stages.ways.model import TrainingLabels, _examples, _group_sum, surface_labels
from terrain.stages.ways.shape import NOTHING, RANKS, way_shape
from terrain.values.views import WayFlag
from tests.stages.ground.handmade import DrawnWay, category, places, roads, texts

_NAMES = column_names()


def _way(n: int = 0, flags: int = 0, at: tuple[float, float] = (0, 0), **more: str) -> DrawnWay:
    told = {key.replace("__", ":"): value for key, value in more.items()}
    return DrawnWay(
        way_id=n + 1, start=at, end=(at[0] + 300.0, at[1]), flags=flags,
        tags={"highway": "track", **told},
    )  # fmt: skip


def _facts(*drawn: DrawnWay, oneway: int = 0) -> WayFeatures:
    view = roads(drawn)
    facts = way_facts(view.ways, way_shape(view, places()))
    if oneway:
        one = np.full(len(drawn), oneway, np.int8)
        facts = replace(facts, ways=replace(facts.ways, oneway=one))
    return facts


def _told(facts: WayFeatures, *, graded: bool = True, row: int = 0) -> dict[str, float]:
    """The columns of a way that are not 0, by name."""
    values = columns(facts, np.array([row]), graded=graded)[0]
    return {name: v for name, v in zip(_NAMES, values.tolist(), strict=True) if v}


_PLAIN = set(_told(_facts(_way())))


@pytest.mark.parametrize(
    ("more", "adds"),
    [
        ({"lanes": "1"}, "1 lane"), ({"lanes": "2"}, "2 lanes"), ({"lanes": "4"}, "2 lanes"),
        ({"width": "2.9"}, "under 3 m"), ({"width": "3"}, "3 to 5 m"),
        ({"width": "4.9"}, "3 to 5 m"), ({"width": "5"}, "5 m and over"),
        ({"maxspeed": "20"}, "to 20 km/h"), ({"maxspeed": "21"}, "to 50 km/h"),
        ({"maxspeed": "50"}, "to 50 km/h"), ({"maxspeed": "51"}, "over 50 km/h"),
        ({"mtb__scale": "0"}, "mtb:scale"),
        ({"service": "driveway"}, "service driveway"), ({"service": "alley"}, "service alley"),
        ({"service": "slipway"}, ""),
        ({"access": "forestry"}, "access farm or forest only"),
        ({"access": "permit"}, "access private"), ({"access": "delivery"}, "access customers or"),
        ({"access": "destination"}, "access destination"), ({"access": "no"}, "access closed"),
        ({"access": "bus"}, "access closed but to buses"), ({"access": "yes"}, ""),
        ({"access": "Private;no"}, "access private"),  # the first of several counts
        ({"ref": "C 1"}, "numbered, track"), ({"flags": int(WayFlag.FORD)}, "ford"),
        ({"flags": int(WayFlag.LIT)}, "lit"), ({"flags": int(WayFlag.TUNNEL)}, "tunnel"),
        ({"flags": int(WayFlag.FOUR_WD_ONLY)}, "four wd only"), ({"flags": int(WayFlag.TOLL)}, ""),
    ],
)  # fmt: skip
def test_one_fact_is_one_column(more: dict[str, Any], adds: str) -> None:
    new = set(_told(_facts(_way(**more)))) - _PLAIN
    assert len(new) == bool(adds)
    assert all(name.startswith(adds) for name in new)


def test_a_oneway_either_way_is_one_way() -> None:
    for oneway, told in ((1, True), (-1, True), (0, False)):
        assert ("one way" in _told(_facts(_way(), oneway=oneway))) == told


@pytest.mark.parametrize(
    ("highway", "rank", "kind"),
    [
        ("motorway", "motorway", "main"), ("tertiary", "tertiary", "main"),
        ("unclassified", "unclassified", "minor"), ("road", "road", "minor"),
        ("track", "track", "track"), ("footway", "road", "minor"),  # ranked after all roads
    ],
)  # fmt: skip
def test_class_and_what_is_told_of_its_kind(highway: str, rank: str, kind: str) -> None:
    told = _told(_facts(_way(highway=highway, name="Long Lane")))
    assert [name for name in told if name.startswith("class ")] == [f"class {rank}"]
    assert {name.split(", ")[1] for name in told if ", " in name} == {kind}
    assert f"named, {kind}" in told
    assert "link" not in told
    assert "link" in _told(_facts(_way(highway="primary_link")))


def test_grades_are_told_of_graded_tracks_and_left_out_where_asked() -> None:
    facts = _facts(
        _way(tracktype="grade2", smoothness="bad"),
        _way(1, highway="unclassified", tracktype="grade2"),
    )
    told = {"tracktype grade2", "smoothness bad", "graded track"}
    assert told <= set(_told(facts))
    assert not told & set(_told(facts, graded=False))
    road = set(_told(facts, row=1))
    assert "tracktype grade2" in road and "graded track" not in road


def test_numbers_of_a_lone_track_by_hand() -> None:
    """900 m of track in 1.25 km squared, both ends dead, no other road."""
    facts = _facts(DrawnWay(way_id=1, start=(0, 0), end=(900, 0), tags={"highway": "track"}))
    told = _told(facts)
    density = np.log1p(0.9 / 1.25**2)
    assert told["tracks near, track"] == pytest.approx(density)
    assert told["roads near, track"] == pytest.approx(density - 1.5)
    assert told["long, track"] == pytest.approx(np.log(3.0))
    assert told["dead end, track"] == 1.0
    assert "winding, track" not in told
    # It meets itself alone: no better road, and none at both ends.
    assert not [name for name in told if name.startswith(("meets", "joins"))]


def _shaped(touched: str | None, through: str | None) -> set[str]:
    facts = _facts(_way())
    ranks = [NOTHING if word is None else RANKS.index(word) for word in (touched, through)]
    shape = replace(facts.shape, touched=np.array(ranks[:1]), through=np.array(ranks[1:]))
    told = _told(replace(facts, shape=shape))
    return {name.removesuffix(", track") for name in told if name.startswith(("meets", "joins"))}


@pytest.mark.parametrize(
    ("touched", "through", "told"),
    [
        ("secondary", None, {"meets a main road"}), ("tertiary", None, {"meets a through road"}),
        ("unclassified", None, {"meets a through road"}), ("residential", None, {"meets a street"}),
        ("service", None, {"meets a street"}), ("road", None, set()), ("track", None, set()),
        ("track", "unclassified", {"joins through roads"}),
        ("track", "residential", {"joins roads at both ends"}),
        ("track", "track", {"joins roads at both ends"}), ("track", "path", set()),
    ],
)  # fmt: skip
def test_what_a_way_meets_is_told_by_its_class(
    touched: str, through: str | None, told: set[str]
) -> None:
    assert _shaped(touched, through) == told


@pytest.mark.parametrize(
    ("days", "age"), [(0, -0.5), (2 * 365.25, 0.0), (4 * 365.25, 0.5), (9 * 365.25, 1.5)]
)
def test_the_age_of_an_edit_is_told_by_years_up_to_eight(days: float, age: float) -> None:
    """Years over 4, less 0.5; of a way nobody knows the day of, nothing."""
    drawn = [
        replace(_way(n), edited_day=d) for n, d in enumerate((20_000, round(20_000 - days), 0))
    ]
    facts = _facts(*drawn)
    assert facts.age.tolist() == pytest.approx([-0.5, age, 0.0], abs=1e-3)
    years = tag_age_years(facts.ways)
    assert years.tolist() == pytest.approx([0.0, days / 365.25, np.nan], abs=1e-2, nan_ok=True)
    assert map_day(facts.ways) == 20_000


def test_a_name_is_known_by_its_first_word_or_the_end_of_a_single_one() -> None:
    names = ["Mill Lane", "mill road", "Hauptstrasse", "Nebenstrasse", "Oak", None, "Lane End", ""]
    found = name_words(texts(names)).tolist()
    assert found[0] == found[1] and found[2] == found[3]
    assert found[5] == found[7] == -1
    assert len({found[0], found[2], found[4], found[6]}) == 4


def test_roads_named_alike_tell_of_one_another() -> None:
    """By the logit of the class table of not sealed: a name's own class counts three times."""
    facts = _facts(
        _way(0, highway="track", name="Mill Lane"), _way(1, highway="primary", name="Mill Road"),
        _way(2, highway="primary", name="Mill Street"), _way(3, highway="track", name="Oak Lane"),
        _way(4, highway="track"), _way(5, int(WayFlag.PATH), highway="path", name="Mill Path"),
    )  # fmt: skip
    paved = tags.class_expectation(facts.ways.highway)[:, 0]
    track, primary = (float(np.log((1 - paved[i]) / paved[i])) for i in (0, 1))
    assert facts.alike.tolist() == pytest.approx([
        (2 * primary + 3 * track) / 5 - track, (primary + track + 3 * primary) / 5 - primary,
        (primary + track + 3 * primary) / 5 - primary, 0.0, 0.0, 0.0,
    ])  # fmt: skip


# -- groups ---------------------------------------------------------------------------------------


def test_a_road_is_known_by_its_name_else_by_its_number() -> None:
    name, ref = np.array([0, -1, -1, 2], np.int32), np.array([5, 1, -1, -1], np.int32)
    assert road_numbers(name, ref, 10).tolist() == [0, 11, -1, 2]


def test_membership_fades_linearly_between_the_corners_of_a_cell() -> None:
    """A quarter across and a tenth up a cell: 0.75 and 0.25 by 0.9 and 0.1; in the middle, a
    quarter each. A cell has the same number from either side."""
    member = _hats(np.array([400.0, 2_400.0]), np.array([160.0, 800.0]), 1_600.0, 0.0)
    shares = member.share.reshape(4, 2).T
    assert shares[0].tolist() == pytest.approx([0.675, 0.225, 0.075, 0.025])
    assert shares[1].tolist() == pytest.approx([0.25] * 4)
    keys = member.key.reshape(4, 2).T
    assert set(keys[0].tolist()) & set(keys[1].tolist()) == {keys[0][1], keys[0][3]}
    # Of another kind it is another group; half a cell on, another corner.
    kinds = _hats(
        np.array([400.0, 400.0]), np.array([160.0, 160.0]), 1_600.0, 0.5, np.array([0, 2])
    )
    assert not set(kinds.key[::2].tolist()) & set(kinds.key[1::2].tolist())
    assert kinds.share[::2].tolist() == pytest.approx(
        [0.25 * 0.4, 0.75 * 0.4, 0.25 * 0.6, 0.75 * 0.6]
    )


def test_sorts_of_groups_in_order_and_junctions_by_their_number() -> None:
    """Three tracks in a row: the middle one has two junctions that others share."""
    facts = _facts(*(_way(n, at=(300.0 * n, 0.0), name=None if n else "A B") for n in range(3)))  # type: ignore[arg-type]
    found = dict(memberships(facts, np.array([0, 1, 2])))
    assert tuple(found) == SORTS
    assert found["class"].key.tolist() == [2 * RANKS.index("track")] * 3
    assert found["name"].row.tolist() == [0]
    junction = found["junction"]
    assert junction.share.tolist() == pytest.approx([1 / np.sqrt(2)] * 6)
    assert len(set(junction.key.tolist())) == 4
    assert junction.row.tolist() == [0, 0, 1, 1, 2, 2]
    (middle,) = (m for sort, m in memberships(facts, np.array([1])) if sort == "junction")
    assert sorted(middle.key.tolist()) == sorted(junction.key[2:4].tolist())


def test_only_groups_that_were_learned_add_to_a_score() -> None:
    """Keys 3 and 7 are known; a member of 3 by half and one of 7 whole, one of 5 not at all."""
    member: Any = SimpleNamespace(
        row=np.array([0, 0, 1, 2]), key=np.array([3, 5, 7, 9]), share=np.array([0.5, 1.0, 1.0, 1.0])
    )
    found = _group_sum(member, np.array([3, 7]), np.array([2.0, -1.0]), 4)
    assert found.tolist() == [1.0, -1.0, 0.0, 0.0]
    assert _group_sum(member, np.zeros(0, int), np.zeros(0), 4).tolist() == [0.0] * 4


# -- labels and counts ----------------------------------------------------------------------------


def _labels(*surfaces: str | None, hidden: int = -1) -> TrainingLabels:
    facts = _facts(*(_way(n, surface=s) if s else _way(n) for n, s in enumerate(surfaces)))
    hide = np.arange(len(surfaces)) == hidden
    return region_labels(facts.ways, hide if hidden >= 0 else None)


def test_what_a_surface_tag_teaches() -> None:
    """Unpaved tells that it is not sealed, and not whether somebody built it."""
    labels = _labels("asphalt", "gravel", "ground", "unpaved", None, "nonsense")
    assert labels.sealed[:4].tolist() == [1.0, 0.0, 0.0, 0.0]
    assert np.isnan(labels.sealed[4:]).all()
    assert labels.built[1:3].tolist() == [1.0, 0.0]
    assert np.isnan(labels.built[[0, 3, 4, 5]]).all()
    assert labelled_kind(labels).tolist() == [0, 1, 2, 3, -1, -1]
    assert np.isnan(_labels("asphalt", "gravel", hidden=1).sealed).tolist() == [False, True]


def test_labels_by_the_largest_weight() -> None:
    weights = np.array([[0.5, 0.4, 0.1], [0.2, 0.4, 0.4], [0.0, 0.1, 0.9]])
    labels = surface_labels(weights, np.array([True] * 3), np.zeros(3, np.bool_))
    assert labels.sealed.tolist() == [1.0, 0.0, 0.0]
    assert labels.built[1:].tolist() == [1.0, 0.0]


def test_of_very_many_examples_every_nth_stands_for_n(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("terrain.stages.ways.model._MOST", 2)
    outcome = np.array([1.0, 1.0, 0.0, 1.0, 1.0, 1.0, np.nan, 0.0])
    road = np.array([True] * 7 + [False])
    rows, weight = _examples(outcome, road)
    # Five of one answer: every third, for three each; one of the other; a path teaches nothing.
    assert (rows.tolist(), weight.tolist()) == ([0, 2, 4], [3.0, 1.0, 3.0])


def test_counts_of_a_class_beside_the_table() -> None:
    """Three tagged: 2 paved, 1 gravel, beside five of the table; four unpaved go to gravel and
    track as these stand. Another class keeps the table."""
    facts = _facts(*(_way(n) for n in range(7)), _way(7, highway="primary"))
    table = tags.class_expectation(facts.ways.highway)
    told = np.array([0, 0, 1, 3, 3, 3, 3, -1])
    p = _class_counts(facts.ways, told, 5.0)
    paved, gravel, track = 2 + 5 * table[0, 0], 1 + 5 * table[0, 1], 5 * table[0, 2]
    unpaved = gravel + track
    want = [paved, gravel + 4 * gravel / unpaved, track + 4 * track / unpaved]
    assert p[0].tolist() == pytest.approx([w / 12 for w in want])
    assert p[7].tolist() == table[7].tolist()


def test_evidence_counts_what_is_near_joined_and_of_the_same_road() -> None:
    """Tracks at 0, 1, 29 and 31 km, the first unknown, and a primary that touches it."""
    drawn = [
        _way(0, at=(0, 0), name="Mill Lane"), _way(1, at=(1_000, 0), surface="gravel"),
        _way(2, at=(29_000, 0), surface="ground", name="Mill Lane"),
        _way(3, at=(31_000, 0), surface="gravel"),
        _way(4, at=(300, 0), surface="asphalt", highway="primary"),
    ]  # fmt: skip
    facts = _facts(*drawn)
    asked = np.array([True] + [False] * 4)
    found = way_evidence(facts, region_labels(facts.ways), asked)
    assert found.near[0].tolist() == [0, 1, 1, 0]
    assert found.near_way[0].tolist() == [1, 2, -1]
    assert found.near_m[0] == pytest.approx(29_000, rel=1e-3)
    assert (found.road[0].tolist(), found.road_way[0].tolist()) == ([0, 0, 1, 0], [2, -1])
    assert (found.joined[0].tolist(), found.joined_way[0].tolist()) == ([1, 0, 0, 0], [4, -1])
    assert (found.near[1:] == 0).all() and np.isnan(found.near_m[1:]).all()


def test_two_ways_that_join_are_both_named_and_counted_once() -> None:
    """Ways 1 and 2 meet the first at its end, and the first meets itself nowhere."""
    drawn = [
        _way(0, at=(0, 0)), _way(1, at=(300, 0), surface="gravel"),
        DrawnWay(way_id=3, start=(300, 0), end=(300, 500),
                 tags={"highway": "track", "surface": "ground"}),
    ]  # fmt: skip
    facts = _facts(*drawn)
    found = way_evidence(facts, region_labels(facts.ways), np.array([True, False, False]))
    assert found.joined[0].tolist() == [0, 1, 1, 0]
    assert found.joined_way[0].tolist() == [1, 2]


def _drawn_at_random(n: int) -> list[DrawnWay]:
    """Ways between a dozen junctions within 70 km, tagged or not, named, numbered or neither."""
    rng = np.random.default_rng(11)
    spots = [tuple(xy) for xy in rng.integers(0, 70_000, (12, 2)).tolist()]
    ends = [(a, b) for a in range(12) for b in range(a)]
    drawn = []
    for i, k in enumerate(rng.permutation(len(ends))[:n].tolist()):
        told = {
            "highway": str(rng.choice(["track", "tertiary"], p=[0.8, 0.2])),
            "surface": str(rng.choice(["asphalt", "gravel", "ground", "unpaved", ""])),
            "name": str(rng.choice(["Mill Lane", "Oak Lane", ""])),
            "ref": str(rng.choice(["C 1", "C 2", ""])),
        }
        a, b = ends[k]
        drawn.append(
            DrawnWay(
                way_id=i + 1,
                start=spots[a],
                end=spots[b],
                tags={key: value for key, value in told.items() if value},
            )
        )
    return drawn


def test_evidence_of_any_map_is_what_a_walk_over_all_pairs_finds() -> None:
    drawn = _drawn_at_random(60)
    kinds = ["asphalt", "gravel", "ground", "unpaved"]
    told = [kinds.index(w.tags["surface"]) if "surface" in w.tags else -1 for w in drawn]
    middle = np.array([(w.start, w.end) for w in drawn]).mean(axis=1)
    facts = _facts(*drawn)
    asked = np.array(told) < 0
    found = way_evidence(facts, region_labels(facts.ways), asked)

    def road(w: DrawnWay) -> str | None:
        return w.tags.get("name") or w.tags.get("ref")

    def counted(others: list[int]) -> list[int]:
        return [sum(told[j] == kind for j in others) for kind in range(4)]

    tagged = [j for j, kind in enumerate(told) if kind >= 0]
    for i in np.flatnonzero(asked).tolist():
        away = np.hypot(*(middle - middle[i]).T)
        near = sorted(
            (j for j in tagged if away[j] < 30_000
             and drawn[j].tags["highway"] == drawn[i].tags["highway"]),
            key=lambda j: away[j],
        )[:24]  # fmt: skip
        assert found.near[i].tolist() == counted(near)
        assert found.near_way[i].tolist() == [*near, -1, -1, -1][:3]
        farthest = max((away[j] for j in near), default=np.nan)
        assert found.near_m[i] == pytest.approx(farthest, rel=1e-3, nan_ok=True)
        of_road = [j for j in tagged if road(drawn[j]) and road(drawn[j]) == road(drawn[i])]
        assert found.road[i].tolist() == counted(of_road)
        assert found.road_way[i].tolist() == [*of_road, -1, -1][:2]
        ends = {drawn[i].start, drawn[i].end}
        joined = [j for j in tagged if ends & {drawn[j].start, drawn[j].end}]
        assert found.joined[i].tolist() == counted(joined)
        assert found.joined_way[i].tolist() == [*joined, -1, -1][:2]
    others = found.near, found.near_way + 1, found.road, found.road_way + 1, found.joined
    assert all((rows[~asked] == 0).all() for rows in others)
    assert len(np.unique(found.near.sum(axis=1))) > 3  # some with few, some with all 24


# -- tags as evidence -----------------------------------------------------------------------------


def test_tags_fade_and_sharpen_by_hand() -> None:
    """A change each fifty years: within ten 1 - e^-0.2 of the weight is the mean of all three."""
    changed = float(-np.expm1(-0.2))
    assert tags.changed_since(np.array([10.0, -1.0, np.nan]), 0.02).tolist() == pytest.approx(
        [changed, 0.0, 0.0]
    )
    old = tags.aged(np.array([[0.9, 0.3, 0.0]]), np.array([10.0]), 0.02)[0]
    assert old.tolist() == pytest.approx([0.9 - 0.5 * changed, 0.3 + 0.1 * changed, 0.4 * changed])
    p = np.array([[0.64, 0.25, 0.11], [0.5, 0.25, 0.25]])
    told = tags.with_tag(p, np.array([[1.0, 2.0, 0.0]] * 2), np.array([True, False]), 0.5)
    assert told[0].tolist() == pytest.approx([0.8 / 1.8, 1.0 / 1.8, 0.0])
    assert told[1].tolist() == p[1].tolist()
    bounded = tags.bounded(np.array([[3.0, 1.0, 0.0]]), 0.01)[0]
    assert bounded.tolist() == pytest.approx([0.01 + 0.97 * 0.75, 0.01 + 0.97 * 0.25, 0.01])


def test_first_words_as_the_tables_spell_them() -> None:
    assert tags.first_word(" Fine Gravel ;mud") == "fine_gravel"
    assert tags.tag_known(category(["nonsense;gravel"]), tags.SURFACE_BY_VALUE).tolist() == [True]
