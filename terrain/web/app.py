"""The web application. `create_app(settings)` makes one; there is no global one."""

from __future__ import annotations

import gc
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import cache

from fastapi import APIRouter, FastAPI
from starlette.routing import BaseRoute

from terrain.web import (
    account_pages,
    api,
    bike_pages,
    desk_pages,
    guide_pages,
    import_pages,
    incident_pages,
    learned_pages,
    mail_pages,
    map_pages,
    office_pages,
    operation,
    party_pages,
    progress_pages,
    question_pages,
    reread_pages,
    ride_pages,
    rider_pages,
    season_pages,
    table_pages,
    undo_pages,
)
from terrain.web.database import Database
from terrain.web.desk import Desk
from terrain.web.edge import Edge
from terrain.web.refusals import explain_all, refuse_large
from terrain.web.settings import WebSettings
from terrain.web.supervisor import Supervisor

_SWITCH_S = 0.001
_PAGES = (
    operation,
    progress_pages,
    rider_pages,
    question_pages,
    ride_pages,
    desk_pages,
    party_pages,
    table_pages,
    reread_pages,
    office_pages,
    account_pages,
    import_pages,
    incident_pages,
    learned_pages,
    mail_pages,
    map_pages,
    bike_pages,
    guide_pages,
    season_pages,
    undo_pages,
    api,
)


def create_app(
    settings: WebSettings, *, worker_command: tuple[str, ...] | None = None, listens_on: str = ""
) -> Edge:
    """The application, ready for an ASGI server.

    worker_command : starts a worker in place of ours; for tests
    listens_on : the server's address; requests for other names are refused, none if empty
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
        # What is loaded by now stays: a collection of garbage that looks through all of it holds
        # up the page that happens to be made then by a tenth of a second and more.
        gc.freeze()
        try:
            yield
        finally:
            gc.unfreeze()
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
        routes=_routes(),
    )
    app.state.desk, app.state.supervisor = Desk(settings, db), supervisor
    explain_all(app, [part.router for part in _PAGES])
    return Edge(app, settings, refuse_large, listens_on=listens_on)


@cache
def _routes() -> list[BaseRoute]:
    """All pages. What FastAPI makes of them is kept in them, and serves all desks of a process."""
    pages = APIRouter()
    for part in _PAGES:
        pages.include_router(part.router)
    return pages.routes


def inner(edge: Edge) -> FastAPI:
    """The FastAPI application within the edge."""
    assert isinstance(edge.app, FastAPI)
    return edge.app
