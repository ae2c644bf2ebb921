"""`terrain region`: make, list, show and remove local map packs."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from terrain.cli.console import cleared_up, progress
from terrain.settings import Settings
from terrain.text.message import message

if TYPE_CHECKING:
    from terrain.region.fetch import Target
    from terrain.region.region import Region

_FAR_KM = 30.0  # main roads and help, unless --km asks for more
_path = click.Path(path_type=Path)
_dem_option = click.option(
    "--dem",
    type=_path,
    multiple=True,
    metavar="PATH",
    help="Elevation: .hgt (also .gz, .zip), GeoTIFF, a folder, or 'auto' to fetch the tiles "
    "that are needed. May be given again.",
)
_tile_option = click.option(
    "--tile-server",
    metavar="URL",
    help="Where 'auto' fetches tiles: laid out as URL/N42/N42E001.hgt.gz. "
    "TERRAIN_TILE_SERVER sets it too.",
)

_climate_option = click.option(
    "--climate",
    type=_path,
    metavar="DIR",
    help="Your own monthly climate grids: GeoTIFF of mean maximum and minimum, "
    "tmax_01.tif to tmin_12.tif.",
)


@click.group(name="region", epilog="\b\nExample:\n  terrain region list")
@click.pass_context
def command(ctx: click.Context, /) -> None:
    """Make, list and show local map packs.

    A region is built once from OpenStreetMap extracts, and elevation tiles if there are any.
    After that everything works without a network.
    """
    ctx.with_resource(cleared_up())


@command.command(
    epilog="\b\nExample:\n  terrain region build andorra --osm andorra.osm.pbf --dem tiles/"
)
@click.argument("name")
@click.option(
    "--osm",
    type=_path,
    multiple=True,
    required=True,
    metavar="FILE",
    help="Map extract: .osm.pbf, .osm, .osm.gz or .osm.bz2. May be given again.",
)
@_dem_option
@_tile_option
@_climate_option
@click.option("--replace", is_flag=True, help="Build anew a region that is there already.")
@click.option(
    "--keep-extract",
    is_flag=True,
    help="Keep the extract in the region, for 'region update'; it must name its change files.",
)
@click.pass_obj
def build(
    settings: Settings,
    /,
    name: str,
    osm: tuple[Path, ...],
    dem: tuple[Path, ...],
    tile_server: str | None,
    climate: Path | None,
    replace: bool,
    keep_extract: bool,
) -> None:
    """Make a region from map extracts and elevation tiles.

    All or nothing: if the build is stopped, an older region of that name stays as it was.
    """
    from terrain.region.build import build_region
    from terrain.region.dem.fetch import TILE_SERVER

    server = tile_server or settings.tile_server or TILE_SERVER
    with progress(f"building {name}") as step:
        folder = build_region(
            name,
            osm,
            dem,
            replace=replace,
            home=settings.home,
            tile_server=server,
            progress=step,
            climate=climate,
            keep_extract=keep_extract,
        )
    _built(name, folder)


@command.command(
    epilog="\b\nExamples:\n  terrain region fetch trip --around plan.gpx\n"
    "  terrain region fetch island --url https://example.org/island.osm.pbf\n"
    "  terrain region fetch andorra --country Andorra --index https://example.org/index.json"
)
@click.argument("name")
@click.option("--around", type=_path, metavar="ROUTE", help="A route file: the map along it.")
@click.option("--url", metavar="URL", help="The address of a map extract.")
@click.option(
    "--country", metavar="WORD", help="A country or part of one: its extract by a mirror's index."
)
@click.option(
    "--index",
    metavar="URL",
    help="With --country: the mirror's index of extracts. TERRAIN_MAP_INDEX sets it too.",
)
@click.option("--sha256", metavar="HEX", help="With --url: what the file must have.")
@click.option(
    "--km",
    type=float,
    default=10.0,
    show_default=True,
    help="With --around: how far from the route to take all roads.",
)
@click.option("--server", metavar="URL", help="With --around: another Overpass server.")
@_dem_option
@_tile_option
@_climate_option
@click.option("--replace", is_flag=True, help="Make anew a region that is there already.")
@click.pass_obj
def fetch(
    settings: Settings, /, name: str, around: Path | None, url: str | None, country: str | None,
    **options: Any,
) -> None:  # fmt: skip
    """Make a region from the network: along a route, or from an extract's address or country.

    A transfer that breaks off goes on from there when the command is run again.
    """
    if sum(given is not None for given in (around, url, country)) != 1:
        raise click.UsageError(message("Give one of --around ROUTE, --url URL or --country WORD."))
    from terrain.region.dem.fetch import TILE_SERVER
    from terrain.region.fetch import Target, fetch_extract

    with progress(f"fetching {name}") as step:
        target = Target(
            name=name,
            home=settings.home,
            dem_paths=options["dem"],
            tile_server=options["tile_server"] or settings.tile_server or TILE_SERVER,
            climate=options["climate"],
            replace=options["replace"],
            progress=step,
        )
        if country is not None:
            target.check()
            step("Looking up the extract")
            url = _address_of(country, options["index"] or settings.map_index, target)
        if url is not None:
            folder = fetch_extract(target, url, sha256=options["sha256"])
        elif around is not None:
            folder = _fetch_around(target, around, options["km"], options["server"])
    _built(name, folder)


def _address_of(country: str, index: str | None, target: Target) -> str:
    from terrain.region.catalog import find_extract

    return find_extract(country, index, target.downloads).url


@command.command(epilog="\b\nExample:\n  terrain region update andorra")
@click.argument("name")
@click.option("--server", metavar="URL", help="Change files in place of those the map names.")
@click.option("--json", "as_json", is_flag=True, help="Print what changed as JSON.")
@click.pass_obj
def update(settings: Settings, /, name: str, server: str | None, as_json: bool) -> None:
    """Bring a region to date by the changes of its map.

    Works on regions that keep their extract: those of 'region fetch', and of 'region build
    --keep-extract'. All or nothing: if it is stopped, the region stays as it was.
    """
    from terrain.region.update import update_region

    with progress(f"updating {name}") as step:
        done = update_region(name, settings.home, server=server, progress=step)
    if as_json:
        import json

        click.echo(json.dumps(asdict(done), indent=1))
    elif not done.n_changes:
        click.echo(f"Region {name} is up to date, to {_minute(done.to_time)}.")
    else:
        click.echo(
            f"Region {name} is brought from {_minute(done.from_time)} to {_minute(done.to_time)} "
            f"by {done.n_changes} change files."
        )
        click.echo(
            f"Ways of its roads: {len(done.new)} new, {len(done.gone)} gone, "
            f"{len(done.changed)} tagged otherwise. The desk says which open bookings they are on."
        )


def _minute(moment: str) -> str:
    return f"{moment[:16].replace('T', ' ')} UTC"


def _fetch_around(target: Target, around: Path, near_km: float, server: str | None) -> Path:
    from terrain.inputs.lines import read_route
    from terrain.region.fetch import fetch_around
    from terrain.region.overpass import Corridor, Server

    route = read_route(around)
    corridor = Corridor(near_km=near_km, far_km=max(near_km, _FAR_KM))
    return fetch_around(target, route.lon, route.lat, corridor=corridor, server=Server(url=server))


def _built(name: str, folder: Path) -> None:
    from terrain.region.region import open_folder

    region = open_folder(folder)
    click.echo(f"Region {name} is ready: {_km(region.stats.road_m)} of road, {_date(region)}.")
    click.echo(str(folder))


@command.command(name="list", epilog="\b\nExample:\n  terrain region list")
@click.pass_obj
def list_(settings: Settings, /) -> None:
    """List the regions on this machine."""
    from terrain.region.manage import list_regions, size_bytes

    listed = list_regions(settings.home)
    if not listed:
        click.echo("There are no regions yet. Build one with 'terrain region build'.", err=True)
        return
    wide = max(len(item.name) for item in listed)
    for item in listed:
        if item.region is None:
            click.echo(f"{item.name:<{wide}}  cannot be used: {item.fault}")
            continue
        road = _km(item.region.stats.road_m)
        size = _size(size_bytes(item.region))
        click.echo(f"{item.name:<{wide}}  {road:>12}  {_date(item.region):<22}  {size:>8}")


@command.command(epilog="\b\nExample:\n  terrain region show andorra --check")
@click.argument("name")
@click.option("--check", is_flag=True, help="Also read every file and compare its checksum.")
@click.option("--json", "as_json", is_flag=True, help="Print the facts as JSON.")
@click.pass_obj
def show(settings: Settings, /, name: str, check: bool, as_json: bool) -> None:
    """Show what a region holds: extent, date, ground, evidence, helpers, size, attribution."""
    from terrain.region.manage import check_region
    from terrain.region.region import open_region

    region = open_region(name, settings.home)
    checked = check_region(region.folder) if check else None
    if as_json:
        import json

        click.echo(json.dumps(_facts(region, checked), indent=1, ensure_ascii=False))
    else:
        click.echo("\n".join(_lines(region, checked)))


@command.command(epilog="\b\nExample:\n  terrain region remove andorra")
@click.argument("name")
@click.pass_obj
def remove(settings: Settings, /, name: str) -> None:
    """Take a region away, with all its files."""
    from terrain.region.manage import remove_region

    folder = remove_region(name, settings.home)
    click.echo(f"Removed region {name} ({folder}).")


def _lines(region: Region, checked: int | None) -> list[str]:
    from terrain.region.manage import size_bytes

    info, stats = region.info, region.stats
    west, south, east, north = info.bbox
    land = sum(m for _, m in stats.ground_m)
    lines = [
        f"Region {info.name}",
        f"  map data   {_date(region)}{_age(region)}",
        *_updates(region),
        f"  extent     {_degrees(west, 'E', 'W')} to {_degrees(east, 'E', 'W')}, "
        f"{_degrees(south, 'N', 'S')} to {_degrees(north, 'N', 'S')}",
        f"  elevation  {info.elevation or 'none'}",
        f"  road       {_km(stats.road_m)}, of it {_km(stats.closed_m)} closed or private; "
        f"beside it {_km(stats.path_m)} of path"
        + (f", {_km(stats.ferry_m)} of ferry" if stats.ferry_m else ""),
        "Ground we expect on the road (from tags where there are any)",
        *(f"  {word:<10} {_km(m):>12}  {_part(m, land)}" for word, m in stats.ground_m),
        "What that rests on",
        *(f"  {word:<10} {_km(m):>12}  {_part(m, stats.road_m)}" for word, m in stats.basis_m),
        "Places",
        *(f"  {kind.replace('_', ' '):<10} {n:>9}" for kind, n in stats.places),
        "Files",
        f"  {region.folder}",
        f"  {_size(size_bytes(region))}, built {info.built_at} from {', '.join(info.sources)}",
    ]
    if checked is not None:
        lines.append(f"  all {checked} files are as they were built")
    return [*lines, *(f"Note: {note}" for note in region.notes), "Sources",
            *(f"  {line}" for line in info.attribution)]  # fmt: skip


def _facts(region: Region, checked: int | None) -> dict[str, object]:
    from terrain.region.manage import size_bytes
    from terrain.region.source import kept_source

    info, kept, counted = region.info, kept_source(region.pack), asdict(region.stats).items()
    return {
        "name": info.name,
        "map_date": None if info.map_date is None else info.map_date.isoformat(),
        "updated_to": None if kept is None else kept.source.to_time,
        "changes_url": None if kept is None else kept.source.url,
        "bbox": list(info.bbox),
        "elevation": info.elevation,
        **{name: dict(told) if isinstance(told, tuple) else told for name, told in counted},
        "size_bytes": size_bytes(region),
        "folder": str(region.folder),
        "built_at": info.built_at,
        "sources": list(info.sources),
        "notes": list(region.notes),
        "attribution": list(info.attribution),
        "files_checked": checked,
    }


def _age(region: Region) -> str:
    """How old the map is today, in months or years; nothing if it is of this month."""
    from datetime import UTC, datetime

    day = region.info.map_date
    months = 0 if day is None else round((datetime.now(UTC).date() - day).days / 30.44)
    if months < 1:
        return ""
    if months < 24:
        return f", {months} month{'s' if months > 1 else ''} old"
    return f", {months // 12} years old"


def _updates(region: Region) -> list[str]:
    from terrain.region.source import kept_source

    kept = kept_source(region.pack)
    if kept is None:
        return []
    source = kept.source
    return [f"  updates    complete to {_minute(source.to_time)}; changes from {source.url}"]


def _date(region: Region) -> str:
    day = region.info.map_date
    return "map date not known" if day is None else f"map of {day.isoformat()}"


def _km(metres: float) -> str:
    km = metres / 1000
    return f"{km:,.0f} km" if km >= 20 else f"{km:.1f} km"


def _part(metres: float, whole: float) -> str:
    return f"{100 * metres / whole:3.0f} %" if whole > 0 else ""


def _size(n_bytes: int) -> str:
    if n_bytes < 1e6:
        return f"{n_bytes / 1e3:.0f} kB"
    return f"{n_bytes / 1e6:,.0f} MB" if n_bytes >= 10e6 else f"{n_bytes / 1e6:.1f} MB"


def _degrees(value: float, plus: str, minus: str) -> str:
    return f"{abs(value):.3f}° {plus if value >= 0 else minus}"
