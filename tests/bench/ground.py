"""How good the estimate of the ground is where no surface tag speaks.

Run: python -m tests.bench.ground [EXTRACT ...]   (all extracts at hand if none is named)

Truth is the surface tag: paved, gravel or track by terrain/tables/ground.py; for
surface=unpaved the truth is "gravel or track" and its loss is -log(p_gravel + p_track).
Loss is log loss weighted by the length of the ways (motor roads on land, motorway to track).

(a) surface hidden on 30 % of the tagged ways at random; tracktype and smoothness stay.
(b) surface, tracktype and smoothness hidden on all tagged ways of 30 % of the 3 km squares.
(c) ways without surface in an older extract of Andorra, scored by the surface that the way of
    the same id has in a newer one, weighted by the shorter of its two lengths (ways get cut);
    the estimate is made from the older map alone, for the day of the newer one.
Rivals: (i) the worldwide table by class (terrain/tables/ground.CLASSES); (ii) the region's own
counts of visible tagged ways by class, smoothed towards (i) by 5 ways (the best of 0.5 to 40 on
(a) and (b) together).
Coefficients are fitted without the region that is being scored (all Andorra extracts as one).

A row of few ways can hang on one of them. So each row also tells the 90 % interval of its ratio
to (ii) when ways are drawn anew with replacement, and the share of our loss that lies on the one
way that cost most. The verdict goes by the ratio itself.
"""

from __future__ import annotations

import dataclasses
import functools
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from terrain.stages.ground.cuts import outdated
from terrain.stages.ways.fit import fit_way_ground, map_day, region_labels
from terrain.stages.ways.model import TrainingLabels
from terrain.stages.ways.tags import class_expectation
from terrain.tables.ground_model import MODEL, GroundModel
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.views import Category, RoadsView, WayTable
from tests.bench.ground_maps import Mapped, extracts, read_map
from tests.bench.ground_train import TRAINED_ON, fit_coefficients

SEEDS = tuple(range(1, 11))  # a region of few ways hangs on the draw: ten are pooled
HIDDEN = 0.30
BLOCK_M = 3000.0
SMOOTHING = 5.0
FEWEST_TAGGED = 100  # ways; an extract with fewer is not scored on (a) and (b)
PAIRS = (
    ("andorra-2013", "andorra-2023"),
    ("andorra-2013", "andorra-2021"),
    ("andorra-2021", "andorra-2023"),
)
#: Most of the loss of (i), pooled or not; then of (ii): all regions pooled, and any one of them.
BARS = {"a": (0.70, 0.55, 0.80), "b": (0.85, 0.78, 1.0), "c": (0.85, 0.95, 0.95)}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scored:
    """One experiment: estimates and truth of the hidden ways."""

    task: str
    name: str
    way_id: IntArray
    weight: FloatArray
    truth: TrainingLabels
    ours: FloatArray
    table: FloatArray
    counts: FloatArray


def losses(p: FloatArray, truth: TrainingLabels) -> FloatArray:
    """Log loss of each way; "unpaved" is right on gravel and on track."""
    sealed, built = truth.sealed == 1, truth.built
    unsealed = np.where(np.isnan(built), p[:, 1] + p[:, 2], np.where(built == 1, p[:, 1], p[:, 2]))
    return -np.log(np.where(sealed, p[:, 0], unsealed))


def counts_rival(ways: WayTable, labels: TrainingLabels, road: BoolArray) -> FloatArray:
    """Rival (ii), shape (w, 3)."""
    out = class_expectation(ways.highway)
    for code in np.unique(ways.highway.codes):
        same = ways.highway.codes == code
        seen = same & road & ~np.isnan(labels.sealed)
        usual = out[same][0]
        count = np.array(
            [
                (labels.sealed[seen] == 1).sum(),
                (labels.built[seen] == 1).sum(),
                (labels.built[seen] == 0).sum(),
            ],
            dtype=np.float64,
        )
        vague = seen.sum() - count.sum()  # "unpaved": split as the rest is
        rest = count[1:] + SMOOTHING * usual[1:]
        count[1:] += vague * rest / rest.sum()
        out[same] = (count + SMOOTHING * usual) / (count.sum() + SMOOTHING)
    return out


