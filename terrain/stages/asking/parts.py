"""The parts of a ride that its rider has to say yes or no to, with what follows from a no."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace

from terrain.stages.asking.again import same_road
from terrain.tables.verdict import LIMITS
from terrain.text.catalogue import N_
from terrain.text.message import Message, after, message, term
from terrain.values.advice import AdviceItem, RiderVerdict, SetupChoice
from terrain.values.answers import PARTS_TICKED, TICKED, AskedPart, Reply, as_sent
from terrain.values.arrays import joined_spans
from terrain.values.closed import closed_m
from terrain.values.detours import Detour, DetourKind
from terrain.values.ground import GroundKind
from terrain.values.report import Assessed

# Common practice, no source.
_MOST = 4  # more parts than this nobody answers for one by one
# Runs that are asked about, and what does not split them: common practice, no source.
_LEAST_M = 2_000.0
_BRIDGED_M = 1_500.0
_WHOLE = 0.95  # a share of a part that is told as all of it
_SAME = 0.5  # parts that overlap by more than this share of the shorter are one question
_COVERED = 0.8  # of a part about the ground
_ABOUT_GROUND = frozenset(("which-ground", "which-one"))
_OFF = (GroundKind.TRACK, GroundKind.GRAVEL)


def list_asked(ride: Assessed) -> tuple[AskedPart, ...]:
    """What to ask, the most telling first: closed parts, what decides the setup, hard parts.

    A part about which somebody answered is not asked again, unless he did not know; a road that is
    ridden several times is asked about once, with all its places.
    """
    asked: list[AskedPart] = []
    places: list[list[AskedPart]] = []
    for part in (*_closed(ride), *_deciding(ride), *_hard(ride)):
        if _replied(ride, part) not in (None, Reply.UNSURE):
            continue
        if any(_settled(part, place) for told in places for place in told):
            continue
        same = next((told for told in places if _same_road(ride, part, told[0])), None)
        if same is not None:
            same.append(part)
        elif len(asked) < _MOST:
            asked.append(part)
            places.append([part])
    return tuple(_at_all(part, told[1:]) for part, told in zip(asked, places, strict=True))


def has_boxes(question: AdviceItem, asked: Sequence[AskedPart]) -> bool:
    """Whether each of the parts that a question is about lies in one that is asked about itself."""
    boxes = [span for part in asked for span in ((part.from_m, part.to_m), *part.again)]
    return all(
        any(min(b, to_m) - max(a, from_m) >= _COVERED * (to_m - from_m) for a, b in boxes)
        for from_m, to_m in question.places
    )


def _same_road(ride: Assessed, part: AskedPart, other: AskedPart) -> bool:
    """Whether a reply to the question of the other part answers this one too, as it is the same
    road. Whether it is meant to be ridden tells nothing of its ground."""
    if part.about_ground and not other.about_ground:
        return False
    return same_road(ride.match, (part.from_m, part.to_m), (other.from_m, other.to_m))


def _at_all(part: AskedPart, again: list[AskedPart]) -> AskedPart:
    """The question of a part with the other places of the same road."""
    if not again:
        return part
    again = sorted(again, key=lambda place: place.from_m)
    parts = tuple(
        message("{run_m} from {from_at_m}", run_m=x.to_m - x.from_m, from_at_m=x.from_m)
        for x in again
    )
    told = message("The same road is ridden again: {parts}. The answer counts there too.",
                   parts=parts)  # fmt: skip
    return replace(
        part,
        text=after(part.text, told),
        # What it means to leave out all of them is only known once it is tried.
        if_left="",
        again=tuple((x.from_m, x.to_m) for x in again),
        sent_again=tuple((x.sent_from_m, x.sent_to_m) for x in again),
    )


def _replied(ride: Assessed, part: AskedPart) -> Reply | None:
    said = [
        item.answer.reply
        for item in ride.answered
        if item.answer.covers(part.sent_from_m, part.sent_to_m)
    ]
    return said[-1] if said else None


def _settled(part: AskedPart, other: AskedPart) -> bool:
    """Whether the other question stands for this one. One whether a piece is ridden stands for one
    about the ground only if that lies nearly all in the piece: the rest would stay open."""
    if part.about_ground and not other.about_ground:
        return _both_m(part, other) >= _COVERED * (part.to_m - part.from_m)
    return _alike(part, other)


def _alike(a: AskedPart, b: AskedPart) -> bool:
    return _both_m(a, b) > _SAME * min(a.to_m - a.from_m, b.to_m - b.from_m)


def _both_m(a: AskedPart, b: AskedPart) -> float:
    return min(a.to_m, b.to_m) - max(a.from_m, b.from_m)


def _closed(ride: Assessed) -> Iterator[AskedPart]:
    runs = joined_spans(((part.from_m, part.to_m) for part in ride.places.closed), _BRIDGED_M)
    for from_m, to_m in sorted(runs, key=_longest):
        if to_m - from_m >= LIMITS.barred_m:
            yield _part(
                ride,
                "closed",
                from_m,
                to_m,
                _closed_text(ride, from_m, to_m),
            )


def _closed_text(ride: Assessed, from_m: float, to_m: float) -> Message:
    inside = [part for part in ride.places.closed if from_m <= part.from_m and part.to_m <= to_m]
    barred_m = closed_m(inside)
    if barred_m < _WHOLE * (to_m - from_m):
        return message(
            "Do you mean to ride the {run_m} from {from_at_m}{near}? The map has {barred_m} of "
            "them closed to motorcycles, or open only with permission.",
            run_m=to_m - from_m, barred_m=barred_m, from_at_m=from_m, near=_near(ride, from_m),
        )  # fmt: skip
    return message(
        "Do you mean to ride the {run_m} from {from_at_m}{near}? The map has them closed to "
        "motorcycles, or open only with permission.",
        run_m=to_m - from_m, from_at_m=from_m, near=_near(ride, from_m),
    )  # fmt: skip


def _deciding(ride: Assessed) -> Iterator[AskedPart]:
    """The advice's own questions about one part, or about each of several."""
    for item in ride.advice.questions:
        if item.code in TICKED and item.from_m is not None and item.to_m is not None:
            ground = item.code in _ABOUT_GROUND
            text = item.text if ground else _meant(ride, item.from_m, item.to_m)
            yield _part(ride, item.code, item.from_m, item.to_m, text, ground=ground)
        elif item.code in PARTS_TICKED:
            for from_m, to_m in sorted(item.places, key=_longest):
                text = message(
                    "Does anyone know the {run_m} from {from_at_m}{near}?",
                    run_m=to_m - from_m, from_at_m=from_m, near=_near(ride, from_m),
                )  # fmt: skip
                yield _part(ride, item.code, from_m, to_m, text, ground=True)


