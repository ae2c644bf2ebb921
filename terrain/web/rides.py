"""Recorded rides sent to the desk: read, thrown away, and learned from.

A recording shows where a person was and when. Once it is read, what is kept are times and counts
by way, without stops; the recording goes at once unless the operator keeps it on purpose.
"""

from __future__ import annotations

import json
import time
import zipfile
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from terrain.errors import TerrainError
from terrain.text.translator import translator_for
from terrain.values.ground import GroundKind
from terrain.values.learned import Learned, Statement
from terrain.values.rentals import Failure
from terrain.web import schema
from terrain.web.bookings import Sent, Standing, current_routes
from terrain.web.database import Database, add_row, change_rows
from terrain.web.jobs import WAITING, add_job
from terrain.web.judged import stored_hindsight
from terrain.web.settings import WebSettings
from terrain.web.summary import Told
from terrain.web.trips import Booked, booked_from, trip_of
from terrain.web.work import fleet_of, pack, unpack

if TYPE_CHECKING:
    from terrain.region.region import Region
    from terrain.values.ridden import Ridden
    from terrain.values.route import Route

SHUT, NOT_RIDDEN = "shut", "not"
_GROUNDS = {kind.value: kind for kind in (GroundKind.PAVED, GroundKind.GRAVEL, GroundKind.TRACK)}
SAID = (*_GROUNDS, SHUT, NOT_RIDDEN)


def add_rides(conn: Connection, booking_id: int, sent: Sequence[Sent], now: float) -> None:
    """Keep recordings until they are read; each file is one ride."""
    for item in sent:
        made = add_row(
            conn, schema.rides, booking_id=booking_id, name=item.name[:120] or "ride",
            content=item.content, sent_at=now,
        )  # fmt: skip
        add_job(conn, "ride", now, report_id=made)


@dataclass(frozen=True, slots=True, kw_only=True)
class SentRide:
    """A ride as a page shows it. state : waiting, read or failed; fault : as it was stored"""

    id: int
    name: str
    sent_at: float
    state: str
    fault: str


def rides_of(conn: Connection, booking_id: int) -> list[SentRide]:
    """The rides of a booking, the first sent first."""
    table = schema.rides
    query = sa.select(table.c.id, table.c.name, table.c.sent_at, table.c.read_at, table.c.fault)
    rows = conn.execute(query.where(table.c.booking_id == booking_id).order_by(table.c.id))
    return [
        SentRide(
            id=row.id, name=row.name, sent_at=row.sent_at, fault=row.fault,
            state="failed" if row.fault else "waiting" if row.read_at is None else "read",
        )
        for row in rows
    ]  # fmt: skip


def page_of(conn: Connection, booking_id: int, ride_id: int) -> bytes | None:
    """The page of a ride that was read: plan and ride, drawn."""
    table = schema.rides
    mine = sa.and_(table.c.id == ride_id, table.c.booking_id == booking_id)
    found = conn.execute(sa.select(table.c.page).where(mine)).scalar()
    return None if found is None else unpack(bytes(found))


def read(db: Database, settings: WebSettings, ride_id: int) -> None:
    """Read a recording against the map and its plan; keep what may be kept, and have it learned.

    Raises TerrainError for a recording that cannot be used.
    """
    with db.read() as conn:
        row = conn.execute(sa.select(schema.rides).where(schema.rides.c.id == ride_id)).first()
        if row is None or row.content is None or row.booking_id is None:
            return
        booking = conn.execute(
            sa.select(schema.bookings).where(schema.bookings.c.id == row.booking_id)
        ).one()
        plans = [
            conn.execute(
                sa.select(schema.routes.c.name, schema.routes.c.content).where(
                    schema.routes.c.id == route.id
                )
            ).one()
            for route in current_routes(conn, row.booking_id)
        ]
    told = booked_from(dict(booking._mapping))
    found = _against(settings, row, plans, told)
    from terrain.report.data.jsonfile import json_bytes
    from terrain.report.ride.page import render_ride

    page = render_ride(found, translator_for(booking.lang, booking.units))
    # Where somebody stood, and when, is nobody's business once the page is drawn.
    facts = json_bytes(replace(found, stops=(), name=f"ride {ride_id}").to_dict())
    now = time.time()
    with db.write() as conn:
        change_rows(
            conn, schema.rides, schema.rides.c.id == ride_id, ridden=pack(facts),
            page=pack(page.encode()), read_at=now, fault="",
            **{} if settings.keep_tracks_days else {"content": None},
        )  # fmt: skip
        ask_to_learn(conn, now)


