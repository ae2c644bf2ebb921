"""How errors of the estimate hang together along a ride.

Shares of the variance of each piece's score (see calc/shares.py) that it has in common with
others. Chosen with tests/bench/ground_intervals.py: of 3,356 random routes of 10 to 60 km the
90 % interval held the truth on .951, of the 1,324 whose estimate is open (2 to 98 % paved) on .907;
by region, with 40 such routes or more, from .89 (Swellendam by blocks) to 1.00, but .41 for Andorra
2021 to 2023, whose routes hang on one track that was sealed since.
Few long ways decide a route, so the sharing matters less than it seems; it is
kept for long roads cut into many ways, where it is everything.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedErrors:
    """Variance shared with: the whole region, its kind of road (main, minor, track), the named
    road, the run of road that goes straight on, the neighbourhood of cell_m."""

    region: float
    kind: float
    road: float
    chain: float
    near: float

    def __post_init__(self) -> None:
        if sum(self.parts) > 1:
            raise ValueError("the shared parts exceed the variance")

    @property
    def parts(self) -> tuple[float, ...]:
        return (self.region, self.kind, self.road, self.chain, self.near)


#: Estimates and grades: a wrong guess is wrong for the road and its likes (measured, see above).
ESTIMATED = SharedErrors(region=0.01, kind=0.03, road=0.08, chain=0.15, near=0.05)
#: Estimates where nothing speaks for the road itself: none of its ways and none that it meets is
#: tagged. Then the neighbourhood and the kind of road are wrong together. Measured on blocks.
REMOTE = SharedErrors(region=0.05, kind=0.20, road=0.08, chain=0.15, near=0.30)
#: Estimates with no tagged way of their class about: then they rest on regions elsewhere, and if
#: this one differs, all of them are wrong together. Common practice, no source.
UNSUPPORTED = SharedErrors(region=0.10, kind=0.35, road=0.08, chain=0.15, near=0.05)
#: From so many tagged ways of the class within 30 km on an estimate rests on them; below, its
#: errors lie between UNSUPPORTED and ESTIMATED, and the report says so. With ten ways the 90 %
#: interval of a rate of one half is .25 to .75 (binomial).
ENOUGH_WAYS = 10
#: Which of gravel and track an unsealed road is rests on the unsealed ways alone that are tagged
#: gravel or track. With n of them within 30 km the normal score of a kind of road's rate has an
#: error of variance 1 / (1 / SPLIT_UNKNOWN + n / SPLIT_WAY). SPLIT_WAY: what one way
#: tells of a rate of a tenth by the normal score is 2.9, of a half 1.6 (binomial, delta method);
#: SPLIT_UNKNOWN chosen with tests/bench/ground_intervals.py.
SPLIT_UNKNOWN, SPLIT_WAY = 1.0, 3.0
#: Surface tags and notes: each was a look of its own, but one mapper tags a whole road.
TOLD = SharedErrors(region=0.0, kind=0.02, road=0.15, chain=0.15, near=0.03)
CELL_M = 5000.0
