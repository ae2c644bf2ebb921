"""What map tags say about the ground, and what to expect of a road class where none speaks.

Three columns everywhere: paved, gravel, track (CONTRACT: sealed or bound; unsealed but built and
maintained; unsealed, unbuilt or degraded). A tag row holds *weights*: how much more likely the
tag is on one ground than on another, 1 for the ground it names. A class row holds probabilities.

Sources, named by the rows:
[surface] OSM wiki, Key:surface and the pages of its values.
[tracktype] OSM wiki, Key:tracktype: 1 solid, usually paved or heavily compacted; 2 mostly solid;
    3 even mix of hard and soft; 4 mostly soft; 5 soft.
[smoothness] OSM wiki, Key:smoothness: the first vehicle that gets through.
[trust] how often a surface tag is right: F1 of paved 0.91 to 0.97 against imagery (Randhawa et
    al., arXiv 2410.19874), and the change of surface between two dated maps of Andorra
    (TagTrust below); the size of the small weights follows from these.
[split] gravel or track among the unsealed: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

Weights = tuple[float, float, float]


class Wet(StrEnum):
    """What rain does to a surface."""

    HARD = "hard"  # wet, not soft
    FIRM = "firm"  # stays passable, slippery in places
    SOFT = "soft"  # softens, ruts; earth, clay, sand, grass
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceRow:
    """One value of `surface`: weights of paved, gravel, track; what rain does; words."""

    value: str
    weights: Weights
    wet: Wet
    severity: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GradeRow:
    """One value of `tracktype` or `smoothness`: weights of paved, gravel, track."""

    value: str
    weights: Weights
    severity: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassRow:
    """What to expect of a `highway` class anywhere in the world: probabilities."""

    value: str
    expect: Weights
    source: str


def _rows(
    values: str, weights: Weights, wet: Wet, severity: float, source: str
) -> tuple[SurfaceRow, ...]:
    return tuple(
        SurfaceRow(value=v, weights=weights, wet=wet, severity=severity, source=source)
        for v in values.split()
    )


# Weights of paved, gravel and track by what a tag says: how often tags of a kind are right is read
# off [trust]; the rest is common practice, no source.
_SEALED = (1.0, 0.006, 0.003)
_BOUND = (1.0, 0.010, 0.005)
_BUILT = (0.015, 1.0, 0.12)
_FIRM = (0.020, 1.0, 0.06)
_EARTH = (0.004, 0.06, 1.0)

SURFACES: tuple[SurfaceRow, ...] = (
    *_rows("asphalt concrete tarmac bitumen", _SEALED, Wet.HARD, 0.0, "[surface] [trust]"),
    *_rows("paved chipseal concrete:plates", _SEALED, Wet.HARD, 0.2, "[surface] [trust]"),
    *_rows("paving_stones bricks brick interlock", _BOUND, Wet.HARD, 0.3, "[surface] [trust]"),
    *_rows(
        "sett cobblestone cobblestone:flattened portuguese_pavement metal metal_grid wood tiles "
        "stone:plates concrete:lanes paving_stones:lanes acrylic rubber",
        _BOUND, Wet.HARD, 0.8, "[surface] [trust]",
    ),
    *_rows("unhewn_cobblestone grass_paver", (1.0, 0.08, 0.05), Wet.HARD, 1.3, "[surface]"),
    *_rows("compacted fine_gravel", _FIRM, Wet.FIRM, 1.5, "[surface] [split]"),
    *_rows("gravel shells chippings crushed_limestone", _BUILT, Wet.FIRM, 2.0,
           "[surface] [split]"),
    *_rows("laterite", (0.01, 1.0, 0.4), Wet.SOFT, 2.2, "[split]"),
    *_rows("unpaved", (0.012, 1.0, 1.0), Wet.UNKNOWN, 2.3,
           "[surface] anything from compacted to mud"),
    *_rows("pebblestone", (0.02, 0.35, 1.0), Wet.FIRM, 2.8, "[surface] [split]"),
    *_rows("rock stone rocky bare_rock scree", (0.01, 0.06, 1.0), Wet.FIRM, 3.6, "[surface]"),
    *_rows("ground dirt earth soil natural", _EARTH, Wet.SOFT, 2.7, "[surface] [split]"),
    *_rows("dirt/sand clay woodchips", _EARTH, Wet.SOFT, 3.2, "[surface] [split]"),
    *_rows("grass", _EARTH, Wet.SOFT, 2.8, "[surface]"),
    *_rows("sand", _EARTH, Wet.SOFT, 3.8, "[surface]"),
    *_rows("mud snow ice salt", (0.004, 0.02, 1.0), Wet.SOFT, 4.0, "[surface]"),
)  # fmt: skip

TRACKTYPES: tuple[GradeRow, ...] = (
    GradeRow(value="grade1", weights=(1.0, 0.30, 0.04), severity=0.8, source="[tracktype]"),
    GradeRow(value="grade2", weights=(0.08, 1.0, 0.25), severity=1.8, source="[tracktype]"),
    GradeRow(value="grade3", weights=(0.02, 0.50, 1.0), severity=2.5, source="[tracktype]"),
    GradeRow(value="grade4", weights=(0.01, 0.12, 1.0), severity=3.2, source="[tracktype]"),
    GradeRow(value="grade5", weights=(0.008, 0.05, 1.0), severity=3.8, source="[tracktype]"),
)

SMOOTHNESS: tuple[GradeRow, ...] = (
    GradeRow(value="excellent", weights=(1.0, 0.03, 0.01), severity=0.0, source="[smoothness]"),
    GradeRow(value="good", weights=(1.0, 0.08, 0.03), severity=0.2, source="[smoothness]"),
    GradeRow(value="intermediate", weights=(1.0, 0.60, 0.25), severity=0.9, source="[smoothness]"),
    GradeRow(value="bad", weights=(0.30, 1.0, 0.80), severity=1.9, source="[smoothness]"),
    GradeRow(value="very_bad", weights=(0.08, 0.60, 1.0), severity=2.8, source="[smoothness]"),
    GradeRow(value="horrible", weights=(0.03, 0.20, 1.0), severity=3.7, source="[smoothness]"),
    GradeRow(value="very_horrible", weights=(0.02, 0.08, 1.0), severity=4.5, source="[smoothness]"),
    GradeRow(value="impassable", weights=(0.05, 0.10, 1.0), severity=5.0, source="[smoothness]"),
)

_CLASS = (
    "rounded from the order of paved shares in arXiv 2410.19874 and the World Factbook (most "
    "regions 60-80 % paved, towns nearly all); the split is common practice, no source"
)
#: The worldwide table by class alone. It is also the first rival of the benchmark.
CLASSES: tuple[ClassRow, ...] = tuple(
    ClassRow(value=value, expect=expect, source=_CLASS)
    for value, expect in {
        "motorway": (0.995, 0.004, 0.001),
        "motorway_link": (0.99, 0.008, 0.002),
        "trunk": (0.97, 0.025, 0.005),
        "trunk_link": (0.97, 0.025, 0.005),
        "primary": (0.94, 0.05, 0.01),
        "primary_link": (0.94, 0.05, 0.01),
        "secondary": (0.86, 0.11, 0.03),
        "secondary_link": (0.86, 0.11, 0.03),
        "tertiary": (0.74, 0.19, 0.07),
        "tertiary_link": (0.80, 0.15, 0.05),
        "unclassified": (0.52, 0.28, 0.20),
        "residential": (0.76, 0.13, 0.11),
        "living_street": (0.87, 0.08, 0.05),
        "service": (0.72, 0.18, 0.10),
        "road": (0.50, 0.25, 0.25),
        "track": (0.07, 0.33, 0.60),
        "busway": (0.97, 0.02, 0.01),
        "raceway": (0.70, 0.15, 0.15),
        "pedestrian": (0.93, 0.04, 0.03),
        "footway": (0.60, 0.20, 0.20),
        "cycleway": (0.75, 0.18, 0.07),
        "bridleway": (0.05, 0.25, 0.70),
        "path": (0.08, 0.17, 0.75),
        "steps": (0.70, 0.10, 0.20),
    }.items()
)
#: For a class of none of these names.
CLASS_UNKNOWN = ClassRow(value="", expect=(0.50, 0.25, 0.25), source=_CLASS)


@dataclass(frozen=True, slots=True, kw_only=True)
class TagTrust:
    """How far tags are believed, and how ground changes.

    surface_change_per_year : chance that a surface tag, once right, is wrong a year later
    grade_change_per_year : the same for tracktype and smoothness
    sealed_per_year : chance that an unsealed road without a surface tag is sealed within a year
    context : power of the surroundings' estimate beside a surface tag (1 = Bayes with
        independent errors; less, because a tag is a look at the ground itself)
    clash_doubt : how much of the estimate comes back where tags contradict each other
    clash_overlap : two tags contradict each other if their weights share less than this
    least : no ground ever gets less than this probability
    """

    surface_change_per_year: float
    grade_change_per_year: float
    sealed_per_year: float
    context: float
    clash_doubt: float
    clash_overlap: float
    least: float
    source: str


TRUST = TagTrust(
    surface_change_per_year=0.0013,
    grade_change_per_year=0.015,
    sealed_per_year=0.01,
    context=0.5,
    clash_doubt=0.3,
    clash_overlap=0.2,
    least=0.0001,
    source=(
        "tests/bench/ground_change.py on Andorra 2013, 2021, 2023, ways of one id: 0 of 143 "
        "surface tags told another ground 8.4 years later, 0 of 694 after 1.5 years: 95 % bound "
        "3 in 2246 way-years, 0.0013 a year. Of ways graded 2 to 5 that got a surface later 2 in "
        "82 way-years were sealed, 0.024 a year; with the unsealed-tagged ones (none in 215) "
        "0.007; World Factbook: 198 of 269 km paved in 1994, nearly all of these classes in "
        "2023, 0.07: 0.01 and 0.015 are cautious. context, clash_doubt, clash_overlap: common "
        "practice, no source"
    ),
)
