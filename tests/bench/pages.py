"""Two hundred pages left open while their routes wait, as their script follows them.

    python -m tests.bench.pages [PAGES] [SECONDS]

Bar: the server under 350 MB. Each page asks for the state of its route after 1 s, then ever more
rarely, up to each 5 s, and again 4 s after a look that failed, like `web.js`; in the end it is
asked for whole. Looks that failed are told: the server closes a connection at rest after 5 s, and a
browser then takes another one unasked.
"""

from __future__ import annotations

import asyncio
import sys
import tempfile
import time
from pathlib import Path

import httpx2
import numpy as np

from tests.web.standin import GPX
from tests.web.test_server import Server

_FIRST_S, _GROWS, _MOST_S, _FAILED_S = 1.0, 1.1, 5.0, 4.0  # as in web.js
_KEPT_S = 3.0  # below the 5 s after which the server closes a connection at rest


class _Slow(Server):
    make_s = 3600.0  # no route is read while its page is looked at
    workers = 1


async def _follow(client: httpx2.AsyncClient, link: str, until: float) -> list[float]:
    """How long each look took [s]."""
    page = await _page(client, link)
    assert page.status_code == 200 and "data-watch" in page.text
    looks, wait_s = [], _FIRST_S
    while time.monotonic() < until:
        await asyncio.sleep(wait_s)
        started = time.perf_counter()
        try:
            told = await client.get(link + "/state", headers={"accept": "application/json"})
        except httpx2.TransportError:
            looks.append(np.nan)
            wait_s = _FAILED_S
            continue
        looks.append(time.perf_counter() - started)
        assert told.status_code == 200 and told.json()["working"] is True
        wait_s = min(wait_s * _GROWS, _MOST_S)
    assert (await _page(client, link)).status_code == 200
    return looks


async def _page(client: httpx2.AsyncClient, link: str) -> httpx2.Response:
    """On a connection of its own."""
    return await client.get(link, headers={"connection": "close"})


async def _open(links: list[str], seconds: float) -> list[float]:
    n = len(links)
    limits = httpx2.Limits(max_connections=n, max_keepalive_connections=n, keepalive_expiry=_KEPT_S)
    alone = {"connection": "close"}
    async with httpx2.AsyncClient(timeout=60, limits=limits) as client:
        for link in links:
            sent = {"files": ("a.gpx", GPX)}
            form = {"rider": "steady", "once": "1"}
            told = await client.post(link, data=form, files=sent, headers=alone)
            assert told.status_code == 303
        until = time.monotonic() + seconds
        found = await asyncio.gather(*(_follow(client, link, until) for link in links))
    return [look for looks in found for look in looks]


def main() -> None:
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 60.0
    with tempfile.TemporaryDirectory() as folder:
        server = _Slow(Path(folder))
        server.start()
        try:
            before, cpu_s = server.memory_mb(), server.cpu_s()
            looks = asyncio.run(_open(server.links(n), seconds))
            half_ms, most_ms = 1000 * np.nanpercentile(looks, (50, 95))
            print(f"{n} pages, {seconds:.0f} s: {before:.0f} MB, at most {server.memory_mb():.0f}")
            print(f"{len(looks)} looks, {np.isnan(looks).sum()} failed, by the clock a median of")
            print(f"{half_ms:.0f} ms and 95 % in {most_ms:.0f} ms")
            print(f"{server.cpu_s() - cpu_s:.1f} s of processor in the server")
        finally:
            server.kill_all()
            server.stop()


if __name__ == "__main__":
    main()
