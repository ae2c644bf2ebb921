"""`terrain serve`: the web application."""

from __future__ import annotations

import errno
import os
import shlex
import signal
import socket
import sys
import threading
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from terrain.cli.console import called, progress
from terrain.settings import Settings

if TYPE_CHECKING:
    from terrain.web.settings import WebSettings

_LOOPBACK = ("127.0.0.1", "::1", "localhost")


_DATA = click.option(
    "--data",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="DIR",
    help="Folder of bookings and reports.  [default: web under TERRAIN_HOME]",
)
_SETTINGS = click.option(
    "--settings",
    "own",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="TOML file with a table [web].  [default: web.toml under TERRAIN_HOME]",
)


@click.group(
    name="serve",
    invoke_without_command=True,
    epilog="\b\nExample:\n  terrain serve admin robin\n  terrain serve --port 8000\n"
    "  terrain serve backup desk-monday.sqlite",
)
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option(
    "--port",
    default=8000,
    show_default=True,
    type=click.IntRange(0, 65535),
    help="Port to listen on; 0 takes a free one.",
)
@_DATA
@_SETTINGS
@click.pass_context
def command(
    ctx: click.Context, /, host: str, port: int, data: Path | None, own: Path | None
) -> None:
    """Riders upload, staff answer bookings, guides plan, on a web page.

    In a terminal it asks for what is missing at first: an account ('terrain serve admin NAME'
    makes one too) and a map. Settings come from the file and from TERRAIN_WEB_* variables; see
    README.
    """
    settings: Settings = ctx.obj
    if ctx.invoked_subcommand is not None:
        ctx.obj = _Place(home=settings.home, data=data, file=own)
        return
    web = _web_settings(settings.home, own, data)
    port = _check_address(host, port)
    _first_steps(web, settings.home, _asked_again(data, own))
    _serve(web, host, port)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """Where a desk is, as given before the name of a command of its own; None for the usual."""

    home: Path
    data: Path | None
    file: Path | None

    def settings(self, data: Path | None, file: Path | None) -> WebSettings:
        """Of the desk meant; what is given after the command's name counts first."""
        return _web_settings(self.home, file or self.file, data or self.data)


def _web_settings(home: Path, file: Path | None, data: Path | None) -> WebSettings:
    from terrain.web.settings import read_web_settings

    return read_web_settings(home, os.environ, file, data=data)


def _asked_again(data: Path | None, file: Path | None) -> str:
    """The options that lead another command to the same desk."""
    given = (("--data", data), ("--settings", file))
    return "".join(f" {name} {shlex.quote(str(path))}" for name, path in given if path)


def _first_steps(web: WebSettings, home: Path, same: str) -> None:
    """What a new desk needs first, an account and a map: asked for in a terminal, else told of.

    same : the options that lead to this desk
    """
    from terrain.region.manage import list_regions
    from terrain.web.database import Database
    from terrain.web.people import has_accounts

    with closing(Database(web.database_url)) as db:
        db.create()
        with db.read() as conn:
            made = has_accounts(conn)
    asks = sys.stdin is not None and sys.stdin.isatty()
    if not made and asks:
        click.echo("Nobody can sign in yet. Make the first account.", err=True)
        _make_admin(web, str(click.prompt("Name", err=True)), None)
    elif not made:
        command = f"{called()} serve admin NAME{same}"
        click.echo(f"Nobody can sign in yet: make an account with '{command}'.", err=True)
    if not list_regions(home):
        _first_map(home, asks=asks)


def _first_map(home: Path, *, asks: bool) -> None:
    """Build the invented island if the user wants it; else say how a map is made."""
    if asks and click.confirm(
        "There is no map yet. Build the invented island to try the desk with?",
        default=True, err=True,
    ):  # fmt: skip
        from terrain.demo.region import ensure_demo_region

        with progress("the invented island") as step:
            demo = ensure_demo_region(home, step)
        click.echo(f"Routes to try it with: {demo.routes[0].parent}", err=True)
        return
    click.echo(
        f"There is no map yet, so no route can be read. '{called()} demo' builds an invented "
        f"island to try the desk with; '{called()} region build' your own region.",
        err=True,
    )


def _make_admin(web: WebSettings, name: str, password: str | None, *, reset: bool = False) -> None:
    """An account that may do everything; asks for the password, anew if it is refused.

    reset : the account is there, and gets a new password
    """
    import time

    from terrain.errors import InputError
    from terrain.web.database import Database
    from terrain.web.people import Role, add_user, reset_password

    asked = password is None
    with closing(Database(web.database_url)) as db:
        db.create()  # nobody is asked for a password that cannot be kept
    if asked and not (sys.stdin is not None and sys.stdin.isatty()):
        raise click.UsageError(
            "There is no terminal to ask for the password in. Give it on stdin, with "
            "--password-stdin."
        )
    while True:
        if asked:
            password = str(
                click.prompt("Password", hide_input=True, confirmation_prompt=True, err=True)
            )
        try:
            with closing(Database(web.database_url)) as db:
                db.create()
                with db.write() as conn:
                    if reset:
                        reset_password(conn, name, password or "")
                    else:
                        add_user(conn, name, Role.ADMIN, password or "", time.time())
        except InputError as fault:
            if not asked or "password" not in str(fault):
                raise
            click.echo(str(fault), err=True)
        else:
            return