def hide(roads: RoadsView, hidden: BoolArray, *, grades: bool) -> RoadsView:
    """The same map without the surface (and grades) of some ways."""

    def blank(column: Category) -> Category:
        return Category(codes=np.where(hidden, -1, column.codes).astype(np.int16),
                        values=column.values)  # fmt: skip

    ways = dataclasses.replace(roads.ways, surface=blank(roads.ways.surface))
    if grades:
        ways = dataclasses.replace(
            ways, tracktype=blank(ways.tracktype), smoothness=blank(ways.smoothness)
        )
    return dataclasses.replace(roads, ways=ways)


def tagged(one: Mapped) -> BoolArray:
    return ~np.isnan(one.labels.sealed) & one.facts.shape.road


def at_random(one: Mapped, seed: int) -> BoolArray:
    rows = np.flatnonzero(tagged(one))
    pick = np.random.default_rng(seed).permutation(rows)[: round(HIDDEN * len(rows))]
    return np.isin(np.arange(len(one.roads.ways)), pick)


def in_blocks(one: Mapped, seed: int) -> BoolArray:
    random = np.random.default_rng(seed)
    shift = random.random(2) * BLOCK_M
    shape = one.facts.shape
    col = np.floor((shape.x_m + shift[0]) / BLOCK_M).astype(np.int64)
    row = np.floor((shape.y_m + shift[1]) / BLOCK_M).astype(np.int64)
    _, block = np.unique(row * 100_003 + col, return_inverse=True)
    return (random.random(block.max() + 1) < HIDDEN)[block] & tagged(one)


def _family(name: str) -> str:
    return name.split("-2")[0]


@functools.cache
def model_without(name: str) -> GroundModel:
    """The model fitted on all training extracts but the region's own."""
    found = extracts()
    names = [n for n in TRAINED_ON if n in found and _family(n) != _family(name)]
    unsealed, unbuilt = fit_coefficients([read_map(found[n], n) for n in names])
    return dataclasses.replace(
        MODEL,
        unsealed=dataclasses.replace(MODEL.unsealed, coefficients=tuple(unsealed)),
        unbuilt=dataclasses.replace(MODEL.unbuilt, coefficients=tuple(unbuilt)),
    )


def hidden_tasks(one: Mapped, seeds: Sequence[int] = SEEDS) -> Iterator[Scored]:
    """(a) and (b) of one extract."""
    for task, pick in (("a", at_random), ("b", in_blocks)):
        for seed in seeds:
            hidden = pick(one, seed)
            if not hidden.any():
                continue
            roads = hide(one.roads, hidden, grades=task == "b")
            ground = fit_way_ground(roads, one.places, model=model_without(one.name))
            labels = region_labels(roads.ways)
            yield Scored(
                task=task,
                name=one.name,
                way_id=roads.ways.way_id[hidden],
                weight=one.facts.shape.length_m[hidden],
                truth=rows_of(one.labels, hidden),
                ours=ground.p[hidden].astype(np.float64),
                table=class_expectation(roads.ways.highway)[hidden],
                counts=counts_rival(roads.ways, labels, one.facts.shape.road)[hidden],
            )


def later_task(old: Mapped, new: Mapped) -> Scored:
    """(c) of one pair."""
    place = {int(i): k for k, i in enumerate(new.roads.ways.way_id)}
    partner = np.asarray([place.get(int(i), -1) for i in old.roads.ways.way_id])
    told = (partner >= 0) & ~np.isnan(new.labels.sealed[partner])
    hidden = told & np.isnan(old.labels.sealed) & old.facts.shape.road
    ground = fit_way_ground(old.roads, old.places, model=model_without(old.name))
    years = (map_day(new.roads.ways) - map_day(old.roads.ways)) / 365.25
    ours = outdated(ground.p.astype(np.float64), ground.basis, years)
    length = np.minimum(old.facts.shape.length_m, new.facts.shape.length_m[partner])
    return Scored(
        task="c",
        name=f"{old.name} to {new.name.rsplit('-', 1)[1]}",
        way_id=old.roads.ways.way_id[hidden],
        weight=length[hidden],
        truth=rows_of(new.labels, partner[hidden]),
        ours=ours[hidden],
        table=class_expectation(old.roads.ways.highway)[hidden],
        counts=counts_rival(old.roads.ways, old.labels, old.facts.shape.road)[hidden],
    )


