"""The route as it is ridden once the questions about its parts are answered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from terrain.stages.detours.find import ways_round
from terrain.stages.detours.layout import detour_inputs
from terrain.text.catalogue import N_
from terrain.text.message import Message, after, message, road_called, term
from terrain.values.answers import AnsweredPart, Outcome, PartAnswer, Reply
from terrain.values.arrays import FloatArray, IntArray, even_rows, joined_spans
from terrain.values.detours import Detour
from terrain.values.ground import GroundNote
from terrain.values.help import HelpFields
from terrain.values.match import Match, ride_coords
from terrain.values.ride import Ride
from terrain.values.route import Route
from terrain.values.views import RoadsView

# Common practice, no source.
_AT_END_M = 500.0  # a part that ends so near to an end of the ride is its first or last
_LEAST_LEFT_M = 1_000.0  # less than this is no ride any more
_BEYOND = 1.5  # more than so many times what was asked is told as more
#: Belief in what a customer knows of a road: common practice, no source.
TOLD_TRUST = 0.9
_NOTE_POINTS = 200


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TakenAnswers:
    """The route after the answers, with what became of each.

    notes : the ground that was told
    sent_at_m : where each point of the route lies on that as sent, NaN on a way round
    """

    route: Route
    parts: tuple[AnsweredPart, ...]
    notes: tuple[GroundNote, ...]
    held: tuple[PartAnswer, ...]
    cuts: tuple[_Cut, ...]
    sent_at_m: FloatArray

    def laid(self, match: Match) -> TakenAnswers:
        """With positions on the route as it was matched anew, which may go round otherwise than
        the way that was found: else what lies behind it is asked about, and left out, elsewhere."""
        cuts = _laid(self.cuts, self.sent_at_m, match.point_at_m)
        return replace(self, cuts=cuts, parts=_outcomes(self.held, cuts))

    @property
    def on_ride(self) -> tuple[PartAnswer, ...]:
        """The answers where they now lie on the ride; what is left out is no part of it."""
        return tuple(
            PartAnswer(from_m=part.now_from_m, to_m=part.now_to_m, reply=part.answer.reply)
            for part in self.parts
            if part.outcome not in (Outcome.ROUND, Outcome.SKIPPED)
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Cut:
    """A piece of the route that is not ridden, with the line that stands for it.

    length_m : of that line; once the ride is laid anew, as it is ridden
    way : whether the line is a way round
    then : where the ride begins or ends for it, "" if in neither
    """

    from_m: float
    to_m: float
    lon: FloatArray
    lat: FloatArray
    length_m: float
    way: bool = False
    roads: tuple[str, ...] = ()
    then: str = ""


def take_answers(
    route: Route,
    ride: Ride,
    roads: RoadsView,
    fields: HelpFields,
    answers: Sequence[PartAnswer],
    *,
    way_p: FloatArray,
    noted: date | None = None,
) -> TakenAnswers:
    """What is to be left out, left out: a way round for road tyres in its place, if one is mapped.

    ride : of the route as it was sent, on which the answers' positions lie
    way_p : probabilities of paved, gravel, track per way of the region, shape (w, 3)
    noted : the day the answers are of, from which what they tell of the ground ages
    A way there and back is skipped; so is the first or last part of the ride. The line between
    stays as it was drawn.
    """
    held = [part for item in answers if (part := _within(item, ride.length_m)) is not None]
    leaving = joined_spans([(x.from_m, x.to_m) for x in held if x.reply is Reply.LEAVE])
    cuts = _cuts(ride, roads, fields, way_p, leaving)
    match = ride.match
    cut_route, sent_at_m = _without(route, match, cuts) if cuts else (route, match.point_at_m)
    return TakenAnswers(
        route=cut_route, held=tuple(held), cuts=cuts, sent_at_m=sent_at_m,
        parts=_outcomes(held, cuts),
        notes=tuple(
            _note(match, item, noted) for item in held if item.reply.ground is not None
        ),
    )  # fmt: skip


def _within(item: PartAnswer, length_m: float) -> PartAnswer | None:
    to_m = min(item.to_m, length_m)
    return replace(item, to_m=to_m) if item.from_m < to_m else None


def _cuts(
    ride: Ride,
    roads: RoadsView,
    fields: HelpFields,
    way_p: FloatArray,
    leaving: list[tuple[float, float]],
) -> tuple[_Cut, ...]:
    """What is cut out of the ride, apart from each other, in riding order."""
    layout = detour_inputs(ride, roads, fields, way_p)
    while leaving:
        found = [(part, _at_end(ride, part)) for part in leaving]
        inner = [part for part, cut in found if cut is None]
        ways: list[Detour | None] = [None] * len(inner)
        if inner and len(layout.passed.node) >= 2:
            ways = ways_round(layout, inner)
        round_ = dict(zip(inner, ways, strict=True))
        cuts = [
            (part, cut if cut is not None else _cut_of(ride.match, round_[part]))
            for part, cut in found
        ]
        made = [(part, cut) for part, cut in cuts if cut is not None]
        clash = next(
            (i for i in range(len(made) - 1) if made[i][1].to_m > made[i + 1][1].from_m), None
        )
        if clash is None:
            return tuple(cut for _, cut in made)
        # Two ways round that run into each other are one, round both parts.
        (a, _), (b, _) = made[clash : clash + 2]
        rest = [part for part in leaving if not a[0] <= part[0] <= b[0]]
        leaving = sorted([*rest, (a[0], b[1])])
    return ()


def _at_end(ride: Ride, part: tuple[float, float]) -> _Cut | None:
    """The first or last part of the ride, which is left out without a way round."""
    match, length_m = ride.match, ride.length_m
    if length_m - (part[1] - part[0]) < _LEAST_LEFT_M:
        return None
    if part[0] <= _AT_END_M:
        from_m, to_m, at_m = 0.0, part[1], part[1]
        then = N_("The ride begins after it.")
    elif part[1] >= length_m - _AT_END_M:
        from_m, to_m, at_m = part[0], length_m, part[0]
        then = N_("The ride ends before it.")
    else:
        return None
    lon, lat = match.lonlat(np.array([at_m]))
    return _Cut(from_m=from_m, to_m=to_m, lon=lon, lat=lat, length_m=0.0, then=then)


def _cut_of(match: Match, way: Detour | None) -> _Cut | None:
    if way is None:
        return None
    lon, lat = way.lon, way.lat
    if not len(lon):  # there and back: only the place where it leaves
        lon, lat = match.lonlat(np.array([way.from_m]))
    return _Cut(
        from_m=way.from_m, to_m=way.to_m, lon=lon, lat=lat, length_m=way.length_m,
        way=way.length_m > 0, roads=way.roads,
    )  # fmt: skip


def _without(route: Route, match: Match, cuts: Sequence[_Cut]) -> tuple[Route, FloatArray]:
    """The route with a line of its own in place of each cut, and where its points lie on that as
    sent, NaN on those lines."""
    at_m = _known(match.point_at_m)
    keep = np.ones(route.n_points, dtype=np.bool_)
    rows: list[int] = []
    for cut in cuts:
        inside = (at_m > cut.from_m - 1.0) & (at_m < cut.to_m + 1.0)
        keep &= ~inside
        rows.append(int(np.searchsorted(at_m, cut.from_m, side="left")))
    own = np.flatnonzero(keep)
    where = [own, *(np.full(len(cut.lon), row - 0.5) for row, cut in zip(rows, cuts, strict=True))]
    order = np.argsort(np.concatenate(where), kind="stable")
    added = [np.full(len(cut.lon), min(row, route.n_points - 1))
             for row, cut in zip(rows, cuts, strict=True)]  # fmt: skip
    source = np.concatenate([own, *added]).astype(np.int64)[order]
    new = np.concatenate([np.zeros(len(own), bool), *(np.ones(len(c.lon), bool) for c in cuts)])
    new = new[order]
    lon = np.concatenate([route.lon[own], *(cut.lon for cut in cuts)])[order]
    lat = np.concatenate([route.lat[own], *(cut.lat for cut in cuts)])[order]
    told = replace(
        route,
        lon=_unrolled(lon, float(route.lon[0])),
        lat=lat,
        ele_m=np.where(new, np.nan, route.ele_m[source]),
        piece=np.maximum.accumulate(route.piece[source]),
        day_starts=_moved(route.day_starts, source),
        shaping=route.shaping[source] | new,
        planned=route.planned[source] & ~new,
    )
    return told, np.where(new, np.nan, match.point_at_m[source])


def _laid(cuts: Sequence[_Cut], sent_at_m: FloatArray, now_at_m: FloatArray) -> tuple[_Cut, ...]:
    """The cuts with what is ridden in their place, by the points between each and the next."""
    both = ~np.isnan(sent_at_m) & ~np.isnan(now_at_m)
    sent, now = sent_at_m[both], now_at_m[both]
    ends = [*(cut.from_m for cut in cuts), np.inf][1:]
    laid, moved = [], 0.0  # how much farther on the ride is than the route
    for cut, end in zip(cuts, ends, strict=True):
        behind = np.flatnonzero((sent >= cut.to_m - 1.0) & (sent <= end + 1.0))
        before_m, moved = moved, moved + cut.length_m - (cut.to_m - cut.from_m)
        if len(behind):
            moved = float(np.median(now[behind] - sent[behind]))
        length_m = moved - before_m + cut.to_m - cut.from_m
        laid.append(replace(cut, length_m=max(length_m, 0.0)))
    return tuple(laid)


def _moved(starts: tuple[int, ...], source: IntArray) -> tuple[int, ...]:
    """Numbers of the first points from these on, where point i comes from source[i]."""
    first = np.searchsorted(np.maximum.accumulate(source), starts)
    return tuple(dict.fromkeys(int(i) for i in first if 0 < i < len(source)))


def _known(point_at_m: FloatArray) -> FloatArray:
    """Positions of the drawn points; those left aside stand with the one before."""
    known = ~np.isnan(point_at_m)
    last = np.maximum.accumulate(np.where(known, np.arange(len(known)), 0))
    at_m = np.nan_to_num(point_at_m, nan=0.0)[last]
    return np.asarray(np.maximum.accumulate(at_m))


def _unrolled(lon: FloatArray, first: float) -> FloatArray:
    """Longitudes that never jump by 360 degrees; the region's may be a turn apart."""
    near = lon - 360.0 * np.round((lon - first) / 360.0)
    return np.asarray(np.unwrap(near, period=360.0))


