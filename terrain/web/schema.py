"""The tables. Times are seconds since 1970 (UTC), dates ISO texts, secrets only as hashes."""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
    false,
    text,
)

VERSION = 12
metadata = MetaData()

#: What makes the tables of one format into those of the next: (table, column) that came new.
NEW_COLUMNS: dict[int, tuple[tuple[str, str], ...]] = {
    1: (("bookings", "guided"),),
    2: (("users", "lang"),),
    3: (("reports", "draft"),),
    4: (("bookings", "riding"), ("bookings", "wants")),
    5: (("bookings", "words"), ("reports", "words")),
    6: (),
    7: (),
    8: (),
    9: (("reports", "ways"),),
    10: (("learned", "judged"),),
    11: (),
}

meta = Table(
    "meta",
    metadata,
    Column("key", String(40), primary_key=True),
    Column("value", Text, nullable=False),
)

users = Table(
    "users",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", String(80), nullable=False, unique=True),
    Column("role", String(10), nullable=False),
    Column("password", Text, nullable=False),
    Column("active", Boolean, nullable=False, default=True),
    # "" for the language the browser asks for.
    Column("lang", String(2), nullable=False, default="", server_default=""),
    Column("created_at", Float, nullable=False),
)

sessions = Table(
    "sessions",
    metadata,
    Column("hash", String(64), primary_key=True),
    Column("user_id", ForeignKey("users.id", ondelete="CASCADE"), nullable=False, index=True),
    Column("csrf", String(64), nullable=False),
    Column("created_at", Float, nullable=False),
    Column("seen_at", Float, nullable=False),
)

# A filter of the table of bookings that somebody keeps under a name.
views = Table(
    "views",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("user_id", ForeignKey("users.id", ondelete="CASCADE"), nullable=False, index=True),
    Column("name", String(60), nullable=False),
    Column("query", String(400), nullable=False),
    UniqueConstraint("user_id", "name"),
)

#: Links by which an account's owner sets a new password, made by an administrator.
resets = Table(
    "resets",
    metadata,
    Column("hash", String(64), primary_key=True),
    Column("user_id", ForeignKey("users.id", ondelete="CASCADE"), nullable=False, index=True),
    Column("made_at", Float, nullable=False),
)

tokens = Table(
    "tokens",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", String(80), nullable=False),
    Column("hash", String(64), nullable=False, unique=True),
    Column("created_at", Float, nullable=False),
)

bookings = Table(
    "bookings",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("ref", String(40), nullable=False, unique=True),
    Column("customer", String(120), nullable=False, default=""),
    Column("email", String(254), nullable=False, default=""),
    Column("starts_on", String(10), nullable=False, default=""),
    Column("ends_on", String(10), nullable=False, default=""),
    Column("wanted", String(80), nullable=False, default=""),
    Column("state", String(20), nullable=False, default="waiting"),
    Column("lang", String(2), nullable=False),
    Column("units", String(10), nullable=False),
    Column("depart", String(16), nullable=False, default=""),
    Column("rider", String(10), nullable=False, default="steady"),
    # "" while nobody said.
    Column("riding", String(10), nullable=False, default="", server_default=""),
    Column("wants", String(10), nullable=False, default="", server_default=""),
    Column("pillion", Boolean, nullable=False, default=False),
    Column("guided", Boolean, nullable=False, default=False, server_default=false()),
    Column("luggage", String(10), nullable=False, default="soft"),
    Column("remark", Text, nullable=False, default=""),
    # What a search finds it by, folded: see `found_by`.
    Column("words", Text, nullable=False, default="", server_default=""),
    Column("link_hash", String(64), unique=True),
    Column("created_at", Float, nullable=False),
    Column("changed_at", Float, nullable=False, index=True),
)

