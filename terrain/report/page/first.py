"""The first screen: verdict, four cells, ground, and each finding on the ride's own axis."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from markupsafe import Markup

from terrain.report.detours import told_detours
from terrain.report.diagram.lanes import draw_ground
from terrain.report.drawing.scale import DiagramRow, nice_step
from terrain.report.drawing.svg import num, tag
from terrain.report.page.lead import ShareRow as ShareRow
from terrain.report.page.lead import about_trip, finding_place, much_off_map, share_rows
from terrain.tables.verdict import ABOUT_WAY, DECIDING
from terrain.text.message import message
from terrain.text.terms import (
    FIT_TERMS,
    RANK_TERMS,
    SETUP_ANSWER_TERMS,
    SETUP_NAME_TERMS,
    SETUP_VALUE_TERMS,
    TYRES_TERMS,
)
from terrain.text.translator import Translator
from terrain.values.advice import AdviceItem, RiderVerdict, SetupChoice
from terrain.values.answers import AskedPart, Reply
from terrain.values.arrays import joined_spans
from terrain.values.plan import clock
from terrain.values.report import Report
from terrain.values.verdict import Audience, Finding, FindingKind, Rank, RidePart, Unknown

STRIP_PX, STRIP_HEIGHT = 600.0, 40.0
_MOST_LANES, _MOST_CARES = 6, 3  # beside what forbids; of these, what only asks for care
_MOST_UNKNOWN, _MOST_ANSWERS, _MOST_ASKED = 3, 3, 2
_SMALL = 0.1  # of the ride: what is not known of less stands below


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One of the four answers: what it is about, the answer, and a word on it."""

    label: str
    value: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingRow:
    """One finding: its rank, the rank in words once per group, the fact, what to do, and where.

    strip : drawn on the axis of the ground above; empty if it is about no part of the ride
    whole : "the whole ride" if it is about all of it, else ""
    where : the same in words, for paper and readers aloud
    """

    key: str
    kind: str
    rank: str
    first: bool
    what: str
    do: str
    strip: Markup
    whole: str
    spans: tuple[tuple[float, float], ...]
    where: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A number on the axis: its share of the way along, 0..1, and the number."""

    share: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What follows if a question is answered so; "" if the next answer says it for both.

    part : the question of a part of the ride, before its first answer; "" else
    key : the part on the route as it was sent and the reply, "2000.5300.leave"; "" for no part
    """

    given: str
    then: str
    part: str = ""
    key: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstScreen:
    """All that stands above the fold, in order."""

    title: str
    about: tuple[str, ...]
    headline: str
    lead: str
    cells: tuple[Cell, ...]
    shares: tuple[ShareRow, ...]
    rests: str
    ground: Markup
    ends: tuple[str, str]
    marks: tuple[Mark, ...]
    answers: tuple[Answer, ...]
    rows: tuple[FindingRow, ...]
    more: str


def first_screen(report: Report, translator: Translator, audience: Audience) -> FirstScreen:
    """The first screen for one reader; all that forbids stands on it, whatever else is left out."""
    verdict, match = report.verdict, report.assessed.match
    row = DiagramRow(from_m=0.0, to_m=match.length_m, px_per_m=STRIP_PX / max(match.length_m, 1.0))
    shown = shown_findings(report)
    found, n = _rows(report, shown, translator, audience), len(verdict.forbidden)
    rows = [
        *found[:n],
        *_open_rows(report, translator),
        *found[n:],
        *_round_rows(report, translator),
        *_unknown_rows(report, translator),
    ]
    left = len(verdict.findings) - len(shown)
    shares, rests = share_rows(report, translator)
    return FirstScreen(
        title=report.assessed.route.name,
        about=about_trip(report, translator),
        headline=translator.translate(verdict.worst),
        lead=translator.translate(verdict.aside),
        cells=_cells(report, translator, audience),
        shares=shares,
        rests=rests,
        ground=draw_ground(row, report.assessed.ground.stretches, STRIP_HEIGHT),
        ends=_ends(report),
        marks=_marks(match.length_m, translator),
        answers=(
            *_way_answers(report, translator),
            *_part_answers(report, translator),
            *_answers(report, translator),
        ),
        rows=tuple(rows),
        more=""
        if left <= 0
        else translator.n_(
            "One more thing to know stands below.", "{n} more things to know stand below.", left
        ),
    )


def shown_findings(report: Report) -> tuple[Finding, ...]:
    """All that forbids, the worst dangers, and some care where these leave room for it."""
    verdict = report.verdict
    dangers = verdict.of(Rank.DANGER)[:_MOST_LANES]
    cares = verdict.of(Rank.CARE)[: min(_MOST_CARES, _MOST_LANES - len(dangers))]
    return (*verdict.forbidden, *dangers, *cares)