def _against(settings: WebSettings, row: Any, plans: Sequence[Any], booking: Booked) -> Ridden:
    """The recording read, against the plan that it follows most of, if it follows one."""
    from terrain import flow, rides
    from terrain.inputs.lines import parse_route
    from terrain.inputs.tracks import parse_track

    track = parse_track(bytes(row.content), row.name)
    if settings.region:
        region = flow.open_region(settings.region, settings.home)
    else:
        region = flow.find_region(rides.line_of(track), settings.home)
    fleet = fleet_of(settings)
    trip = trip_of(booking, booking.first, fleet)
    follows: Route | None = None
    most_m = 0.0
    for plan in plans:
        try:
            route = parse_route(bytes(plan.content), plan.name)
            followed = rides.ridden(track, region, route, trip, fleet, help_asked=False).plan
        except TerrainError:
            continue  # a plan of another day, or one that cannot be read: told without
        if followed is not None and followed.length_m - followed.missed_m > most_m:
            follows, most_m = route, followed.length_m - followed.missed_m
    return rides.ridden(track, region, follows, trip, fleet)


def failed(db: Database, ride_id: int, fault: str) -> None:
    """Say why a recording cannot be used; it is thrown away, too."""
    with db.write() as conn:
        change_rows(
            conn, schema.rides, schema.rides.c.id == ride_id, fault=fault, content=None,
            read_at=time.time(),
        )  # fmt: skip


# -- what is learned -----------------------------------------------------------------------------


def ask_to_learn(conn: Connection, now: float) -> None:
    """Have all rides and statements learned from again, once however many wait."""
    table = schema.jobs
    waits = sa.select(table.c.id).where(table.c.kind == "learn", table.c.state == WAITING)
    if conn.execute(waits).first() is None:
        add_job(conn, "learn", now)


def learn(db: Database, settings: WebSettings) -> None:
    """Learn times and ground from all that was ridden and said, and keep it for later reports."""
    from terrain.inputs.learned.write import learned_text
    from terrain.inputs.ridden import parse_ridden
    from terrain.stages.ridden.learning.ground import learn_ground
    from terrain.stages.ridden.learning.hindsight import judge_hindsight
    from terrain.stages.ridden.learning.pace_evidence import learn_from_pace
    from terrain.stages.ridden.learning.times import learn_times, lesson_of

    with db.read() as conn:
        table = schema.rides
        kept = sa.select(table.c.id, table.c.ridden).where(table.c.ridden.is_not(None))
        rows = conn.execute(kept.order_by(table.c.id)).all()
        said = _statements(conn)
    found = [parse_ridden(unpack(bytes(row.ridden)), f"ride {row.id}") for row in rows]
    map_p = _map_ground(settings, said)
    ways, witnesses = learn_ground(said, map_p)
    told = Learned(
        times=learn_times([lesson_of(ride) for ride in found]),
        ways=ways, witnesses=witnesses, paced=learn_from_pace(found).ways,
    )  # fmt: skip
    judged = judge_hindsight(
        found, statements=said, witnesses=witnesses, map_p=map_p, times=told.times
    )
    body = learned_text(told) if told.times is not None or told.ways else ""
    with db.write() as conn:
        conn.execute(schema.learned.delete())
        if found or said:
            add_row(
                conn, schema.learned, id=1, body=body, judged=stored_hindsight(judged),
                made_at=time.time(),
            )  # fmt: skip


def learned_text_of(conn: Connection) -> str:
    """What rides taught, as TOML; "" if nothing."""
    return str(conn.execute(sa.select(schema.learned.c.body)).scalar() or "")


def _statements(conn: Connection) -> list[Statement]:
    """What was said, without what was not ridden; of one person the last word on a way counts."""
    last: dict[tuple[int, str], Statement] = {}
    for row in conn.execute(sa.select(schema.statements).order_by(schema.statements.c.id)):
        key = (row.way_id, row.who)
        last.pop(key, None)
        if row.said != NOT_RIDDEN:
            last[key] = Statement(
                way_id=row.way_id, who=row.who, day=date.fromisoformat(row.day),
                ground=_GROUNDS.get(row.said), shut=row.said == SHUT,
            )  # fmt: skip
    return list(last.values())


def _map_ground(
    settings: WebSettings, said: Sequence[Statement]
) -> dict[int, tuple[float, float, float]]:
    """What the maps alone have of the ways told of."""
    from terrain import rides

    found: dict[int, tuple[float, float, float]] = {}
    for region in regions_of(settings) if said else ():
        found |= rides.map_ground(region, said)
    return found


def regions_of(settings: WebSettings) -> Iterator[Region]:
    """The regions that the desk reads routes on; a damaged one is passed over."""
    from terrain import flow
    from terrain.region.region import region_folders

    names = [settings.region] if settings.region else region_folders(settings.home)
    for name in names:
        try:
            yield flow.open_region(name, settings.home)
        except TerrainError:
            continue


