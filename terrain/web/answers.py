"""Questions to a rider as the desk keeps them: asked, answered, and what the answer changed."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from terrain.errors import InputError
from terrain.text.catalogue import LANGUAGES
from terrain.text.message import message
from terrain.text.terms import REPLY_TERMS
from terrain.text.translator import translator_for
from terrain.values.answers import PartAnswer, Reply
from terrain.web import bookings, schema
from terrain.web.bookings import Standing, State
from terrain.web.database import add_row, change_rows
from terrain.web.jobs import add_job
from terrain.web.summary import Summary

RIDER = "rider"
_RIDING = (Reply.KEEP, Reply.LEAVE, Reply.UNSURE)
_GROUND = (Reply.PAVED, Reply.GRAVEL, Reply.TRACK, Reply.LEAVE, Reply.UNSURE)
_SAME = 0.95  # two parts that overlap by so much are the same one, asked again


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A part of one route to be answered about.

    from_m, to_m : on the route as it was sent; text, if_left : by language
    reply : what was answered last; "" if nothing was
    again : where the same road lies again, which an answer is about too
    """

    route_id: int
    route: str
    from_m: float
    to_m: float
    about_ground: bool
    text: Mapping[str, str]
    if_left: Mapping[str, str]
    reply: str
    again: tuple[tuple[float, float], ...] = ()

    @property
    def key(self) -> str:
        """Its field in a form."""
        return f"part.{self.route_id}.{self.from_m:.0f}.{self.to_m:.0f}"

    @property
    def choices(self) -> dict[str, str]:
        """What may be said of it, with the words."""
        allowed = _GROUND if self.about_ground else _RIDING
        return {reply.value: REPLY_TERMS[reply.value] for reply in allowed}

    @property
    def places(self) -> tuple[tuple[float, float], ...]:
        """From and to of each place that it is about."""
        return ((self.from_m, self.to_m), *self.again)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reckoned:
    """The verdict on one route before an answer and after it; after : "" while it is judged."""

    route: str
    before: str
    after: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """What was answered at once: questions with their replies, in a reader's language."""

    at: float
    who: str
    said: tuple[tuple[str, str], ...]
    verdicts: tuple[Reckoned, ...]


def questions_of(conn: Connection, rows: Sequence[Standing]) -> list[Question]:
    """What is asked of the present routes, what forbids first, then what was answered already, as
    it lies on the route: each part once."""
    given = _last_replies(conn, [row.route_id for row in rows])
    found: list[Question] = []
    for row in rows:
        mine = [item for item in given if item.route_id == row.route_id]
        asked = [_with_reply(item, mine) for item in _asked(row)]
        old = [item for item in mine if not any(_same(item, new) for new in asked)]
        names = row.name if len(rows) > 1 else ""
        told = (*asked, *sorted(old, key=lambda item: item.from_m))
        found += [replace(item, route=names) for item in told]
    return found


def _with_reply(item: Question, given: Sequence[Question]) -> Question:
    """What is asked again, in the words of now: the ride may lie elsewhere since."""
    return next((replace(item, reply=old.reply) for old in given if _same(item, old)), item)


def _asked(row: Standing) -> list[Question]:
    told = row.summary or Summary()
    spoken = {lang: told.told(lang).asked for lang in LANGUAGES}
    return [
        Question(
            route_id=row.route_id, route="", from_m=from_m, to_m=to_m, about_ground=about_ground,
            text={lang: asked[i].text for lang, asked in spoken.items()},
            if_left={lang: asked[i].if_left for lang, asked in spoken.items()},
            reply="", again=again,
        )
        for i, (from_m, to_m, about_ground, again) in enumerate(told.parts)
    ]  # fmt: skip


def _same(a: Question, b: Question) -> bool:
    both = min(a.to_m, b.to_m) - max(a.from_m, b.from_m)
    return both >= _SAME * max(a.to_m - a.from_m, b.to_m - b.from_m)