def _outcomes(held: Sequence[PartAnswer], cuts: Sequence[_Cut]) -> tuple[AnsweredPart, ...]:
    """What became of each answer; what else goes with a part is told once."""
    parts: list[AnsweredPart] = []
    for item in held:
        part = _outcome(item, cuts)
        if part.outcome is Outcome.SKIPPED and part.gone_m in [old.gone_m for old in parts]:
            part = replace(part, words=_left_out(item))
        parts.append(part)
    return tuple(parts)


def _left_out(item: PartAnswer) -> Message:
    return message(
        "Left out as asked: {gone_m} from {from_at_m} of the route as sent.",
        gone_m=item.to_m - item.from_m, from_at_m=item.from_m,
    )  # fmt: skip


def _outcome(item: PartAnswer, cuts: Sequence[_Cut]) -> AnsweredPart:
    """What became of an answer. Positions move by what the cuts before it added."""
    outcome: Outcome = _SAID.get(item.reply, Outcome.TOLD)
    words: Message | str = ""
    if item.reply is Reply.LEAVE:
        for cut in cuts:
            if cut.from_m <= item.from_m + 1.0 and cut.to_m >= item.to_m - 1.0:
                return _left(item, cut, _now(cut.from_m, cuts))
        outcome, words = Outcome.NO_WAY, _no_way(item)
    from_m, to_m = _now(item.from_m, cuts), _now(item.to_m, cuts)
    if to_m - from_m < 1.0:
        # It lay in what is left out for another answer.
        around = next((c for c in cuts if c.from_m <= item.from_m and c.to_m >= item.to_m), None)
        if around is not None:
            return _left(item, around, from_m)
    return AnsweredPart(
        answer=item, outcome=outcome, now_from_m=from_m, now_to_m=max(to_m, from_m + 1.0),
        words=words,
    )  # fmt: skip


