"""What goes wrong, said as a page in the reader's language with the way back, or as JSON."""

from __future__ import annotations

import errno
from collections.abc import Sequence
from typing import Any

from fastapi import APIRouter, FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.routing import APIRoute
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Match

from terrain.errors import TerrainError, explained
from terrain.text.catalogue import N_
from terrain.text.message import Message, message
from terrain.web import links
from terrain.web.access import NO_LINK, LimitedError, SignInNeeded, person_in
from terrain.web.database import BusyError
from terrain.web.desk import desk_of
from terrain.web.log import say

_BUSY_S = 15
_LATER = message("Nothing was lost; try again in a minute.")
_NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EMFILE, errno.ENFILE)
_NO_PAGE = message("There is no such page.")
_PLAIN = {
    400: message("The form did not arrive whole. Send it again."),
    404: _NO_PAGE,
    405: message("This address takes another kind of request."),
}
_TO_DESK, _TO_TRIP, _TO_FORM = (
    N_("Back to the desk"), N_("Back to your trip"), N_("Back to the form"),
)  # fmt: skip


def explain_all(app: FastAPI, routers: Sequence[APIRouter]) -> None:
    """Have the application explain whatever goes wrong. routers : of all its pages"""
    app.state.page_routes = [
        route for router in routers for route in router.routes if isinstance(route, APIRoute)
    ]
    app.add_exception_handler(TerrainError, _explain)
    app.add_exception_handler(HTTPException, _refuse)
    app.add_exception_handler(RequestValidationError, _invalid)
    app.add_exception_handler(SignInNeeded, _sign_in)
    app.add_exception_handler(OSError, _no_room)
    app.add_exception_handler(Exception, _unforeseen)


def _explain(request: Request, exc: Exception) -> Response:
    assert isinstance(exc, TerrainError)
    headers = {}
    if isinstance(exc, LimitedError):
        headers["retry-after"] = str(exc.wait_s)
    elif exc.http_status == 503:
        headers["retry-after"] = str(_BUSY_S)
    if isinstance(exc, BusyError):
        say("busy", error=exc.what)
    return _tell(request, exc.http_status, exc.what, exc.where, exc.fix, headers)


def _refuse(request: Request, exc: Exception) -> Response:
    assert isinstance(exc, HTTPException)
    what = _PLAIN.get(exc.status_code, exc.detail)
    headers = dict(exc.headers or {})
    if exc.status_code == 405:
        headers["Allow"] = ", ".join(_methods(request))
    if exc.status_code in (401, 403, 404) and isinstance(exc.detail, Message):
        what = exc.detail
    fix = message("Ask the rental desk for a new one.") if what == NO_LINK else ""
    return _tell(request, exc.status_code, what, "", fix, headers)


def _methods(request: Request) -> list[str]:
    """All that an address takes, whatever route takes it (RFC 9110, 10.2.1)."""
    found: set[str] = set()
    for route in request.app.state.page_routes:
        if route.matches(request.scope)[0] is not Match.NONE:
            found |= route.methods
    return sorted(found)


def _invalid(request: Request, exc: Exception) -> Response:
    assert isinstance(exc, RequestValidationError)
    if not _for_machines(request):
        return _tell(request, 404, _NO_PAGE, "", "")
    first: dict[str, Any] = exc.errors()[0] if exc.errors() else {}
    where = ".".join(str(part) for part in first.get("loc", ()))
    return _tell(
        request, 422, str(first.get("msg", "not valid")), where, message("See the OpenAPI.")
    )


def _sign_in(request: Request, _: Exception) -> Response:
    desk = desk_of(request)
    if request.method == "GET":
        path = request.url.path.removeprefix(desk.settings.root_path)
        return RedirectResponse(desk.at(f"/sign-in?to={path}"), status_code=303)
    what, fix = message("You are not signed in (any more)."), message("Sign in and try again.")
    return _tell(request, 401, what, "", fix)


def _no_room(request: Request, exc: Exception) -> Response:
    """A disk that is full while an upload is taken in; nothing of it was kept."""
    if not isinstance(exc, OSError) or exc.errno not in _NO_ROOM:
        raise exc
    say("no room", error=errno.errorcode.get(exc.errno or 0, ""))
    return _explain(request, BusyError(message("the desk has no room now"), "", _LATER))


def _unforeseen(request: Request, _: Exception) -> Response:
    what = message("Something went wrong that was not foreseen")
    fix = message("Try again; if it happens again, tell who runs this desk.")
    return _tell(request, 500, what, "", fix)


async def refuse_large(request: Request, most: int) -> Response:
    """A body of more than `most` bytes. Nobody has looked yet who sends it."""
    size = f"{most // 1_000_000} MB" if most >= 1_000_000 else f"{most // 1000} kB"
    what = message("This is more than {size}, which is more than is taken", size=size)
    fix = message("Export the route without times and sensor data, or in parts.")
    return await run_in_threadpool(_tell, request, 413, what, "", fix)


def _for_machines(request: Request) -> bool:
    path = request.url.path
    return "/api/" in path or path.endswith(("/metrics", "/state"))


def _tell(
    request: Request, status: int, what: str, where: str, fix: str,
    headers: dict[str, str] | None = None,
) -> Response:  # fmt: skip
    """One error, as a page or as JSON of one shape."""
    if _for_machines(request):
        body = {"error": {"what": what.rstrip(".") + ".", "where": where, "fix": fix}}
        return JSONResponse(body, status_code=status, headers=headers)
    desk = desk_of(request)
    _know_reader(request)
    translator = desk.translator(request)
    values = {"what": explained(translator, what), "where": translator.translate(where),
              "fix": translator.translate(fix), "back": _way_back(request)}  # fmt: skip
    page = desk.page(request, "error.html", status=status, **values)
    page.headers.update(headers or {})
    return page


def _know_reader(request: Request) -> None:
    """Who asks, where the page itself did not get as far as looking: for language and way back."""
    desk, state = desk_of(request), request.state
    try:
        if getattr(state, "person", None) is None:
            state.person = person_in(desk, request)
        if getattr(state, "booking", None) is None:
            with desk.db.read() as conn:
                state.booking = links.by_link(conn, _link(request))
    except TerrainError:  # the data cannot be read, which may be what is told
        state.person, state.booking = getattr(state, "person", None), None


def _link(request: Request) -> str:
    """The link in the address; "" for another address."""
    path = request.url.path.removeprefix(desk_of(request).settings.root_path)
    first, _, rest = path.lstrip("/").partition("/")
    return rest.partition("/")[0] if first == "t" else ""


def _way_back(request: Request) -> tuple[str, str]:
    """Where to go from here, and what to call it; the address is empty for nowhere."""
    desk = desk_of(request)
    if request.state.booking is not None:
        return desk.at(f"/t/{_link(request)}"), _TO_TRIP
    if request.state.person is not None:
        return desk.at("/desk"), _TO_DESK
    if desk.settings.open_upload:
        return desk.at("/ride"), _TO_FORM
    return "", ""
