"""What every page needs: the data, the settings, the templates."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime
from importlib.resources import files
from typing import Any

import jinja2
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse

from terrain.report.safe import plain_line
from terrain.web.bookings import State
from terrain.web.database import Database
from terrain.web.limits import Limits
from terrain.web.settings import WebSettings

_AT_ONCE = 8  # posted forms in memory


class Desk:
    """The application's own things, made once by create_app and never changed."""

    def __init__(self, settings: WebSettings, db: Database) -> None:
        self.settings = settings
        self.db = db
        self.limits = Limits()
        self.room = asyncio.Semaphore(_AT_ONCE)
        self.templates = _environment(settings)

    def at(self, path: str) -> str:
        """The address of a page of ours, as browsers see it."""
        return self.settings.root_path + path

    def whole(self, path: str, request: Request) -> str:
        """The address with host, to be sent to somebody."""
        if self.settings.public_url:
            return self.settings.public_url.rstrip("/") + path
        return f"{request.url.scheme}://{request.url.netloc}{self.at(path)}"

    def page(
        self, request: Request, name: str, *, status: int = 200, **values: Any
    ) -> HTMLResponse:
        """A page out of its template."""
        person = getattr(request.state, "person", None)
        text = self.templates.get_template(name).render(
            person=person, csrf=person.csrf if person else "", **values
        )
        return HTMLResponse(text, status_code=status)

    def go(self, path: str) -> RedirectResponse:
        """Send the browser to a page of ours after a form."""
        return RedirectResponse(self.at(path), status_code=303)


def desk_of(request: Request) -> Desk:
    desk = request.app.state.desk
    assert isinstance(desk, Desk)
    return desk


def _environment(settings: WebSettings) -> jinja2.Environment:
    environment = jinja2.Environment(
        autoescape=True,
        loader=jinja2.FunctionLoader(_template),
        undefined=jinja2.StrictUndefined,
        finalize=_plain,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals.update(
        at=lambda path: settings.root_path + path, operator=settings.operator, State=State
    )
    environment.filters["when"] = _when
    return environment


def _template(name: str) -> str | None:
    path = files("terrain.web") / "templates" / name
    return path.read_text(encoding="utf-8") if path.is_file() else None


def _plain(value: Any) -> Any:
    if isinstance(value, str) and not isinstance(value, Markup) and "\n" not in value:
        return plain_line(value)
    return value


def _when(at: float | None) -> str:
    """A moment in UTC, to the minute."""
    return "" if at is None else datetime.fromtimestamp(at, UTC).strftime("%Y-%m-%d %H:%M UTC")
