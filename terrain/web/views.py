"""What the booking's page and the table of bookings show of a booking: the answer, what is open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from typing import Any

from markupsafe import Markup

from terrain.report.desk.strip import TALL_PX, draw_scale, draw_strip
from terrain.text.catalogue import N_
from terrain.text.translator import Translator
from terrain.values.advice import SetupChoice
from terrain.values.strip import Strip
from terrain.web.bookings import Standing, State
from terrain.web.summary import Told


class Answer(StrEnum):
    """How one route stands against its booking."""

    NO_REPORT = "no-report"
    FORBIDDEN = "forbidden"
    OPEN = "open"
    YES = "yes"


class Decider(StrEnum):
    """Who has to decide what is open."""

    RIDER = "rider"
    DESK = "desk"


DECIDER_WORDS = {
    Decider.RIDER: N_("The rider decides."), Decider.DESK: N_("The desk decides."),
}  # fmt: skip
DECIDER_TURN = {Decider.RIDER: N_("the rider"), Decider.DESK: N_("the desk")}


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenItem:
    """One thing that is not settled: what, who decides it, and where that is done.

    path : of the page that leads on, within the booking; act : what the link says
    route : name of the route it is about
    """

    what: str
    who: Decider
    path: str = ""
    act: str = ""
    route: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteView:
    """One route of a booking: its standing, its words, its strip on the booking's one scale."""

    row: Standing
    told: Told
    answer: Answer
    strip: Markup


@dataclass(frozen=True, slots=True, kw_only=True)
class BookingView:
    """A booking as pages show it. scale : kilometres below the strips; keys : words for marks"""

    answer: str
    working: bool
    routes: tuple[RouteView, ...]
    scale: Markup
    keys: tuple[str, ...]
    open: tuple[OpenItem, ...]


def booking_view(
    booking: Any,
    rows: Sequence[Standing],
    translator: Translator,
    *,
    longest_m: float | None = None,
    tall_px: float = TALL_PX,
) -> BookingView:
    """The booking's answer over all of its routes, each route, and what is open.

    longest_m : the ride that takes a strip's whole width; the longest of the booking if None
    tall_px : of a strip's ground
    """
    strips = [None if row.summary is None else row.summary.strip for row in rows]
    longest_m = longest_of(rows) if longest_m is None else longest_m
    routes = tuple(
        RouteView(
            row=row,
            told=row.told(translator.lang) or Told(),
            answer=answer_of(row),
            strip=Markup("")
            if strip is None
            else draw_strip(strip, longest_m, translator, name=row.name, tall_px=tall_px),
        )
        for row, strip in zip(rows, strips, strict=True)
    )
    return BookingView(
        answer=answer_over(routes, translator),
        working=any(row.working for row in rows),
        routes=routes,
        scale=draw_scale(longest_m, translator) if longest_m else Markup(""),
        keys=_keys([x for x in strips if x is not None], translator),
        open=open_items(booking, routes, translator),
    )


def longest_of(rows: Sequence[Standing]) -> float:
    """The length of the longest ride that has been read [m]; 0 if none has."""
    return max((row.summary.length_m for row in rows if row.summary), default=0.0)


def _keys(strips: Sequence[Strip], translator: Translator) -> tuple[str, ...]:
    """What the marks beside the ground mean, those only that are drawn."""
    _ = translator._
    found = (
        (_("bar above: closed"), any(x.closed for x in strips)),
        (_("bar below: hard ground"), any(x.hard for x in strips)),
        (_("upright: night"), any(x.nights_m for x in strips)),
    )
    return tuple(word for word, drawn in found if drawn)


def answer_of(row: Standing) -> Answer:
    """How a route stands; a decision of the desk settles a question, it lifts no ban."""
    told = row.summary
    if told is None:
        return Answer.NO_REPORT
    if told.forbidden:
        return Answer.FORBIDDEN
    return Answer.OPEN if told.setup == SetupChoice.ASK.value else Answer.YES