def _rows(
    report: Report, shown: tuple[Finding, ...], translator: Translator, audience: Audience
) -> list[FindingRow]:
    length_m, made, last = report.assessed.match.length_m, [], None
    for number, item in enumerate(shown, start=1):
        made.append(
            FindingRow(
                key=f"f{number}",
                kind=item.rank.value,
                rank=translator._(RANK_TERMS[item.rank]),
                first=item.rank is not last,
                what=translator.translate(item.what).rstrip(".") + ".",
                do=" ".join(
                    words
                    for said in (item.why, item.do.to(audience))
                    if (words := translator.translate(said))
                ),
                strip=_strip(item.parts, length_m, item.rank.value, translator),
                whole="" if item.parts else translator._("the whole ride"),
                spans=_spans(item.parts, length_m),
                where=finding_place(item, translator),
            )
        )
        last = item.rank
    return made


def _unknown_rows(report: Report, translator: Translator) -> list[FindingRow]:
    length_m, rows = report.assessed.match.length_m, []
    for number, item in enumerate(split_gaps(report)[0], start=1):
        # What is about no part of the ride has no strip: that it is empty means nothing.
        strip = _strip(item.parts, length_m, "unknown", translator) if item.parts else Markup("")
        rows.append(
            FindingRow(
                key=f"u{number}", kind="unknown", rank=translator._("not known"),
                first=number == 1, what="", do=translator.translate(item.why), strip=strip,
                whole="", spans=_spans(item.parts, length_m), where="",
            )
        )  # fmt: skip
    return rows


def _round_rows(report: Report, translator: Translator) -> list[FindingRow]:
    """A way round by road that decides the ride, else one round a part of what is against it."""
    length_m, rows = report.assessed.match.length_m, []
    for way in told_detours(report, translator, most=1).ways:
        parts = (RidePart(from_m=way.from_m, to_m=way.to_m),)
        rows.append(
            FindingRow(
                key="w1", kind="note", rank=translator._("another way round"), first=True, what="",
                do=translator.translate(way.words),
                strip=_strip(parts, length_m, "note", translator), whole="",
                spans=_spans(parts, length_m), where="",
            )
        )  # fmt: skip
    return rows


def _open_rows(report: Report, translator: Translator) -> list[FindingRow]:
    """Where the part lies that the answer hangs on."""
    verdict, length_m = report.verdict, report.assessed.match.length_m
    if verdict.answer is not SetupChoice.ASK:
        return []
    deciding = [x for x in report.assessed.advice.questions if x.code in DECIDING]
    spans: list[tuple[float, float]] = []
    for item in deciding:
        # After other questions, which way is ridden is no place by itself.
        way = item.code in ABOUT_WAY and item is not deciding[0]
        if not way:
            spans += item.places
    parts = tuple(RidePart(from_m=a, to_m=b) for a, b in joined_spans(spans))
    if not parts:
        return []
    return [
        FindingRow(
            key="a1", kind="unknown", rank=translator._("open"), first=True,
            what=translator._("The answer hangs here."),
            do=", ".join(translator.km_range(p.from_m, p.to_m) for p in parts) + ".",
            strip=_strip(parts, length_m, "unknown", translator), whole="",
            spans=_spans(parts, length_m), where="",
        )
    ]  # fmt: skip


def split_gaps(report: Report) -> tuple[tuple[Unknown, ...], tuple[Unknown, ...]]:
    """What is not known and no finding says already: what stands first, and the rest.

    What is about a small part of the ride's mapped roads is no word for the first screen.
    """
    said = {str(item.what) for item in report.verdict.findings}
    gaps = [gap for gap in report.verdict.unknown if str(gap.why) not in said]
    least_m = _SMALL * report.assessed.match.length_m
    shown = [
        gap
        for gap in gaps
        if gap.length_m is None or gap.length_m >= least_m or gap.key == "match.unmapped_m"
    ][:_MOST_UNKNOWN]
    return tuple(shown), tuple(gap for gap in gaps if gap not in shown)


def _spans(parts: tuple[RidePart, ...], length_m: float) -> tuple[tuple[float, float], ...]:
    """Parts as shares of the way along, 0..1."""
    if length_m <= 0:
        return ()
    return tuple((p.from_m / length_m, p.to_m / length_m) for p in parts)


