"""What every page needs: the data, the settings, the templates."""

from __future__ import annotations

import asyncio
import time
from datetime import UTC, datetime
from functools import cache
from importlib.resources import files
from typing import Any

import jinja2
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse

from terrain.errors import TerrainError
from terrain.report.drawing.stills import patterns
from terrain.report.html import whole_words
from terrain.text.catalogue import LANG_NAMES, asked_language
from terrain.text.plain import plain_line
from terrain.text.translator import Translator, translator_for
from terrain.web import undo
from terrain.web.bookings import State
from terrain.web.database import Database
from terrain.web.limits import Limits
from terrain.web.settings import WebSettings
from terrain.web.stored import event_message

_AT_ONCE = 8  # posted forms in memory


class Desk:
    """The application's own things, made once by create_app and never changed."""

    def __init__(self, settings: WebSettings, db: Database) -> None:
        self.settings = settings
        self.db = db
        self.limits = Limits(db)
        self.room = asyncio.Semaphore(_AT_ONCE)
        self._said = {
            "at": self.at, "operator": settings.operator,
            "most_files": settings.max_files, "most_bytes": settings.max_bytes,
        }  # fmt: skip

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
        """A page out of its template, in the reader's language."""
        person = getattr(request.state, "person", None)
        csrf = person.csrf if person else ""
        text = self.part(
            request, name, person=person, csrf=csrf, gone=self._gone(request, person), **values
        )
        return HTMLResponse(text, status_code=status)

    def _gone(self, request: Request, person: Any) -> Any:
        """What was just deleted, to be taken back from the page that comes next; or None."""
        number = request.query_params.get("gone", "")
        if person is None or not (number.isascii() and number.isdigit() and len(number) < 10):
            return None
        with self.db.read() as conn:
            return undo.deleted_as(conn, int(number), time.time())

    def part(self, request: Request, name: str, **values: Any) -> str:
        """A part of a page out of its template, said by `translator` or in `lang` if given."""
        lang = values.pop("lang", "") or self.lang(request)
        translator = values.pop("translator", None) or translator_for(lang)
        return _environment().get_template(name).render(
            self._said, _=translator._, n_=translator.n_, translator=translator,
            translate=translator.translate, lang=translator.lang, **values,
        )  # fmt: skip

    def lang(self, request: Request) -> str:
        """The language of who asks: as chosen, the booking's, or as the browser asks."""
        person = getattr(request.state, "person", None)
        booking = getattr(request.state, "booking", None)
        chosen = person.lang if person else booking.lang if booking else ""
        return chosen or asked_language(
            request.headers.get("accept-language", ""), self.settings.lang
        )

    def translator(self, request: Request) -> Translator:
        """Into the language of who asks."""
        return translator_for(self.lang(request))

    def fault(self, request: Request, exc: TerrainError) -> str:
        """An error in the reader's language."""
        return exc.say(self.translator(request))

    def go(self, path: str) -> RedirectResponse:
        """Send the browser to a page of ours after a form."""
        return RedirectResponse(self.at(path), status_code=303)


def desk_of(request: Request) -> Desk:
    desk = request.app.state.desk
    assert isinstance(desk, Desk)
    return desk


@cache
def _environment() -> jinja2.Environment:
    """The templates, which are compiled once for all desks of a process."""
    environment = jinja2.Environment(
        autoescape=True,
        loader=jinja2.FunctionLoader(_template),
        undefined=jinja2.StrictUndefined,
        finalize=_plain,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals.update(State=State, lang_names=LANG_NAMES, patterns=patterns())
    environment.filters["when"] = _when
    environment.filters["translate"] = lambda said, translator: translator.translate(said)
    environment.filters["event"] = event_message
    environment.filters["whole_words"] = whole_words
    environment.filters["sentence"] = lambda text: f"{text[:1].upper()}{text[1:].rstrip('.')}."
    return environment


def _template(name: str) -> str | None:
    path = files("terrain.web") / "templates" / name
    return path.read_text(encoding="utf-8") if path.is_file() else None


def _plain(value: Any) -> Any:
    if isinstance(value, str) and not isinstance(value, Markup) and "\n" not in value:
        return plain_line(value)
    return value


def _when(at: float | None) -> str:
    """A moment to the minute, in the local time of the desk's machine, with its zone."""
    if at is None:
        return ""
    return datetime.fromtimestamp(at, UTC).astimezone().strftime("%Y-%m-%d %H:%M %Z")
