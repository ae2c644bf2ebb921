"""Time of `when_to_go` over the time of one report, for each sample route; run by hand.

python -m tests.bench.when
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

import terrain
from terrain.demo.region import ensure_demo_region

_ROUNDS = 7


def _seconds(job: Callable[[], object]) -> float:
    start = time.process_time()
    job()
    return time.process_time() - start


def main() -> None:
    with TemporaryDirectory() as folder:
        home = Path(folder)
        ensure_demo_region(home)
        region = terrain.open_region("island", home)
        for path in sorted((home / "demo" / "routes").glob("*.gpx")):
            route = terrain.read_route(path)
            terrain.when_to_go(route, region), terrain.assess(route, region)
            pairs = [
                (_seconds(lambda: terrain.assess(route, region)),  # noqa: B023
                 _seconds(lambda: terrain.when_to_go(route, region)))  # noqa: B023
                for _ in range(_ROUNDS)
            ]  # fmt: skip
            report_s, when_s = (statistics.median(column) for column in zip(*pairs, strict=True))
            print(f"{path.name:26} report {report_s:.3f} s  when {when_s:.3f} s  "
                  f"ratio {when_s / report_s:.2f}")  # fmt: skip


if __name__ == "__main__":
    main()
