"""What was deleted today, and the press that brings it back."""

from __future__ import annotations

import time

from fastapi import APIRouter, Depends, HTTPException, Request
from starlette.responses import Response

from terrain.errors import InputError
from terrain.text.message import message
from terrain.web import undo
from terrain.web.access import Allow
from terrain.web.desk import desk_of
from terrain.web.people import Role

router = APIRouter(include_in_schema=False)
STAFF = [Depends(Allow("staff"))]


@router.get("/desk/deleted", dependencies=STAFF)
def deleted(request: Request) -> Response:
    return _page(request)


def _page(request: Request, fault: str = "") -> Response:
    desk = desk_of(request)
    with desk.db.read() as conn:
        rows = undo.deleted_today(conn, time.time())
    return desk.page(
        request, "deleted_today.html", status=409 if fault else 200, rows=rows, fault=fault
    )


@router.post("/desk/deleted/{gone_id}", dependencies=[Depends(Allow("guide"))])
def take_back(request: Request, gone_id: int) -> Response:
    """Put it back, or let it be gone at once; a guide only what was their own doing."""
    desk, who, now = desk_of(request), request.state.person.name, time.time()
    if not request.state.person.role.may(Role.STAFF):
        with desk.db.read() as conn:
            row = undo.deleted_as(conn, gone_id, now)
        if row is None:
            raise HTTPException(404)
        if row.who != who:
            raise HTTPException(403, message("Your account may not do this."))
    if request.state.form.get("do") == "forget":
        with desk.db.write() as conn:
            undo.forget_at_once(conn, gone_id, who=who, now=now)
        return desk.go("/desk/deleted")
    try:
        with desk.db.write() as conn:
            path = undo.take_back(conn, gone_id, who=who, now=now)
    except InputError as exc:
        return _page(request, desk.fault(request, exc))
    return desk.go(path)