_SAID = {Reply.KEEP: Outcome.KEPT, Reply.UNSURE: Outcome.OPEN}


def _now(at_m: float, cuts: Sequence[_Cut]) -> float:
    """Where a position of the route as sent lies on the ride; in a cut, where that begins."""
    moved = 0.0
    for cut in cuts:
        if at_m >= cut.to_m:
            moved += cut.length_m - (cut.to_m - cut.from_m)
        elif at_m > cut.from_m:
            return cut.from_m + moved
    return at_m + moved


def _left(item: PartAnswer, cut: _Cut, now_m: float) -> AnsweredPart:
    gone_m, added_m = item.to_m - item.from_m, cut.length_m - (cut.to_m - cut.from_m)
    if not cut.way:
        words = _left_out(item)
        if -added_m > _BEYOND * gone_m and not cut.then:
            words = message(
                "Left out as asked: {gone_m} from {from_at_m} of the route as sent, and with it "
                "all beyond it there and back: {less_m} in all.",
                gone_m=gone_m, from_at_m=item.from_m, less_m=-added_m,
            )  # fmt: skip
        words = after(words, *([term(cut.then)] if cut.then else []))
    elif cut.roads:
        words = message(
            "Left out as asked: {gone_m} from {from_at_m} of the route as sent. The ride goes "
            "round it by {roads}: {way_m} from {now_at_m}.",
            gone_m=gone_m, from_at_m=item.from_m, way_m=cut.length_m, now_at_m=now_m,
            roads=tuple(road_called(road) for road in cut.roads),
        )  # fmt: skip
    else:
        words = message(
            "Left out as asked: {gone_m} from {from_at_m} of the route as sent. The ride goes "
            "round it: {way_m} from {now_at_m}.",
            gone_m=gone_m, from_at_m=item.from_m, way_m=cut.length_m, now_at_m=now_m,
        )  # fmt: skip
    return AnsweredPart(
        answer=item,
        outcome=Outcome.ROUND if cut.way else Outcome.SKIPPED,
        now_from_m=now_m, now_to_m=now_m + cut.length_m, added_m=added_m, roads=cut.roads,
        gone_m=(cut.from_m, cut.to_m),
        words=words,
    )  # fmt: skip


def _no_way(item: PartAnswer) -> Message:
    return message(
        "To be left out: {run_m} from {from_at_m} of the route as sent. No way round is mapped, "
        "so it is still in this ride: another route is needed.",
        run_m=item.to_m - item.from_m, from_at_m=item.from_m,
    )  # fmt: skip


def _note(match: Match, item: PartAnswer, noted: date | None) -> GroundNote:
    """What a customer knows of the ground, as a note along the ride."""
    line = ride_coords(match, item.from_m, item.to_m)
    return GroundNote(
        line=tuple((float(x), float(y)) for x, y in line[even_rows(len(line), _NOTE_POINTS)]),
        ground=item.reply.ground,
        noted=noted,
        who=message("the customer, when asked"),
        source="answers",
        trust=TOLD_TRUST,
    )