def _last_replies(conn: Connection, route_ids: Sequence[int]) -> list[Question]:
    """The last answer about each part, with all places that it was given about at once."""
    table = schema.answers
    query = sa.select(table).where(table.c.route_id.in_(list(route_ids))).order_by(table.c.id)
    found: list[Question] = []
    before = None
    for row in conn.execute(query):
        question = Question(
            route_id=row.route_id, route="", from_m=row.from_m, to_m=row.to_m,
            about_ground=row.about_ground, text=json.loads(row.question), if_left={},
            reply=row.reply,
        )  # fmt: skip
        found = [old for old in found if not _is_of(old, question)]
        asked = (row.route_id, row.at, row.question)
        if found and asked == before:
            found[-1] = replace(found[-1], again=(*found[-1].again, (row.from_m, row.to_m)))
        else:
            found.append(question)
        before = asked
    return found


def _is_of(old: Question, new: Question) -> bool:
    return old.route_id == new.route_id and _same(old, new)


def answers_of(conn: Connection, route_id: int) -> tuple[PartAnswer, ...]:
    """What counts now of all that was answered about a route."""
    return tuple(
        PartAnswer(from_m=from_m, to_m=to_m, reply=Reply(item.reply))
        for item in _last_replies(conn, [route_id])
        for from_m, to_m in item.places
    )


def keep_answers(
    conn: Connection,
    booking: Any,
    rows: Sequence[Standing],
    texts: Mapping[str, str],
    *,
    changed: bool,
    who: str,
    now: float,
) -> int:
    """Keep what a form answers where it is new, and have those routes judged anew.

    texts : the form's fields; changed : whether it changes the details of the trip, which the
        caller does; who : RIDER, or who of the desk entered it
    Returns how many answers are new. Of a form that was sent before nothing is kept again.
    Raises InputError if the form says nothing, or only of what is not asked (any more).
    """
    asked = [(item, texts.get(item.key, "")) for item in questions_of(conn, rows)]
    fresh = [(item, said) for item, said in asked if said in item.choices and said != item.reply]
    if not fresh and not changed:
        if any(said and said == item.reply for item, said in asked):
            return 0
        raise InputError(
            message("No answer was kept: none was chosen, or the route was changed since."), "",
            message("Choose an answer below, and send it."),
        )  # fmt: skip
    summaries = {row.route_id: row.summary or Summary() for row in rows}
    for item, reply in fresh:
        before = _verdicts(summaries[item.route_id])
        for from_m, to_m in item.places:
            add_row(
                conn, schema.answers, booking_id=booking.id, route_id=item.route_id, from_m=from_m,
                to_m=to_m, about_ground=item.about_ground, reply=reply, who=who, at=now,
                question=_json(item.text), before=_json(before), after=None,
            )  # fmt: skip
    for route_id in {item.route_id for item, _ in fresh}:
        add_job(conn, "report", now, route_id=route_id)
    settle(conn, booking.id, State.REPLIED, now)
    what = message("answered: {n}", n=str(len(fresh)))
    bookings.note_event(conn, who, what, now, booking.id)
    return len(fresh)


def _json(told: Mapping[str, str]) -> str:
    return json.dumps(dict(told), ensure_ascii=False)


def _verdicts(summary: Summary) -> dict[str, str]:
    return {lang: summary.told(lang).verdict for lang in LANGUAGES}


def judged_after(conn: Connection, route_id: int | None, summary: Summary) -> None:
    """Put the new verdict beside the answers that it was made with."""
    table = schema.answers
    change_rows(
        conn, table, table.c.route_id == route_id, table.c.after.is_(None),
        after=_json(_verdicts(summary)),
    )  # fmt: skip