def rows_of(labels: TrainingLabels, rows: BoolArray | np.ndarray) -> TrainingLabels:
    return TrainingLabels(sealed=labels.sealed[rows], built=labels.built[rows])


def calibration_error(scored: Sequence[Scored], bins: int = 10) -> float:
    """Expected calibration error of p(paved), weighted by length."""
    p = np.concatenate([s.ours[:, 0] for s in scored])
    y = np.concatenate([s.truth.sealed for s in scored])
    w = np.concatenate([s.weight / s.weight.sum() for s in scored])
    place = np.minimum((p * bins).astype(int), bins - 1)
    gap = np.abs(np.bincount(place, w * (p - y), minlength=bins))
    return float(gap.sum() / w.sum())


def mean_losses(scored: Sequence[Scored]) -> FloatArray:
    """Length-weighted loss of table, counts, ours over several experiments."""
    total = np.array(
        [
            [np.sum(s.weight * losses(p, s.truth)) for p in (s.table, s.counts, s.ours)]
            for s in scored
        ]
    ).sum(axis=0)
    return np.asarray(total / sum(s.weight.sum() for s in scored))


def _hangs_on(scored: Sequence[Scored]) -> str:
    """How far the ratio to (ii) depends on which ways were there to score."""
    name, way = np.unique(
        np.concatenate([[f"{s.name.split(' ')[0]} {i}" for i in s.way_id] for s in scored]),
        return_inverse=True,
    )
    ours, counts = (
        np.bincount(way, np.concatenate([s.weight * losses(p, s.truth) for s, p in pairs]))
        for pairs in ([(s, s.ours) for s in scored], [(s, s.counts) for s in scored])
    )
    times = np.random.default_rng(0).multinomial(len(name), np.full(len(name), 1 / len(name)), 1000)
    low, high = np.quantile((times @ ours) / (times @ counts), (0.05, 0.95))
    return f"({low:.2f} to {high:.2f}; one way {ours.max() / ours.sum():.0%})"


def _line(task: str, name: str, scored: Sequence[Scored]) -> str:
    i, ii, ours = mean_losses(scored)
    bar_i, pooled, one = BARS[task]
    met = ours <= bar_i * i and ours <= (pooled if name == "all" else one) * ii
    return (
        f"({task}) {name:24s} {sum(len(s.weight) for s in scored):6d} ways"
        f" {sum(s.weight.sum() for s in scored) / 1000:7.0f} km"
        f"  (i) {i:.4f}  (ii) {ii:.4f}  ours {ours:.4f}"
        f"  {ours / i:5.2f} of (i)  {ours / ii:5.2f} of (ii) {_hangs_on(scored)}"
        f"  {'met' if met else 'NOT MET'}"
    )


def run(maps: Sequence[Mapped], pairs: Sequence[tuple[Mapped, Mapped]]) -> list[Scored]:
    """All experiments, printed as they are done."""
    done: list[Scored] = []
    for one in maps:
        if tagged(one).sum() >= FEWEST_TAGGED:
            done += hidden_tasks(one)
    done += [later_task(old, new) for old, new in pairs]
    for task in BARS:
        own = [s for s in done if s.task == task]
        for name in dict.fromkeys(s.name for s in own):
            print(_line(task, name, [s for s in own if s.name == name]))
        if own:
            print(_line(task, "all", own))
            print(f"({task}) calibration error of p(paved): {calibration_error(own):.3f}")
    least = min(float(s.ours.min()) for s in done)
    most = max(float(s.ours.max()) for s in done)
    print(f"smallest and largest probability given: {least:.5f}, {most:.5f}")
    return done


def main(arguments: Sequence[str]) -> None:
    found = extracts()
    if arguments:
        run([read_map(Path(a)) for a in arguments], [])
        return
    maps = {name: read_map(path, name) for name, path in found.items()}
    run(list(maps.values()), [(maps[a], maps[b]) for a, b in PAIRS if a in maps and b in maps])


if __name__ == "__main__":
    main(sys.argv[1:])