def failures_of(conn: Connection) -> list[Failure]:
    """What broke on rentals by class, most often first; as it was first spelled."""
    table = schema.incidents
    told = sa.select(table.c.bike, table.c.failed).where(table.c.failed != "")
    counts: Counter[tuple[str, str]] = Counter()
    spelled: dict[str, str] = {}
    for bike, part in conn.execute(told.order_by(table.c.id)):
        counts[bike, spelled.setdefault(part.casefold(), part)] += 1
    rows = sorted(counts.items(), key=lambda row: (row[0][0], -row[1], row[0][1]))
    return [Failure(bike=bike, part=part, n=n) for (bike, part), n in rows]


# -- after the ride ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class AfterQuestion:
    """A part to say of what it was. said : what was said of it last, "" if nothing"""

    key: str
    text: str
    way_ids: tuple[int, ...]
    said: str


def after_questions(
    conn: Connection, booking_id: int, rows: Sequence[Standing], lang: str
) -> list[AfterQuestion]:
    """The parts of the present routes whose ground was an estimate."""
    table = schema.statements
    mine = sa.select(table.c.way_id, table.c.said).where(table.c.booking_id == booking_id)
    said = {row.way_id: row.said for row in conn.execute(mine.order_by(table.c.id))}
    found: list[AfterQuestion] = []
    for row in rows:
        told = row.told(lang) or Told()
        for n, (ways, text) in enumerate(zip(told.after, told.after_said, strict=False)):
            found.append(
                AfterQuestion(
                    key=f"way.{row.route_id}.{n}", text=text, way_ids=ways,
                    said=said.get(ways[0], "") if ways else "",
                )
            )  # fmt: skip
    return found


def keep_said(
    conn: Connection,
    booking: Any,
    questions: Sequence[AfterQuestion],
    texts: Mapping[str, str],
    now: float,
) -> int:
    """Keep what a rider says of the parts; returns how many are new."""
    day = _day_of(booking, now)
    fresh = [
        (item, texts[item.key])
        for item in questions
        if texts.get(item.key) in SAID and texts[item.key] != item.said
    ]
    for item, word in fresh:
        for way_id in item.way_ids:
            add_row(
                conn, schema.statements, booking_id=booking.id, way_id=way_id, said=word,
                who=f"rider {booking.id}", day=day, at=now,
            )  # fmt: skip
    if fresh:
        ask_to_learn(conn, now)
    return len(fresh)


def _day_of(booking: Any, now: float) -> str:
    """The last day of the ride if it is over, else today."""
    today = time.strftime("%Y-%m-%d", time.gmtime(now))
    told = str(booking.ends_on or booking.starts_on)
    return min(told, today) if told else today


def forget_rides(conn: Connection, booking_id: int) -> None:
    """Delete a person's rides and statements, and have what is left learned from again."""
    gone = 0
    for table in (schema.rides, schema.statements):
        gone += conn.execute(table.delete().where(table.c.booking_id == booking_id)).rowcount
    if gone:
        ask_to_learn(conn, time.time())


def forget_whose(conn: Connection, booking_id: int) -> None:
    """Leave counts and times by way that name nobody: of a booking whose time is over."""
    change_rows(
        conn, schema.rides, schema.rides.c.booking_id == booking_id, booking_id=None, name="ride",
        content=None, page=None,
    )  # fmt: skip
    change_rows(
        conn, schema.statements, schema.statements.c.booking_id == booking_id, booking_id=None
    )


def forget_tracks(conn: Connection, keep_tracks_days: int, now: float) -> None:
    """Delete recordings kept on purpose once their time is over."""
    table = schema.rides
    old = sa.and_(table.c.read_at < now - keep_tracks_days * 86400.0, table.c.content.is_not(None))
    change_rows(conn, table, old, content=None)


def exported(conn: Connection, booking_id: int, archive: zipfile.ZipFile) -> dict[str, Any]:
    """What is kept of a person's rides, of what was said and what failed, for who asks for it.

    archive : takes recordings that are kept on purpose, and the drawn pages
    """

    def mine(table: sa.Table) -> Any:
        return conn.execute(
            sa.select(table).where(table.c.booking_id == booking_id).order_by(table.c.id)
        )

    rides = []
    for row in mine(schema.rides):
        if row.content is not None:
            archive.writestr(f"ride-{row.id}.recording", bytes(row.content))
        if row.page is not None:
            archive.writestr(f"ride-{row.id}.html", unpack(bytes(row.page)))
        ridden = None if row.ridden is None else json.loads(unpack(bytes(row.ridden)))
        rides.append({"id": row.id, "name": row.name, "sent": row.sent_at, "ridden": ridden})
    return {
        "rides": rides,
        "said": [
            {"way_id": row.way_id, "said": row.said, "day": row.day}
            for row in mine(schema.statements)
        ],
        "incidents": [
            {
                "at": row.at, "bike": row.bike, "failed": row.failed, "at_km": row.at_km,
                "ended_trip": row.ended_trip,
            }
            for row in mine(schema.incidents)
        ],
    }  # fmt: skip
