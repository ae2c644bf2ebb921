"""`terrain learn`: times and ground from recorded rides, for later reports."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from terrain.cli.console import Step, progress
from terrain.cli.options import rides_options
from terrain.errors import LearnedError, TerrainError
from terrain.settings import Settings
from terrain.text.message import message
from terrain.values.trip import Rider

if TYPE_CHECKING:
    from terrain.region.region import Region
    from terrain.values.learned import (
        Learned,
        LearnedTimes,
        LearnedWay,
        PaceEvidence,
        Statement,
        Witness,
    )
    from terrain.values.ridden import Ridden
    from terrain.values.trip import Three

_file = click.Path(path_type=Path)


@click.command(
    name="learn",
    epilog="\b\nExample:\n  terrain learn rides/*.json --debrief said.csv --region island "
    "--out learned.toml",
)
@click.argument("rides", nargs=-1, metavar="RIDES...", type=_file)
@rides_options
@click.option(
    "--give-back",
    type=_file,
    metavar="FILE",
    help="GeoJSON of confirmed ways whose surface the map lacks, to check and enter by hand.",
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
    from terrain.stages.ridden.learning.pace_evidence import learn_from_pace
    from terrain.stages.ridden.learning.times import learn_times, lesson_of
    from terrain.values.learned import Learned

    if not rides and options["debrief"] is None:
        raise click.UsageError(
            message("Name recorded rides, or what was said after them (--debrief).")
        )
    with progress("reading the rides") as step:
        found, faults = read_rides(rides, settings, options, step)
        said = said_of(settings, options)
        pace = learn_from_pace(found)
        learned = Learned(
            times=learn_times([lesson_of(ride) for ride in found]),
            ways=said.ways,
            witnesses=said.witnesses,
            paced=pace.ways,
        )
    for fault in faults:
        click.echo(str(fault), err=True)
    if learned.times is None and not learned.ways:
        raise LearnedError(
            message("there is nothing to learn from these"),
            "",
            message("Record rides with times, on mapped ways."),
        )
    save_learned(learned_text(learned), out)
    for line in (*_times_lines(learned.times), *_ground_lines(learned), *_pace_lines(pace)):
        click.echo(line)
    click.echo(f"Written: {out}")
    if options["give_back"] is not None:
        _give_back(options["give_back"], learned, said)
    return 0


def _give_back(path: Path, learned: Learned, said: WhatWasSaid) -> None:
    from terrain.inputs.learned.write import save_learned
    from terrain.report.data.giveback import give_back_geojson, ways_to_give_back

    if said.region is None:
        raise click.UsageError(message("--give-back needs what riders said of ways (--debrief)."))
    found = ways_to_give_back(learned.ways, said.region.roads)
    save_learned(give_back_geojson(found).decode("utf-8"), path)
    click.echo(f"{len(found)} ways to check and enter by hand at OpenStreetMap: {path}")


def read_rides(
    paths: tuple[Path, ...], settings: Settings, options: dict[str, Any], step: Step
) -> tuple[list[Ridden], list[TerrainError]]:
    """The rides in files, JSON or recordings, and the faults of those that cannot be used."""
    found, faults = [], []
    region: Region | None = None
    for i, path in enumerate(paths):
        step(path.name, i / len(paths))
        try:
            ride, region = _ride(path, region, settings, options)
        except TerrainError as fault:
            if len(paths) == 1:
                raise
            faults.append(fault)
        else:
            found.append(ride)
    return found, faults


def _ride(
    path: Path, region: Region | None, settings: Settings, options: dict[str, Any]
) -> tuple[Ridden, Region | None]:
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


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatWasSaid:
    """What riders said of ways, and what is learned of it; empty without --debrief."""

    region: Region | None = None
    statements: tuple[Statement, ...] = ()
    map_p: Mapping[int, Three] = field(default_factory=dict)
    ways: tuple[LearnedWay, ...] = ()
    witnesses: tuple[Witness, ...] = ()


def said_of(settings: Settings, options: dict[str, Any]) -> WhatWasSaid:
    """What the file of --debrief teaches of the ways of --region."""
    if options["debrief"] is None:
        return WhatWasSaid()
    from terrain import flow, rides
    from terrain.inputs.debriefs import read_debriefs
    from terrain.stages.ridden.learning.ground import learn_ground

    if not options["region"]:
        raise click.UsageError(
            message("Name the region that the ways of --debrief lie in (--region).")
        )
    region = flow.open_region(options["region"], settings.home)
    statements = read_debriefs(options["debrief"])
    map_p = rides.map_ground(region, statements)
    ways, witnesses = learn_ground(statements, map_p)
    return WhatWasSaid(
        region=region, statements=statements, map_p=map_p, ways=ways, witnesses=witnesses
    )


def _times_lines(times: LearnedTimes | None) -> list[str]:
    if times is None:
        return []
    first, last = times.first_day, times.last_day
    days = f"{first}" if first == last else f"{first} to {last}"
    lines = [
        f"Times from {_rides(times.n_rides)}, {times.length_m / 1000:.0f} km, {days}, as shares of "
        "the tables' time:"
    ]
    for row in times.rows:
        if row.pace.n_alike == 0:
            continue
        who = row.rider.value + (f", {row.bike_class}" if row.bike_class else "")
        grounds = "; ".join(
            f"{name} {row.pace.factor[g]:.2f} ({row.pace.low[g]:.2f} to {row.pace.high[g]:.2f})"
            for g, name in enumerate(("paved", "gravel", "track"))
        )
        lines.append(f"  {who} ({_rides(row.pace.n_alike)}): {grounds}")
    lines += [f"  left out: {name}: {why}" for name, why in times.left_out]
    return lines


def _rides(n: int) -> str:
    return "one ride" if n == 1 else f"{n} rides"


def _pace_lines(pace: PaceEvidence) -> list[str]:
    if pace.log_loss_class is None or pace.log_loss_pace is None:
        return []
    measured = (
        f"log loss {pace.log_loss_class:.2f} by road class, {pace.log_loss_pace:.2f} with speed, "
        f"on {pace.n_parts} parts whose ground is known"
    )
    if not pace.used:
        return [f"Speed as evidence of ground: not used ({measured})."]
    return [f"Speed as evidence of ground: used on {len(pace.ways)} ways ({measured})."]


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
