"""How time and memory grow with points, gaps, edges and routes, and by which exponents.

Run by hand: `python -m tests.bench.growth` measures (ten minutes of processor time) and writes
notebooks/growth.ipynb with its figures; `... growth points gaps` measures these axes anew and
keeps the others, and --redraw only draws from the numbers that the notebook holds. An exponent is
the slope over the logarithms: 1 is twice as much on twice as much.
"""

from __future__ import annotations

import argparse
import base64
import contextlib
import csv
import io
import subprocess
import sys
import tarfile
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, NamedTuple

import nbformat
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook, new_output

from terrain.batch import Order, find_routes, run_batch
from terrain.flow import assess, open_region
from terrain.region.build import build_region
from terrain.region.region import Region
from terrain.report.drawing.ink import INKS
from terrain.stages.matching import match_route, other_ways
from terrain.values.trip import Trip
from tests.bench.matching import DATA
from tests.bench.sparse import route_of
from tests.bench.speed import there_and_back
from tests.bench.speed_maps import copied_map
from tests.match_scoring import AREAS, lines

ROOT = Path(__file__).resolve().parents[2]
BOOK = ROOT / "notebooks" / "growth.ipynb"
_AREA = "andorra"
_MADE_AT = datetime(2027, 2, 1, 9, 0, tzinfo=UTC)
AXES = ("points", "gaps", "edges", "routes")
_GAP_M, _POINT_M = 2_000.0, 10.0
_POINTS = (5_000, 10_000, 20_000, 40_000, 80_000)
_GAPS = (20, 40, 80, 160, 320)
_COPIES = (1, 2, 4, 8, 16)
_ROUTES = (15, 30, 60, 120)


class Row(NamedTuple):
    """One measurement: what was done, over which axis, on how much, at what cost.

    time_s : processor time of the process; peak_mb : the most memory it held meanwhile, pages of
        the region's files that it read included
    """

    axis: str
    what: str
    size: int
    time_s: float
    peak_mb: float


# -- measuring -----------------------------------------------------------------------------------


def measure(folder: Path, axes: Sequence[str]) -> Iterator[Row]:
    """Every measurement in a process of its own, the regions they need made on the way."""
    edges = {}
    for copies in _COPIES if "edges" in axes else _COPIES[:1]:
        copied_map(DATA / "match-truth" / AREAS[_AREA], copies, folder / f"{copies}.osm.pbf")
        row = _apart("edges", "region build", copies, folder)
        edges[copies] = open_region(f"copies-{copies}", folder).roads.n_edges
        if "edges" in axes:
            yield row._replace(size=edges[copies])
    _apart("edges", "report", 1, folder)  # compiles what is not compiled yet
    for copies in edges if "edges" in axes else ():
        yield _apart("edges", "report", copies, folder)._replace(size=edges[copies])
    for axis, what, sizes in (
        ("points", "match", _POINTS),
        ("points", "report", _POINTS[:-1]),
        ("gaps", "match", _GAPS),
        ("gaps", "other ways", _GAPS),
        ("routes", "batch", _ROUTES),
    ):
        for size in sizes if axis in axes else ():
            yield _apart(axis, what, size, folder)


def _apart(axis: str, what: str, size: int, folder: Path) -> Row:
    command = [sys.executable, "-m", "tests.bench.growth", "--one", axis, what, str(size)]
    done = subprocess.run(
        [*command, str(folder)], cwd=ROOT, check=True, stdout=subprocess.PIPE, text=True
    )
    time_s, peak_mb = (float(word) for word in done.stdout.split())
    return Row(axis, what, size, time_s, peak_mb)


def _one(axis: str, what: str, size: int, folder: Path) -> tuple[float, float]:
    """Processor time [s], the least of two passes, and peak [MB] of one measurement."""
    work = _work(axis, what, size, folder)
    # Peak from here on; what was read and compiled to get ready is in what is held already.
    Path("/proc/self/clear_refs").write_text("5")
    spent = []
    for _ in range(2):
        start = time.process_time()
        work()
        spent.append(time.process_time() - start)
    told = Path("/proc/self/status").read_text()
    return min(spent), int(told.partition("VmHWM:")[2].split()[0]) / 1024


