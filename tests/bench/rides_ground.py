"""What rides teach of ground, on open regions whose truth is drawn once from the map's chances.

Run by hand: `python -m tests.bench.rides_ground` from the checkout. Speed: log loss of doubtful
ways that were ridden, before and after. Witnesses: riders who are wrong in 10 % tell of doubtful
and of known ways they rode; then one more who always lies.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

import numpy as np

from terrain.flow import match
from terrain.region.region import Region
from terrain.rides import ridden
from terrain.stages.ridden.learning.ground import learn_ground
from terrain.stages.ridden.learning.pace_evidence import learn_from_pace
from terrain.values.ground import LAND_GROUNDS
from terrain.values.learned import Statement
from terrain.values.ridden import Ridden
from terrain.values.trip import Three
from tests.bench.rides import known_lines, open_known
from tests.ride_sim import Habits, Maker

SEED = 20270316
_WITNESSES, _KNOWN, _DOUBTFUL = 8, 4, 12


def main() -> None:
    args = argparse.ArgumentParser(description=__doc__)
    args.add_argument("--home", type=Path, help="folder to keep the built regions in")
    args.add_argument("--rides", type=int, default=40, help="rides on each region")
    options = args.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        for area, region in open_known(options.home or Path(folder)).items():
            rng = np.random.default_rng(SEED)
            maker = Maker(region.roads, region.ground.p, rng)
            rides = _rides(area, region, maker, options.rides)
            map_p = _map_p(region, rides)
            row_of = {int(w): i for i, w in enumerate(region.roads.ways.way_id.tolist())}
            truth = {way: int(maker.ground[row_of[way]]) for way in map_p}
            _speed(area, rides, map_p, truth)
            _witnesses(area, rides, map_p, truth, rng)


def _rides(area: str, region: Region, maker: Maker, n: int) -> list[Ridden]:
    lines = [route for name, route in known_lines() if name == area]
    found = []
    for i in range(n):
        base = match(lines[i % len(lines)], region)
        own = float(np.exp(maker.rng.normal(0.0, 0.1)))
        true = maker.ride(base, Habits(factor=(own, own, own)))
        found.append(ridden(maker.record(true, 10.0).track, region, help_asked=False))
    return found


def _map_p(region: Region, rides: list[Ridden]) -> dict[int, Three]:
    seen = {p.way_id for ride in rides for p in ride.parts if p.way_id is not None}
    rows = np.flatnonzero(np.isin(region.roads.ways.way_id, list(seen)))
    found: dict[int, Three] = {}
    for row in rows.tolist():
        a, b, c = (float(v) for v in region.ground.p[row])
        if np.isfinite(a):
            found[int(region.roads.ways.way_id[row])] = (a, b, c)
    return found


def _log_loss(p: dict[int, Three], truth: dict[int, int], ways: list[int]) -> float:
    return float(np.mean([-np.log(max(p[w][truth[w]], 1e-6)) for w in ways])) if ways else 0.0


def _speed(area: str, rides: list[Ridden], map_p: dict[int, Three], truth: dict[int, int]) -> None:
    told = learn_from_pace(rides)
    doubtful = [w for w in map_p if max(map_p[w]) < 0.9]
    after = map_p | {way.way_id: way.p for way in told.ways if way.way_id in map_p}
    print(f"{area}: speed {'used' if told.used else 'not used'} (left out in turn: "
          f"{told.log_loss_class:.3f} by class, {told.log_loss_pace:.3f} with speed); "
          f"{len(doubtful)} doubtful ways ridden, log loss "
          f"{_log_loss(map_p, truth, doubtful):.3f} before, "
          f"{_log_loss(after, truth, doubtful):.3f} after", flush=True)  # fmt: skip


def _witnesses(
    area: str, rides: list[Ridden], map_p: dict[int, Three], truth: dict[int, int],
    rng: np.random.Generator,
) -> None:  # fmt: skip
    told = [s for i, r in enumerate(rides)
            for s in _said(r, f"rider {i % _WITNESSES}", 0.1, map_p, truth, rng)]  # fmt: skip
    liar = [s for r in rides[:10] for s in _said(r, "liar", 1.0, map_p, truth, rng)]
    asked = sorted({s.way_id for s in told if max(map_p[s.way_id]) < 0.9})
    before = _log_loss(map_p, truth, asked)
    rows = {
        "after": _after(told, map_p), "with a liar": _after([*told, *liar], map_p),
        "the liar alone": _after(liar, map_p),
    }  # fmt: skip
    figures = ", ".join(f"{k} {_log_loss(p, truth, asked) / before:.2f}" for k, p in rows.items())
    print(f"{area}: witnesses: {len(asked)} doubtful ways asked, log loss {before:.3f} before; "
          f"of that: {figures}", flush=True)  # fmt: skip


def _said(
    ride: Ridden, who: str, errs: float, map_p: dict[int, Three], truth: dict[int, int],
    rng: np.random.Generator,
) -> list[Statement]:  # fmt: skip
    ways = sorted({p.way_id for p in ride.parts if p.way_id in map_p and p.length_m > 100.0})
    ways = [w for w in ways if w is not None]
    doubtful = [w for w in ways if max(map_p[w]) < 0.9]
    known = [w for w in ways if max(map_p[w]) >= 0.9]
    chosen = [
        *rng.permutation(doubtful)[:_DOUBTFUL].tolist(), *rng.permutation(known)[:_KNOWN].tolist()
    ]  # fmt: skip
    found = []
    for way in chosen:
        g = truth[int(way)]
        if rng.random() < errs:
            g = int((g + rng.integers(1, 3)) % 3)
        found.append(Statement(way_id=int(way), who=who, day=ride.day, ground=LAND_GROUNDS[g]))
    return found


def _after(statements: list[Statement], map_p: dict[int, Three]) -> dict[int, Three]:
    ways, _ = learn_ground(statements, map_p)
    return map_p | {way.way_id: way.p for way in ways if way.p is not None}


if __name__ == "__main__":
    main()
