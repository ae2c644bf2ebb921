"""Time of reading 50,000 points, over the fastest library for each format alone; run by hand.

python -m tests.bench.reading
"""

from __future__ import annotations

import io
import json
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import orjson
import pandas as pd
import pyogrio

from terrain.inputs.lines import parse_route

_N, _ROUNDS = 50_000, 25


def _line() -> np.ndarray:
    rng = np.random.default_rng(0)
    lon = 10.0 + np.cumsum(rng.normal(2e-4, 5e-5, _N))
    lat = 45.0 + np.cumsum(rng.normal(1e-5, 1e-4, _N))
    return np.stack([lon, lat, 500.0 + np.cumsum(rng.normal(0.0, 0.3, _N))], axis=1)


def _csv(line: np.ndarray) -> bytes:
    rows = "\n".join(f"{x:.6f},{y:.6f},{z:.1f}" for x, y, z in line.tolist())
    return f"lon,lat,ele\n{rows}\n".encode()


def _kml(line: np.ndarray) -> bytes:
    points = " ".join(f"{x:.6f},{y:.6f},{z:.1f}" for x, y, z in line.tolist())
    return (
        '<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>x</name>'
        f"<LineString><coordinates>{points}</coordinates></LineString></Placemark></Document></kml>"
    ).encode()


def _geojson(line: np.ndarray) -> bytes:
    geometry = {"type": "LineString", "coordinates": np.round(line, 6).tolist()}
    return json.dumps({"type": "Feature", "properties": {}, "geometry": geometry}).encode()


def _array(geojson: bytes) -> np.ndarray:
    return np.array(orjson.loads(geojson)["geometry"]["coordinates"])


def _best_s(*jobs: Callable[[], object]) -> list[float]:
    """The least CPU time of each job, the jobs in turn, so that all meet the same machine."""
    least = [np.inf] * len(jobs)
    for _ in range(_ROUNDS):
        for i, job in enumerate(jobs):
            start = time.process_time()
            job()
            least[i] = min(least[i], time.process_time() - start)
    return least


def main() -> None:
    line = _line()
    with TemporaryDirectory() as folder:
        path = Path(folder) / "line.kml"
        path.write_bytes(kml := _kml(line))
        csv, geojson = _csv(line), _geojson(line)
        cases: tuple[tuple[str, bytes, str, Callable[[], object]], ...] = (
            ("line.csv", csv, "pandas", lambda: pd.read_csv(io.BytesIO(csv))),
            ("line.kml", kml, "GDAL", lambda: pyogrio.raw.read(path)),
            ("line.geojson", geojson, "orjson", lambda: _array(geojson)),
        )
        for name, data, library, alone in cases:
            ours_s, alone_s = _best_s(lambda: parse_route(data, name), alone)  # noqa: B023
            print(f"{name:14} {1e3 * ours_s:6.1f} ms  {library:8} {1e3 * alone_s:6.1f} ms  "
                  f"ratio {ours_s / alone_s:.2f}")  # fmt: skip


if __name__ == "__main__":
    main()