def answer_over(routes: Sequence[RouteView], translator: Translator) -> str:
    """One sentence over all routes; the verdict itself where there is but one."""
    _, n = translator._, len(routes)
    if not routes:
        return _("No route yet.")
    read = [x for x in routes if x.answer is not Answer.NO_REPORT]
    if not read:
        if any(x.row.working for x in routes):
            return translator.n_("The route is being read.", "{n} routes are being read.", n)
        return translator.n_("The route cannot be read.", "None of {n} routes can be read.", n)
    if n == 1:
        return routes[0].told.verdict
    good = [x for x in read if x.answer is Answer.YES]
    open_ = [x for x in read if x.answer is Answer.OPEN]
    if len(good) == n:
        return _all_good(good, translator)
    if not good and not open_ and len(read) == n:
        if n == 2:
            return _("Neither route can be ridden as booked.")
        return _("None of the {n} routes can be ridden as booked.", n=n)
    parts = [
        _("One of {n} routes can be ridden as booked.", n=n)
        if len(good) == 1
        else _("{good} of {n} routes can be ridden as booked.", good=len(good), n=n)
    ]
    if open_:
        names = translator.listing([x.told.route for x in open_])
        parts.append(_("A question is open for {names}.", names=names))
    return " ".join(parts)


def _all_good(routes: Sequence[RouteView], translator: Translator) -> str:
    _, n = translator._, len(routes)
    setups = {x.told.setup for x in routes}
    told = (
        _("Both routes can be ridden as booked.")
        if n == 2
        else _("All {n} routes can be ridden as booked.", n=n)
    )
    if setups == {SetupChoice.ROAD.value}:
        return f"{told} {_('Road setup.')}"
    if setups == {SetupChoice.OFF_ROAD.value}:
        return f"{told} {_('Off-road setup.')}"
    return f"{told} {_('The setup differs.')}"


def open_items(
    booking: Any, routes: Sequence[RouteView], translator: Translator
) -> tuple[OpenItem, ...]:
    """What is not settled, the desk's own first; nothing once the booking is settled."""
    if booking.state == State.SETTLED.value:
        return ()
    _ = translator._
    if not routes:
        return (OpenItem(what=_("A route is needed."), who=Decider.RIDER),)
    found: list[OpenItem] = []
    for x in routes:
        found += _open_of(x, translator)
    by_what: dict[tuple[Decider, str], list[OpenItem]] = {}
    for item in found:
        by_what.setdefault((item.who, item.what), []).append(item)
    merged = [_named(same, len(routes), translator) for same in by_what.values()]
    return tuple(sorted(merged, key=lambda item: item.who is Decider.RIDER))


def _named(same: Sequence[OpenItem], n: int, translator: Translator) -> OpenItem:
    """What is open alike for some of n routes, with their names unless it is for all."""
    first = same[0]
    if len(same) == n:
        return first
    names = translator.listing([item.route for item in same])
    return replace(first, what=translator._("{route}: {what}", route=names, what=first.what))


def _open_of(x: RouteView, translator: Translator) -> list[OpenItem]:
    _, row, told = translator._, x.row, x.told
    mail, ruling = f"mail/{row.route_id}", f"?open={row.route_id}#ruling-{row.route_id}"
    name = told.route or row.name
    if row.state == "failed":
        return [OpenItem(what=row.fault_in(translator.lang), who=Decider.DESK, route=name)]
    if x.answer is Answer.NO_REPORT:
        return []
    found = []
    if row.differs:
        found.append(
            OpenItem(
                what=told.booked or told.mismatch, who=Decider.DESK, path=ruling,
                act=_("decide otherwise"), route=name,
            )
        )  # fmt: skip
    ask = ""
    if x.answer is Answer.FORBIDDEN:
        ask = told.works[0] if told.works else told.verdict
    elif x.answer is Answer.OPEN:
        ask = told.ask or told.lead
    if ask:
        found.append(
            OpenItem(what=ask, who=Decider.RIDER, path=mail, act=_("ask by mail"), route=name)
        )
    return found


def trip_days(starts_on: str, ends_on: str, translator: Translator) -> str:
    """The days of a trip: "10 to 12 July 2027"; "" without a date."""
    if not starts_on:
        return ""
    first = date.fromisoformat(starts_on)
    last = date.fromisoformat(ends_on) if ends_on else first
    if last <= first:
        return translator.day(first)
    told = translator.day(last)
    start = translator.day(first)
    if (first.month, first.year) == (last.month, last.year):
        start = start.split()[0]  # the day alone, as the language writes it: "1er", "1º", "1."
    return translator._("{first} to {last}", first=start, last=told)