def _work(axis: str, what: str, size: int, folder: Path) -> Callable[[], object]:
    if what == "region build":
        source = folder / f"{size}.osm.pbf"
        return lambda: build_region(f"copies-{size}", (source,), (), home=folder, replace=True)
    region = open_region(f"copies-{size}" if axis == "edges" else "copies-1", folder)
    if axis == "routes":
        return _batch(region, size, folder)
    route = next(r for name, kind, r in lines(DATA) if kind == "clean10" and _AREA in name)
    warm = there_and_back(route, 50_000.0, 5_000, region)
    if axis == "edges":
        assess(route, region)
        return lambda: assess(route, region)
    if axis == "points":
        drawn = there_and_back(route, _POINT_M * size, size, region)
        if what == "match":
            match_route(warm, region.roads)
            return lambda: match_route(drawn, region.roads)
        assess(warm, region)
        return lambda: assess(drawn, region)
    dense = there_and_back(route, _GAP_M * size, 200 * size, region)
    sparse = route_of(dense.lon, dense.lat, _GAP_M, planned=True)
    match = match_route(sparse, region.roads)
    other_ways(match, region.roads, region.ground)
    if what == "match":
        return lambda: match_route(sparse, region.roads)
    return lambda: other_ways(match, region.roads, region.ground)


def _batch(region: Region, n: int, folder: Path) -> Callable[[], object]:
    """A batch in this process over the known rides of the country, taken in turn."""
    rides = folder / f"rides-{n}"
    if not rides.exists():
        rides.mkdir()
        with tarfile.open(DATA / "match-truth" / "gpx.tar.gz") as tar:
            members = [m for m in tar if _AREA in m.name and m.name.endswith(".clean10.gpx")]
            data = [stream.read() for m in members if (stream := tar.extractfile(m)) is not None]
        for k in range(n):
            (rides / f"{k:04d}.gpx").write_bytes(data[k % len(data)])
    order = Order(
        region=folder / "regions" / "copies-1", trip=Trip(), formats=("json",), made_at=_MADE_AT
    )
    routes = find_routes([rides])

    def work() -> None:
        # Read and let go, as a folder of reports is written.
        failed = [outcome.error for outcome in run_batch(routes, order) if outcome.error]
        if failed:
            raise RuntimeError(failed[0])

    return work


# -- the notebook --------------------------------------------------------------------------------

_INTRO = """\
# How time and memory grow

What a match, a report, the build of a region and a batch cost as they grow: with the points of a
line, with the gaps between its points, with the edges of the region and with the number of routes.

This notebook is written by `python -m tests.bench.growth` in the project's checkout, numbers and
figures alike; run it there to measure anew. Each measurement is a process of its own: its
processor time, the least of two passes, and the most memory it held. Lines ride to and fro on one
road of Andorra; regions are copies of Andorra side by side, with ids of their own. The map is
OpenStreetMap's, under the ODbL.
"""
_FIT = """\
import csv
import io

import matplotlib.pyplot as plt
import numpy as np
from matplotlib.ticker import LogLocator

rows = list(csv.DictReader(io.StringIO(MEASURED)))
AXES = {
    "points": "points of the line, one each 10 m",
    "gaps": "gaps of the line, 2 km each",
    "edges": "edges of the region",
    "routes": "routes of the batch",
}


def series(axis, value):
    \"\"\"(what, sizes, values, exponent, fitted) of each thing measured over the axis.\"\"\"
    for what in dict.fromkeys(row["what"] for row in rows if row["axis"] == axis):
        own = [row for row in rows if (row["axis"], row["what"]) == (axis, what)]
        size = np.array([float(row["size"]) for row in own])
        cost = np.array([float(row[value]) for row in own])
        exponent, shift = np.polyfit(np.log(size), np.log(cost), 1)
        fitted = np.exp(shift) * size**exponent
        yield what, size, cost, round(exponent, 2) + 0.0, fitted  # + 0.0: no "-0.00"


print(f"{'over':8s}{'what':14s}{'from':>9s}{'to':>9s}{'time':>7s}{'memory':>8s}   exponents")
for axis in AXES:
    for timed, held in zip(series(axis, "time_s"), series(axis, "peak_mb"), strict=True):
        what, size = timed[0], timed[1]
        print(f"{axis:8s}{what:14s}{size[0]:9,.0f}{size[-1]:9,.0f}{timed[3]:7.2f}{held[3]:8.2f}")
"""
_DRAW = """\
def draw(value, label):
    \"\"\"A panel an axis, each thing measured with the power it follows.\"\"\"
    _, panels = plt.subplots(2, 2, figsize=(9.5, 6.6), layout="constrained")
    for ax, (axis, title) in zip(panels.flat, AXES.items(), strict=True):
        shown = zip(series(axis, value), LOOKS, strict=False)
        for (what, size, cost, exponent, fitted), (ink, mark, line) in shown:
            ax.plot(size, fitted, line, color=ink, linewidth=1.4)
            ax.plot(size, cost, mark, color=ink, label=f"{what}: exponent {exponent:.2f}")
        ax.set(xscale="log", yscale="log", xlabel=f"{axis} (number)", ylabel=label)
        low, high = ax.get_ylim()
        ax.set_ylim(low / 1.5, high * 3)
        longest = max((one[1] for one in series(axis, value)), key=len)
        ax.set_xticks(longest, [f"{n:,.0f}" for n in longest])
        ax.minorticks_off()
        ax.yaxis.set_major_locator(LogLocator(subs=(1.0, 3.0)))
        ax.yaxis.set_major_formatter("{x:,g}")
        ax.set_title(title, loc="left", fontsize=10)
        ax.spines[["top", "right"]].set_visible(False)
        ax.grid(color=FAINT)
        ax.legend(loc="upper left", frameon=False)


draw("time_s", "processor time (s)")
"""
_TIME = """\
## Time

Both scales are logarithmic; a straight line is a power law, and its exponent is in the legend.
Exponent 1 is twice the time for twice as much; 0 means that it does not matter how much there is.
"""
_MEMORY = """\
## Memory

The most that the process held, with the program itself and the pages of the region's files it had
read. What grows slowly rests on a floor: the program and its libraries.
"""


