"""`terrain ridden`: what a recorded ride did."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from terrain.cli.console import progress
from terrain.cli.options import region_option
from terrain.settings import Settings
from terrain.text.message import message
from terrain.values.trip import Rider

if TYPE_CHECKING:
    from terrain.values.ridden import Ridden

_file = click.Path(path_type=Path)


@click.command(
    name="ridden",
    epilog="\b\nExample:\n  terrain ridden day1.gpx day2.gpx --region island --plan plan.gpx",
)
@click.argument("tracks", nargs=-1, required=True, metavar="TRACK...", type=_file)
@region_option
@click.option("--plan", type=_file, metavar="ROUTE", help="What was planned, to compare with.")
@click.option(
    "--rider",
    type=click.Choice([r.value for r in Rider]),
    default=Rider.STEADY.value,
    show_default=True,
    help="How much off-road riding the rider had behind them.",
)
@click.option("--bike", metavar="CLASS", help="The bike class that was ridden, if known.")
@click.option("--fleet", type=_file, metavar="FILE", help="The operator's bikes and rules.")
@click.option("--page", type=_file, metavar="FILE", help="Write a page: plan and ride, drawn.")
@click.option("--json", "as_json", is_flag=True, help="Print the JSON on stdout, nothing else.")
@click.pass_obj
def command(settings: Settings, /, tracks: tuple[Path, ...], **options: Any) -> None:
    """Say what a recorded ride did: moving and standing time, stops, and how it kept its plan.

    TRACK is a GPX file with times, a tracker's CSV (time, lat, lon), or an NMEA 0183 log; several
    files are one trip. The first and last 1.5 km are left out: homes and hotels lie there.
    """
    from terrain import flow, rides
    from terrain.cli.inputs import class_meant
    from terrain.inputs.lines import read_route
    from terrain.inputs.tracks import read_ride
    from terrain.report.ride.text import ridden_text
    from terrain.text.translator import translator_for
    from terrain.values.trip import Trip

    with progress("reading the recording") as step:
        track = read_ride(tracks)
        plan = read_route(options["plan"]) if options["plan"] else None
        step("opening the region")
        region = (
            flow.open_region(options["region"], settings.home)
            if options["region"]
            else flow.find_region(rides.line_of(track), settings.home)
        )
        step("reading it against the map")
        given: dict[str, Any] = {}
        if options["fleet"]:
            from terrain.inputs.fleet import read_fleet

            given["fleet"] = read_fleet(options["fleet"])
        bike = class_meant(options["bike"], "--bike", given.get("fleet"), translator_for())
        trip = Trip(rider=Rider(options["rider"]), wanted_class=bike)
        found = rides.ridden(track, region, plan, trip, **given)
    if options["page"]:
        _write_page(options["page"], found)
    if options["as_json"]:
        from terrain.report.data.jsonfile import json_bytes

        click.echo(json_bytes(found.to_dict()), nl=False)
    else:
        click.echo(ridden_text(found))


def _write_page(path: Path, found: Ridden) -> None:
    from terrain.report.files import write_whole
    from terrain.report.ride.page import render_ride
    from terrain.text.translator import translator_for

    page = render_ride(found, translator_for()).encode("utf-8")
    write_whole(path, page, message("Choose another folder."))
