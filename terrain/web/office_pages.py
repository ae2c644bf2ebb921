"""The office: signing in, accounts and tokens."""

from __future__ import annotations

import hmac
import secrets
import time
from contextlib import suppress

import sqlalchemy as sa
from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from terrain.errors import InputError
from terrain.text.catalogue import N_
from terrain.text.message import message
from terrain.text.plain import one_line
from terrain.web import people, schema
from terrain.web.access import (
    OPEN,
    SESSION_COOKIE,
    VISIT_COOKIE,
    Allow,
    Form,
    LimitedError,
    cookie_name,
    person_in,
)
from terrain.web.bookings import note_event
from terrain.web.database import BusyError
from terrain.web.desk import Desk, desk_of
from terrain.web.log import say
from terrain.web.people import Role

router = APIRouter(include_in_schema=False)
ADMIN = [Depends(Allow("admin"))]
OWN = N_("This is your own account.")
_LET_IN, _KEPT_OUT = N_("account let in: {name}"), N_("account kept out: {name}")


@router.get("/sign-in", dependencies=[Depends(Allow(OPEN))])
def sign_in_form(request: Request, to: str = "/desk") -> Response:
    return _sign_in_page(request, to)


def _sign_in_page(request: Request, to: str, fault: str = "") -> Response:
    desk = desk_of(request)
    # No session yet: the form is tied to this browser by a cookie of its own.
    visit = secrets.token_urlsafe(16)
    with desk.db.read() as conn:
        nobody = conn.execute(sa.select(schema.users.c.id).limit(1)).first() is None
    page = desk.page(
        request, "sign_in.html", status=401 if fault else 200, to=to, visit=visit, nobody=nobody,
        fault=desk.translator(request)._(fault),
    )  # fmt: skip
    _set_cookie(desk, page, VISIT_COOKIE, visit, 3600)
    return page


def _set_cookie(desk: Desk, page: Response, name: str, value: str, age_s: float) -> None:
    page.set_cookie(
        cookie_name(desk, name), value, max_age=int(age_s), path="/", httponly=True,
        secure=desk.settings.secure, samesite="lax",
    )  # fmt: skip


@router.post("/sign-in", dependencies=[Depends(Allow(OPEN))])
def sign_in(request: Request) -> Response:
    """Open a session; each address has so many tries a minute.

    A name, from all addresses together, has ten times as many: with as few as an address,
    anybody who knows a name could keep its owner out.
    """
    desk = desk_of(request)
    form: Form = request.state.form
    visit = request.cookies.get(cookie_name(desk, VISIT_COOKIE), "")
    if not visit or not hmac.compare_digest(visit.encode(), form.get("visit").encode()):
        return _sign_in_page(request, form.get("to"), message("The form was too old. Try again."))
    name = one_line(form.get("name"), 80)
    most = desk.settings.sign_ins_per_minute
    address = request.client.host if request.client else "unknown"
    waits = [
        desk.limits.wait_s("sign-in", address, most),
        desk.limits.wait_s("sign-in", f"name {name.casefold()}", 10 * most),
    ]
    if any(waits):
        say("sign-in limited")
        raise LimitedError(max(waits))
    now = time.time()
    with desk.db.read() as conn:
        user_id = people.account_of(conn, name, form.get("password"))
    if user_id is None:
        say("sign-in refused", address=address)
        with suppress(BusyError), desk.db.write() as conn:
            note_event(conn, address, message("sign-in refused"), now)
        return _sign_in_page(request, form.get("to"), message("Name or password is not right."))
    old = person_in(desk, request)
    with desk.db.write() as conn:
        if old is not None:
            people.end_session(conn, old.session)
        secret = people.open_session(conn, user_id, now)
    page = desk.go(_local(form.get("to")))
    _set_cookie(desk, page, SESSION_COOKIE, secret, desk.settings.session_s)
    return page


def _local(path: str) -> str:
    """A path of ours; the table of bookings for anything else."""
    plain = path.startswith("/") and not path.startswith(("//", "/\\"))
    return path if plain and path.isprintable() and "\\" not in path else "/desk"


@router.post("/sign-out", dependencies=[Depends(Allow("guide"))])
def sign_out(request: Request) -> Response:
    desk = desk_of(request)
    with desk.db.write() as conn:
        people.end_session(conn, request.state.person.session)
    page = desk.go("/sign-in")
    page.delete_cookie(cookie_name(desk, SESSION_COOKIE), path="/", secure=desk.settings.secure)
    return page


