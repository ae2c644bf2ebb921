"""The answer to "road trip or off-road trip?", with all that must be heard before it."""

from __future__ import annotations

from collections.abc import Sequence

from terrain.stages.asking import list_asked
from terrain.stages.verdict.findings import list_findings
from terrain.stages.verdict.gaps import list_unknown
from terrain.stages.verdict.parts import pieces, where
from terrain.stages.verdict.sections import cut_sections
from terrain.tables.verdict import DECIDING, LIMITS, SURENESS
from terrain.text.catalogue import N_
from terrain.text.message import Message, after, join_messages, message, term
from terrain.text.terms import SETUP_ANSWER_TERMS, SURENESS_TERMS
from terrain.values.advice import AdviceItem, RiderVerdict, Setup, SetupChoice
from terrain.values.answers import Outcome
from terrain.values.ground import GroundKind
from terrain.values.report import Assessed
from terrain.values.verdict import (
    BookedBike,
    Certainty,
    Finding,
    FindingKind,
    Rank,
    RidePart,
    Sureness,
    Verdict,
)


def judge_verdict(ride: Assessed) -> Verdict:
    """What a person must hear about a ride; every channel says this and nothing of its own."""
    advice, speeds = ride.advice, ride.ride.speeds
    findings = list_findings(ride)
    certainty = certainty_of(advice.setup)
    setup = message(SETUP_ANSWER_TERMS[advice.setup.choice])
    # No bike makes a ride right for a rider it is beyond, so none is named up front.
    beyond = advice.rider.verdict is RiderVerdict.BEYOND
    first = advice.bikes[0] if advice.bikes and not beyond else None
    bike: Message | str = ""
    if first is not None:
        bike = message("Bike: {bike}.", bike=term(first.title))
        if first.fit < LIMITS.poor_fit:
            bike = message(
                "Bike: none fits well; the {bike} is the least bad.", bike=term(first.title)
            )
    question, settle = _question(ride), _to_settle(ride)
    told = [_decision(ride), *_as_asked(ride), *_wish(findings)]
    forbidden = any(item.rank is Rank.FORBIDDEN for item in findings)
    is_open = advice.setup.choice is SetupChoice.ASK
    headline, asked_first = _headline(ride, findings, setup, certainty), None
    # What is least known and changes nothing is no word to begin a forbidden ride with.
    urgent = "" if forbidden and not is_open and question is None else settle
    if is_open and question and not forbidden:
        asked_first = message("One question first: {question:c}", question=_short(question))
    return Verdict(
        answer=advice.setup.choice,
        tyres=advice.setup.tyres,
        certainty=certainty,
        headline=headline,
        worst=asked_first or _forbidding(ride, findings) or headline,
        aside=join_messages([*told, "" if asked_first else urgent]),
        lead=join_messages([*told, bike or "", urgent]),
        setup=setup,
        to_settle=settle,
        bike=None if first is None else first.name,
        bike_title=None if first is None else term(first.title),
        bike_text=bike,
        booked=_booked(ride),
        rider=advice.rider.verdict,
        riding_s=(speeds.total_s, speeds.total_low_s, speeds.total_high_s)
        if len(speeds.time_s)
        else None,
        findings=findings,
        unknown=list_unknown(ride),
        sections=cut_sections(ride.ride, ride.relief),
        asked=list_asked(ride),
        decided=advice.edited is not None,
    )


def certainty_of(setup: Setup) -> Certainty:
    """How sure a setup is; that the way may be another one is in its probability."""
    if setup.p_off_road is None or setup.choice is SetupChoice.ASK:
        return Certainty()
    p = setup.p_off_road if setup.choice is SetupChoice.OFF_ROAD else 1 - setup.p_off_road
    sureness = Sureness(next(row.sureness for row in SURENESS if p >= row.from_p))
    return Certainty(p=p, sureness=sureness, text=message(SURENESS_TERMS[sureness]))


def _decision(ride: Assessed) -> Message | str:
    """Why the desk decided as it did; "" if it did not."""
    reasons = ride.advice.setup.reasons
    return reasons[0].text if ride.advice.edited is not None and reasons else ""


def _as_asked(ride: Assessed) -> tuple[Message | str, ...]:
    """What was left out because somebody answered so; of what is skipped each in its own words."""
    answered = sorted(ride.answered, key=lambda part: part.answer.from_m)
    left = [part for part in answered if part.outcome is Outcome.ROUND]
    skipped = tuple(part.words for part in answered if part.outcome is Outcome.SKIPPED)
    if len(left) <= 1:
        return (*(part.words for part in left), *skipped)
    parts = tuple(
        message("{run_m} from {from_at_m}", run_m=part.answer.to_m - part.answer.from_m,
                from_at_m=part.answer.from_m)
        for part in left
    )  # fmt: skip
    return (
        message(
            "Left out as asked, of the route as sent: {parts}; the ride goes round them.",
            parts=parts,
        ),
        *skipped,
    )


def _wish(findings: Sequence[Finding]) -> tuple[Message, ...]:
    """That a road trip is wanted and this is none: nothing else matters more to who booked one."""
    return tuple(
        item.what for item in findings if item.kind is FindingKind.WISH and item.rank is Rank.CARE
    )


def _guessed_share(ride: Assessed) -> float:
    """Share of the ride that was routed between points too far apart to show the way."""
    whole_m = ride.match.matched_m
    return ride.match.filled_m / whole_m if whole_m else 0.0


# -- the first words -----------------------------------------------------------------------------


