"""`terrain fleet`: check the operator's bikes, and learn from the rental log."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from terrain.errors import FleetError
from terrain.text.message import message

if TYPE_CHECKING:
    from terrain.values.fleet import Fleet
    from terrain.values.rentals import LearnedRate, Rental

_file = click.Path(path_type=Path)


@click.group(name="fleet", epilog="\b\nExample:\n  terrain fleet check fleet.toml")
def command() -> None:
    """Check the operator's fleet file, and learn incident rates from the rental log."""


@command.command(epilog="\b\nExample:\n  terrain fleet check fleet.toml")
@click.argument("file", type=_file)
def check(file: Path) -> None:
    """Check a fleet file; every fault with its line and what to write instead."""
    from terrain.inputs.fleet import read_fleet

    fleet = read_fleet(file)
    click.echo(f"{file.name} is in order: {fleet.name}, {len(fleet.classes)} classes.")
    for line in _table(fleet):
        click.echo(line)


def _table(fleet: Fleet) -> list[str]:
    rows = [("class", "off-road", "rider from", "tank", "incidents", "rests on")]
    for bike in fleet.classes:
        reach_km = 100 * bike.tank_l * (1 - fleet.rules.range_reserve) / bike.consumption_l_100km
        rows.append(
            (
                bike.name,
                f"{bike.off_road:.2f}",
                bike.minimum_rider.value,
                f"{reach_km:.0f} km",
                f"{bike.incident_rate:.1%}",
                bike.incident_basis,
            )
        )
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]) - 1)]
    return [
        "  ".join([*(cell.ljust(w) for cell, w in zip(row, widths, strict=False)), row[-1]])
        for row in rows
    ]


@command.command(epilog="\b\nExample:\n  terrain fleet example > fleet.toml")
def example() -> None:
    """Print the generic fleet as a file to start from."""
    from terrain.inputs.fleet.write import fleet_text
    from terrain.tables.fleet import DEFAULT_FLEET

    header = (
        "The generic fleet: round numbers for a kind of bike (common practice, no source).",
        "Change what differs, then run: terrain fleet check fleet.toml",
    )
    click.echo(fleet_text(DEFAULT_FLEET, header=header), nl=False)


@command.command(epilog="\b\nExample:\n  terrain fleet learn rentals.csv --fleet fleet.toml")
@click.argument("log", type=_file)
@click.option(
    "--fleet", "fleet_file", type=_file, metavar="FILE",
    help="The fleet file to learn for.  [default: the generic fleet]",
)  # fmt: skip
@click.option(
    "--out", type=_file, metavar="FILE",
    help="The new fleet file.  [default: beside the old one]",
)  # fmt: skip
def learn(log: Path, fleet_file: Path | None, out: Path | None) -> None:
    """Learn incident rates from a rental log (CSV), and write a new fleet file.

    Columns: class and incident, and days, km, ground (paved, gravel, track, mixed), rider, date,
    setup (road, off-road), heat (hottest air, Celsius) and failed (what broke) if there are any;
    others are left alone. Semicolons and decimal commas are understood. Few
    rentals are drawn towards the rate believed before; with fewer than ten no rate is given. The
    old file stays as it is.
    """
    from terrain.inputs.fleet import read_fleet
    from terrain.inputs.fleet.write import fleet_text, save_beside
    from terrain.inputs.rentals import read_log
    from terrain.inputs.rentals.learn import LEARN
    from terrain.inputs.rentals.learn import learn as learn_rates
    from terrain.tables.fleet import DEFAULT_FLEET

    fleet = read_fleet(fleet_file) if fleet_file else DEFAULT_FLEET
    if fleet_file and fleet.rentals is not None:
        raise FleetError(
            message(
                "the rates in it were learnt from {rentals} rentals already; learning again "
                "would count rentals twice",
                rentals=str(fleet.rentals),
            ),
            fleet_file.name,
            message("Learn for the fleet file it was made from."),
        )
    names = [name for bike in fleet.classes for name in (bike.name, bike.title)]
    told = read_log(log, names)
    rentals = _by_title(told.rentals, fleet)
    lesson = learn_rates(rentals, fleet)
    if not lesson.rentals:
        raise FleetError(
            message(
                "none of its {rentals} rentals is of a class of the fleet",
                rentals=str(len(rentals)),
            ),
            log.name,
            message(
                "The classes are: {names}.", names=", ".join(bike.name for bike in fleet.classes)
            ),
        )
    click.echo(f"{lesson.rentals} rentals in {log.name}.")
    if told.unread:
        click.echo(f"Columns that were not read: {', '.join(told.unread)}.")
    if lesson.unknown:
        counts = Counter(rental.bike for rental in rentals)
        left = ", ".join(f"{name} ({counts[name]})" for name in lesson.unknown)
        click.echo(f"Left out, not classes of the fleet: {left}.")
    for rate in lesson.rates:
        click.echo(_line(rate, LEARN.least_rentals))
    for failure in lesson.failures:
        click.echo(f"  {failure.bike}: {failure.part} failed {failure.n} times; carry that first")
    if not any(rate.used for rate in lesson.rates):
        click.echo("Nothing to learn yet; no file was written.")
        return
    header = (
        f"Learnt from {lesson.rentals} rentals in {log.name}.",
        "Rates of few rentals are drawn towards what was believed before.",
    )
    written = save_beside(
        fleet_text(lesson.fleet, header=header),
        out or (fleet_file or log).with_name(f"{(fleet_file or Path('fleet.toml')).stem}.toml"),
        exact=out is not None,
    )
    click.echo(f"Written: {written}")


def _by_title(rentals: tuple[Rental, ...], fleet: Fleet) -> tuple[Rental, ...]:
    """Rentals that call a class by its title, by its name."""
    from terrain.inputs.rentals.cells import read_class

    names = {read_class(bike.title): bike.name for bike in fleet.classes}
    return tuple(replace(rental, bike=names.get(rental.bike, rental.bike)) for rental in rentals)


def _line(rate: LearnedRate, least: int) -> str:
    what = f"  {rate.bike}" + (f" on {rate.ground}" if rate.ground else "")
    what += f", {rate.setup} setup" if rate.setup else ""
    what += f", {rate.heat}" if rate.heat else ""
    counted = f"{rate.incidents} in {rate.rentals} rental{'' if rate.rentals == 1 else 's'}"
    if not rate.used:
        return f"{what}: {counted}; too few for a rate (under {least}), {rate.prior:.1%} stands"
    text = (
        f"{what}: {counted}; {rate.rate:.1%} ({rate.low:.1%} to {rate.high:.1%}), "
        f"believed before {rate.prior:.1%}"
    )
    if rate.per_1000_km is not None:
        text += (
            f"; {rate.per_1000_km:.2f} ({rate.per_1000_low:.2f} to {rate.per_1000_high:.2f}) "
            "in 1,000 km"
        )
    return text
