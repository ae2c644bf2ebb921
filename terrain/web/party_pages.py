"""Who rides along on a booking: each with experience, load and bike."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from typing import Any

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from terrain.errors import InputError
from terrain.text.catalogue import N_
from terrain.text.terms import BAG_TERMS, EXPERIENCE_TERMS, RIDING_TERMS
from terrain.web import party
from terrain.web.access import Allow, Form
from terrain.web.desk import desk_of
from terrain.web.desk_pages import classes_of, found

router = APIRouter(include_in_schema=False)
STAFF = [Depends(Allow("staff"))]
_MEANWHILE = N_(
    "Somebody else changed the riders meanwhile. What you typed stands below: keep it to put it in "
    "place of theirs."
)


@router.get("/desk/b/{ref}/riders", dependencies=STAFF)
def riders(request: Request, ref: str) -> Response:
    return _page(request, ref)


def _page(
    request: Request,
    ref: str,
    *,
    typed: Sequence[Mapping[str, Any]] | None = None,
    fault: str = "",
    status: int = 200,
) -> Response:
    """The riders. typed : as they stand in a form that was not kept"""
    desk = desk_of(request)
    with desk.db.read() as conn:
        row = found(conn, ref)
        kept = party.riders_of(conn, row.id)
    return desk.page(
        request, "riders.html", status=status, b=row, fault=fault,
        rows=party.form_rows(kept) if typed is None else typed, mark=party.mark_of_riders(kept),
        classes=classes_of(request), bags=BAG_TERMS, ridings=RIDING_TERMS,
        experiences=EXPERIENCE_TERMS,
    )  # fmt: skip


@router.post("/desk/b/{ref}/riders", dependencies=STAFF)
def change_riders(request: Request, ref: str) -> Response:
    """Keep the riders as the form has them, and have the routes judged for all of them."""
    desk = desk_of(request)
    form: Form = request.state.form
    typed, now, gone = party.typed_rows(form.texts), time.time(), 0
    try:
        told = party.checked_riders(typed)
    except InputError as exc:
        return _page(request, ref, typed=typed, fault=desk.fault(request, exc), status=422)
    with desk.db.write() as conn:
        row = found(conn, ref)
        kept = party.riders_of(conn, row.id)
        meanwhile = form.get("seen") not in ("", party.mark_of_riders(kept))
        if not meanwhile:
            gone = party.change_riders(conn, row, told, who=request.state.person.name, now=now)
    if meanwhile:
        fault = desk.translator(request)._(_MEANWHILE)
        return _page(request, ref, typed=typed, fault=fault, status=409)
    path = f"/desk/b/{ref}" if "more" not in form.texts else f"/desk/b/{ref}/riders"
    return desk.go(f"{path}?gone={gone}" if gone else path)