def _hard(ride: Assessed) -> Iterator[AskedPart]:
    """Parts off tarmac, if they are what stands against the ride."""
    advice = ride.advice
    at_stake = (
        advice.setup.choice is not SetupChoice.ROAD
        or advice.rider.verdict is not RiderVerdict.WITHIN
        or not advice.bikes
    )
    if not at_stake:
        return
    known = [(way.around_from_m, way.around_to_m) for way in _ways(ride)]
    runs = [run for run in _off_road(ride) if run[1] - run[0] >= _LEAST_M]
    for from_m, to_m in (*known, *sorted(runs, key=_longest)):
        yield _part(ride, "hard", from_m, to_m, _meant(ride, from_m, to_m))


def _ways(ride: Assessed) -> list[Detour]:
    """Ways round known beforehand, that of the longest part first."""
    ways = [way for way in ride.plan.detours if way.kind is DetourKind.ROAD]
    return sorted(ways, key=lambda way: _longest((way.around_from_m, way.around_to_m)))


def _longest(run: tuple[float, float]) -> tuple[int, float]:
    """The longest first; of runs as long to the metre, the first on the ride."""
    return round(run[0] - run[1]), run[0]


def _off_road(ride: Assessed) -> list[tuple[float, float]]:
    return joined_spans(
        ((s.from_m, s.to_m) for s in ride.ground.stretches if s.ground in _OFF), _BRIDGED_M
    )


def _meant(ride: Assessed, from_m: float, to_m: float) -> Message:
    off_m = sum(
        max(min(s.to_m, to_m) - max(s.from_m, from_m), 0.0)
        for s in ride.ground.stretches
        if s.ground in _OFF
    )
    if 0.0 < off_m < _WHOLE * (to_m - from_m):
        return message(
            "Do you mean to ride the {run_m} from {from_at_m}{near}, {off_m} of it off tarmac?",
            run_m=to_m - from_m, off_m=off_m, from_at_m=from_m, near=_near(ride, from_m),
        )  # fmt: skip
    ground = _main_ground(ride, from_m, to_m)
    form = N_("Do you mean to ride the {run_m} of {ground} from {from_at_m}{near}?")
    if ground not in _OFF:
        form = N_("Do you mean to ride the {run_m} from {from_at_m}{near}?")
    return message(form, run_m=to_m - from_m, ground=term(ground.value), from_at_m=from_m,
                   near=_near(ride, from_m))  # fmt: skip


def _main_ground(ride: Assessed, from_m: float, to_m: float) -> GroundKind:
    """What most of a part is; of a part mostly off tarmac, what is most off it."""
    length_m: defaultdict[GroundKind, float] = defaultdict(float)
    for s in ride.ground.stretches:
        both = min(s.to_m, to_m) - max(s.from_m, from_m)
        if both > 0:
            length_m[s.ground] += both
    off = {kind: metres for kind, metres in length_m.items() if kind in _OFF}
    chosen = off or length_m
    return max(chosen, key=lambda kind: chosen[kind]) if chosen else GroundKind.UNMAPPED


def _near(ride: Assessed, at_m: float) -> Message | str:
    place = ride.places.near(at_m)
    return message(" (near {place})", place=place) if place else ""


def _part(
    ride: Assessed, code: str, from_m: float, to_m: float, text: Message, *, ground: bool = False
) -> AskedPart:
    return AskedPart(
        code=code,
        from_m=from_m,
        to_m=to_m,
        sent_from_m=as_sent(ride.answered, from_m),
        sent_to_m=as_sent(ride.answered, to_m),
        text=text,
        about_ground=ground,
        if_left=_if_left(ride, from_m, to_m),
    )


def _if_left(ride: Assessed, from_m: float, to_m: float) -> Message | str:
    """What leaving it out would mean; "" if that is only known once it is tried."""
    for way in _ways(ride):
        # What was looked for round another part may leave out more, or another piece.
        same = abs(way.around_from_m - from_m) <= 1.0 and abs(way.around_to_m - to_m) <= 1.0
        if same and way.from_m <= from_m + 1.0 and way.to_m >= to_m - 1.0:
            if way.length_m <= 0:
                return message("A way there and back: {less_m} less.", less_m=-way.added_m)
            if way.added_m >= 0:
                return message("A way round is mapped: {more_m} more.", more_m=way.added_m)
            return message("A way round is mapped: {less_m} less.", less_m=-way.added_m)
    return ""
