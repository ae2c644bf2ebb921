"""The file of what was learned, and what riders said: there and back, and every fault named."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from terrain.errors import LearnedError
from terrain.inputs.debriefs import parse_debriefs
from terrain.inputs.learned import parse_learned
from terrain.inputs.learned.write import learned_text
from terrain.values.ground import GroundKind
from terrain.values.learned import (
    Learned,
    LearnedTimes,
    LearnedWay,
    PacedWay,
    PaceRow,
    Said,
    Witness,
)
from terrain.values.trip import OwnPace, Rider, Trip

_DAY = date(2027, 3, 14)
_PACE = OwnPace(
    factor=(1.0, 1.25, 1.5), low=(0.9, 1.1, 1.2), high=(1.1, 1.4, 1.9), spread=(0.1, 0.2, 0.3),
    ten_min_sd=0.12, n_rides=41, n_alike=12, first_day=_DAY, last_day=date(2027, 9, 1),
)  # fmt: skip
_LEARNED = Learned(
    times=LearnedTimes(
        n_rides=41, length_m=8_200_000.5, first_day=_DAY, last_day=date(2027, 9, 1), ride_sd=0.09,
        ground_sd=0.05, stretch_sd=0.12,
        rows=(
            PaceRow(rider=Rider.EXPERT, bike_class='odd "class"\\', pace=_PACE),
            PaceRow(rider=Rider.EXPERT, bike_class=None, pace=replace(_PACE, n_alike=20)),
        ),
    ),
    ways=(
        LearnedWay(
            way_id=17, ground=GroundKind.TRACK, p=(0.01, 0.04, 0.95), trust=0.9,
            said=(Said(ground=GroundKind.GRAVEL, n=1), Said(ground=GroundKind.TRACK, n=4)),
            shut=1, witnesses=5, against=1, last_day=_DAY, against_map=True,
        ),
        LearnedWay(
            way_id=18, ground=None, p=None, trust=0.0, said=(), shut=2, witnesses=2, against=0,
            last_day=_DAY, against_map=False,
        ),
    ),
    paced=(
        PacedWay(
            way_id=19, ground=GroundKind.GRAVEL, p=(0.2, 0.6, 0.2), trust=0.3, n_rides=4,
            last_day=_DAY,
        ),
        PacedWay(
            way_id=17, ground=GroundKind.GRAVEL, p=(0.2, 0.6, 0.2), trust=0.3, n_rides=4,
            last_day=_DAY,
        ),
    ),
    witnesses=(Witness(who="Zoë\t\"Z\"", errs=0.1, checks=4, statements=9, heard=True),),
)  # fmt: skip


def test_there_and_back() -> None:
    assert parse_learned(learned_text(_LEARNED).encode(), "l.toml") == _LEARNED
    assert parse_learned(learned_text(Learned()).encode(), "l.toml") == Learned()


def test_what_a_trip_and_the_notes_get() -> None:
    trip = _LEARNED.trip(Trip(rider=Rider.EXPERT))
    assert trip.own_pace is not None
    assert trip.own_pace.n_alike == 20
    assert _LEARNED.trip(Trip(rider=Rider.NOVICE)).own_pace is None
    # What riders say of a way goes before what their speed tells.
    note, paced = _LEARNED.notes()
    assert (paced.way_id, paced.ground, paced.trust) == (19, GroundKind.GRAVEL, 0.3)
    assert paced.who == "the speed of 4 rides"
    assert (note.way_id, note.ground, note.trust) == (17, GroundKind.TRACK, 0.9)
    assert note.remark == "gravel 1, track 4, shut 1"
    assert note.who == "5 riders after the trip"


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("terrain-learned/1", "terrain-learned/9", "schema"),
        ("rides = 41", "rides = -1", "line 6: rides = -1"),
        ("factor = [1.0000", "factor = [nothing", "not TOML"),
        ('rider = "expert"', 'rider = "god"', "line 15: rider"),
        ("way_id = 17", "way_id = 17\nnews = 1", "news"),
    ],
)
def test_a_damaged_file_is_one_error(old: str, new: str, words: str) -> None:
    text = learned_text(_LEARNED).replace(old, new, 1)
    with pytest.raises(LearnedError, match=words) as caught:
        parse_learned(text.encode(), "l.toml")
    assert caught.value.fix
    assert caught.value.exit_code == 3


def test_debriefs() -> None:
    text = (
        "way_id;said;who;date\n17;Gravel;ana;2027-03-14\nway/18;shut;ben;2027-03-15\n"
        "19;not ridden;ben;2027-03-15\n"
    )
    one, other = parse_debriefs(text.encode(), "said.csv")
    assert (one.way_id, one.ground, one.who, one.day) == (17, GroundKind.GRAVEL, "ana", _DAY)
    assert (other.way_id, other.ground, other.shut) == (18, None, True)


def test_every_fault_of_a_debrief_is_named() -> None:
    rows = ("x,gravel,ana,2027-03-14", "17,lava,ana,2027-03-14", "17,track,,2027-03-14",
            "17,track,ana,soon")  # fmt: skip
    text = "way_id,said,who,date\n" + "\n".join(rows) + "\n"
    with pytest.raises(LearnedError, match="4 faults") as caught:
        parse_debriefs(text.encode(), "said.csv")
    for words in ("line 2: way_id 'x'", "line 3: 'lava'", "line 4: who", "line 5: date 'soon'"):
        assert words in str(caught.value)
    with pytest.raises(LearnedError, match="no column who"):
        parse_debriefs(b"way_id,said,date\n", "said.csv")
    with pytest.raises(LearnedError, match="empty"):
        parse_debriefs(b"", "said.csv")