def rounds_of(conn: Connection, rows: Sequence[Standing], lang: str) -> list[Round]:
    """All that was answered about the present routes, the last first, with the verdict before and
    after."""
    table, translator = schema.answers, translator_for(lang)
    names = {row.route_id: row.name for row in rows}
    query = sa.select(table).where(table.c.route_id.in_(list(names))).order_by(table.c.id.desc())
    found = []
    for (at, who), group in groupby(conn.execute(query), key=lambda row: (row.at, row.who)):
        items = list(group)[::-1]
        verdicts = {
            item.route_id: Reckoned(
                route=names[item.route_id] if len(names) > 1 else "",
                before=_told(item.before, lang), after=_told(item.after, lang),
            )
            for item in items
        }  # fmt: skip
        said = tuple(
            dict.fromkeys(
                (_told(item.question, lang), translator._(REPLY_TERMS[item.reply]))
                for item in items
            )
        )
        found.append(Round(at=at, who=who, said=said, verdicts=tuple(verdicts.values())))
    return found


def _told(text: str | None, lang: str) -> str:
    told: dict[str, str] = json.loads(text) if text else {}
    return told.get(lang) or told.get("en", "")


# -- open questions ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenQuestion:
    """A booking whose rider was asked and has not answered.

    days : whole days since; reminded_days : since the last reminder, None without one
    """

    booking: Any
    days: int
    reminded_days: int | None


def ask_rider(conn: Connection, booking_id: int, who: str, now: float) -> None:
    """The rider was asked; a question that is open already stays as old as it is."""
    table = schema.questions
    if conn.execute(_open(booking_id)).first() is None:
        add_row(conn, table, booking_id=booking_id, who=who, asked_at=now)


def remind_rider(conn: Connection, booking: Any, who: str, now: float) -> None:
    """The rider was reminded of the open question; nothing if none is open."""
    table = schema.questions
    mine = (table.c.booking_id == booking.id, table.c.closed_at.is_(None))
    if change_rows(conn, table, *mine, reminded_at=now):
        what = message("reminder sent to {to}", to=booking.email or "–")
        bookings.note_event(conn, who, what, now, booking.id)


def close_question(conn: Connection, booking_id: int, now: float) -> None:
    """It was answered, or needs no answer any more."""
    table = schema.questions
    change_rows(
        conn, table, table.c.booking_id == booking_id, table.c.closed_at.is_(None), closed_at=now
    )


def settle(conn: Connection, booking_id: int, state: State, now: float) -> None:
    """The booking came so far that its rider has nothing to answer."""
    close_question(conn, booking_id, now)
    change_rows(
        conn, schema.bookings, schema.bookings.c.id == booking_id, state=state.value, changed_at=now
    )


def follow_state(conn: Connection, booking_id: int, state: State, who: str, now: float) -> None:
    """Open or close the question as a person says how far the booking has come."""
    if state is State.ASKED:
        ask_rider(conn, booking_id, who, now)
    else:
        close_question(conn, booking_id, now)


def open_days(conn: Connection, booking_id: int, now: float) -> int | None:
    """Whole days since the rider was asked; None if nothing is open."""
    row = conn.execute(_open(booking_id)).first()
    return None if row is None else _days(row.asked_at, now)


def open_questions(conn: Connection, now: float, *, limit: int = 200) -> list[OpenQuestion]:
    """Bookings with an open question, the oldest first."""
    table = schema.questions
    query = (
        sa.select(schema.bookings, table.c.asked_at, table.c.reminded_at)
        .join(table, table.c.booking_id == schema.bookings.c.id)
        .where(table.c.closed_at.is_(None))
        .order_by(table.c.asked_at, table.c.id)
        .limit(limit)
    )
    return [
        OpenQuestion(
            booking=row, days=_days(row.asked_at, now),
            reminded_days=None if row.reminded_at is None else _days(row.reminded_at, now),
        )
        for row in conn.execute(query)
    ]  # fmt: skip


def _open(booking_id: int) -> sa.Select[Any]:
    table = schema.questions
    return sa.select(table.c.asked_at).where(
        table.c.booking_id == booking_id, table.c.closed_at.is_(None)
    )


def _days(since: float, now: float) -> int:
    return max(0, int((now - since) // 86400))
