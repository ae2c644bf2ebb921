"""The sheet for the tank bag: one A5 page a day; the day runs down it as on a phone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from terrain.report.diagram.diagram import day_about
from terrain.report.diagram.down import render_down
from terrain.report.diagram.plan import stop_words
from terrain.report.drawing.stills import still
from terrain.report.page.lead import finding_place
from terrain.report.page.page import map_credit
from terrain.report.paper.typeset import drawing, plain, typeset
from terrain.report.said import dangers_unsaid, finding_line, more_unsaid
from terrain.text.plain import plain_line, shortened
from terrain.text.translator import Translator
from terrain.values.advice import SetupChoice
from terrain.values.closed import ClosedPart, closed_m, closed_on
from terrain.values.plan import Day
from terrain.values.report import Report
from terrain.values.verdict import Audience, Finding, FindingKind, Rank, RidePart

_LONGEST_TITLE = 70
_MOST_KNOW = 3
_MOST_CLOSED = 6
# The page in px of 0.75 pt, letters of 12 px: rows are dropped, none is made smaller.
_WIDE, _TALL, _LINE, _LETTERS = 491.0, 705.0, 15.0, 84
_HEAD = 78.0
_STRIP = (180.0, 600.0)


def render_card(report: Report, translator: Translator) -> bytes:
    """A PDF with a page for each day of the plan: verdict, what to know, the ride running down.

    What forbids the ride stands on each day's page. Raises TerrainError if it cannot be set.
    """
    data = {
        "lang": translator.lang,
        "title": report.assessed.route.name,
        "credit": shortened(map_credit(report, translator), 160),
        "cards": [_card(day, report, translator) for day in report.assessed.plan.days or (None,)],
    }
    return typeset("card.typ", plain(data), report.made_at)


def _card(day: Day | None, report: Report, translator: Translator) -> dict[str, Any]:
    assessed = report.assessed
    from_m, to_m = (0.0, assessed.match.length_m) if day is None else (day.from_m, day.to_m)
    title = shortened(assessed.route.name, _LONGEST_TITLE)
    if day is not None and len(assessed.plan.days) > 1:
        title = f"{translator._('Day {n}', n=day.number)}: {title}"
    about = [translator.km_range(from_m, to_m), translator.distance(to_m - from_m)]
    if day is not None:
        about.append(day_about(day, translator))
    told = report.verdict
    # The question itself where one is open, not that one is.
    is_open = told.answer is SetupChoice.ASK and not told.forbidden
    verdict = translator.translate(told.worst if is_open else told.headline)
    closed = closed_lines(assessed.places.closed, from_m, to_m, translator)
    must: list[str] = []
    for item in told.forbidden:
        if item.kind is FindingKind.CLOSED:  # the verdict sums it; its places on this day are told
            must += closed
            closed = []
        else:
            must.append(_line(item, from_m, to_m, report, translator))
    must = [*closed, *must]
    room = _TALL - _STRIP[0] - _HEAD - sum(map(_height, [verdict, *must]))
    others = _others(from_m, to_m, report)
    know = _fitting([_line(item, from_m, to_m, report, translator) for item in others], room)
    more = len(others) - len(know)
    dangers = dangers_unsaid(others, others[: len(know)], translator)
    used = _HEAD + sum(map(_height, [verdict, *must, *know]))
    left = max(_TALL - used - 64, _STRIP[0])
    drawn = render_down(
        report, translator, span=(from_m, to_m), width=_WIDE,
        height=min(left, _STRIP[1]), deepest=left + 50,
    )  # fmt: skip
    return {
        "title": title,
        "verdict": verdict,
        "about": ", ".join(about),
        "drawings": [
            drawing(still(drawn), ", ".join([about[0], *_stops(day, report, translator)]))
        ],
        "know": [*must, *know],
        "more": dangers or more_unsaid(more, translator),
    }  # fmt: skip


def _line(item: Finding, from_m: float, to_m: float, report: Report, translator: Translator) -> str:
    """A finding in one line; of one that lies on other days too it is told where it is on this."""
    here = tuple(
        RidePart(from_m=max(part.from_m, from_m), to_m=min(part.to_m, to_m))
        for part in item.parts if _is_on(part, from_m, to_m)
    )  # fmt: skip
    longest = max(here, key=lambda part: part.length_m, default=None)
    if here == item.parts or longest is None:
        return finding_line(item, translator, Audience.GUIDE)
    place = report.assessed.places.near((longest.from_m + longest.to_m) / 2) or None
    where = finding_place(replace(item, parts=here, place=place), translator)
    told = (
        translator.translate(item.what),
        translator._("On this day: {where}.", where=where),
        translator.translate(item.why),
        translator.translate(item.do.to(Audience.GUIDE)),
    )
    return " ".join(filter(None, told))


def _is_on(part: RidePart, from_m: float, to_m: float) -> bool:
    """What ends or begins where the day does is of the day before or after."""
    point = from_m <= part.from_m == part.to_m <= to_m
    return point or (part.from_m < to_m and part.to_m > from_m)


def _height(line: str) -> float:
    """About how tall a sentence stands on the card [px]."""
    return _LINE * (1 + len(line) // _LETTERS) + 5


def _fitting(lines: list[str], room: float) -> list[str]:
    """As many of the gravest as there is room for."""
    kept: list[str] = []
    for line in lines[:_MOST_KNOW]:
        room -= _height(line)
        if room < 0:
            break
        kept.append(line)
    return kept


def closed_lines(
    closed: Sequence[ClosedPart], from_m: float, to_m: float, translator: Translator
) -> list[str]:
    """What of a day is closed by tag, in one line: all of it summed, its places named."""
    parts = closed_on(closed, from_m, to_m)
    if not parts:
        return []
    longest = sorted(parts, key=lambda part: part.from_m - part.to_m)[:_MOST_CLOSED]
    named = [
        f"{translator.km_range(part.from_m, part.to_m)} ({plain_line(part.tag)})"
        for part in sorted(longest, key=lambda part: part.from_m)
    ]
    if len(parts) > len(longest):
        named.append(translator.n_("one more", "{n} more", len(parts) - len(longest)))
    return [
        translator._(
            "Closed to motorcycles by tag, {length} in all: {places}. Signs and local law decide.",
            length=translator.distance(closed_m(parts)),
            places=translator.listing(named),
        )
    ]


def _others(from_m: float, to_m: float, report: Report) -> list[Finding]:
    """The dangers of the day and what asks for care, the gravest first."""
    return [
        item
        for item in report.verdict.of(Rank.DANGER, Rank.CARE)
        if not item.parts or any(_is_on(part, from_m, to_m) for part in item.parts)
    ]


def _stops(day: Day | None, report: Report, translator: Translator) -> list[str]:
    """The stops of the day in words, for who hears the card."""
    return [
        f"{translator.km_mark(stop.at_m)} {stop_words(stop, translator)}"
        for stop in report.assessed.plan.stops
        if day is None or stop.day == day.number
    ]