def book(rows: Sequence[Row]) -> Any:
    """The notebook of these measurements, run, with what it printed and drew."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(Row._fields)
    for row in rows:
        writer.writerow([*row[:3], f"{row.time_s:.3g}", f"{row.peak_mb:.0f}"])
    ink = {one.name: one.light for one in INKS}
    looks = f'LOOKS = [("{ink["help"]}", "o", "-"), ("{ink["track"]}", "s", "--")]\n'
    data = f'MEASURED = """\\\n{text.getvalue()}"""\n{looks}FAINT = "{ink["faint"]}"'
    cells = [
        new_markdown_cell(_INTRO), new_code_cell(data), new_code_cell(_FIT.rstrip()),
        new_markdown_cell(_TIME), new_code_cell(_DRAW.rstrip()),
        new_markdown_cell(_MEMORY), new_code_cell('draw("peak_mb", "peak memory (MB)")'),
    ]  # fmt: skip
    space: dict[str, Any] = {"__name__": "__main__"}
    for k, cell in enumerate(cells):
        cell.id = f"growth-{k}"
        if cell.cell_type == "code":
            cell.outputs = _outputs(cell.source, space)
    kernel = {"display_name": "Python 3", "language": "python", "name": "python3"}
    return new_notebook(
        cells=cells, metadata={"kernelspec": kernel, "language_info": {"name": "python"}}
    )


def _outputs(source: str, space: dict[str, Any]) -> list[Any]:
    """What a cell prints and draws, as a notebook keeps it."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    printed, out = io.StringIO(), []
    with contextlib.redirect_stdout(printed):
        exec(compile(source, "growth", "exec"), space)
    if printed.getvalue():
        out.append(new_output("stream", name="stdout", text=printed.getvalue()))
    for number in plt.get_fignums():
        png = io.BytesIO()
        plt.figure(number).savefig(png, dpi=80, metadata={"Software": None})
        shown = {"image/png": base64.b64encode(png.getvalue()).decode() + "\n"}
        out.append(new_output("display_data", data=shown))
    plt.close("all")
    return out


def held_rows(notebook: Any) -> list[Row]:
    """The measurements that a notebook holds."""
    text = next(cell.source for cell in notebook.cells if cell.source.startswith("MEASURED"))
    return [
        Row(row["axis"], row["what"], int(row["size"]), float(row["time_s"]), float(row["peak_mb"]))
        for row in csv.DictReader(io.StringIO(text.split('"""')[1].removeprefix("\\\n")))
    ]


def main() -> None:
    args = argparse.ArgumentParser(description=__doc__)
    args.add_argument("axes", nargs="*", help="points, gaps, edges, routes; all if none")
    args.add_argument("--redraw", action="store_true", help="from the numbers already measured")
    args.add_argument("--one", nargs=4, help=argparse.SUPPRESS)
    options = args.parse_args()
    if options.one:
        axis, what, size, folder = options.one
        print(*_one(axis, what, int(size), Path(folder)))
        return
    axes = [] if options.redraw else options.axes or list(AXES)
    held = held_rows(nbformat.read(BOOK, as_version=4)) if BOOK.exists() else []
    rows = [row for row in held if row.axis not in axes]
    if axes:
        with tempfile.TemporaryDirectory() as made:
            for row in measure(Path(made), axes):
                rows.append(row)
                print(*row, flush=True)
    nbformat.write(book(sorted(rows, key=lambda row: AXES.index(row.axis))), BOOK)


if __name__ == "__main__":
    main()
