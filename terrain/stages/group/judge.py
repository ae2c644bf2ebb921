"""One rider of a group: what is too hard for them, whether their bike may go, what then."""

from __future__ import annotations

from collections.abc import Sequence

from terrain.stages.advice.rider.fit import limits_of
from terrain.stages.verdict.parts import merged, where
from terrain.text.catalogue import N_
from terrain.text.message import Message, join_messages, message, term
from terrain.text.terms import LOAD_TERMS, RIDER_NAME_TERMS
from terrain.values.advice import SetupChoice
from terrain.values.ground import Stretch
from terrain.values.group import GroupRider, InGroup
from terrain.values.report import Report
from terrain.values.trip import Trip
from terrain.values.verdict import (
    Finding,
    FindingKind,
    PerAudience,
    Rank,
    RidePart,
    Verdict,
    for_all,
)

# Common practice, no source.
_NEAR_M = 200.0  # hard parts this close to each other are one
_PILLION = N_("with a pillion")


def judge_rider_in(ridden: InGroup, name: str) -> GroupRider:
    """How one rider stands, from their own report. name : as the booking has it"""
    report = ridden.report
    assessed, verdict = report.assessed, report.verdict
    easy, hard = limits_of(assessed.trip).severity
    stretches = assessed.ground.stretches
    said = [item for item in verdict.findings if item.kind is FindingKind.BEYOND_RIDER]
    beyond = [item for item in said if item.rank is Rank.FORBIDDEN]
    bike = assessed.fleet.named(assessed.trip.wanted_class or "")
    return GroupRider(
        name=name, about=_about(assessed.trip), bike="" if bike is None else bike.title,
        riding_s=ridden.alone_s,
        too_hard=_hard(stretches, hard, beyond),
        at_edge=_hard(stretches, easy, [item for item in said if item not in beyond]),
        why=join_messages(item.why for item in said[:1]),
        answer=_answer(report), then=_then(report),
        may_go=False if verdict.forbidden
        else None if verdict.answer is SetupChoice.ASK else True,
    )  # fmt: skip


def _at_least(stretch: Stretch, level: float) -> bool:
    return stretch.severity is not None and stretch.severity >= level


def _hard(
    stretches: Sequence[Stretch], level: float, said: Sequence[Finding]
) -> tuple[RidePart, ...]:
    """Ground from this level on; where it is something else that is said, the parts of that."""
    parts = where(stretches, lambda stretch: _at_least(stretch, level))
    parts = parts or tuple(part for item in said for part in item.parts)
    return merged(((part.from_m, part.to_m) for part in parts), _NEAR_M)


def _about(trip: Trip) -> Message:
    """Experience and load: "novice rider, soft luggage"."""
    said = [RIDER_NAME_TERMS[trip.skill.value], LOAD_TERMS[trip.luggage.value]]
    if trip.pillion:
        said.append(_PILLION)
    told = join_messages([term(text) for text in said], "{first}, {then}")
    assert isinstance(told, Message)
    return told


def _answer(report: Report) -> Message:
    """Whether this bike may go with this rider, and why not."""
    verdict = report.verdict
    if not verdict.forbidden:
        if verdict.answer is SetupChoice.ASK:
            return message("Open.")
        return message("May go.")
    return _own(verdict).what


def _own(verdict: Verdict) -> Finding:
    """What is this rider's alone comes before what forbids the ride to all of them."""
    by_kind = {item.kind: item for item in verdict.forbidden}
    own = (FindingKind.WANTED_BIKE, FindingKind.BEYOND_RIDER, FindingKind.NO_BIKE)
    return next((by_kind[kind] for kind in own if kind in by_kind), verdict.forbidden[0])


def _then(report: Report) -> PerAudience:
    """What to do about it; the bike where it may go."""
    verdict = report.verdict
    if verdict.forbidden:
        return _own(verdict).do
    if verdict.answer is SetupChoice.ASK:
        return for_all(verdict.to_settle)
    if verdict.booked is not None and not verdict.booked.fits:
        return for_all(verdict.booked.why)
    if verdict.bike_title is None:
        return for_all("")
    return for_all(message("Bike: {bike}.", bike=term(verdict.bike_title)))
