"""What rides and rentals taught, how well reports did, and what the map may be told."""

from __future__ import annotations

from collections import defaultdict

import sqlalchemy as sa
from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from terrain.report.data.giveback import GivenBack, give_back_geojson, ways_to_give_back
from terrain.report.ride.hindsight import ground_said, times_said
from terrain.text.message import Message, message
from terrain.text.terms import ROAD_TERMS
from terrain.values.hindsight import Miss
from terrain.values.learned import Learned
from terrain.values.rentals import Failure, LearnedRate
from terrain.web import rides, schema
from terrain.web.access import Allow
from terrain.web.desk import Desk, desk_of
from terrain.web.desk_pages import classes_of
from terrain.web.incident_pages import rentals_csv
from terrain.web.judged import hindsight_from
from terrain.web.views import trip_days
from terrain.web.work import fleet_of, learned_of

router = APIRouter(include_in_schema=False)
STAFF = [Depends(Allow("staff"))]


@router.get("/desk/learned", dependencies=STAFF)
def learned(request: Request) -> Response:
    """What the rides sent to the desk taught so far."""
    from terrain.inputs.learned import parse_learned

    desk = desk_of(request)
    with desk.db.read() as conn:
        text = rides.learned_text_of(conn)
        kept = schema.rides.c.ridden.is_not(None)
        n_rides = conn.execute(sa.select(sa.func.count()).where(kept)).scalar()
    told = parse_learned(text.encode(), "rides of the desk") if text else Learned()
    times = told.times
    days = ""
    if times:
        first, last = times.first_day.isoformat(), times.last_day.isoformat()
        days = trip_days(first, last, desk.translator(request))
    return desk.page(
        request, "learned.html", told=told, n_rides=n_rides, days=days, classes=classes_of(request)
    )


@router.get("/desk/true", dependencies=STAFF)
def true(request: Request) -> Response:
    """How well the reports did on the rides since."""
    desk = desk_of(request)
    with desk.db.read() as conn:
        kept = conn.execute(sa.select(schema.learned.c.judged)).scalar()
    told = hindsight_from(str(kept or ""))
    return desk.page(
        request, "true.html", told=told, times=() if told is None else times_said(told),
        ground=None if told is None else ground_said(told), took_said=_took_said,
    )  # fmt: skip


def _took_said(miss: Miss) -> Message:
    return message("{ratio_pct} of the expected time", ratio_pct=100.0 * miss.ratio)


@router.get("/desk/give-back", dependencies=STAFF)
def give_back(request: Request) -> Response:
    """Ways that riders confirm and whose surface the map lacks, to be entered there by hand."""
    desk = desk_of(request)
    return desk.page(request, "give_back.html", found=_to_give_back(desk), roads=ROAD_TERMS)


@router.get("/desk/give-back.geojson", dependencies=STAFF)
def give_back_file(request: Request) -> Response:
    """The same as a file with their lines."""
    data = give_back_geojson(_to_give_back(desk_of(request)))
    headers = {"content-disposition": 'attachment; filename="give-back.geojson"'}
    return Response(data, media_type="application/geo+json", headers=headers)


def _to_give_back(desk: Desk) -> list[GivenBack]:
    """Of all regions; a way that lies in several counts once."""
    with desk.db.read() as conn:
        told = learned_of(desk.settings, rides.learned_text_of(conn))
    found: dict[int, GivenBack] = {}
    if told is not None and told.ways:
        for region in rides.regions_of(desk.settings):
            for item in ways_to_give_back(told.ways, region.roads):
                found.setdefault(item.way.way_id, item)
    return list(found.values())


@router.get("/desk/failures", dependencies=STAFF)
def failures(request: Request) -> Response:
    """How often something fails, by class, ground, setup and heat; and what."""
    from terrain.inputs.rentals import parse_log
    from terrain.inputs.rentals.learn import learn

    desk = desk_of(request)
    fleet = fleet_of(desk.settings)
    with desk.db.read() as conn:
        some = conn.execute(sa.select(schema.incidents.c.id).limit(1)).first()
        log = rentals_csv(conn).decode("utf-8") if some is not None else ""
        broke = rides.failures_of(conn)
    rates: dict[str, list[LearnedRate]] = defaultdict(list)
    if log:
        rentals = parse_log(log, "rentals.csv", [bike.name for bike in fleet.classes]).rentals
        for rate in learn(rentals, fleet).rates:
            if rate.rentals:
                rates[rate.bike].append(rate)
    parts: dict[str, list[Failure]] = defaultdict(list)
    for item in broke:
        parts[item.bike].append(item)
    return desk.page(
        request, "failures.html", rates=rates, parts=parts, fleet=fleet,
        titles={bike.name: bike.title for bike in fleet.classes}, rate_said=_rate_said,
    )  # fmt: skip


def _rate_said(rate: LearnedRate) -> Message:
    if not rate.used:
        return message("too few; {rate_pct} believed so far", rate_pct=100.0 * rate.prior)
    return message(
        "{rate_pct} ({low_pct} to {high_pct})",
        rate_pct=100.0 * rate.rate, low_pct=100.0 * rate.low, high_pct=100.0 * rate.high,
    )  # fmt: skip
