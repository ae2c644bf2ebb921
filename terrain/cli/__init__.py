"""The command line: parse, call one function, print.

Commands live in a module each and are loaded when they are called, so that help is instant.
"""

from __future__ import annotations

import difflib
import errno
import gc
import os
import sys
import traceback
from collections.abc import Sequence
from contextlib import suppress
from importlib import import_module
from itertools import pairwise

import click

from terrain.errors import TerrainError
from terrain.settings import Settings
from terrain.text.message import message

# name: (module that exposes `command`, one line for the list of commands)
COMMANDS: dict[str, tuple[str, str]] = {
    "report": ("terrain.cli.report", "Say what ground, heat and help lie along a route."),
    "batch": ("terrain.cli.batch", "Report on many routes, with one summary table."),
    "when": ("terrain.cli.when", "Say when to ride a route: twelve months by start hour."),
    "ridden": (
        "terrain.cli.ridden",
        "Say what a recorded ride did: times, stops, plan.",
    ),
    "learn": ("terrain.cli.learn", "Learn times and ground from recorded rides."),
    "hindsight": ("terrain.cli.hindsight", "Say how well the reports did on the rides since."),
    "region": ("terrain.cli.region", "Make, list and show local map packs."),
    "fleet": ("terrain.cli.fleet", "Check the operator's fleet file."),
    "notes": ("terrain.cli.notes", "Check the operator's own ground notes."),
    "schema": ("terrain.cli.schema", "Print the JSON Schema of an answer for machines."),
    "serve": ("terrain.cli.serve", "Riders upload, staff answer, guides plan, on a web page."),
    "demo": ("terrain.cli.demo", "Try it on an invented island, without a network."),
}


class LazyGroup(click.Group):
    """A group that imports a command's module only when the command is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        entry = COMMANDS.get(cmd_name)
        if entry is None:
            return None
        command = import_module(entry[0]).command
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in COMMANDS.items()])

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        name = args[0]
        if name not in COMMANDS and not name.startswith("-"):
            near = difflib.get_close_matches(name, COMMANDS, n=1)
            hint = f"Did you mean {near[0]}?" if near else f"Commands: {', '.join(COMMANDS)}."
            raise click.UsageError(
                message("There is no command {name}. {hint}", name=repr(name), hint=str(hint)), ctx
            )
        return super().resolve_command(ctx, args)


@click.group(
    cls=LazyGroup,
    name="terrain",
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="\b\nExample:\n  terrain report plan.gpx --region island --depart 2027-03-14T07:30",
)
@click.version_option(package_name="terrain", message="terrain %(version)s")
@click.pass_context
def program(ctx: click.Context) -> None:
    """Road trip or off-road trip?

    Reads a planned motorcycle route (GPX) and says what ground, relief, heat and help lie along
    it, from open map data kept on this machine.
    """
    ctx.obj = Settings.from_env()


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line; returns the exit status. No traceback reaches the user."""
    # Our matrices are small: more threads only wait for each other, and each keeps memory.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # What a report is made of is many small things, few of them garbage before its end: looking
    # through them at each 700 new ones takes a twentieth of it (common practice, no source).
    gc.set_threshold(50_000)
    try:
        result = program.main(
            args=list(argv) if argv is not None else None,
            prog_name="terrain",
            standalone_mode=False,
        )
    except click.ClickException as exc:
        return _explain_usage(exc)
    except (click.Abort, KeyboardInterrupt):
        return _say("Stopped.", 130)
    except TerrainError as exc:
        return _say(
            told(exc, _asked_language(sys.argv[1:] if argv is None else argv)), exc.exit_code
        )
    except BrokenPipeError:
        # The reader of our output went away (such as `| head`); there is nobody to tell.
        sys.stderr.close()
        return 1
    except OSError as exc:
        return _no_space() if exc.errno == errno.ENOSPC else _unforeseen(exc)
    except Exception as exc:
        return _unforeseen(exc)
    return result if isinstance(result, int) else 0


def told(exc: TerrainError, lang: str) -> str:
    """An error in a language; in English on one line as it stands."""
    from terrain.text.translator import translator_for

    return str(exc) if lang == "en" else exc.say(translator_for(lang))


def _asked_language(args: Sequence[str]) -> str:
    """The language of `--lang`, which an error comes before; English if it is none of ours."""
    from terrain.text.catalogue import LANGUAGES

    wanted = [b for a, b in pairwise(args) if a == "--lang"]
    wanted += [arg.partition("=")[2] for arg in args if arg.startswith("--lang=")]
    return next((lang for lang in wanted if lang in LANGUAGES), "en")


def _say(message: str, status: int) -> int:
    click.echo(message, err=True)
    return status


def _no_space() -> int:
    """The disk, or where the output goes, is full."""
    if sys.stdout is not None:
        # What is left in the buffer would fail once more as the program ends.
        with suppress(OSError, ValueError):
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, sys.stdout.fileno())
            os.close(nowhere)
            sys.stdout.flush()
    return _say("There is no space left where the output goes. Free some and run it again.", 1)


def _explain_usage(exc: click.ClickException) -> int:
    message = exc.format_message()
    ctx = getattr(exc, "ctx", None)
    if ctx is not None:
        message = f"{message}\nSee: {ctx.command_path} --help"
    return _say(message, 2)


def _unforeseen(exc: Exception) -> int:
    if _debug():
        traceback.print_exception(exc)
        return 1
    kind = type(exc).__name__
    text = " ".join(str(exc).split())[:300]
    return _say(
        f"Something went wrong that terrain did not foresee ({kind}: {text}). "
        "Set TERRAIN_DEBUG=1 and run it again for the details.",
        1,
    )


def _debug() -> bool:
    try:
        return Settings.from_env().debug
    except TerrainError:
        return False