def _serve(web: WebSettings, host: str, port: int) -> None:
    import uvicorn

    from terrain.web.app import create_app

    app = create_app(web, listens_on=host)
    if host not in _LOOPBACK and not web.secure:
        click.echo(
            "Anybody on the way can read passwords sent over plain http. Put a proxy with https "
            "before the desk and set public_url.",
            err=True,
        )
    at = f"[{host}]" if ":" in host else host
    click.echo(
        f"Open {web.public_url or f'http://{at}:{port}'}/desk and sign in. Stop with Ctrl-C.",
        err=True,
    )
    options: dict[str, Any] = {
        "host": host, "port": port, "access_log": False, "log_level": "warning",
        "proxy_headers": True, "forwarded_allow_ips": web.trusted_proxies,
        "server_header": False, "timeout_graceful_shutdown": 10,
    }  # fmt: skip
    uvicorn.run(app, **options)


def _check_address(host: str, port: int) -> int:
    """The port to listen on, a free one for 0.

    An address that cannot be listened on is refused in one line, before anything starts.
    """
    fix = "Give --host an address of this machine, such as 127.0.0.1."
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)
    except (OSError, UnicodeError):  # a label too long for a name is no address either
        raise click.ClickException(f"There is no address {host!r}. {fix}") from None
    family, kind, proto, _, address = found[0]
    with closing(socket.socket(family, kind, proto)) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(address)
        except OSError as fault:
            if fault.errno == errno.EADDRINUSE:
                fix = "Another program listens there; give --port another number, or 0."
            raise click.ClickException(
                f"Cannot listen on {host}, port {port} ({fault.strerror}). {fix}"
            ) from None
        return int(probe.getsockname()[1])


@click.command(name="admin", epilog="\b\nExample:\n  terrain serve admin robin")
@click.argument("name")
@click.option("--password-stdin", is_flag=True, help="Read the password from stdin.")
@click.option("--reset", is_flag=True, help="Give an account that is there a new password.")
@_DATA
@_SETTINGS
@click.pass_obj
def admin(
    place: _Place, /, name: str, password_stdin: bool, reset: bool, data: Path | None,
    own: Path | None,
) -> None:  # fmt: skip
    """Make an account that may do everything, such as the first one."""
    web = place.settings(data, own)
    _make_admin(web, name, sys.stdin.readline().rstrip("\r\n") if password_stdin else None,
                reset=reset)  # fmt: skip
    click.echo(f"{name} may sign in now at the desk in {web.data}.")


@click.command(name="backup", epilog="\b\nExample:\n  terrain serve backup desk-monday.sqlite")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@_DATA
@_SETTINGS
@click.pass_obj
def backup(place: _Place, /, file: Path, data: Path | None, own: Path | None) -> None:
    """Copy all bookings and reports to FILE, also while the desk works."""
    from terrain.web.backup import back_up

    size = back_up(place.settings(data, own), file)
    click.echo(f"{file} ({size / 1e6:.1f} MB)")


@click.command(
    name="work",
    epilog="\b\nExample:\n  terrain serve work --database postgresql://desk@db.example/desk",
)
@click.option(
    "--database",
    metavar="URL",
    help="Database of the desk.  [default: as the desk's settings on this machine say]",
)
@click.option(
    "--workers", type=click.IntRange(min=1), help="Processes that make reports.  [default: 1]"
)
@click.pass_obj
def work(place: _Place, /, database: str | None, workers: int | None) -> None:
    """Make reports for a desk that runs elsewhere.

    Needs the desk's regions, fleet file and learned file under TERRAIN_HOME, copied from its
    machine. Routes for which they are missing or others are left to other machines. A password in
    a URL shows in the list of processes: set TERRAIN_WEB_DATABASE in place of --database.
    """
    from terrain.web.database import Database
    from terrain.web.supervisor import Supervisor

    web = place.settings(None, None)
    web = replace(web, database=database or web.database, workers=workers or max(web.workers, 1))
    stop = threading.Event()
    for sign in (signal.SIGINT, signal.SIGTERM):
        signal.signal(sign, lambda *_: stop.set())
    with closing(Database(web.database_url)) as db:
        db.check()
        supervisor = Supervisor(db, web, tells=False)
        supervisor.start()
        click.echo("Taking routes to read. Stop with Ctrl-C.", err=True)
        stop.wait()
        supervisor.stop()


command.add_command(admin)
command.add_command(work)
command.add_command(backup)