# Who rides along on a booking, each with a bike; the booking's own columns are of the first.
riders = Table(
    "riders",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("booking_id", ForeignKey("bookings.id", ondelete="CASCADE"), nullable=False, index=True),
    # From 2: the one who booked is the first.
    Column("place", Integer, nullable=False),
    Column("customer", String(120), nullable=False),
    Column("email", String(254), nullable=False, default=""),
    Column("wanted", String(80), nullable=False, default=""),
    Column("rider", String(10), nullable=False),
    Column("riding", String(10), nullable=False, default=""),
    Column("luggage", String(10), nullable=False),
    Column("pillion", Boolean, nullable=False, default=False),
)

routes = Table(
    "routes",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("booking_id", ForeignKey("bookings.id", ondelete="CASCADE"), nullable=False, index=True),
    Column("name", String(120), nullable=False),
    Column("content", LargeBinary, nullable=False),
    Column("drawn", Boolean, nullable=False, default=False),
    # False once the rider has sent other files.
    Column("current", Boolean, nullable=False, default=True),
    # The same form sent twice is one upload.
    Column("once", String(120), unique=True),
    Column("created_at", Float, nullable=False),
)

jobs = Table(
    "jobs",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("kind", String(10), nullable=False),
    Column("route_id", ForeignKey("routes.id", ondelete="CASCADE"), index=True),
    Column("report_id", Integer),
    Column("state", String(10), nullable=False),
    Column("tries", Integer, nullable=False, default=0),
    Column("due_at", Float, nullable=False),
    Column("lease_until", Float, nullable=False, default=0.0),
    Column("worker", String(80), nullable=False, default=""),
    Column("step", String(80), nullable=False, default=""),
    Column("what", Text, nullable=False, default=""),
    Column("created_at", Float, nullable=False),
    Column("done_at", Float),
    Index("jobs_open", "state", "due_at"),
)

# What the desk judges routes with, so that workers elsewhere can tell whether they have the same.
stock = Table(
    "stock",
    metadata,
    Column("kind", String(10), primary_key=True),
    Column("name", String(80), primary_key=True),
    Column("sum", String(64), nullable=False),
    *(Column(side, Float) for side in ("west", "south", "east", "north")),
    Column("told_at", Float, nullable=False),
)

# Requests of the last minute, of all server processes; an address only as a hash.
asked = Table(
    "asked",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("who", String(64), nullable=False),
    Column("at", Float, nullable=False),
    Index("asked_lately", "who", "at"),
)

reports = Table(
    "reports",
    metadata,
    Column("id", Integer, primary_key=True),
    # One job makes one report, however often it was begun.
    Column("job_id", Integer, nullable=False, unique=True),
    Column("route_id", ForeignKey("routes.id", ondelete="CASCADE"), nullable=False, index=True),
    Column("booking_id", ForeignKey("bookings.id", ondelete="CASCADE"), nullable=False, index=True),
    Column("made_at", Float, nullable=False),
    # Names of the route and of the places along it, folded. Before what is long: a search reads
    # these of every report, and SQLite reads a row from its start.
    Column("words", Text, nullable=False, default="", server_default=""),
    Column("summary", Text, nullable=False),
    # The mail, ready to go; none in a report made before format 4: such a report is made anew.
    Column("draft", Text),
    Column("facts", LargeBinary, nullable=False),
    # Ids of the ways it rests on, packed int64; none in a report made before format 10.
    Column("ways", LargeBinary),
)

files = Table(
    "files",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("report_id", ForeignKey("reports.id", ondelete="CASCADE"), nullable=False),
    Column("name", String(20), nullable=False),
    Column("content", LargeBinary, nullable=False),
    UniqueConstraint("report_id", "name"),
)

rulings = Table(
    "rulings",
    metadata,
    Column("route_id", ForeignKey("routes.id", ondelete="CASCADE"), primary_key=True),
    Column("setup", String(10), nullable=False),
    Column("bike", String(80), nullable=False, default=""),
    Column("reason", Text, nullable=False),
    Column("who", String(80), nullable=False),
    Column("made_at", Float, nullable=False),
)

