"""`terrain learn`: times and ground from recorded rides, for later reports."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from terrain.cli.console import Step, progress
from terrain.cli.options import region_option
from terrain.errors import LearnedError, TerrainError
from terrain.settings import Settings
from terrain.values.trip import Rider

if TYPE_CHECKING:
    from terrain.region.region import Region
    from terrain.values.learned import Learned, LearnedTimes, RideLesson

_file = click.Path(path_type=Path)


@click.command(
    name="learn",
    epilog="\b\nExample:\n  terrain learn rides/*.json --debrief said.csv --region island "
    "--out learned.toml",
)
@click.argument("rides", nargs=-1, metavar="RIDES...", type=_file)
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
    "--debrief",
    type=_file,
    metavar="FILE",
    help="What riders said of ways after their trips (CSV: way_id,said,who,date).",
)
@click.option("--out", type=_file, required=True, metavar="FILE", help="The file to write.")
@click.pass_obj
def command(settings: Settings, /, rides: tuple[Path, ...], out: Path, **options: Any) -> int:
    """Learn riding times and ground from recorded rides, and write them for later reports.

    RIDES are the JSON of 'terrain ridden --json', or recordings themselves, one trip a file. Few
    rides are drawn towards the tables. A ride that cannot be used is told and left out. What the
    file holds are factors, and ground by way: no times and places of a person.
    """
    from terrain.inputs.learned.write import learned_text, save_learned
    from terrain.stages.ridden.learn_times import learn_times
    from terrain.values.learned import Learned

    if not rides and options["debrief"] is None:
        raise click.UsageError("Name recorded rides, or what was said after them (--debrief).")
    with progress("reading the rides") as step:
        lessons, faults = _lessons(rides, settings, options, step)
        times = learn_times(lessons)
        learned = _with_ground(Learned(times=times), settings, options)
    for fault in faults:
        click.echo(str(fault), err=True)
    if learned.times is None and not learned.ways:
        raise LearnedError(
            "there is nothing to learn from these", "", "Record rides with times, on mapped ways."
        )
    save_learned(learned_text(learned), out)
    for line in (*_times_lines(learned.times), *_ground_lines(learned)):
        click.echo(line)
    click.echo(f"Written: {out}")
    return 0


def _lessons(
    paths: tuple[Path, ...], settings: Settings, options: dict[str, Any], step: Step
) -> tuple[list[RideLesson], list[TerrainError]]:
    """What each ride teaches, and the faults of those that cannot be used."""
    from terrain.stages.ridden.learn_times import lesson_of

    lessons, faults = [], []
    region: Region | None = None
    for i, path in enumerate(paths):
        step(path.name, i / len(paths))
        try:
            found, region = _ride(path, region, settings, options)
        except TerrainError as fault:
            if len(paths) == 1:
                raise
            faults.append(fault)
        else:
            lessons.append(lesson_of(found))
    return lessons, faults


def _ride(path: Path, region: Region | None, settings: Settings, options: dict[str, Any]) -> Any:
    from terrain import flow, rides
    from terrain.errors import TrackError
    from terrain.inputs.lines import LIMITS
    from terrain.inputs.reading import read_most
    from terrain.inputs.ridden import is_ridden, parse_ridden
    from terrain.inputs.tracks import parse_track
    from terrain.values.trip import Trip

    data = read_most(path, LIMITS.max_bytes, TrackError)
    if is_ridden(data):
        return parse_ridden(data, path.name), region
    track = parse_track(data, path.name)
    if options["region"]:
        region = region or flow.open_region(options["region"], settings.home)
    else:
        region = flow.find_region(rides.line_of(track), settings.home)
    trip = Trip(rider=Rider(options["rider"]), wanted_class=options["bike"])
    return rides.ridden(track, region, trip=trip, help_asked=False), region


def _with_ground(learned: Learned, settings: Settings, options: dict[str, Any]) -> Learned:
    if options["debrief"] is None:
        return learned
    from dataclasses import replace

    from terrain import flow, rides
    from terrain.inputs.debriefs import read_debriefs
    from terrain.stages.ridden.learn_ground import learn_ground

    if not options["region"]:
        raise click.UsageError("Name the region that the ways of --debrief lie in (--region).")
    region = flow.open_region(options["region"], settings.home)
    statements = read_debriefs(options["debrief"])
    ways, witnesses = learn_ground(statements, rides.map_ground(region, statements))
    return replace(learned, ways=ways, witnesses=witnesses)


def _times_lines(times: LearnedTimes | None) -> list[str]:
    if times is None:
        return []
    lines = [
        f"Times from {times.n_rides} rides, {times.length_m / 1000:.0f} km, {times.first_day} to "
        f"{times.last_day}, as shares of the tables' time:"
    ]
    for row in times.rows:
        if row.pace.n_alike == 0:
            continue
        who = row.rider.value + (f", {row.bike_class}" if row.bike_class else "")
        grounds = "; ".join(
            f"{name} {row.pace.factor[g]:.2f} ({row.pace.low[g]:.2f} to {row.pace.high[g]:.2f})"
            for g, name in enumerate(("paved", "gravel", "track"))
        )
        lines.append(f"  {who} ({row.pace.n_alike} rides): {grounds}")
    lines += [f"  left out: {name}: {why}" for name, why in times.left_out]
    return lines


def _ground_lines(learned: Learned) -> list[str]:
    if not learned.witnesses:
        return []
    told = [way for way in learned.ways if way.ground is not None]
    lines = [f"Ground of {len(told)} ways:"]
    for way in learned.ways:
        said = ", ".join(f"{item.ground.value} {item.n}" for item in way.said)
        shut = f"; found shut by {way.shut}" if way.shut else ""
        split = "; they do not agree" if way.against else ""
        other = "; the map had said another" if way.against_map else ""
        p = "" if way.p is None else f" {max(way.p):.0%} sure"
        ground = "" if way.ground is None else f" {way.ground.value}{p}"
        lines.append(
            f"  way {way.way_id}:{ground} ({said or 'no ground told'}{shut}{split}{other})"
        )
    for witness in learned.witnesses:
        if not witness.heard:
            lines.append(
                f"  not believed: {witness.who}: {witness.checks} of {witness.statements} "
                f"statements could be checked, {witness.errs:.0%} taken to be wrong"
            )
    return lines
