"""`terrain when`: the best month and hour for a ride."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from terrain.cli.console import colourful, progress, width
from terrain.cli.inputs import read_operator, read_trip
from terrain.cli.options import (
    language_options,
    lines_option,
    operator_options,
    region_option,
    rider_options,
)
from terrain.settings import Settings
from terrain.text.message import message


@click.command(
    name="when",
    epilog="\b\nExample:\n  terrain when plan.gpx --region island --svg when.svg",
)
@click.argument("route", metavar="ROUTE", type=click.Path(path_type=Path))
@region_option
@lines_option
@rider_options
@operator_options
@click.option("--json", "as_json", is_flag=True, help="Print the table as JSON, nothing else.")
@click.option(
    "--svg",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Write the table as a picture, too.",
)
@language_options
@click.pass_obj
def command(settings: Settings, /, route: Path, **options: Any) -> None:
    """Say when to ride a route: twelve months by the hour of setting off.

    Each cell says how much of the riding is hot, where ice may lie, and whether it is ridden in
    the dark; each month, the rain and what it may shut or soften. Means of many years, no forecast.
    """
    from terrain import flow
    from terrain.inputs.lines import LineRule, read_route
    from terrain.report.terminal import Style
    from terrain.report.when import render_when
    from terrain.text.translator import translator_for

    given = read_operator(options)
    given.pop("pins", None)
    trip = read_trip({"depart": None, **options}, given.get("fleet"))
    with progress(f"reading {route.name}") as step:
        line = read_route(route, lines=LineRule(options["lines"]))
        step("opening the region")
        region = (
            flow.open_region(options["region"], settings.home)
            if options["region"]
            else flow.find_region(line, settings.home)
        )
        step("judging twelve months")
        when = flow.when_to_go(line, region, trip, **given)
    translator = translator_for(options["lang"], options["units"])
    if options["svg"] is not None:
        from terrain.report.diagram.when import draw_when
        from terrain.report.files import write_whole

        picture = str(draw_when(when, translator)).encode()
        write_whole(options["svg"], picture, message("Choose another folder."))
    if options["as_json"]:
        import json

        click.echo(json.dumps(when.to_dict(), ensure_ascii=False, indent=1, allow_nan=False))
        return
    click.echo(render_when(when, translator, Style(width=width(), colour=colourful())))
    if options["svg"] is not None:
        click.echo(str(options["svg"]))