#: What the desk decided for one rider of a group, in place of what holds for all of them.
rider_rulings = Table(
    "rider_rulings",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("route_id", ForeignKey("routes.id", ondelete="CASCADE"), nullable=False, index=True),
    # None is the one who booked.
    Column("rider_id", ForeignKey("riders.id", ondelete="CASCADE"), index=True),
    Column("setup", String(10), nullable=False),
    Column("bike", String(80), nullable=False, default=""),
    Column("reason", Text, nullable=False),
    Column("who", String(80), nullable=False),
    Column("made_at", Float, nullable=False),
    UniqueConstraint("route_id", "rider_id"),
    Index(
        "ruling_of_who_booked", "route_id", unique=True,
        sqlite_where=text("rider_id IS NULL"), postgresql_where=text("rider_id IS NULL"),
    ),
)  # fmt: skip

pins = Table(
    "pins",
    metadata,
    Column("route_id", ForeignKey("routes.id", ondelete="CASCADE"), primary_key=True),
    Column("body", Text, nullable=False),
    Column("who", String(80), nullable=False),
    Column("made_at", Float, nullable=False),
)

notes = Table(
    "notes",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("line", Text, nullable=False),
    Column("ground", String(10), nullable=False, default=""),
    Column("severity", String(20), nullable=False, default=""),
    Column("noted", String(10), nullable=False, default=""),
    Column("who", String(80), nullable=False, default=""),
    Column("remark", Text, nullable=False, default=""),
    Column("created_at", Float, nullable=False),
)

helpers = Table(
    "helpers",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", String(120), nullable=False),
    Column("lon", Float, nullable=False),
    Column("lat", Float, nullable=False),
    Column("kind", String(20), nullable=False),
    Column("repairs", String(200), nullable=False, default=""),
    Column("phone", String(60), nullable=False, default=""),
    Column("hours", String(120), nullable=False, default=""),
    Column("note", Text, nullable=False, default=""),
    Column("created_at", Float, nullable=False),
)

#: A table of bookings that was looked at, taken in, or taken back: shown, done, back.
imports = Table(
    "imports",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("who", String(80), nullable=False),
    Column("made_at", Float, nullable=False, index=True),
    Column("state", String(10), nullable=False),
)

import_rows = Table(
    "import_rows",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("import_id", ForeignKey("imports.id", ondelete="CASCADE"), nullable=False, index=True),
    Column("ref", String(40), nullable=False),
    Column("told", Text, nullable=False),
    # Both none until the line is taken in. before : "" for a booking that was new, else JSON of
    # each detail that changed, with what it was and what it became.
    Column("booking_id", ForeignKey("bookings.id", ondelete="CASCADE"), index=True),
    Column("before", Text),
)

# What was asked about parts of a route and about the rider, and what was answered.
answers = Table(
    "answers",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("booking_id", ForeignKey("bookings.id", ondelete="CASCADE"), nullable=False, index=True),
    # None for what is asked about the rider; the part lies on the route as it was sent [m].
    Column("route_id", ForeignKey("routes.id", ondelete="CASCADE"), index=True),
    Column("from_m", Float),
    Column("to_m", Float),
    Column("about_ground", Boolean, nullable=False, default=False),
    # Question and verdicts in each language, as JSON; `after` once the route is judged anew.
    Column("question", Text, nullable=False),
    Column("reply", String(20), nullable=False),
    Column("before", Text, nullable=False, default=""),
    Column("after", Text),
    # "rider", or who of the desk entered what was told by telephone.
    Column("who", String(80), nullable=False),
    Column("at", Float, nullable=False),
)

# A booking whose rider was asked and has not answered has a row that is not closed.
questions = Table(
    "questions",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("booking_id", ForeignKey("bookings.id", ondelete="CASCADE"), nullable=False, index=True),
    Column("who", String(80), nullable=False),
    Column("asked_at", Float, nullable=False),
    Column("reminded_at", Float),
    Column("closed_at", Float, index=True),
)

