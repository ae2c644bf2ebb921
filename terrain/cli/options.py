"""Options that several commands share, each defined once."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any, TypeVar

import click

from terrain.text.catalogue import LANGUAGES
from terrain.values.trip import Luggage, Rider, Riding, Wants

_Command = TypeVar("_Command", bound=Callable[..., Any])

# The formats that --write knows; the first is the default.
FORMATS: tuple[str, ...] = (
    "html", "pdf", "eml", "json", "geojson", "gpx", "csv", "card", "gpkg", "kml", "ics",
    "parquet",
)  # fmt: skip


_YEARS = (1970, 2200)  # sun and time zones are known about these


class LocalTime(click.ParamType[datetime]):
    """A local date and time such as 2027-03-14T07:30."""

    name = "time"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> datetime:
        if isinstance(value, datetime):
            return value
        try:
            moment = datetime.fromisoformat(str(value))
        except ValueError:
            self.fail(f"{value!r} is not a date and time such as 2027-03-14T07:30.", param, ctx)
        if len(str(value)) <= len("2027-03-14"):
            self.fail(f"{value!r} has no time of day; write {value}T08:00 or so.", param, ctx)
        if not _YEARS[0] <= moment.year <= _YEARS[1]:
            self.fail(f"the year of {value!r} is not from {_YEARS[0]} to {_YEARS[1]}.", param, ctx)
        return moment


class Formats(click.ParamType[tuple[str, ...]]):
    """A comma-separated list out of FORMATS."""

    name = "formats"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, ...]:
        if isinstance(value, tuple):
            return value
        words = [word.strip().lower() for word in str(value).split(",") if word.strip()]
        unknown = [word for word in words if word not in FORMATS]
        if unknown or not words:
            bad = ", ".join(unknown) or "nothing"
            self.fail(f"cannot write {bad}; choose from {', '.join(FORMATS)}.", param, ctx)
        if "parquet" in words:
            # Said before the work, not after it.
            from terrain.report.data.tables import check_parquet

            check_parquet()
        return tuple(dict.fromkeys(words))


def _stack(*decorators: Callable[[_Command], _Command]) -> Callable[[_Command], _Command]:
    def apply(command: _Command) -> _Command:
        for decorator in reversed(decorators):
            command = decorator(command)
        return command

    return apply


_file = click.Path(exists=False, dir_okay=False, path_type=Path)
_folder = click.Path(file_okay=False, path_type=Path)

rider_options = _stack(
    click.option(
        "--rider",
        type=click.Choice([r.value for r in Rider]),
        default=Rider.STEADY.value,
        show_default=True,
        help="How much off-road riding the rider has behind them.",
    ),
    click.option(
        "--riding",
        type=click.Choice([r.value for r in Riding]),
        help="Motorcycling at all, on any ground: new is less than a year.  [default: not asked]",
    ),
    click.option("--pillion", is_flag=True, help="A second person rides along."),
    click.option(
        "--luggage",
        type=click.Choice([item.value for item in Luggage]),
        default=Luggage.SOFT.value,
        show_default=True,
        help="What is strapped to the bike.",
    ),
    click.option("--guided", is_flag=True, help="A guide goes along."),
    click.option(
        "--wanted", metavar="CLASS", help="The bike class the customer asked for, if any."
    ),
)

trip_options = _stack(
    click.option(
        "--depart",
        type=LocalTime(),
        metavar="TIME",
        help="Local time at the start, such as 2027-03-14T07:30.",
    ),
    rider_options,
    click.option(
        "--wants",
        type=click.Choice([w.value for w in Wants]),
        help="The kind of trip the rider came for; open if they do not know.  [default: not asked]",
    ),
)

region_option = click.option(
    "--region",
    metavar="NAME",
    help="Local region: a name or a folder. Without it, the one that covers the route.",
)

rides_options = _stack(
    region_option,
    click.option(
        "--rider",
        type=click.Choice([r.value for r in Rider]),
        default=Rider.STEADY.value,
        show_default=True,
        help="Who rode the recordings; the JSON of a ride says so itself.",
    ),
    click.option("--bike", metavar="CLASS", help="Which class was ridden, for recordings."),
    click.option(
        "--debrief",
        type=_file,
        metavar="FILE",
        help="What riders said of ways after their trips (CSV: way_id,said,who,date).",
    ),
)

forecast_option = click.option(
    "--forecast",
    is_flag=True,
    help="Ask the weather service that TERRAIN_FORECAST names for the days of the ride.",
)

lines_option = click.option(
    "--lines",
    type=click.Choice(["auto", "days", "alternatives"]),
    default="auto",
    show_default=True,
    help="Several lines in one file: each a day of the trip, or alternatives.",
)

operator_options = _stack(
    click.option("--fleet", type=_file, metavar="FILE", help="The operator's bikes and rules."),
    click.option("--notes", type=_file, metavar="FILE", help="The operator's own ground notes."),
    click.option("--helpers", type=_file, metavar="FILE", help="The operator's own helpers."),
    click.option("--pins", type=_file, metavar="FILE", help="The guide's own days and stops."),
    click.option(
        "--learned", type=_file, metavar="FILE", help="Times and ground of your own past rides."
    ),
)

out_option = click.option(
    "--out",
    type=_folder,
    default=Path(),
    metavar="DIR",
    help="Folder for the files.  [default: this folder]",
)

write_option = click.option(
    "--write",
    type=Formats(),
    metavar="LIST",
    help=f"Files to write, out of {','.join(FORMATS)}.  [default: html]",
)

language_options = _stack(
    click.option(
        "--lang",
        type=click.Choice(LANGUAGES),
        default="en",
        show_default=True,
        help="Language of the report.",
    ),
    click.option(
        "--units",
        type=click.Choice(["metric", "imperial"]),
        default="metric",
        show_default=True,
        help="Units of the report.",
    ),
)

audience_options = _stack(
    click.option(
        "--for",
        "audience",
        type=click.Choice(["rider", "staff", "guide"]),
        default="rider",
        show_default=True,
        help="Whom the written report speaks to.",
    ),
    language_options,
)

mail_options = _stack(
    click.option("--mail-to", metavar="ADDRESS", help="Address on the mail draft (--write eml)."),
    click.option(
        "--mail-template",
        type=_file,
        metavar="FILE",
        help="Your own text for the mail draft, as a template.",
    ),
)
