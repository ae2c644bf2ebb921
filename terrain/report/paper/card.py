"""The road card: one A5 page a day, for the tank bag."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from terrain.report.diagram.diagram import day_about, render_days
from terrain.report.diagram.plan import stop_name
from terrain.report.drawing.scale import DiagramRow
from terrain.report.drawing.stills import still
from terrain.report.page.help import exit_lines, more_exits
from terrain.report.page.page import map_credit
from terrain.report.paper.typeset import drawing, plain, typeset
from terrain.report.said import finding_line
from terrain.text.plain import plain_line, shortened
from terrain.text.terms import STOP_TERMS
from terrain.text.translator import Translator
from terrain.values.closed import ClosedPart, closed_m, closed_on
from terrain.values.plan import Day, Stop, StopKind, clock
from terrain.values.report import Report
from terrain.values.verdict import Audience, Rank

_ROW_PX = 460.0
_LONGEST_TITLE = 70
_MOST_KNOW = 4
_MOST_CLOSED = 6
_MOST_STOPS = 12
_MOST_EXITS = 4


def render_card(report: Report, translator: Translator) -> bytes:
    """A PDF with a page for each day of the plan: verdict, diagram, dangers, stops, ways out.

    What forbids the ride stands on each day's page. Raises TerrainError if it cannot be set.
    """
    _ = translator._
    data = {
        "lang": translator.lang,
        "title": report.assessed.route.name,
        "credit": shortened(map_credit(report, translator), 160),
        "know_title": _("To know"),
        "stops_title": _("Stops"),
        "stops_head": [_("When"), _("At"), _("For"), _("Place")],
        "exits_title": _("Ways out of the unpaved parts"),
        "cards": [_card(day, report, translator) for day in report.assessed.plan.days or (None,)],
    }
    return typeset("card.typ", plain(data), report.made_at)


def _card(day: Day | None, report: Report, translator: Translator) -> dict[str, Any]:
    assessed = report.assessed
    from_m, to_m = (0.0, assessed.match.length_m) if day is None else (day.from_m, day.to_m)
    row = DiagramRow(from_m=from_m, to_m=to_m, px_per_m=_ROW_PX / max(to_m - from_m, 1.0), day=day)
    (drawn,) = render_days(report, translator, rows=[row])
    inside = [s for s in assessed.plan.stops if day is None or s.day == day.number]
    kept = _most_needed(inside)
    exits, more = exit_lines(report, translator, from_m, to_m, _MOST_EXITS)
    title = shortened(assessed.route.name, _LONGEST_TITLE)
    if day is not None and len(assessed.plan.days) > 1:
        title = f"{translator._('Day {n}', n=day.number)}: {title}"
    about = [drawn.span, translator.distance(to_m - from_m)]
    if day is not None:
        about.append(day_about(day, translator))
    return {
        "title": title,
        "verdict": translator.translate(report.verdict.headline),
        "about": ", ".join(about),
        "drawings": [drawing(still(drawn.svg), drawn.span)],
        "know": [
            *closed_lines(assessed.places.closed, from_m, to_m, translator),
            *_know(from_m, to_m, report, translator),
        ],
        "stops": [_stop(stop, translator) for stop in kept],
        "more_stops": _more_stops(len(inside) - len(kept), translator),
        "exits": exits,
        "more_exits": more_exits(more, translator) if more else "",
    }


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


def _know(from_m: float, to_m: float, report: Report, translator: Translator) -> list[str]:
    """All that forbids, and the gravest others of the day."""
    verdict = report.verdict
    here = [
        item
        for item in verdict.of(Rank.DANGER, Rank.CARE)
        if not item.parts or any(p.from_m <= to_m and p.to_m >= from_m for p in item.parts)
    ]
    return [
        finding_line(item, translator, Audience.GUIDE)
        for item in (*verdict.forbidden, *here[:_MOST_KNOW])
    ]


def _most_needed(stops: list[Stop]) -> list[Stop]:
    """As many stops as a card has room for, in riding order: those for the van alone go first."""
    by_need = sorted(stops, key=lambda stop: stop.kinds == (StopKind.VAN,))
    return sorted(by_need[:_MOST_STOPS], key=lambda stop: stop.at_m)


def _more_stops(n: int, translator: Translator) -> str:
    if n <= 0:
        return ""
    return translator.n_(
        "One more stop stands in the HTML report.", "{n} more stops stand in the HTML report.", n
    )


def _stop(stop: Stop, translator: Translator) -> list[str]:
    kinds = ", ".join(translator._(STOP_TERMS[kind]) for kind in stop.kinds)
    return [
        translator.hour(clock(stop.arrive_s)), translator.km_mark(stop.at_m), kinds,
        stop_name(stop, translator),
    ]  # fmt: skip
