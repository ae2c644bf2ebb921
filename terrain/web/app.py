"""The web application. `create_app(settings)` makes one; there is no global one."""

from __future__ import annotations

import errno
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, RedirectResponse, Response

from terrain.errors import TerrainError, explained
from terrain.text.message import Message, message
from terrain.web import (
    api,
    desk_pages,
    guide_pages,
    import_pages,
    mail_pages,
    map_pages,
    office_pages,
    operation,
    progress_pages,
    question_pages,
    rider_pages,
    table_pages,
)
from terrain.web.access import NO_LINK, LimitedError, SignInNeeded
from terrain.web.database import BusyError, Database
from terrain.web.desk import Desk, desk_of
from terrain.web.edge import Edge
from terrain.web.log import say
from terrain.web.settings import WebSettings
from terrain.web.supervisor import Supervisor

_BUSY_S = 15
_SWITCH_S = 0.001


def create_app(settings: WebSettings, *, worker_command: tuple[str, ...] | None = None) -> Edge:
    """The application, ready for an ASGI server.

    worker_command : starts a worker in place of ours; for tests
    Raises UsageError for a database of another version.
    """
    db = Database(settings.database_url)
    db.create()
    supervisor = Supervisor(db, settings, worker_command)

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        # Pages wait less for threads that store uploads (5 ms is Python's own).
        sys.setswitchinterval(_SWITCH_S)
        supervisor.start()
        try:
            yield
        finally:
            supervisor.stop()
            db.close()

    app = FastAPI(
        title="terrain desk",
        version="1",
        description="Bookings, routes and reports for the operator's own booking system.",
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
        lifespan=lifespan,
    )
    app.state.desk = Desk(settings, db)
    pages = (operation, progress_pages, rider_pages, question_pages, desk_pages, table_pages,
             office_pages, import_pages, mail_pages, map_pages, guide_pages, api)  # fmt: skip
    for part in pages:
        app.include_router(part.router)
    app.add_exception_handler(TerrainError, _explain)
    app.add_exception_handler(HTTPException, _refuse)
    app.add_exception_handler(RequestValidationError, _invalid)
    app.add_exception_handler(SignInNeeded, _sign_in)
    app.add_exception_handler(OSError, _no_room)
    app.add_exception_handler(Exception, _unforeseen)
    return Edge(app, settings)


def inner(edge: Edge) -> FastAPI:
    """The FastAPI application within the edge."""
    assert isinstance(edge.app, FastAPI)
    return edge.app


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
    if exc.status_code in (401, 403, 404) and isinstance(exc.detail, Message):
        what = exc.detail
    fix = message("Ask the rental desk for a new one.") if what == NO_LINK else ""
    return _tell(request, exc.status_code, what, "", fix, dict(exc.headers or {}))


_PLAIN = {
    400: message("The form did not arrive whole. Send it again."),
    404: message("There is no such page."),
    405: message("This address takes another kind of request."),
}


def _invalid(request: Request, exc: Exception) -> Response:
    assert isinstance(exc, RequestValidationError)
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


_NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EMFILE, errno.ENFILE)
_LATER = message("Nothing was lost; try again in a minute.")


def _unforeseen(request: Request, _: Exception) -> Response:
    what = message("Something went wrong that was not foreseen")
    fix = message("Try again; if it happens again, tell who runs this desk.")
    return _tell(request, 500, what, "", fix)


def _tell(
    request: Request, status: int, what: str, where: str, fix: str,
    headers: dict[str, str] | None = None,
) -> Response:  # fmt: skip
    """One error, as a page or as JSON of one shape."""
    if "/api/" in request.url.path or request.url.path.endswith(("/metrics", "/state")):
        body = {"error": {"what": what.rstrip(".") + ".", "where": where, "fix": fix}}
        return JSONResponse(body, status_code=status, headers=headers)
    desk = desk_of(request)
    translator = desk.translator(request)
    values = {"what": explained(translator, what), "where": translator.translate(where),
              "fix": translator.translate(fix)}  # fmt: skip
    page = desk.page(request, "error.html", status=status, **values)
    page.headers.update(headers or {})
    return page
