"""`terrain hindsight`: how well the reports did on the rides since."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from terrain.cli.console import progress
from terrain.cli.learn import read_rides, said_of
from terrain.cli.options import rides_options
from terrain.settings import Settings

_file = click.Path(path_type=Path)


@click.command(
    name="hindsight", epilog="\b\nExample:\n  terrain hindsight rides/*.json --region island"
)
@click.argument("rides", nargs=-1, required=True, metavar="RIDES...", type=_file)
@rides_options
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
    from terrain.stages.ridden.learning.times import learn_times, lesson_of

    with progress("reading the rides") as step:
        found, faults = read_rides(rides, settings, options, step)
        said = said_of(settings, options)
        told = judge_hindsight(
            found, statements=said.statements, witnesses=said.witnesses, map_p=said.map_p,
            times=learn_times([lesson_of(ride) for ride in found]),
        )  # fmt: skip
    for fault in faults:
        click.echo(str(fault), err=True)
    if options["as_json"]:
        from terrain.report.data.jsonfile import json_bytes

        click.echo(json_bytes(told.to_dict()), nl=False)
    else:
        click.echo(hindsight_text(told))
