"""`terrain demo`: try it on an invented island, without a network."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from terrain.cli.console import called, colourful, progress, width
from terrain.cli.options import out_option
from terrain.settings import Settings

# A hot morning before the rains, so that heat and daylight are part of the answer.
_DEPART = datetime(2027, 4, 14, 7, 30)


@click.command(
    name="demo",
    epilog="\b\nExample:\n  terrain demo --out try-it",
)
@out_option
@click.pass_obj
def command(settings: Settings, /, out: Path) -> None:
    """Try it on an invented island, without a network.

    Builds the region 'island' if it is not there yet, reports on one of its sample routes, and
    says where the files are. Map, heights and names are invented.
    """
    from terrain import flow
    from terrain.demo.region import DEMO_REGION, demo_route, ensure_demo_region
    from terrain.inputs.lines import read_route
    from terrain.report.files import route_stem
    from terrain.report.formats import write_files
    from terrain.report.terminal import Style, render_summary
    from terrain.text.translator import translator_for
    from terrain.values.trip import Trip
    from terrain.values.verdict import Audience

    with progress("the invented island") as step:
        demo = ensure_demo_region(settings.home, step)
        path = demo_route(demo)
        step("judging the route")
        region = flow.open_region(DEMO_REGION, settings.home)
        report = flow.assess(read_route(path), region, Trip(depart=_DEPART))
        step("writing")
        written = write_files(report, ("html", "json"), folder=out, stem=route_stem(path.name))
    style = Style(width=width(), colour=colourful())
    click.echo(render_summary(report, translator_for("en", "metric"), style, Audience.RIDER))
    click.echo("")
    for file in written:
        click.echo(str(file))
    click.echo(f"Sample routes: {path.parent}")
    other = _other(demo.routes, path)
    click.echo(f"Next: {called()} report {other} --region {DEMO_REGION}")


def _other(routes: tuple[Path, ...], used: Path) -> Path:
    return next(route for route in routes if route != used)
