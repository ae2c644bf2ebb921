"""What keeps the desk running: health, figures, and the files of its look."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

import sqlalchemy as sa
from fastapi import APIRouter, Depends, HTTPException, Request
from starlette.responses import JSONResponse, PlainTextResponse, Response

from terrain.report.desk.group import group_css
from terrain.report.drawing.stills import drawing_css
from terrain.web import schema
from terrain.web.access import OPEN, TOKEN, Allow, person_in
from terrain.web.desk import desk_of
from terrain.web.health import health_of
from terrain.web.jobs import RUNNING, WAITING

router = APIRouter(include_in_schema=False)

_STATIC = {
    "drawing.css": "text/css; charset=utf-8",
    "questions.css": "text/css; charset=utf-8",
    "web.css": "text/css; charset=utf-8",
    "web.js": "text/javascript; charset=utf-8",
    "map.js": "text/javascript; charset=utf-8",
}


@router.get("/", dependencies=[Depends(Allow(OPEN))])
def home(request: Request) -> Response:
    desk = desk_of(request)
    if person_in(desk, request) is None and desk.settings.open_upload:
        return desk.go("/ride")
    return desk.go("/desk")


@router.get("/static/{name}", dependencies=[Depends(Allow(OPEN))])
def static(name: str) -> Response:
    if name not in _STATIC:
        raise HTTPException(404)
    hold = {"cache-control": "max-age=3600"}
    return Response(_static(name), media_type=_STATIC[name], headers=hold)


@cache
def _static(name: str) -> bytes:
    if name == "drawing.css":  # the inks and rules of all drawings, the report's and the desk's
        return (drawing_css() + group_css()).encode()
    return (files("terrain.web") / "static" / name).read_bytes()


@router.get("/robots.txt", dependencies=[Depends(Allow(OPEN))])
def robots() -> Response:
    return PlainTextResponse("User-agent: *\nDisallow: /\n")


@router.get("/health", dependencies=[Depends(Allow(OPEN))])
def health(request: Request) -> Response:
    """Whether the desk can do its work; 503 with the reason if it cannot."""
    desk = desk_of(request)
    told = health_of(desk.db, desk.settings, request.app.state.supervisor)
    body = {"status": told.status, **({"reason": told.reason} if told.reason else {})}
    return JSONResponse(body, status_code=200 if told.status == "ok" else 503)


@router.get("/metrics", dependencies=[Depends(Allow(TOKEN))])
def metrics(request: Request) -> Response:
    """Counts in the Prometheus text format (version 0.0.4)."""
    desk = desk_of(request)
    with desk.db.read() as conn:
        states = conn.execute(
            sa.select(schema.jobs.c.state, sa.func.count()).group_by(schema.jobs.c.state)
        )
        by_state = {str(state): int(n) for state, n in states}
        counts = {
            name: int(conn.execute(sa.select(sa.func.count()).select_from(table)).scalar() or 0)
            for name, table in (
                ("bookings", schema.bookings), ("routes", schema.routes),
                ("reports", schema.reports),
            )
        }  # fmt: skip
    lines = ["# TYPE terrain_jobs gauge"]
    for state in (WAITING, RUNNING, "done", "failed"):
        lines.append(f'terrain_jobs{{state="{state}"}} {by_state.get(state, 0)}')
    for name, n in counts.items():
        lines += [f"# TYPE terrain_{name} gauge", f"terrain_{name} {n}"]
    return PlainTextResponse("\n".join(lines) + "\n", media_type="text/plain; version=0.0.4")
