"""Simulated rides over lines of known ways: what is read out of the recordings, against the truth.

Run by hand: `python -m tests.bench.rides` from the checkout.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from terrain.flow import match
from terrain.region.build import build_region
from terrain.region.region import Region, open_folder
from terrain.rides import ridden
from terrain.values.ridden import TRIMMED_M, Ridden
from terrain.values.route import Route
from tests.match_scoring import AREAS, lines
from tests.ride_sim import Habits, Maker, Recording, TrueRide

DATA = Path(__file__).resolve().parents[3] / "shared" / "data"
SEED = 20270314
EVERY_S = (1.0, 5.0, 10.0, 30.0, 60.0, 120.0, 300.0)


@dataclass(frozen=True)
class Tally:
    """found, true, both : metres by way off the plan; moving_err : share of the true, by ride

    held : the true lies in the band
    """

    found: float
    true: float
    both: float
    moving_err: float
    held: bool
    missed_err: float
    standing_err_s: float


def open_known(home: Path) -> dict[str, Region]:
    """The regions of the known lines by area, built in a home folder if they are not there."""
    out = {}
    for area, name in AREAS.items():
        folder = home / "regions" / area
        if not folder.exists():
            extract = DATA / "match-truth" / name
            build_region(area, (extract,), _dem(area), home=home)
        out[area] = open_folder(folder)
    return out


def _dem(area: str) -> tuple[Path, ...]:
    return (DATA / "dem" / "N42E001.hgt.zip",) if area == "andorra" else ()


def known_lines() -> list[tuple[str, Route]]:
    """The area of each line of known ways, and the line with a point each 10 m."""
    found = {name: route for name, variant, route in lines(DATA) if variant == "clean10"}
    return [(name.rsplit("-", 1)[0], route) for name, route in sorted(found.items())]


def tally(ride: TrueRide, record: Recording, read: Ridden) -> Tally:
    assert read.plan is not None
    found: dict[int, float] = {}
    for item in read.plan.leavings:
        for way, m in item.ways:
            found[way] = found.get(way, 0.0) + m
    both = sum(min(m, ride.off.get(way, 0.0)) for way, m in found.items())
    kept = (record.from_m + TRIMMED_M, record.to_m - TRIMMED_M)
    true_s = ride.moving_s(*kept)
    return Tally(
        found=sum(found.values()), true=sum(ride.off.values()), both=both,
        moving_err=read.moving_s / true_s - 1.0,
        held=read.moving_low_s <= true_s <= read.moving_high_s,
        missed_err=abs(read.plan.missed_m - ride.missed_m),
        standing_err_s=read.standing_s - ride.standing_s(*kept),
    )  # fmt: skip


def main() -> None:
    args = argparse.ArgumentParser(description=__doc__)
    args.add_argument("--home", type=Path, help="folder to keep the built regions in")
    args.add_argument("--only", type=int, default=0, help="rides by sampling; 0 all")
    args.add_argument("--seed", type=int, default=SEED, help="constants are fitted on 1 to 8")
    args.add_argument("every", nargs="*", type=float, default=list(EVERY_S))
    options = args.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        home = options.home or Path(folder)
        known = open_known(home)
        against_plan(known, options.every, options.only, options.seed)


def against_plan(known: dict[str, Region], every: list[float], only: int, seed: int) -> None:
    print(f"{'each s':>7s} {'rides':>5s} {'precision':>9s} {'recall':>7s} {'moving':>7s} "
          f"{'worst':>7s} {'bias':>7s} {'held':>5s} {'missed m':>8s} {'stood s':>8s} "
          f"{'s/ride':>7s}")  # fmt: skip
    for every_s in every:
        rows, spent = [], 0.0
        for i, (area, fine) in enumerate(known_lines()[: only or None]):
            region = known[area]
            # The same rides at each sampling.
            maker = Maker(region.roads, region.ground.p, np.random.default_rng([seed, i]))
            ride = maker.ride(match(fine, region), Habits())
            record = maker.record(ride, every_s)
            started = time.process_time()
            read = ridden(record.track, region, ride.plan, help_asked=False)
            spent += time.process_time() - started
            rows.append(tally(ride, record, read))
        found, true = sum(r.found for r in rows), sum(r.true for r in rows)
        both = sum(r.both for r in rows)
        errors = np.array([r.moving_err for r in rows])
        print(f"{every_s:7.0f} {len(rows):5d} {both / max(found, 1):9.3f} "
              f"{both / max(true, 1):7.3f} "
              f"{np.abs(errors).mean():7.4f} {np.abs(errors).max():7.4f} "
              f"{errors.mean():7.4f} {np.mean([r.held for r in rows]):5.2f} "
              f"{np.mean([r.missed_err for r in rows]):8.0f} "
              f"{np.mean([abs(r.standing_err_s) for r in rows]):8.0f} {spent / len(rows):7.2f}",
              flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
