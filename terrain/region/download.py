"""Files from web servers: resumed where they broke off, whole or not at all."""

from __future__ import annotations

import http.client
import json
import time
import urllib.error
import urllib.request
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any
from urllib.parse import urlsplit

from terrain.errors import MapDataError
from terrain.region.disk import file_errors, write_file
from terrain.text.message import message

_CHUNK = 1 << 18
_NOT_THERE = frozenset({403, 404, 410})  # some stores answer 403 for what they do not hold
_LATER = frozenset({408, 425, 429, 500, 502, 503, 504})
_AGENT = "terrain (route planning; reads open map data)"


class NotOnServerError(Exception):
    """The server answers, and does not hold the file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Patience:
    """How long to bear with a server.

    tries : attempts in all without any progress between them; timeout_s for each answer;
    first_wait_s doubles with each try; most_wait_s bounds it and what the server asks for
    """

    tries: int = 4
    timeout_s: float = 30.0
    first_wait_s: float = 1.0
    most_wait_s: float = 30.0
    sleep: Callable[[float], None] = time.sleep


def download(
    url: str,
    path: Path,
    *,
    most_bytes: int,
    patience: Patience | None = None,
    say: Callable[[float | None], None] = lambda share: None,
) -> None:
    """Fetch a file, going on from where an earlier call broke off if it is still the same file.

    url : http or https; redirects stay within these
    most_bytes : a larger file is refused
    say : told the share of the file that is here, None if its size is not known
    The file appears under `path` only when whole. Raises NotOnServerError if there is no such file,
    MapDataError if the server cannot be reached or the transfer fails, TerrainError if the
    disk refuses.
    """
    if urlsplit(url).scheme not in ("http", "https") or not urlsplit(url).hostname:
        raise MapDataError(
            message("this is no web address"), url, message("It should begin with https://.")
        )
    patience = patience or Patience()
    part = path.with_name(path.name + ".part")
    with file_errors(path):
        path.parent.mkdir(parents=True, exist_ok=True)
    failures = 0
    while True:
        before = _size(part)
        try:
            _transfer(url, part, most_bytes, patience.timeout_s, say)
            break
        except _RetryError as trouble:
            failures = 1 if _size(part) > before else failures + 1
            if failures >= patience.tries:
                raise _failed(url, trouble) from trouble
            wait = patience.first_wait_s * 2 ** (failures - 1)
            patience.sleep(min(max(wait, trouble.wait_s), patience.most_wait_s))
    with file_errors(path):
        part.replace(path)
        _marks(part).unlink(missing_ok=True)


def read_answer(url: str, *, most_bytes: int, timeout_s: float, until_s: float) -> bytes:
    """A short answer of a server, asked for once.

    until_s : of time.monotonic(), when to give up however slowly it comes
    Raises NotOnServerError for a refusal that has nothing to do with the network, MapDataError for
    all else.
    """
    headers = {"User-Agent": _AGENT, "Accept-Encoding": "identity"}
    trouble = MapDataError(message("the server was too slow"), url, "")
    data = bytearray()
    try:
        answer = _opener().open(urllib.request.Request(url, headers=headers), timeout=timeout_s)
        with answer:
            while chunk := answer.read1(_CHUNK):
                data += chunk
                if len(data) > most_bytes:
                    raise _too_large(url, most_bytes)
                if time.monotonic() > until_s:
                    raise trouble
    except TimeoutError as exc:
        raise trouble from exc
    except urllib.error.HTTPError as exc:
        with exc:
            if exc.code in _NOT_THERE or exc.code in (400, 422):
                raise NotOnServerError(str(exc.code)) from exc
        raise MapDataError(
            message("the server answered {code}", code=str(exc.code)), url, ""
        ) from exc
    except (OSError, http.client.HTTPException) as exc:
        if isinstance(getattr(exc, "reason", None), TimeoutError):
            raise trouble from exc
        raise MapDataError(
            message("the server cannot be reached ({reason})", reason=_reason(exc)), url, ""
        ) from exc
    return bytes(data)


class _RetryError(Exception):
    """Worth another try, after at least wait_s."""

    def __init__(self, why: str, wait_s: float = 0.0) -> None:
        super().__init__(why)
        self.wait_s = wait_s


def _failed(url: str, trouble: _RetryError) -> MapDataError:
    return MapDataError(
        message("the file could not be fetched ({trouble})", trouble=str(trouble)),
        url,
        message(
            "Check the network and the address, and run the command again: it goes on from where "
            "it stopped."
        ),
    )


def _transfer(
    url: str, part: Path, most_bytes: int, timeout_s: float, say: Callable[[float | None], None]
) -> None:
    """One attempt. Raises _RetryError, NotOnServerError, MapDataError."""
    have, mark = _size(part), _mark(part)
    headers = {"User-Agent": _AGENT, "Accept-Encoding": "identity"}
    if have and mark:
        # If-Range (RFC 9110, 13.1.5): the rest if the file is unchanged, else all of it.
        headers |= {"Range": f"bytes={have}-", "If-Range": mark}
    try:
        answer = _opener().open(urllib.request.Request(url, headers=headers), timeout=timeout_s)
    except urllib.error.HTTPError as exc:
        with exc:
            _judge(exc, part)
        return
    except (OSError, http.client.HTTPException) as exc:
        raise _RetryError(_reason(exc)) from exc
    with answer:
        resumed = answer.status == 206 and _range_start(answer) == have
        if answer.status != 200 and not resumed:
            part.unlink(missing_ok=True)
            raise _RetryError(f"the server answered {answer.status} out of turn")
        start = have if resumed else 0
        whole = _whole_size(answer, start)
        if whole is not None and whole > most_bytes:
            raise _too_large(url, most_bytes)
        if not resumed:
            write_file(_marks(part), [json.dumps(_validator(answer)).encode()])
        with file_errors(part), part.open("ab" if resumed else "wb") as file:
            _copy(url, answer, file, start=start, whole=whole, most_bytes=most_bytes, say=say)


def _copy(
    url: str,
    answer: Any,
    file: IO[bytes],
    *,
    start: int,
    whole: int | None,
    most_bytes: int,
    say: Callable[[float | None], None],
) -> None:
    at = start
    while True:
        try:
            chunk = answer.read(_CHUNK)
        except http.client.IncompleteRead as exc:
            file.write(exc.partial)
            raise _RetryError("the connection broke off") from exc
        except (OSError, http.client.HTTPException) as exc:
            raise _RetryError(_reason(exc)) from exc
        if not chunk:
            break
        at += len(chunk)
        if at > most_bytes:
            raise _too_large(url, most_bytes)
        file.write(chunk)
        say(at / whole if whole else None)
    if whole is not None and at < whole:
        raise _RetryError(f"the connection broke off after {at} of {whole} bytes")


def _judge(answer: urllib.error.HTTPError, part: Path) -> None:
    """What a refusal means."""
    if answer.code in _NOT_THERE:
        raise NotOnServerError(str(answer.code))
    if answer.code == 416:  # what we hold is not a beginning of what the server has
        part.unlink(missing_ok=True)
        raise _RetryError("the file on the server has changed")
    if answer.code in _LATER:
        wait = answer.headers.get("Retry-After", "")
        raise _RetryError(
            f"the server answered {answer.code}", float(wait) if wait.isdigit() else 0.0
        )
    raise MapDataError(
        message(
            "the server refused: {code} {reason}", code=str(answer.code), reason=str(answer.reason)
        ),
        answer.url,
        message("Check the address."),
    )


def _too_large(url: str, most_bytes: int) -> MapDataError:
    return MapDataError(
        message(
            "the file is larger than {value} MB, the most it should be",
            value=f"{most_bytes / 1000000.0:.0f}",
        ),
        url,
        message("Check the address."),
    )


def _reason(exc: Exception) -> str:
    reason = getattr(exc, "reason", None) or exc
    return str(getattr(reason, "strerror", None) or reason or type(exc).__name__)


class _SameKind(urllib.request.HTTPRedirectHandler):
    """Redirects to http and https only, and never from https to http."""

    def redirect_request(
        self, req: Any, fp: Any, code: int, msg: str, headers: Any, newurl: str
    ) -> Any:
        scheme, old = urlsplit(newurl).scheme, urlsplit(req.full_url).scheme
        if scheme != "https" and not (scheme == "http" == old):
            raise MapDataError(
                message(
                    "the server points on to {newurl}, which is not safe to follow",
                    newurl=str(newurl),
                ),
                req.full_url,
                message("Check the address."),
            )
        return super().redirect_request(req, fp, code, msg, headers, newurl)


def _opener() -> urllib.request.OpenerDirector:
    opener = urllib.request.OpenerDirector()
    for handler in (
        urllib.request.ProxyHandler(),
        urllib.request.HTTPHandler(),
        urllib.request.HTTPSHandler(),
        urllib.request.HTTPDefaultErrorHandler(),
        urllib.request.HTTPErrorProcessor(),
        urllib.request.UnknownHandler(),
        _SameKind(),
    ):
        opener.add_handler(handler)
    return opener


def _size(path: Path) -> int:
    return path.stat().st_size if path.exists() else 0


def _marks(part: Path) -> Path:
    return part.with_name(part.name + ".json")


def _mark(part: Path) -> str | None:
    """What the server called the version of the file we hold a part of."""
    try:
        mark = json.loads(_marks(part).read_bytes())
    except (OSError, ValueError):
        return None
    return mark if isinstance(mark, str) else None


def _validator(answer: Any) -> str | None:
    # A weak ETag does not promise equal bytes (RFC 9110, 8.8.1), so it cannot join two parts.
    etag = answer.headers.get("ETag")
    if etag and not etag.startswith("W/"):
        return str(etag)
    modified = answer.headers.get("Last-Modified")
    return None if modified is None else str(modified)


def _range_start(answer: Any) -> int | None:
    words = answer.headers.get("Content-Range", "").removeprefix("bytes ").partition("-")
    return int(words[0]) if words[0].isdigit() else None


def _whole_size(answer: Any, start: int) -> int | None:
    length = answer.headers.get("Content-Length", "")
    return start + int(length) if length.isdigit() else None
