"""A desk on loopback with its worker, for browsers."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

from terrain.web.app import create_app
from terrain.web.database import Database
from terrain.web.people import Role, add_user
from terrain.web.settings import WebSettings
from terrain.web.work import make_report
from terrain.web.worker import Maker, Worker
from tests.web.conftest import PASSWORD

#: Who may sign in, with PASSWORD.
WHO = "robin"


@contextmanager
def live_desk(settings: WebSettings, make: Maker = make_report) -> Iterator[str]:
    """Its address, while it runs."""
    import uvicorn

    app = create_app(settings)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = uvicorn.Server(
        uvicorn.Config(app, host="127.0.0.1", port=port, log_level="warning", access_log=False)
    )
    db = Database(settings.database_url)
    with db.write() as conn:
        add_user(conn, WHO, Role.ADMIN, PASSWORD, time.time())
    stop = threading.Event()
    threads = [
        threading.Thread(target=server.run),
        threading.Thread(target=Worker(db, settings, make).run, args=(stop,)),
    ]
    for thread in threads:
        thread.start()
    while not server.started:
        time.sleep(0.05)
    try:
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        stop.set()
        for thread in threads:
            thread.join()
        db.close()
