"""`terrain hindsight`: how well the reports did on the rides since."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from terrain.cli.console import progress
from terrain.cli.learn import read_rides, said_of
from terrain.cli.options import region_option
from terrain.settings import Settings
from terrain.values.trip import Rider

_file = click.Path(path_type=Path)


@click.command(
    name="hindsight", epilog="\b\nExample:\n  terrain hindsight rides/*.json --region island"
)
@click.argument("rides", nargs=-1, required=True, metavar="RIDES...", type=_file)
@region_option
@click.option(
    "--rider",
    type=click.Choice([r.value for r in Rider]),
    default=Rider.STEADY.value,
    show_default=True,
    help="Who rode the recordings; the JSON of a ride says so itself.",
)
@click.option("--bike", metavar="CLASS", help="Which class was ridden, for recordings.")
@click.option(
    "--debrief", type=_file, metavar="FILE",
    help="What riders said of ways after their trips (CSV: way_id,said,who,date).",
)  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Print the JSON on stdout, nothing else.")
@click.pass_obj
def command(settings: Settings, /, rides: tuple[Path, ...], **options: Any) -> None:
    """Say how well the reports did on the rides since: is it true?

    RIDES are the JSON of 'terrain ridden --json', or recordings themselves, one trip a file. Told
    are the share of 90 % intervals that held the riding time, the ten largest errors with what
    they come from, and how often the ground was as the map's chances said.
    """
    from terrain.report.ride.hindsight import hindsight_text
    from terrain.stages.ridden.learning.hindsight import judge_hindsight

    with progress("reading the rides") as step:
        found, faults = read_rides(rides, settings, options, step)
        said = said_of(settings, options)
        told = judge_hindsight(
            found, statements=said.statements, witnesses=said.witnesses, map_p=said.map_p
        )
    for fault in faults:
        click.echo(str(fault), err=True)
    if options["as_json"]:
        from terrain.report.data.jsonfile import json_bytes

        click.echo(json_bytes(told.to_dict()), nl=False)
    else:
        click.echo(hindsight_text(told))
