"""What an update by a day of changes costs, stage by stage, over a build of the same map.

python -m tests.bench.update EXTRACT.osm.pbf [ELEVATION...]

CPU seconds of this process, the least of a few rounds. A made day changes the tags of one way in a
thousand; that is more than a country's map sees in a day (from memory).
"""

from __future__ import annotations

import gzip
import os
import sys
import time
from collections import defaultdict
from pathlib import Path
from tempfile import TemporaryDirectory
from xml.sax.saxutils import quoteattr

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command has it; before NumPy comes

import osmium

from terrain.region.build import Rebuild, build_region, rebuild_region
from terrain.region.changes import State, merge_changes
from terrain.region.region import open_folder
from terrain.region.source import Source

_ROUNDS, _EVERY = 3, 1000
_TIME = "2024-01-01T00:00:00+00:00"


class Stages:
    """Takes the steps of a build; CPU seconds of each."""

    def __init__(self) -> None:
        self.spent: dict[str, float] = defaultdict(float)
        self._step, self._since = "", time.process_time()

    def __call__(self, step: str, share: float | None) -> None:
        now = time.process_time()
        if self._step:
            self.spent[self._step.split(".osm")[0].split(" N")[0]] += now - self._since
        self._step, self._since = step, now


def _day(extract: Path, path: Path) -> None:
    """A change file that tags every thousandth way anew."""
    rows = []
    for i, way in enumerate(osmium.FileProcessor(str(extract), osmium.osm.WAY)):
        if i % _EVERY == 0:
            refs = "".join(f'<nd ref="{node.ref}"/>' for node in way.nodes)  # type: ignore[union-attr]
            tags = {tag.k: tag.v for tag in way.tags} | {"surface": "gravel"}
            said = "".join(f"<tag k={quoteattr(k)} v={quoteattr(v)}/>" for k, v in tags.items())
            head = (
                f'<way id="{way.id}" version="{way.version + 1}" timestamp="2024-01-01T00:00:00Z">'
            )
            rows.append(f"{head}{refs}{said}</way>")
    body = f'<osmChange version="0.6"><modify>{"".join(rows)}</modify></osmChange>'
    path.write_bytes(gzip.compress(body.encode()))


def main(words: list[str]) -> None:
    extract, dem = Path(words[0]).resolve(), tuple(Path(word) for word in words[1:])
    source = Source(url="https://changes.example", sequence=1, to_time=_TIME)
    state = State(sequence=2, time=_TIME)
    builds, updates = [], []
    with TemporaryDirectory() as folder:
        home, day, merged = Path(folder), Path(folder) / "day.osc.gz", Path(folder) / "m.osm.pbf"
        _day(extract, day)
        for _ in range(_ROUNDS + 1):  # the first compiles
            stages = Stages()
            built = build_region("x", (extract,), dem, home=home, replace=True, progress=stages)
            stages("", None)
            builds.append(dict(stages.spent))
            region, stages = open_folder(built), Stages()
            stages("Merging the changes", None)
            newer = merge_changes(extract, (day,), merged, source=source, state=state)
            work = Rebuild(folder=built, pack=region.pack, info=region.info, extract=merged,
                           source=newer)  # fmt: skip
            rebuild_region(work, stages)
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
