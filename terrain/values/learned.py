"""What past rides teach of the next: how fast this operator's riders truly are."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from terrain.text.message import message
from terrain.values.ground import GroundKind, GroundNote
from terrain.values.match import Match
from terrain.values.trip import OwnPace, Rider, Three, Trip


@dataclass(frozen=True, slots=True, kw_only=True)
class RideLesson:
    """The times of one ride by ground, for learning; places and clock times are gone.

    length_m, moving_s, expected_s : on paved, gravel, track, of parts whose ground is known well
        and whose way the record shows
    """

    name: str
    day: date
    rider: Rider
    bike_class: str | None
    length_m: Three
    moving_s: Three
    expected_s: Three


@dataclass(frozen=True, slots=True, kw_only=True)
class PaceRow:
    """An OwnPace with whom it is for; bike_class None is any class that has no row of its own."""

    rider: Rider
    bike_class: str | None
    pace: OwnPace


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnedTimes:
    """Times learned from recorded rides, a row for each rider and bike class.

    ride_sd, ground_sd : spread of the logarithm of time between rides, and of a ride between
        grounds; stretch_sd : within ten minutes of riding
    left_out : rides that taught nothing, with the reason
    """

    n_rides: int
    length_m: float
    first_day: date
    last_day: date
    ride_sd: float
    ground_sd: float
    stretch_sd: float
    rows: tuple[PaceRow, ...]
    left_out: tuple[tuple[str, str], ...] = ()

    def pace_for(self, rider: Rider, bike_class: str | None) -> OwnPace | None:
        """The row of a rider on a bike class, else on any."""
        for name in (bike_class, None):
            for row in self.rows:
                if row.rider is rider and row.bike_class == name:
                    return row.pace
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """What somebody says of a way after riding there, or after turning back.

    ground : None if not told, as where the way was shut
    """

    way_id: int
    who: str
    day: date
    ground: GroundKind | None = None
    shut: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """How many said so."""

    ground: GroundKind
    n: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Witness:
    """Who told, and how far he is believed.

    errs : share of his statements that are taken to be wrong; checks : statements about roads
        whose ground the map knows; heard : False while he counts for nothing
    """

    who: str
    errs: float
    checks: int
    statements: int
    heard: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnedWay:
    """What witnesses taught of one way.

    ground, p : the likeliest after all they say; None where they only say that it was shut
    trust : belief in a note of that ground that has the same effect, 0..1
    said : how many say what; against : of them for another ground; shut : how many found it shut
    against_map : the map alone would have said another ground
    """

    way_id: int
    ground: GroundKind | None
    p: Three | None
    trust: float
    said: tuple[Said, ...]
    shut: int
    witnesses: int
    against: int
    last_day: date
    against_map: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundShut:
    """A part of a ride found shut before. riders : by how many; last_day : the last time"""

    from_m: float
    to_m: float
    riders: int
    last_day: date


@dataclass(frozen=True, slots=True, kw_only=True)
class PacedWay:
    """The chances of a way's ground after the speed of the rides on it.

    ground : the likeliest; trust : belief in a note of it that has the same effect, 0..1
    """

    way_id: int
    ground: GroundKind
    p: Three
    trust: float
    n_rides: int
    last_day: date


@dataclass(frozen=True, slots=True, kw_only=True)
class PaceEvidence:
    """What speed says of ground. used : False where it did not help, and then says nothing

    log_loss_class, log_loss_pace : of the parts the map knows, each ride left out in turn, by road
        class alone and with speed; None without such parts
    """

    used: bool
    n_rides: int
    n_parts: int
    log_loss_class: float | None
    log_loss_pace: float | None
    ways: tuple[PacedWay, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """All that was learned from rides, as a file keeps it.

    ways : ground by way, of ways that witnesses told of; paced : of ways that only speed tells of
    """

    times: LearnedTimes | None = None
    ways: tuple[LearnedWay, ...] = ()
    witnesses: tuple[Witness, ...] = ()
    paced: tuple[PacedWay, ...] = ()

    def beside(self, other: Learned | None) -> Learned:
        """Both together: times of whichever rests on more rides; of a way, what this one holds."""
        if other is None:
            return self
        times = [item for item in (self.times, other.times) if item is not None]
        told, paced = {w.way_id for w in self.ways}, {w.way_id for w in self.paced}
        return Learned(
            times=max(times, key=lambda item: item.n_rides, default=None),
            ways=(*self.ways, *(w for w in other.ways if w.way_id not in told)),
            witnesses=(*self.witnesses, *other.witnesses),
            paced=(*self.paced, *(w for w in other.paced if w.way_id not in paced)),
        )

    def trip(self, trip: Trip) -> Trip:
        """The trip with the times that such riders had on such a bike, if rides tell of them."""
        if self.times is None:
            return trip
        return replace(trip, own_pace=self.times.pace_for(trip.rider, trip.wanted_class))

    def shut_on(self, match: Match) -> tuple[FoundShut, ...]:
        """The parts of a ride on ways that riders found shut."""
        shut = {way.way_id: way for way in self.ways if way.shut}
        return tuple(
            FoundShut(
                from_m=float(match.from_m[leg]), to_m=float(match.to_m[leg]),
                riders=shut[way_id].shut, last_day=shut[way_id].last_day,
            )
            for leg, way_id in enumerate(match.way_id.tolist())
            if way_id in shut
        )  # fmt: skip

    def notes(self) -> tuple[GroundNote, ...]:
        """The learned ground as notes of the operator, each believed as far as it was earned."""
        told = {way.way_id for way in self.ways if way.ground is not None}
        return (
            *(_note(way) for way in self.ways if way.ground is not None and way.trust > 0.0),
            *(_pace_note(w) for w in self.paced if w.way_id not in told and w.trust > 0.0),
        )


def _note(way: LearnedWay) -> GroundNote:
    said = ", ".join(f"{item.ground.value} {item.n}" for item in way.said)
    found = f", shut {way.shut}" if way.shut else ""
    return GroundNote(
        way_id=way.way_id, ground=way.ground, noted=way.last_day,
        who=message(
            "one rider after the trip", "{n} riders after the trip", n=way.witnesses
        ),
        remark=f"{said}{found}", source="learned from rides", trust=way.trust,
    )  # fmt: skip


def _pace_note(way: PacedWay) -> GroundNote:
    return GroundNote(
        way_id=way.way_id, ground=way.ground, noted=way.last_day,
        who=message("the speed of one ride", "the speed of {n} rides", n=way.n_rides),
        source="learned from rides", trust=way.trust,
    )  # fmt: skip
