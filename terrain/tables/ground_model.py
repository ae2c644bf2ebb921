"""The numbers behind the estimate for untagged ways, and where they come from.

`source` of all: fitted by tests/bench/ground_train.py on the tagged ways of ten open extracts
(Andorra 2023, Liechtenstein 2021, Malta 2018, Faroe Islands 2017, Porto 2020, Sao Paulo 2020,
Swellendam, Monaco 2021, Helsinki, Campo Grande 2013), with the spreads and factors below chosen
so that the benchmark of tests/bench/ground.py is met on regions left out of the fit.
"""

from __future__ import annotations

from dataclasses import dataclass

from terrain.tables.ground_coefficients import COEFFICIENTS

_SOURCE = "fitted by tests/bench/ground_train.py"


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One yes-or-no question put to a way.

    coefficients : what each column adds to the logit of "yes"
    leeway : how far (variance) a coefficient may differ in the regions it is learned from
    drift : share of a coefficient's leeway that one region may use to differ from the rest
    spread : variance of the groups of each sort, in the order of stages/ways/groups.SORTS
    sharpness : factor on what the estimate adds to the class's worldwide expectation, for main
        roads, minor roads and tracks; below 1 draws it back towards the class
    """

    coefficients: tuple[float, ...]
    leeway: tuple[float, ...]
    drift: float
    spread: tuple[float, ...]
    sharpness: tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundModel:
    """Both questions.

    columns : names of the columns, in the order of stages/ways/columns.column_names
    bare_weight : how much a graded way counts as an example of ways without a grade
    counts_ways : the region's plain counts by class keep a say in the estimate: this number over
        the region's tagged ways, at most counts_most
    """

    columns: tuple[str, ...]
    unsealed: Question
    unbuilt: Question
    bare_weight: float
    counts_ways: float
    counts_most: float
    source: str


# Chosen by measurement (tests/bench/ground.py):
# all, kind, class, near 1.6 km, near 6.4 km, kind near 1.6 km, kind near 6.4 km, name, chain,
# junction. Sealed or not hangs on the road and its next neighbours; what mappers call built
# changes from valley to valley.
_SPREAD_UNSEALED = (4.0, 0.3, 1.0, 2.5, 1.0, 0.65, 1.0, 1.5, 5.0, 0.6)
_SPREAD_UNBUILT = (1.0, 0.5, 1.5, 1.0, 16.0, 3.5, 8.0, 0.6, 2.0, 0.5)

MODEL = GroundModel(
    columns=tuple(row.name for row in COEFFICIENTS),
    unsealed=Question(
        coefficients=tuple(row.unsealed for row in COEFFICIENTS),
        leeway=tuple(row.leeway for row in COEFFICIENTS),
        drift=0.7,
        spread=_SPREAD_UNSEALED,
        sharpness=(1.0, 1.0, 1.0),
    ),
    unbuilt=Question(
        coefficients=tuple(row.unbuilt for row in COEFFICIENTS),
        leeway=tuple(row.leeway for row in COEFFICIENTS),
        drift=0.2,
        spread=_SPREAD_UNBUILT,
        sharpness=(1.0, 0.9, 0.85),
    ),
    bare_weight=0.8,
    counts_ways=10.0,
    counts_most=0.1,
    source=_SOURCE,
)
