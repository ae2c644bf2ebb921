"""`terrain batch`: many routes, one table."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from terrain.cli.console import progress, width
from terrain.cli.inputs import read_asked, read_operator, read_trip, service_asked
from terrain.cli.options import (
    audience_options,
    forecast_option,
    lines_option,
    mail_options,
    operator_options,
    trip_options,
    write_option,
)
from terrain.settings import Settings

if TYPE_CHECKING:
    from terrain.batch import Order


@click.command(
    name="batch",
    epilog="\b\nExample:\n  terrain batch season/ --region island --out reports --workers 4",
)
@click.argument(
    "paths", nargs=-1, required=True, metavar="PATH...", type=click.Path(path_type=Path)
)
@click.option("--region", required=True, metavar="NAME", help="Local region: a name or a folder.")
@click.option(
    "--out",
    required=True,
    type=click.Path(file_okay=False, path_type=Path),
    metavar="DIR",
    help="Folder for the reports, summary.html and summary.csv.",
)
@click.option(
    "--workers",
    type=click.IntRange(min=1),
    default=1,
    show_default=True,
    help="Processes on this machine.",
)
@click.option(
    "--scheduler",
    metavar="ADDRESS",
    help="Dask scheduler that takes the routes, such as tcp://10.0.0.5:8786; trusted network only.",
)
@lines_option
@trip_options
@operator_options
@forecast_option
@write_option
@audience_options
@mail_options
@click.pass_obj
def command(settings: Settings, /, paths: tuple[Path, ...], **options: Any) -> int:
    """Report on many routes, with one summary table.

    PATH is a route file (see terrain report) or a folder, searched with all below it. A route that
    cannot be used is a row with its error and does not stop the others.
    """
    from terrain.batch import find_routes, run_batch
    from terrain.report.files import write_whole
    from terrain.report.summary import SummaryRow, summary_csv, summary_lines
    from terrain.report.summary_page import summary_html
    from terrain.text.translator import translator_for

    routes = find_routes(paths)
    order = _order(settings, options)
    out: Path = options["out"]
    translator = translator_for(options["lang"], options["units"])
    done: dict[str, list[SummaryRow]] = {}
    with progress(f"{len(routes)} routes") as step:
        outcomes = run_batch(
            routes, order, workers=options["workers"], scheduler=options["scheduler"],
            say=lambda what: click.echo(translator.translate(what), err=True),
        )  # fmt: skip
        for n, outcome in enumerate(outcomes, start=1):
            for name, data in outcome.files:
                write_whole(out / name, data)
            row = outcome.row or SummaryRow(file=outcome.name, error=outcome.error)
            done.setdefault(outcome.name, []).append(row)
            step(f"{n} of {len(routes)} routes", n / len(routes))
    rows = [done[name].pop(0) for _, name in routes]
    write_whole(out / "summary.csv", summary_csv(rows))
    write_whole(out / "summary.html", summary_html(rows, translator))
    click.echo("\n".join(summary_lines(rows, translator, width())))
    click.echo("")
    failed = sum(1 for row in rows if row.error)
    judged = translator._("{n} of {all} routes judged.", n=len(rows) - failed, all=len(rows))
    click.echo(f"{judged} {out / 'summary.html'}")
    # Rows with an error are results; only a batch without any other result has failed.
    return 3 if failed == len(rows) else 0


def _order(settings: Settings, options: dict[str, Any]) -> Order:
    from terrain.batch import Order
    from terrain.inputs.lines import LineRule
    from terrain.region.region import find_folder

    formats: tuple[str, ...] | None = options["write"]
    given = read_operator(options)
    return Order(
        region=find_folder(options["region"], settings.home),
        trip=read_trip(options, given.get("fleet")),
        formats=("html",) if formats is None else formats,
        made_at=datetime.now(UTC),
        asked=read_asked(options),
        lines=LineRule(options["lines"]),
        service=service_asked(settings, options["depart"]) if options["forecast"] else None,
        **given,
    )
