"""Make the demo's files anew: `python -m tests.island`.

Writes terrain/demo/data and sample_routes of this checkout.
"""

from __future__ import annotations

import shutil

from tests.island import DATA, SAMPLE_ROUTES, make_island
from tests.island.island import draw_island

if __name__ == "__main__":
    made = make_island(DATA, draw_island())
    for path in (made.osm, *made.tiles, *made.routes):
        print(path)
    for path in made.routes:
        print(shutil.copy(path, SAMPLE_ROUTES))