def _strip(
    parts: tuple[RidePart, ...], length_m: float, kind: str, translator: Translator
) -> Markup:
    """The places of a finding on the ride's axis, at least as wide as can be seen.

    What is about no part is about the whole ride: a line between two ends, and the words.
    """
    drawn = [tag("line", class_="base", x1=0, x2="100%", y1=12, y2=12)]
    if not parts or length_m <= 0:
        drawn = [
            tag("line", class_=f"s-{kind}", x1=0, x2="100%", y1=12, y2=12),
            *(tag("line", class_=f"s-{kind}", x1=x, x2=x, y1=6, y2=18) for x in ("1", "99.9%")),
            tag("text", translator._("the whole ride"), class_="over whole", x="50%", y=16,
                text_anchor="middle"),
        ]  # fmt: skip
    for left, right in _spans(parts, length_m):
        wide = max(100.0 * (right - left), 0.8)
        at = min(100.0 * left, 100.0 - wide)
        drawn.append(
            Markup(
                f'<rect class="k-{kind}" x="{num(at)}%" y="4" width="{num(wide)}%" height="16"/>'
            )
        )
    return tag("svg", Markup("").join(drawn), class_="lane16", aria_hidden="true")


def _ends(report: Report) -> tuple[str, str]:
    places = report.assessed.places
    return places.near(0.0), places.near(report.assessed.match.length_m)


def _marks(length_m: float, translator: Translator) -> tuple[Mark, ...]:
    unit = translator.distance_unit_m
    length = length_m / unit
    if length <= 0:
        return ()
    step = nice_step(length, 6)
    marks = [Mark(share=0.0, text=f"{translator.distance_unit}\u00a00")]
    n = 1
    while n * step < length - 0.6 * step:
        marks.append(
            Mark(share=n * step / length, text=translator.number(n * step, 0 if step >= 1 else 1))
        )
        n += 1
    marks.append(Mark(share=1.0, text=translator.distance_number(length_m)))
    return tuple(marks)


def _way_answers(report: Report, translator: Translator) -> tuple[Answer, ...]:
    """What follows if the way between far-apart points is as guessed, and if it is another."""
    way = _about_way(report)
    if way is None:
        return ()
    _, guessed = translator._, translator.translate(dict(way.numbers)["as_guessed"])
    return (
        Answer(
            given=_("As we guessed it"),
            then=f"{guessed[:1].upper()}{guessed[1:]}.",
            # It is the headline already, unless something forbids.
            part=translator.translate(way.text) if report.verdict.forbidden else "",
        ),
        Answer(
            given=_("Another way"),
            then=_("Send the plan as a drawn track: it is judged anew."),
        ),
        Answer(given=_("I do not know"), then=_if_unsure(report, translator)),
    )


def _about_way(report: Report) -> AdviceItem | None:
    """The question which way is ridden, if the answer hangs on it."""
    if report.verdict.answer is not SetupChoice.ASK:
        return None
    first = next((x for x in report.assessed.advice.questions if x.code in DECIDING), None)
    return first if first is not None and first.code in ABOUT_WAY else None


def _part_answers(report: Report, translator: Translator) -> Iterator[Answer]:
    """No, yes, or not sure, to each question about a part; none if the answer hangs on none."""
    if report.verdict.answer is not SetupChoice.ASK:
        return
    asked = report.verdict.asked
    # The way decides the setup then; a part off tarmac matters if it is what is beyond the rider.
    if _about_way(report) is not None and not report.verdict.forbidden:
        asked = tuple(part for part in asked if part.code != "hard")
    asked = asked[:_MOST_ASKED]
    headline = translator.translate(report.verdict.worst)
    said = report.verdict.forbidden or report.assessed.answered
    marks = [(x, re.escape(translator.km_mark(x.from_m))) for x in report.verdict.asked]
    named = [x for x, mark in marks if re.search(rf"{mark}(?!\d|[.,]\d)", headline)]
    before: tuple[str, ...] = ()
    for part in asked:
        replies = _replies(part, report, translator)
        follows = tuple(then for _, _, then in replies)
        if follows == before:  # said once, after the last of the replies
            follows = ("", "", translator._("The same follows as above."))
        else:
            before = follows
        question = translator.translate(part.text)
        if part is asked[0] and not said and named == [part]:  # it stands right above
            question = ""
        for (reply, given, _then), then in zip(replies, follows, strict=True):
            yield Answer(
                given=given, then=then, part=question if reply is Reply.LEAVE else "",
                key=f"{part.sent_from_m:.0f}.{part.sent_to_m:.0f}.{reply.value}",
            )  # fmt: skip


def _replies(
    part: AskedPart, report: Report, translator: Translator
) -> tuple[tuple[Reply, str, str], ...]:
    """Each reply to the question of a part, in words, and what follows from it."""
    _ = translator._
    left = translator.translate(part.if_left) or _("We look for a way round, and judge it anew.")
    for flip in () if part.again else report.assessed.advice.setup.flips:  # all of it goes
        without = flip.said.code == "flip-skip" and flip.said.from_m == part.from_m
        if without and flip.said.to_m == part.to_m:
            left = f"{translator.translate(message(SETUP_ANSWER_TERMS[flip.then]))}. {left}"
    yes, unsure = (
        _("It is judged as it is drawn."),
        _if_unsure(report, translator),
    )
    if part.about_ground:
        yes = _("Tell us who knows it, and what the ground is.")
    elif part.code == "closed":
        yes = _("With written permission only: it stays closed in this report.")
        unsure = _("Then leave it out.")
    return (
        (Reply.LEAVE, _("Leave it out"), left),
        # "No" to whether anybody knows it is no wish to leave it out.
        (Reply.KEEP, _("Somebody knows it") if part.about_ground else _("Yes, ride it"), yes),
        (Reply.UNSURE, _("I do not know"), unsure),
    )


