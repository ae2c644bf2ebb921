"""What an update by a day of changes costs, stage by stage, over a build of the same map.

python -m tests.bench.update EXTRACT.osm.pbf [ELEVATION...]

CPU seconds of this process and of those it starts, the least of a few rounds. A made day changes
one way, tagged node and relation in a thousand, in all the ways of tests/region/days.py; that is
more than a country's map sees in a day (from memory).
"""

from __future__ import annotations

import os
import sys
from collections import defaultdict
from pathlib import Path
from tempfile import TemporaryDirectory

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command has it; before NumPy comes

from terrain.region.build import Rebuild, build_region, rebuild_region
from terrain.region.changed import compare_ways
from terrain.region.changes import merge_changes
from terrain.region.region import open_folder
from terrain.region.source import Source, kept_source
from terrain.region.update import changed_map
from tests.region.days import made_day

_ROUNDS = 3
_TIME = "2024-01-01T00:00:00+00:00"


def _spent_s() -> float:
    return sum(os.times()[:4])


class Stages:
    """Takes the steps of a build; CPU seconds of each."""

    def __init__(self) -> None:
        self.spent: dict[str, float] = defaultdict(float)
        self._step, self._since = "", _spent_s()

    def __call__(self, step: str, share: float | None) -> None:
        now = _spent_s()
        if self._step:
            self.spent[self._step.split(".osm")[0].split(" N")[0]] += now - self._since
        self._step, self._since = step, now


def main(words: list[str]) -> None:
    extract, dem = Path(words[0]).resolve(), tuple(Path(word) for word in words[1:])
    source = Source(url="https://changes.example", sequence=1, to_time=_TIME)
    builds, updates = [], []
    with TemporaryDirectory() as folder:
        home, day = Path(folder), Path(folder) / "day.osc.gz"
        made_day(extract, day, seed=1)
        headed = home / "headed.osm.pbf"
        merge_changes(extract, (), headed, source=source)
        for _ in range(_ROUNDS + 1):  # the first compiles
            stages = Stages()
            built = build_region("x", (headed,), dem, home=home, replace=True, progress=stages,
                                 keep_extract=True)  # fmt: skip
            stages("", None)
            builds.append(dict(stages.spent))
            old, stages = open_folder(built), Stages()
            kept = kept_source(old.pack)
            assert kept is not None
            now, read = changed_map(old, kept, (day,), home, stages)
            work = Rebuild(folder=built, pack=old.pack, info=old.info, kept=now, read=read)
            rebuild_region(work, stages)
            stages("Telling what changed", None)
            compare_ways(old.roads.ways, open_folder(built).roads.ways)
            stages("", None)
            updates.append(dict(stages.spent))
    build, update = (min(rows[1:], key=lambda row: sum(row.values())) for rows in (builds, updates))
    for step in dict.fromkeys((*build, *update)):
        if max(build.get(step, 0.0), update.get(step, 0.0)) >= 0.02:
            print(f"{step:44} {build.get(step, 0.0):6.2f} {update.get(step, 0.0):6.2f}")
    whole, part = sum(build.values()), sum(update.values())
    print(f"{'all':44} {whole:6.2f} {part:6.2f}  ratio {part / whole:.2f}")


if __name__ == "__main__":
    main(sys.argv[1:])
