"""Write the invented island's files: `python -m terrain.demo FOLDER [--routes-only]`.

With --routes-only the sample routes alone go into FOLDER, as in sample_routes/ of the project.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from terrain.demo import make_island


def _main() -> None:
    parser = argparse.ArgumentParser(prog="python -m terrain.demo", description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--routes-only", action="store_true")
    given = parser.parse_args()
    given.folder.mkdir(parents=True, exist_ok=True)
    if given.routes_only:
        from terrain.demo.island import draw_island
        from terrain.demo.routes import write_routes

        paths = write_routes(given.folder, draw_island())
    else:
        made = make_island(given.folder)
        paths = (made.osm, *made.tiles, *made.routes)
    for path in paths:
        print(path)


if __name__ == "__main__":
    _main()
