"""Many routes: each judged by itself, a failed one a row with its error, never a stop."""

from __future__ import annotations

import traceback
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import (
    FIRST_COMPLETED,
    CancelledError,
    Executor,
    Future,
    ProcessPoolExecutor,
    wait,
)
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cache, lru_cache
from importlib import import_module
from itertools import chain, islice
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from terrain.errors import InputError, RouteError, TerrainError, UsageError
from terrain.inputs.lines import LIMITS, SUFFIXES, LineRule, parse_route
from terrain.inputs.lines.kinds import text_of
from terrain.inputs.lines.table import has_columns
from terrain.region.forecast import Heard, Service
from terrain.region.pack import current_pack
from terrain.region.region import Region, open_pinned
from terrain.report.files import distinct_stems
from terrain.report.formats import Asked, render_files
from terrain.report.summary import SummaryRow, summary_row
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.text.message import Message, message
from terrain.values.fleet import Fleet
from terrain.values.learned import Learned
from terrain.values.plan import Pins
from terrain.values.trip import Trip

_SENT_AT_ONCE = 64  # routes held by a cluster at a time
_AHEAD = 4  # routes handed to each process: it never waits, and few reports wait to be written
_CONNECT_S = 10.0  # how long a scheduler may take to answer
_BRING_S = 60.0  # and how long to bring one route that is done


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What every route of a batch is judged with.

    region : folder of the region, as the workers see it; pack : the one in it that all routes
        are judged with, None for the one in use when the batch starts
    formats : files to write for each route; asked : how they speak
    lines : how several lines of one file are taken; with alternatives only the first is judged
    service : asked by each worker for the weather of each route that has a departure
    """

    region: Path
    trip: Trip
    formats: tuple[str, ...]
    made_at: datetime
    fleet: Fleet = DEFAULT_FLEET
    notes: tuple[Any, ...] = ()
    helpers: tuple[Any, ...] = ()
    pins: Pins | None = None
    learned: Learned | None = None
    lines: LineRule = LineRule.AUTO
    service: Service | None = None
    pack: Path | None = None
    asked: Asked = field(default_factory=Asked)


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One route file: its name as shown, the stem of its reports, and where it lies.

    data : its bytes, for a worker that does not see the file
    """

    name: str
    stem: str
    path: Path
    data: bytes | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of one route: its row of the table and its files, or its error."""

    name: str
    row: SummaryRow | None = None
    files: tuple[tuple[str, bytes], ...] = ()
    error: str = ""
    exit_code: int = 0


def find_routes(paths: Sequence[Path]) -> list[tuple[Path, str]]:
    """Route files of the paths with the names they are shown by; folders are searched.

    Raises RouteError for a path that is not there.
    """
    found: list[tuple[Path, str]] = []
    for path in paths:
        if path.is_dir():
            inside = sorted(p for p in path.rglob("*") if p.name.lower().endswith(SUFFIXES))
            found += [(p, str(p.relative_to(path))) for p in inside if p.is_file() and _may(p)]
        elif path.exists():
            found.append((path, path.name))
        else:
            raise RouteError(
                message("there is no such file or folder"), str(path), message("Check the name.")
            )
    if not found:
        raise RouteError(
            message("no route file found"),
            str(paths[0]) if paths else "",
            message("Name route files, such as .gpx, .kml or .geojson, or their folder."),
        )
    return found


def _may(path: Path) -> bool:
    """Whether a file of a folder may be a route: most tables are not, so they are looked into."""
    if path.suffix.lower() != ".csv":
        return True
    try:
        with path.open("rb") as stream:
            return has_columns(text_of(stream.read(4096)))
    except OSError:
        return True  # named as a row, with the reason


def run_batch(
    routes: Sequence[tuple[Path, str]],
    order: Order,
    *,
    workers: int = 1,
    scheduler: str | None = None,
    say: Callable[[Message], object] = lambda _: None,
) -> Iterator[Outcome]:
    """Judge each route; outcomes come as they are done.

    workers : processes on this machine; 1 works in this one
    scheduler : address of a Dask scheduler whose workers see the region's folder; if it goes away,
        the routes that are left are judged on this machine
    say : told what went otherwise than asked
    A region built anew meanwhile never mixes two maps: a worker that has not opened the old pack
    yet gives an error for its routes.
    Raises RegionMissing, RegionDamaged if there is no region to begin with.
    """
    if order.pack is None:
        order = replace(order, pack=current_pack(order.region))
    stems = distinct_stems([name for _, name in routes])
    jobs: Iterator[Job] = (
        Job(name=name, stem=stem, path=path)
        for (path, name), stem in zip(routes, stems, strict=True)
    )
    if scheduler is not None:
        left = yield from _run_on_cluster(jobs, order, scheduler)
        if not left:
            return
        say(
            message(
                "The scheduler at {address} is lost. What is left is judged on this machine.",
                address=scheduler,
            )
        )
        jobs = chain(left, jobs)
    workers = min(workers, len(routes))
    if workers > 1:
        yield from _run_in_processes(jobs, order, workers)
    else:
        yield from (judge(job, order) for job in jobs)


def judge(job: Job, order: Order) -> Outcome:
    """One route of a batch, start to end; never raises."""
    try:
        return _judge(job, order)
    except TerrainError as exc:
        return Outcome(
            name=job.name, error=exc.say(order.asked.translator), exit_code=exc.exit_code
        )
    except Exception as exc:
        where = traceback.extract_tb(exc.__traceback__)[-1]
        text = (
            f"unforeseen: {type(exc).__name__}: {exc} ({Path(where.filename).name}:{where.lineno})"
        )
        return Outcome(name=job.name, error=" ".join(text.split()), exit_code=1)


def _judge(job: Job, order: Order) -> Outcome:
    from terrain import flow
    from terrain.region.forecast import fetch_forecast

    route = parse_route(_bytes_of(job), job.name, lines=order.lines)
    region = _region(order.region, order.pack or current_pack(order.region))
    forecast = None
    if order.service is not None and order.trip.depart is not None:
        forecast = fetch_forecast(
            route, order.service, order.trip.depart, zones=region.zones,
            heard=_heard(order.service, order.made_at),
        )  # fmt: skip
    report = flow.assess(
        route,
        region,
        order.trip,
        order.fleet,
        notes=order.notes,
        helpers=order.helpers,
        pins=order.pins,
        learned=order.learned,
        forecast=forecast,
        made_at=order.made_at,
    )
    files = render_files(report, order.formats, stem=job.stem, asked=order.asked)
    page = next((name for name, _ in files if name.endswith(".html")), "")
    row = summary_row(job.name, report, order.asked.translator, page=page)
    return Outcome(name=job.name, row=row, files=tuple(files))


@lru_cache(maxsize=1)
def _heard(service: Service, run_at: datetime) -> Heard:
    # Once per worker process and run.
    return Heard()


@cache
def _region(folder: Path, pack: Path) -> Region:
    # Once per worker process; opening is cheap, but its compiled views warm up.
    return open_pinned(folder, pack)


def _bytes_of(job: Job) -> bytes:
    if job.data is not None:
        return job.data
    try:
        with job.path.open("rb") as stream:
            # One byte over the limit is enough for the parser to refuse it.
            return stream.read(LIMITS.max_bytes + 1)
    except OSError as exc:
        raise InputError(
            message("it cannot be read ({strerror})", strerror=str(exc.strerror)),
            job.name,
            message("Check its rights."),
        ) from exc


def _run_in_processes(jobs: Iterator[Job], order: Order, workers: int) -> Iterator[Outcome]:
    """A pool; if a route kills its worker, those in hand go on alone, the rest in a new pool."""
    suspects: list[Job] | None = None
    while suspects is None or suspects:
        suspects = yield from _until_broken(jobs, order, workers)
        yield from (_judge_alone(job, order) for job in suspects)


def _until_broken(
    jobs: Iterator[Job], order: Order, workers: int
) -> Generator[Outcome, None, list[Job]]:
    """Judge in a pool until all is done; returns the routes in hand if a worker died, else none."""
    held: dict[Future[Outcome], Job] = {}
    pool = _pool(workers)
    try:
        while True:
            for job in islice(jobs, _AHEAD * workers - len(held)):
                try:
                    held[pool.submit(judge, job, order)] = job
                except BrokenProcessPool:
                    return [*held.values(), job]
            if not held:
                return []
            for future in wait(held, return_when=FIRST_COMPLETED).done:
                if isinstance(future.exception(), BrokenProcessPool):
                    return list(held.values())
                del held[future]  # what is done is not held
                yield future.result()
    finally:
        # Stopped half way (Ctrl-C, a full disk): what has not begun is not begun.
        pool.shutdown(cancel_futures=True)


def _judge_alone(job: Job, order: Order) -> Outcome:
    with _pool(1) as pool:
        try:
            return pool.submit(judge, job, order).result()
        except BrokenProcessPool:
            return Outcome(
                name=job.name, error=f"{job.name}: its worker process died.", exit_code=1
            )


def _pool(workers: int) -> Executor:
    # Spawned, not forked: compiled code keeps threads that a fork would lose.
    return ProcessPoolExecutor(max_workers=workers, mp_context=get_context("spawn"))


def _run_on_cluster(
    jobs: Iterator[Job], order: Order, address: str
) -> Generator[Outcome, None, list[Job]]:
    """Judge on a cluster until all is done; returns the routes in hand if its scheduler is lost."""
    distributed, client = _connected(address)
    held: dict[str, Job] = {}
    with client:
        busy = distributed.as_completed()

        def send() -> list[Job]:
            """Hand out what may be held; returns the route that could not be sent, if any."""
            for job in islice(jobs, _SENT_AT_ONCE - len(held)):
                try:
                    sent = replace(job, data=_bytes_of(job))
                except InputError:
                    sent = job  # the worker tells what is wrong
                if client.status != "running":
                    return [job]
                try:
                    future = client.submit(judge, sent, order, pure=False)
                except Exception:
                    if client.status == "running":
                        raise
                    return [job]
                held[future.key] = job
                busy.add(future)
            return []

        unsent = send()
        for future in busy if not unsent else ():
            outcome = _brought(future, held[future.key])
            if outcome is None:
                break
            del held[future.key]
            yield outcome
            if unsent := send():
                break
    return [*held.values(), *unsent]


def _brought(future: Any, job: Job) -> Outcome | None:
    """What became of a route on the cluster; None if its scheduler is lost.

    It may be lost at any time, also after a route was told to be done and before it is brought.
    """
    try:
        if future.status not in ("finished", "error"):
            return None
        outcome: Outcome = future.result(timeout=_BRING_S)
        return outcome
    except (CancelledError, OSError):
        return None
    except Exception as fault:  # judging raises nothing: the cluster does
        return _lost(job, fault)


def _lost(job: Job, fault: BaseException) -> Outcome:
    """A route that no worker brought back."""
    why = "its workers died" if type(fault).__name__ == "KilledWorker" else type(fault).__name__
    text = " ".join(f"{job.name}: it was lost on the cluster ({why}).".split())
    return Outcome(name=job.name, error=text, exit_code=1)


def _connected(address: str) -> tuple[Any, Any]:
    """The library and a client of the scheduler. Raises UsageError if either is not there."""
    try:
        distributed = import_module("distributed")
    except ImportError as exc:
        raise UsageError(
            message("--scheduler needs the Dask extra"),
            "",
            message("Install it: pip install 'terrain[dask]'."),
        ) from exc
    try:
        client = distributed.Client(address, timeout=_CONNECT_S)
    except (OSError, ValueError) as exc:
        raise UsageError(
            message("the scheduler cannot be reached"),
            address,
            message("Check that it runs and the address."),
        ) from exc
    return distributed, client