def _headline(
    ride: Assessed, findings: Sequence[Finding], setup: Message, certainty: Certainty
) -> Message:
    """All that forbids in a few words each, then the setup and how sure it is."""
    forbidding = _forbidding(ride, findings)
    closed = any(
        item.kind is FindingKind.CLOSED and item.rank is Rank.FORBIDDEN for item in findings
    )
    if closed and certainty.text:
        said = message("{setup}, {certainty}, if permitted.", setup=setup,
                       certainty=certainty.text)  # fmt: skip
    elif closed:
        said = message("{setup}, if permitted.", setup=setup)
    elif certainty.text:
        said = message("{setup}, {certainty}.", setup=setup, certainty=certainty.text)
    else:
        said = message("{setup}.", setup=setup)
    return after(forbidding, said) if forbidding else said


def _forbidding(ride: Assessed, findings: Sequence[Finding]) -> Message | None:
    """All that forbids, in a few words each; None if nothing does."""
    heads = [_head(item, ride) for item in findings if item.rank is Rank.FORBIDDEN]
    return after(*heads) if heads else None


def _head(item: Finding, ride: Assessed) -> Message:
    """What forbids, in a few words."""
    if item.kind is FindingKind.CLOSED:
        return message(
            "Do not ride this as drawn: {closed_m} of its {ride_m} are closed to motorcycles.",
            closed_m=item.length_m, ride_m=ride.match.length_m,
        )  # fmt: skip
    if item.kind is FindingKind.NO_BIKE:
        return message("No bike of the fleet may go.")
    if item.kind is FindingKind.WANTED_BIKE:
        wanted = ride.fleet.title_of(ride.trip.wanted_class or "")
        return message("The {wanted} asked for must not go.", wanted=term(wanted))
    if item.kind is FindingKind.BEYOND_RIDER:
        return message("Too hard for this rider ({rider}).", rider=term(ride.advice.rider.rider))
    return item.what


def _booked(ride: Assessed) -> BookedBike | None:
    name, said = ride.trip.wanted_class, ride.advice.wanted
    if not name or said is None:
        return None
    may_go = any(fit.name == name for fit in ride.advice.bikes)
    best = may_go and ride.advice.bikes[0].name == name
    return BookedBike(
        bike=name,
        title=term(ride.fleet.title_of(name)),
        fits=True if best else None if may_go else False,
        why=said.text,
    )


# -- what to settle ------------------------------------------------------------------------------


# A question without what follows from its answers: that stands beside each of them.
_SHORT = {
    "which-way": N_("Which way do you go in the {run_m} from {from_at_m} to {to_at_m}{near}?"),
    "which-ways": N_("Which way do you go in these parts: {parts}?"),
    "send-track": N_(
        "Can you send the way as a drawn track? {guessed_m} lie between points too far apart to "
        "show it."
    ),
    "ride-this-run": N_("Do you mean to ride the {run_m} from {from_at_m}{near}?"),
    "skip-this-run": N_("Do you mean to ride the {run_m} from {from_at_m}{near}?"),
}


# Parts with their places in a first line; of more, where they lie stands below. Common practice, no
# source.
_MOST_NAMED = 2


def _short(question: AdviceItem) -> Message:
    parts = dict(question.numbers).get("parts")
    if question.code == "which-ways" and isinstance(parts, tuple) and len(parts) > _MOST_NAMED:
        return message(
            "Which way do you go in these {n_parts} parts of the route?", n_parts=len(parts)
        )
    if question.code in _SHORT:
        return message(_SHORT[question.code], **dict(question.numbers))
    return question.text


def _question(ride: Assessed) -> AdviceItem | None:
    """What has to be asked first; None if nothing is, or an answer led nowhere."""
    if any(answer.outcome is Outcome.NO_WAY for answer in ride.answered):
        return None
    return next(
        (
            question
            for question in ride.advice.questions
            if question.code in DECIDING or question.code == "rider-below-run"
        ),
        None,
    )


def _to_settle(ride: Assessed) -> Message | str:
    """The one thing to settle first; "" if there is none."""
    advice, match = ride.advice, ride.match
    for answer in ride.answered:
        if answer.outcome is Outcome.NO_WAY:
            return answer.words
    question = _question(ride)
    if question is not None:
        return message("To settle first: {question:c}", question=question.text)
    is_open = advice.setup.choice is SetupChoice.ASK
    if is_open and _guessed_share(ride) >= LIMITS.guessed_share:
        return message(
            "To settle first: send the plan as a track; {guessed_m} of it lie between points too "
            "far apart to show the road.",
            guessed_m=match.filled_m,
        )
    part = doubtful_part(ride)
    if part is None or (advice.edited is not None and not is_open):
        return ""
    place = ride.places.near(part.from_m)
    near = message(", near {place}", place=place) if place else ""
    form = N_("Least known, though it does not change the answer: the {run_m} from {from_at_m}"
              "{near}.")  # fmt: skip
    if is_open:
        form = N_("To settle first: the {run_m} from {from_at_m}{near}.")
    return message(form, run_m=part.length_m, from_at_m=part.from_m, near=near)


def doubtful_part(ride: Assessed) -> RidePart | None:
    """The longest part whose ground is not settled, if it is long enough to matter."""
    doubtful = pieces(
        where(
            ride.ground.stretches,
            lambda s: (
                s.ground is GroundKind.UNMAPPED or (s.p is not None and max(s.p) < LIMITS.sure_p)
            ),
        )
    )
    longest = max(doubtful, key=lambda part: part.length_m, default=None)
    least_m = max(LIMITS.doubt_m, LIMITS.doubt_share * ride.match.length_m)
    return longest if longest is not None and longest.length_m >= least_m else None