@router.get("/account", dependencies=[Depends(Allow("guide"))])
def account(request: Request) -> Response:
    return desk_of(request).page(request, "account.html", fault="")


@router.post("/account", dependencies=[Depends(Allow("guide"))])
def change_password(request: Request) -> Response:
    """A new password, on the old one; every session ends but a new one here."""
    desk, person = desk_of(request), request.state.person
    form: Form = request.state.form
    wait_s = desk.limits.wait_s("password", person.name, desk.settings.sign_ins_per_minute)
    if wait_s:
        raise LimitedError(wait_s)
    now = time.time()
    with desk.db.read() as conn:
        right = people.account_of(conn, person.name, form.get("old")) == person.id
    try:
        if not right:
            raise InputError(message("the present password is not right"))
        with desk.db.write() as conn:
            people.change_password(conn, person.id, person.name, form.get("new"))
            secret = people.open_session(conn, person.id, now)
    except InputError as exc:
        return desk.page(request, "account.html", status=422, fault=desk.fault(request, exc))
    page = desk.go("/desk")
    _set_cookie(desk, page, SESSION_COOKIE, secret, desk.settings.session_s)
    return page


@router.post("/account/language", dependencies=[Depends(Allow("guide"))])
def change_language(request: Request) -> Response:
    desk, form = desk_of(request), request.state.form
    with desk.db.write() as conn:
        people.change_language(conn, request.state.person.id, form.get("lang"))
    return desk.go("/account")


@router.get("/desk/people", dependencies=ADMIN)
def everybody(request: Request) -> Response:
    return people_page(request)


def people_page(
    request: Request, fault: str = "", token: str = "", reset: tuple[str, str] = ("", "")
) -> Response:
    """Accounts and tokens. reset : whose new password a link sets, and the link, shown once"""
    desk = desk_of(request)
    with desk.db.read() as conn:
        users = conn.execute(sa.select(schema.users).order_by(schema.users.c.name)).all()
        tokens = conn.execute(sa.select(schema.tokens).order_by(schema.tokens.c.id)).all()
    return desk.page(
        request, "people.html", status=422 if fault else 200, users=users, tokens=tokens,
        roles=list(Role), fault=fault, token=token,
        reset=reset, keep_days=desk.settings.keep_days,
    )  # fmt: skip


@router.post("/desk/people", dependencies=ADMIN)
def add_person(request: Request) -> Response:
    desk, form = desk_of(request), request.state.form
    now = time.time()
    try:
        if form.get("role") not in list(Role):
            raise InputError(
                message("the account has no role"), message("role"), message("Choose one.")
            )
        with desk.db.write() as conn:
            role = Role(form.get("role"))
            name = one_line(form.get("name"), 80)
            people.add_user(conn, name, role, form.get("password"), now)
            what = message("account made: {name}, {role}", name=name, role=role.value)
            note_event(conn, request.state.person.name, what, now)
    except InputError as exc:
        return people_page(request, desk.fault(request, exc))
    return desk.go("/desk/people")


@router.post("/desk/people/{user_id}", dependencies=ADMIN)
def switch_person(request: Request, user_id: int) -> Response:
    """Let an account in or keep it out; nobody keeps himself out."""
    desk, form = desk_of(request), request.state.form
    if user_id == request.state.person.id:
        return people_page(request, desk.translator(request)._(OWN))
    active = form.get("active") == "yes"
    with desk.db.write() as conn:
        people.set_active(conn, user_id, active)
        name = people.name_of(conn, user_id)
        what = message(_LET_IN if active else _KEPT_OUT, name=name)
        note_event(conn, request.state.person.name, what, time.time())
    return desk.go("/desk/people")


@router.post("/desk/tokens", dependencies=ADMIN)
def add_token(request: Request) -> Response:
    desk, form = desk_of(request), request.state.form
    with desk.db.write() as conn:
        name = one_line(form.get("name"), 80) or "token"
        secret = people.add_token(conn, name, time.time())
        what = message("token made: {name}", name=name)
        note_event(conn, request.state.person.name, what, time.time())
    return people_page(request, token=secret)


@router.post("/desk/tokens/{token_id}/delete", dependencies=ADMIN)
def delete_token(request: Request, token_id: int) -> Response:
    desk = desk_of(request)
    with desk.db.write() as conn:
        what = message("token deleted: {name}", name=people.drop_token(conn, token_id))
        note_event(conn, request.state.person.name, what, time.time())
    return desk.go("/desk/people")
