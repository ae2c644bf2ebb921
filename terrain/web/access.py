"""Who may ask for what: every route names one permission, and this is where it is checked."""

from __future__ import annotations

import hmac
import time
from collections.abc import AsyncIterator
from contextlib import suppress
from dataclasses import dataclass, field

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request

from terrain.errors import TerrainError
from terrain.text.message import message
from terrain.web import links, people
from terrain.web.bookings import Sent
from terrain.web.database import BusyError
from terrain.web.desk import Desk, desk_of
from terrain.web.people import Person, Role

OPEN, LINK, TOKEN = "open", "link", "token"
NO_LINK = message("This link leads nowhere (any more).")
SESSION_COOKIE, VISIT_COOKIE = "terrain-session", "terrain-visit"
_SAFE = ("GET", "HEAD", "OPTIONS")
_MOST_FIELDS = 300
_FILES_TOO_MANY = 30


class SignInNeeded(Exception):
    """The page is for people who have signed in."""


class LimitedError(TerrainError):
    """Too many requests. wait_s : when to try again"""

    http_status = 429

    def __init__(self, wait_s: int) -> None:
        super().__init__(
            message("too many requests in a short time"),
            "",
            message("Wait {n} seconds.", n=str(wait_s)),
        )
        self.wait_s = wait_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """A form as it was sent. texts : the last value of each field; files : those chosen"""

    texts: dict[str, str] = field(default_factory=dict)
    files: tuple[Sent, ...] = ()

    def get(self, key: str, default: str = "") -> str:
        return self.texts.get(key, default)


class Allow:
    """The permission of one route: open, link, token, or the least role at the desk.

    Sets request.state.person, .booking and .link, .token, and .form for a form that was posted.
    limited : counted as an upload of the sender's address
    """

    def __init__(self, who: str, *, limited: bool = False) -> None:
        self.who = who
        self.limited = limited

    async def __call__(self, request: Request) -> AsyncIterator[None]:
        desk = desk_of(request)
        request.state.person = request.state.booking = request.state.token = None
        request.state.form = Form()
        if self.who == LINK:
            await self._by_link(desk, request)
        elif self.who == TOKEN:
            await self._by_token(desk, request)
        elif self.who != OPEN:
            await self._by_role(desk, request, Role(self.who))
        _check_ids(request)
        if self.limited:  # who guesses links uses up nothing of what those who have one may send
            await self._count(desk, request, "upload", desk.settings.uploads_per_minute)
        if request.method in _SAFE or self.who == TOKEN:
            yield
            return
        if request.headers.get("sec-fetch-site") in ("cross-site", "same-site"):
            raise HTTPException(403, message("This form was sent from another site."))
        # Few bodies are held in memory at a time; the others wait on the disk.
        async with _read_form(desk, request):
            self._check_csrf(request)
            yield

    async def _count(self, desk: Desk, request: Request, kind: str, most: int) -> None:
        address = request.client.host if request.client else "unknown"
        wait_s = await run_in_threadpool(desk.limits.wait_s, kind, address, most)
        if wait_s:
            raise LimitedError(wait_s)

    async def _by_link(self, desk: Desk, request: Request) -> None:
        link = request.path_params["link"]
        booking = await desk.db.soon(lambda conn: links.by_link(conn, link))
        if booking is None:
            with suppress(BusyError):  # reading goes on where nothing can be written
                await self._count(desk, request, "guess", desk.settings.guesses_per_minute)
            raise HTTPException(404, NO_LINK)
        request.state.booking, request.state.link = booking, link

    async def _by_token(self, desk: Desk, request: Request) -> None:
        kind, _, secret = request.headers.get("authorization", "").partition(" ")
        with suppress(BusyError):
            await self._count(desk, request, "api", desk.settings.api_per_minute)
        name = None
        if kind.lower() == "bearer" and secret:
            name = await desk.db.soon(lambda conn: people.token_name(conn, secret.strip()))
        if name is None:
            raise HTTPException(
                401, message("This needs a token."), headers={"www-authenticate": "Bearer"}
            )
        request.state.token = name

    async def _by_role(self, desk: Desk, request: Request, needed: Role) -> None:
        person = await run_in_threadpool(person_in, desk, request)
        if person is None:
            raise SignInNeeded
        request.state.person = person  # a refusal too is told in their language, with a way back
        if not person.role.may(needed):
            raise HTTPException(403, message("Your account may not do this."))

    def _check_csrf(self, request: Request) -> None:
        person: Person | None = request.state.person
        if person is None:
            return
        if not hmac.compare_digest(request.state.form.get("csrf").encode(), person.csrf.encode()):
            raise HTTPException(403, message("This form is too old. Load the page again."))


def _check_ids(request: Request) -> None:
    """Raises 404 for a number in the address that no row of ours can have."""
    for name, text in request.path_params.items():
        if name.endswith(("_id", "number")) and not (
            text.isascii() and text.isdigit() and len(text) < 10
        ):
            raise HTTPException(404)


class _read_form:  # noqa: N801 - used as a function
    """The posted form, read while there is room for it in memory."""

    def __init__(self, desk: Desk, request: Request) -> None:
        self.desk, self.request = desk, request

    async def __aenter__(self) -> None:
        kind = self.request.headers.get("content-type", "")
        if not kind.startswith(("multipart/form-data", "application/x-www-form-urlencoded")):
            await self.desk.room.acquire()
            return
        # More than are taken are read, within bounds, so that the page can say so beside the rest.
        most = self.desk.settings.max_files + _FILES_TOO_MANY
        form = await self.request.form(max_files=most, max_fields=_MOST_FIELDS)
        await self.desk.room.acquire()
        try:
            texts = {key: value for key, value in form.multi_items() if isinstance(value, str)}
            files = [
                Sent(name=value.filename or "", content=await value.read())
                for _, value in form.multi_items()
                if isinstance(value, UploadFile) and (value.size or value.filename)
            ]
            self.request.state.form = Form(texts=texts, files=tuple(files))
            await form.close()
        except BaseException:
            self.desk.room.release()
            raise

    async def __aexit__(self, *_: object) -> None:
        self.desk.room.release()


def person_in(desk: Desk, request: Request) -> Person | None:
    """The person of the request's session."""
    secret = request.cookies.get(cookie_name(desk, SESSION_COOKIE), "")
    if not secret:
        return None
    now = time.time()
    with desk.db.read() as conn:
        found = people.person_of(
            conn, secret, now, idle_s=desk.settings.session_idle_s,
            whole_s=desk.settings.session_s,
        )  # fmt: skip
    if found is None:
        return None
    person, is_old = found
    if is_old:
        # Reading goes on where nothing can be written.
        with suppress(BusyError), desk.db.write() as conn:
            people.touch_session(conn, person.session, now)
    return person


def cookie_name(desk: Desk, name: str) -> str:
    # The prefix makes browsers refuse the cookie from anywhere but this very host.
    return f"__Host-{name}" if desk.settings.secure else name
