"""What an administrator does for an account, and the page on which its owner sets a password."""

from __future__ import annotations

import time

import sqlalchemy as sa
from fastapi import APIRouter, Depends, HTTPException, Request
from starlette.responses import Response

from terrain.errors import InputError
from terrain.text.catalogue import N_
from terrain.text.message import message
from terrain.web import people
from terrain.web.access import NO_LINK, OPEN, Allow, LimitedError
from terrain.web.bookings import note_event
from terrain.web.desk import desk_of
from terrain.web.office_pages import OWN, people_page
from terrain.web.people import Role
from terrain.web.schema import events

router = APIRouter(include_in_schema=False)
ADMIN = [Depends(Allow("admin"))]
_PAGE = 100
_NO_ROLE = N_("Choose a role.")


@router.post("/desk/people/{user_id}/role", dependencies=ADMIN)
def change_role(request: Request, user_id: int) -> Response:
    """Give an account another role; nobody takes his own away."""
    desk, form = desk_of(request), request.state.form
    if user_id == request.state.person.id:
        return people_page(request, desk.translator(request)._(OWN))
    if form.get("role") not in list(Role):
        return people_page(request, desk.translator(request)._(_NO_ROLE))
    role = Role(form.get("role"))
    with desk.db.write() as conn:
        people.change_role(conn, user_id, role)
        name = people.name_of(conn, user_id)
        what = message("account changed: {name}, {role}", name=name, role=role.value)
        note_event(conn, request.state.person.name, what, time.time())
    return desk.go("/desk/people")


@router.post("/desk/people/{user_id}/reset", dependencies=ADMIN)
def make_link(request: Request, user_id: int) -> Response:
    """Make a link by which somebody sets a new password; it is shown this once."""
    desk, now = desk_of(request), time.time()
    with desk.db.write() as conn:
        made = people.new_reset_link(conn, user_id, now)
        if made is None:
            raise HTTPException(404, message("There is no such account."))
        name, secret = made
        what = message("reset link made: {name}", name=name)
        note_event(conn, request.state.person.name, what, now)
    return people_page(request, reset=(name, desk.whole(f"/new-password/{secret}", request)))


@router.get("/desk/audit", dependencies=ADMIN)
def audit(request: Request, page: int = 1) -> Response:
    """Who did what at the desk that is of no one booking, deletions and refused sign-ins too."""
    desk, page = desk_of(request), min(max(page, 1), 10_000)
    lines = (
        sa.select(events)
        .where(events.c.booking_id.is_(None))
        .order_by(events.c.id.desc())
        .offset((page - 1) * _PAGE)
        .limit(_PAGE + 1)
    )
    with desk.db.read() as conn:
        rows = conn.execute(lines).all()
    return desk.page(request, "audit.html", rows=rows[:_PAGE], page=page, more=len(rows) > _PAGE)


@router.get("/new-password/{secret}", dependencies=[Depends(Allow(OPEN))])
def form(request: Request, secret: str) -> Response:
    return _page(request, secret)


def _page(request: Request, secret: str, fault: str = "") -> Response:
    desk = desk_of(request)
    with desk.db.read() as conn:
        account = people.by_reset_link(conn, secret, time.time())
    if account is None:
        address = request.client.host if request.client else "unknown"
        wait_s = desk.limits.wait_s("guess", address, desk.settings.guesses_per_minute)
        if wait_s:
            raise LimitedError(wait_s)
        raise HTTPException(404, NO_LINK)
    return desk.page(
        request, "new_password.html", status=422 if fault else 200, fault=fault, account=account,
        secret=secret,
    )  # fmt: skip


@router.post("/new-password/{secret}", dependencies=[Depends(Allow(OPEN))])
def keep(request: Request, secret: str) -> Response:
    """Set the new password; the link ends, and so does every session of the account."""
    desk, now = desk_of(request), time.time()
    try:
        with desk.db.write() as conn:
            account = people.by_reset_link(conn, secret, now)
            if account is not None:
                people.use_reset_link(conn, account, request.state.form.get("new"))
                note_event(conn, account.name, message("password set by a link"), now)
    except InputError as exc:
        return _page(request, secret, desk.fault(request, exc))
    return _page(request, secret) if account is None else desk.go("/sign-in")