# Recorded rides: the recording until it is read, then what is kept of it, the JSON of a ride
# without its stops; day, rider and class stand in that.
rides = Table(
    "rides",
    metadata,
    Column("id", Integer, primary_key=True),
    # None once the booking is gone with its time: what is left names nobody.
    Column("booking_id", ForeignKey("bookings.id", ondelete="CASCADE"), index=True),
    Column("name", String(120), nullable=False),
    Column("content", LargeBinary),
    Column("ridden", LargeBinary),
    Column("page", LargeBinary),
    Column("fault", Text, nullable=False, default=""),
    Column("sent_at", Float, nullable=False),
    Column("read_at", Float),
)

# What riders said of ways after the ride.
statements = Table(
    "statements",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("booking_id", ForeignKey("bookings.id", ondelete="CASCADE"), index=True),
    Column("way_id", BigInteger, nullable=False),
    Column("said", String(10), nullable=False),
    # A number for each booking, so that one who always errs is found; no name.
    Column("who", String(20), nullable=False),
    Column("day", String(10), nullable=False),
    Column("at", Float, nullable=False),
)

# What happened on a rental; one without is told by a row of its own, that it happened to end well.
incidents = Table(
    "incidents",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("booking_id", ForeignKey("bookings.id", ondelete="CASCADE"), nullable=False, index=True),
    Column("bike", String(80), nullable=False),
    # "" where nothing failed.
    Column("failed", String(40), nullable=False),
    Column("at_km", Float),
    Column("ended_trip", Boolean, nullable=False),
    Column("who", String(80), nullable=False),
    Column("at", Float, nullable=False),
)

# What all rides and statements taught, as later reports read it.
learned = Table(
    "learned",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("body", Text, nullable=False),
    # How well the reports did on these rides, see `judged.py`.
    Column("judged", Text, nullable=False, default="", server_default=""),
    Column("made_at", Float, nullable=False),
)

# The operator's own letters in place of ours.
letters = Table(
    "letters",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("kind", String(20), nullable=False),
    Column("lang", String(2), nullable=False),
    Column("body", Text, nullable=False),
    Column("who", String(80), nullable=False),
    Column("changed_at", Float, nullable=False),
    UniqueConstraint("kind", "lang"),
)

# Mails that went out; one that is on its way stands here too, so that no press sends it twice.
mails = Table(
    "mails",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("booking_id", ForeignKey("bookings.id", ondelete="CASCADE"), nullable=False, index=True),
    Column("kind", String(20), nullable=False),
    Column("to", String(254), nullable=False),
    Column("subject", String(200), nullable=False),
    Column("who", String(80), nullable=False),
    Column("at", Float, nullable=False),
    Column("once", String(80), nullable=False, unique=True),
)

# Links that went out with mails, beside the booking's own, which is shown once.
links = Table(
    "links",
    metadata,
    Column("hash", String(64), primary_key=True),
    Column("booking_id", ForeignKey("bookings.id", ondelete="CASCADE"), nullable=False, index=True),
    Column("made_at", Float, nullable=False),
)

events = Table(
    "events",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("at", Float, nullable=False),
    Column("who", String(80), nullable=False),
    Column("what", String(200), nullable=False),
    Column("booking_id", ForeignKey("bookings.id", ondelete="CASCADE"), index=True),
)

# The operator's own bikes, by number plate or nickname; `bike` is a class of the fleet.
bikes = Table(
    "bikes",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", String(60), nullable=False, unique=True),
    Column("bike", String(80), nullable=False),
    Column("serviced_on", String(10), nullable=False, default=""),
)

# What broke on them; one that is not mended keeps the bike at home.
faults = Table(
    "faults",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("bike_id", ForeignKey("bikes.id", ondelete="CASCADE"), nullable=False, index=True),
    Column("part", String(20), nullable=False),
    Column("seen_on", String(10), nullable=False),
    Column("note", String(300), nullable=False, default=""),
    Column("who", String(80), nullable=False),
    Column("mended_on", String(10), nullable=False, default=""),
)

# What staff deleted today, as the rows it was: to be taken back until the day ends.
deleted = Table(
    "deleted",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("at", Float, nullable=False, index=True),
    Column("who", String(80), nullable=False),
    Column("what", String(200), nullable=False),
    Column("path", String(120), nullable=False),
    Column("body", LargeBinary, nullable=False),
)