def _answers(report: Report, translator: Translator) -> tuple[Answer, ...]:
    """What follows from each answer to what else is open; none if nothing is."""
    open_ = report.verdict.answer is SetupChoice.ASK
    if not open_ or report.verdict.asked or _about_way(report) is not None:
        return ()
    setup = report.assessed.advice.setup
    rows = [
        Answer(
            given=translator.translate(flip.said.text),
            then=translator._(SETUP_NAME_TERMS[flip.then]),
        )
        for flip in setup.flips[:_MOST_ANSWERS]
        if flip.then is not SetupChoice.ASK
    ]
    if not rows:
        return ()
    unsure = _if_unsure(report, translator)
    return (*rows, Answer(given=translator._("If nobody knows."), then=unsure))


def _if_unsure(report: Report, translator: Translator) -> str:
    """What follows where nobody can say what the ground is."""
    if any(item.code == "ask-none" for item in report.assessed.advice.setup.reasons):
        return translator._("No bike that may go takes mixed tyres: settle it before you book.")
    return translator._("Mixed tyres, and a bike that can do either.")


def _cells(report: Report, translator: Translator, audience: Audience) -> tuple[Cell, ...]:
    return (
        _setup_cell(report, translator),
        _bike_cell(report, translator),
        _rider_cell(report, translator, audience),
        _saddle_cell(report, translator),
    )


def _setup_cell(report: Report, translator: Translator) -> Cell:
    verdict = report.verdict
    closed = any(item.kind is FindingKind.CLOSED for item in verdict.forbidden)
    notes = [translator.translate(verdict.certainty.text)]
    if verdict.decided:
        notes = [translator._("decided by the rental desk")]
    if verdict.tyres is not None:
        notes.append(translator._(TYRES_TERMS[verdict.tyres]))
    return Cell(
        label=translator._("Setup, if permitted") if closed else translator._("Setup"),
        value=translator._(SETUP_VALUE_TERMS[verdict.answer]),
        note=translator.in_a_row(note for note in notes if note),
    )


def _bike_cell(report: Report, translator: Translator) -> Cell:
    verdict, _ = report.verdict, translator._
    booked = verdict.booked
    if verdict.bike_title is None:
        none = any(item.kind is FindingKind.NO_BIKE for item in verdict.forbidden)
        value = _("none may go") if none else _("none for this rider")
    else:
        value = translator.translate_term(verdict.bike_title)
    note = ""
    if booked is not None:
        title = translator.translate_term(booked.title)
        if booked.bike == verdict.bike:
            note = _("as asked for")
        elif booked.fits is False:
            note = _("the {bike} asked for must not go", bike=title)
        else:
            note = _("asked for: {bike}", bike=title)
    return Cell(label=_("Bike"), value=value, note=note)


def _rider_cell(report: Report, translator: Translator, audience: Audience) -> Cell:
    _, verdict = translator._, report.verdict.rider
    rider = translator.translate_term(report.assessed.advice.rider.rider)
    off = verdict is RiderVerdict.WITHIN and much_off_map(report)
    note = _("as far as it is on the map") if off else ""
    if verdict is RiderVerdict.STRETCHING:
        note = {
            Audience.RIDER: _("know it before you go"),
            Audience.STAFF: _("say so before they book"),
            Audience.GUIDE: _("help where it is hardest"),
        }[audience]
    return Cell(
        label=_("For this rider ({rider})", rider=rider), value=_(FIT_TERMS[verdict]), note=note
    )


def _saddle_cell(report: Report, translator: Translator) -> Cell:
    _, riding = translator._, report.verdict.riding_s
    if riding is None:
        return Cell(label=_("In the saddle"), value=_("not known"), note="")
    best, low, high = map(translator.duration, riding)
    notes = [_("{low} to {high}", low=low, high=high)] if low != high else []
    days = report.assessed.plan.days
    if len(days) > 1:
        notes.append(translator.n_("{n} day", "{n} days", len(days)).replace(" ", "\u00a0"))
    elif days and report.assessed.trip.depart is not None:
        notes.append(_("done by about {time}", time=translator.hour(clock(days[-1].end_s))))
    return Cell(label=_("In the saddle"), value=best, note=translator.in_a_row(notes))
