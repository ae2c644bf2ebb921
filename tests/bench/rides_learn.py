"""What is learned of times from simulated rides, against rides that were not learned from.

Run by hand: `python -m tests.bench.rides_learn` from the checkout. Fleets whose pace truly
differs from the tables, and one whose pace does not; riders differ among themselves as well.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from terrain.flow import match
from terrain.region.region import Region
from terrain.rides import estimated, ridden
from terrain.stages.ridden.learning.times import learn_times, lesson_of
from terrain.values.arrays import FloatArray
from terrain.values.match import Match
from terrain.values.ridden import Ridden
from terrain.values.trip import Rider, Trip
from tests.bench.rides import known_lines, open_known
from tests.ride_sim import Habits, Line, Maker, Recording, plain_route

FLEETS = {
    "as the tables": (1.0, 1.0, 1.0), "slow on gravel": (1.0, 1.35, 1.35),
    "slow all over": (1.25, 1.25, 1.25), "quick all over": (0.8, 0.75, 0.75),
}  # fmt: skip
RIDER_SD = 0.08
SEED = 20270315
Case = tuple[Region, Recording]


class Fleet:
    """Recordings of a fleet's rides, one after the other."""

    def __init__(self, known: dict[str, Region], factor: tuple[float, ...], seed: int) -> None:
        self.known, self.factor = known, factor
        self.rng = np.random.default_rng([SEED, seed])
        self.lines = known_lines()
        self.bases: dict[int, Match] = {}

    def ride(self) -> Case:
        i = int(self.rng.integers(len(self.lines)))
        area, fine = self.lines[i]
        region = self.known[area]
        if i not in self.bases:
            self.bases[i] = match(fine, region)
        own = float(np.exp(self.rng.normal(0.0, RIDER_SD)))
        a, b, c = (f * own for f in self.factor)
        maker = Maker(region.roads, region.ground.p, self.rng)

        def estimate(line: Line, at_m: FloatArray) -> FloatArray:
            speeds = estimated(plain_route(line.lon, line.lat), region, Trip())
            scale = speeds.to_m[-1] / line.length_m
            return speeds.at_s(at_m * scale)

        true = maker.ride(self.bases[i], Habits(factor=(a, b, c), leaves=1), estimate)
        return region, maker.record(true, 10.0)


def read(cases: Sequence[Case], trip: Trip) -> list[Ridden]:
    return [ridden(record.track, region, trip=trip, help_asked=False) for region, record in cases]


def main() -> None:
    args = argparse.ArgumentParser(description=__doc__)
    args.add_argument("--home", type=Path, help="folder to keep the built regions in")
    args.add_argument("--test", type=int, default=40, help="rides that are not learned from")
    args.add_argument("--repeats", type=int, default=5, help="samples of each size")
    options = args.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        known = open_known(options.home or Path(folder))
        print(f"{'fleet':16s} {'rides':>5s} {'error':>6s} {'of default':>10s} {'hold':>5s} "
              f"{'default holds':>13s}  factors")  # fmt: skip
        for seed, (name, factor) in enumerate(FLEETS.items()):
            fleet = Fleet(known, factor, seed)
            tests = [fleet.ride() for _ in range(options.test)]
            plain = read(tests, Trip())
            pool = read([fleet.ride() for _ in range(40)], Trip())
            for n in (10, 20, 40):
                compare(name, n, pool, tests, plain, options.repeats if n < 40 else 1)


def compare(
    name: str, n: int, pool: Sequence[Ridden], tests: Sequence[Case], plain: Sequence[Ridden],
    repeats: int,
) -> None:  # fmt: skip
    """Print a row: errors of single rides' times after learning from n rides."""
    rng = np.random.default_rng([SEED, n])
    errors, held, factors = [], [], []
    for _ in range(repeats):
        chosen = [pool[i] for i in rng.permutation(len(pool))[:n]]
        learned = learn_times([lesson_of(ride) for ride in chosen])
        assert learned is not None
        own = learned.pace_for(Rider.STEADY, None)
        assert own is not None
        factors.append(own.factor)
        after = read(tests, Trip(own_pace=own))
        errors += [abs(r.expected_s - r.moving_s) / r.moving_s for r in after]
        held += [r.expected_low_s <= r.moving_s <= r.expected_high_s for r in after]
    before = [abs(r.expected_s - r.moving_s) / r.moving_s for r in plain]
    default = np.mean([r.expected_low_s <= r.moving_s <= r.expected_high_s for r in plain])
    shown = " ".join(f"{f:.2f}" for f in np.mean(factors, axis=0))
    print(f"{name:16s} {n:5d} {np.mean(errors):6.3f} {np.mean(errors) / np.mean(before):10.2f} "
          f"{np.mean(held):5.2f} {default:13.2f}  {shown}", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
