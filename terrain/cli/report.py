"""`terrain report`: the main job."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from terrain.cli import told
from terrain.cli.console import Step, colourful, progress, width
from terrain.cli.inputs import read_asked, read_operator, read_trip, service_asked
from terrain.cli.options import (
    audience_options,
    forecast_option,
    lines_option,
    mail_options,
    operator_options,
    out_option,
    region_option,
    trip_options,
    write_option,
)
from terrain.errors import TerrainError
from terrain.settings import Settings

if TYPE_CHECKING:
    from terrain.region.region import Region
    from terrain.values.report import Report
    from terrain.values.route import Route


@click.command(
    name="report",
    epilog="\b\nExample:\n  terrain report plan.gpx --region island --depart 2027-03-14T07:30 "
    "--write html,json",
)
@click.argument(
    "routes", nargs=-1, required=True, metavar="ROUTE...", type=click.Path(path_type=Path)
)
@region_option
@lines_option
@trip_options
@operator_options
@forecast_option
@out_option
@write_option
@click.option(
    "--json",
    "as_json",
    is_flag=True,
    help="Print the JSON on stdout, nothing else; of several routes, a line each.",
)
@audience_options
@mail_options
@click.pass_obj
def command(settings: Settings, /, routes: tuple[Path, ...], **options: Any) -> int:
    """Say what ground, relief, heat and help lie along a route.

    ROUTE is GPX, KML, KMZ, GeoJSON, GeoPackage, CSV of longitude and latitude, or a text file with
    an encoded polyline; gzipped, or one or more in a .zip. The answer is printed; the full report
    is written as a page that opens in any browser.
    """
    from terrain.report.files import distinct_stems

    status = 0
    # Two routes of one file name, from two folders, must not overwrite each other.
    stems = distinct_stems([path.name for path in routes])
    for path, stem in zip(routes, stems, strict=True):
        try:
            _report_file(settings, path, stem, options, many=len(routes) > 1)
        except TerrainError as exc:
            # One bad file among several does not stop the others.
            if len(routes) == 1:
                raise
            click.echo(told(exc, options["lang"]), err=True)
            status = status or exc.exit_code
    return status


def _report_file(
    settings: Settings, path: Path, stem: str, options: dict[str, Any], *, many: bool
) -> None:
    """Report on a file: on each of its lines if they are alternatives."""
    from terrain.inputs.lines import LineRule, read_routes

    routes = read_routes(path, lines=LineRule(options["lines"]))
    for n, route in enumerate(routes, start=1):
        own = stem if len(routes) == 1 else f"{stem}-{n}"
        _report_one(settings, route, own, options, many=many or len(routes) > 1)


def _report_one(
    settings: Settings, route: Route, stem: str, options: dict[str, Any], *, many: bool
) -> None:
    from terrain.text.translator import translator_for

    with progress(f"reading {route.source}") as step:
        report = _assess(settings, route, options, step)
        translator = translator_for(options["lang"], options["units"])
        written = _write(report, stem, options, step)
    if options["as_json"]:
        from terrain.report.data.jsonfile import json_bytes, report_data

        click.echo(json_bytes(report_data(report), indented=not many), nl=False)
        return
    from terrain.report.terminal import Style, render_summary
    from terrain.values.verdict import Audience

    style = Style(width=width(), colour=colourful())
    click.echo(render_summary(report, translator, style, Audience(options["audience"])))
    for file in written:
        click.echo(str(file))
    if many:
        click.echo("")


def _assess(settings: Settings, route: Route, options: dict[str, Any], step: Step) -> Report:
    from terrain import flow

    step("opening the region")
    region: Region
    if options["region"]:
        region = flow.open_region(options["region"], settings.home)
    else:
        region = flow.find_region(route, settings.home)
    given = read_operator(options)
    if options["forecast"]:
        from terrain.region.forecast import fetch_forecast

        step("asking for the weather")
        service = service_asked(settings, options["depart"])
        given["forecast"] = fetch_forecast(route, service, options["depart"], zones=region.zones)
    step("judging the route")
    return flow.assess(route, region, read_trip(options, given.get("fleet")), **given)


def _write(report: Report, stem: str, options: dict[str, Any], step: Step) -> list[Path]:
    from terrain.report.formats import write_files

    formats: tuple[str, ...] | None = options["write"]
    if formats is None:
        formats = () if options["as_json"] else ("html",)
    step("writing")
    return write_files(
        report,
        formats,
        folder=options["out"],
        stem=stem,
        asked=read_asked(options),
    )
