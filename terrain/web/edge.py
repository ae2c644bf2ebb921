"""The outermost layer: bodies are counted, answers get their headers, requests are logged."""

from __future__ import annotations

import ipaddress
import socket
import time
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any
from urllib.parse import urlsplit

from starlette.requests import Request
from starlette.responses import Response

from terrain.web.log import say, say_unforeseen
from terrain.web.settings import WebSettings

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]
Refuse = Callable[[Request, int], Awaitable[Response]]

# No inline script or style anywhere but in the report itself, which brings a rule of its own.
CSP = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
)
_HEADERS = {
    "content-security-policy": CSP,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "x-robots-tag": "noindex, nofollow",
    # The link in the address is the rider's key: it must not travel to other sites.
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=(), payment=()",
    "cache-control": "no-store",
}
_SMALL = 300_000  # of a form or a JSON body without files
_AT_ONCE = 400  # requests; more are asked to come again
_DRAIN = 8  # so many times the limit is read away before the line is cut


_LOOPBACK = ("127.0.0.1", "::1", "localhost")
_EVERYWHERE = ("0.0.0.0", "::", "")
_ANY_ADDRESS = "*"


def hosts_of(settings: WebSettings, listens_on: str) -> frozenset[str]:
    """The names by which a desk may be asked for: its public one, or where it listens.

    What follows where this is not checked: OWASP Web Security Testing Guide, WSTG-INPV-17 (from
    memory).
    """
    public = urlsplit(settings.public_url).hostname
    names = {*_LOOPBACK, public or listens_on.lower()}
    if public is None and listens_on in _EVERYWHERE:
        names |= {_ANY_ADDRESS, socket.gethostname().lower(), socket.getfqdn().lower()}
    return frozenset(names)


def _host_name(text: str) -> str:
    """The name in a Host header, without its port (RFC 9110, 7.2)."""
    try:
        return (urlsplit(f"//{text}").hostname or "").rstrip(".")
    except ValueError:
        return ""


def _is_address(host: str) -> bool:
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True


class Edge:
    """Wraps the application; nothing within it sees more of a body than the limit."""

    def __init__(
        self, app: App, settings: WebSettings, refuse_large: Refuse, *, listens_on: str = ""
    ) -> None:
        """refuse_large : answers a request whose body is larger than so many bytes

        listens_on : the address; only names that lead there are answered to, any if empty
        """
        self.hosts = hosts_of(settings, listens_on) if listens_on else None
        self.app = app
        self.settings = settings
        self.refuse_large = refuse_large
        self.busy = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        scope = self._behind_proxy(scope)
        body = _Body(receive, self._most(scope))
        answer = _Answer(send, self._headers())
        started = time.monotonic()
        self.busy += 1
        try:
            if self.busy > _AT_ONCE:
                await answer.come_again()
            elif self.hosts is not None and not self._is_for_us(scope):
                await answer.not_ours()
            elif not body.fits(scope):
                body.over = True
            else:
                await self.app(scope, body.receive, answer.guard(body))
        except Exception as exc:
            # The application has answered already (500), or the client has gone.
            say_unforeseen("unforeseen", exc)
            if not answer.begun and not body.over:
                raise
        finally:
            self.busy -= 1
            if body.over and not answer.begun:
                await body.drain()
                request = Request({**scope, "app": self.app, "state": {}}, receive)
                page = await self.refuse_large(request, body.most)
                await page(scope, receive, answer.send)
            _log(scope, answer.status, time.monotonic() - started)

    def _most(self, scope: Scope) -> int:
        parts = scope["path"].removeprefix(self.settings.root_path).strip("/").split("/")
        takes_files = parts[0] in ("ride", "t", "api") or parts[-1] in ("routes", "import")
        return self.settings.max_bytes if takes_files else _SMALL

    def _behind_proxy(self, scope: Scope) -> Scope:
        """The proxy may hand the path on with or without the part that leads to us."""
        root = self.settings.root_path
        if not root:
            return scope
        path = scope["path"]
        if path != root and not path.startswith(root + "/"):
            path = root + path
        return {**scope, "root_path": root, "path": path, "raw_path": path.encode()}

    def _is_for_us(self, scope: Scope) -> bool:
        """Whether the name asked for is ours; another site's may have been pointed here."""
        assert self.hosts is not None
        if scope["path"].endswith("/health"):  # watchers ask by any address
            return True
        told = [value for name, value in scope["headers"] if name == b"host"]
        host = _host_name(told[0].decode("latin-1")) if len(told) == 1 else ""
        return host in self.hosts or (_ANY_ADDRESS in self.hosts and _is_address(host))

    def _headers(self) -> dict[str, str]:
        if self.settings.secure:
            return {**_HEADERS, "strict-transport-security": "max-age=31536000"}
        return _HEADERS


class _Body:
    """A request's body, counted."""

    def __init__(self, receive: Receive, most: int) -> None:
        self._receive = receive
        self.most = most
        self.n = 0
        self.over = False
        self.ended = False

    def fits(self, scope: Scope) -> bool:
        for name, value in scope["headers"]:
            if name == b"content-length":
                return value.isdigit() and int(value) <= self.most
        return True

    async def receive(self) -> Message:
        message = await self._receive()
        if message["type"] == "http.request":
            self.n += len(message.get("body", b""))
            self.ended = not message.get("more_body", False)
            if self.n > self.most:
                self.over = True
                # What reads the body ends as if the client had gone; its answer is not sent.
                return {"type": "http.disconnect"}
        return message

    async def drain(self) -> None:
        """Read the rest away, so that the client gets to our answer."""
        while not self.ended and self.n < _DRAIN * self.most:
            message = await self._receive()
            if message["type"] != "http.request":
                return
            self.n += len(message.get("body", b""))
            self.ended = not message.get("more_body", False)


class _Answer:
    """An answer on its way out; headers are added where the page set none of its own."""

    def __init__(self, send: Send, headers: dict[str, str]) -> None:
        self._send = send
        self.headers = headers
        self.begun = False
        self.status = 0

    def guard(self, body: _Body) -> Send:
        async def send(message: Message) -> None:
            if body.over and not self.begun:
                return
            await self.send(message)

        return send

    async def send(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.begun = True
            self.status = message["status"]
            there = {name for name, _ in message.get("headers", [])}
            more = [
                (name.encode(), value.encode())
                for name, value in self.headers.items()
                if name.encode() not in there
            ]
            message = {**message, "headers": [*message.get("headers", []), *more]}
        await self._send(message)

    async def not_ours(self) -> None:
        data = b"This is not the desk's address.\n"
        headers = [(b"content-type", b"text/plain")]
        await self.send({"type": "http.response.start", "status": 421, "headers": headers})
        await self.send({"type": "http.response.body", "body": data})

    async def come_again(self) -> None:
        data = b"The desk is busy. Try again in a few seconds.\n"
        headers = [(b"content-type", b"text/plain"), (b"retry-after", b"5")]
        await self.send({"type": "http.response.start", "status": 503, "headers": headers})
        await self.send({"type": "http.response.body", "body": data})


def _log(scope: Scope, status: int, took_s: float) -> None:
    # The pattern of the address, never the address: it may hold a rider's link.
    route = scope.get("route")
    path = getattr(route, "path", "") or "unknown"
    if path.startswith("/static"):
        return
    say("request", method=scope["method"], route=path, status=status, ms=round(1000 * took_s))
