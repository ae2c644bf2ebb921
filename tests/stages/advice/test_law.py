"""No run with a legal tag is dropped in silence: counts and lengths against plain sums."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from terrain.stages.advice.case import AdviceCase
from terrain.stages.advice.rider.law import _barriers, _spot, list_law
from terrain.text.message import Message
from terrain.values.advice import SPOT_LAWS, LawKind
from terrain.values.places import AreaKind, AreaRun

from .trips import SEALED, Case, inputs_of

RUN_LAWS = [k for k in LawKind if k not in SPOT_LAWS and k.name not in AreaKind.__members__]
GAP_M = 10_000.0


def ride_with(kind: LawKind, lengths_m: tuple[float, ...]) -> AdviceCase:
    """A ride whose stretches of the given lengths hold the kind, plain road between them."""
    plain = inputs_of(Case(name="x", legs=((1, SEALED),), choice="road", top=()))
    stretches, at = [], 0.0
    for length in lengths_m:
        for part, laws in ((GAP_M, ()), (length, (kind,))):
            stretches.append(
                replace(plain.stretches[0], from_m=at, to_m=at + part, laws=laws)
            )  # fmt: skip
            at += part
    return replace(plain, stretches=tuple(stretches))


@pytest.mark.parametrize("kind", RUN_LAWS)
@pytest.mark.parametrize("n", [1, 6, 7, 40])
def test_every_run_is_told_or_counted(kind: LawKind, n: int) -> None:
    # A short tunnel goes without saying.
    least_m = 1_000.0 if kind is LawKind.TUNNEL else 100.0
    lengths = tuple(least_m + 37.0 * (i * 7 % n) for i in range(n))
    told = list_law(ride_with(kind, lengths))
    single = [said for said in told if said.code == kind.value]
    more = [said for said in told if said.code == f"{kind.value}-more"]
    assert len(single) == min(n, 6) and len(more) == (n > 6)
    assert all((a.from_m or 0) < (b.from_m or 0) for a, b in pairwise(single))
    shown = sum((said.to_m or 0) - (said.from_m or 0) for said in single)
    # The longest are the ones told.
    assert shown == pytest.approx(sum(sorted(lengths, reverse=True)[:6]))
    if more:
        numbers = dict(more[0].numbers)
        assert numbers["n_more"] == n - 6
        assert numbers["more_m"] == pytest.approx(sum(lengths) - shown)
        assert told.index(more[0]) == told.index(single[-1]) + 1


def test_what_is_not_told_one_by_one_says_where() -> None:
    told = list_law(ride_with(LawKind.PRIVATE, (500.0, *[2_000.0] * 6, 300.0)))
    assert isinstance(told[-1].text, Message)
    assert told[-1].text == "As above: 2 more, 800 m in all, between km 10 and km 93."


def test_barriers_past_the_sixth_are_told_too() -> None:
    (said,) = list_law(ride_with(LawKind.BARRIER, (50.0,) * 9))
    assert dict(said.numbers)["n_spots"] == 9


def test_areas_are_told_where_the_ride_lies_within() -> None:
    plain = ride_with(LawKind.TOLL, (500.0,))
    inside = (
        AreaRun(kind=AreaKind.PROTECTED, name="Reed Flats", from_m=1_000.0, to_m=4_000.0),
        AreaRun(kind=AreaKind.MILITARY, name="", from_m=2_000.0, to_m=2_500.0),
    )
    told = {said.code: str(said.text) for said in list_law(replace(plain, areas=inside))}
    assert told["military"].startswith("Military area on the map: 500 m from km 2. It may be")
    assert told["protected"].startswith("Protected area: 3 km from km 1 (Reed Flats).")
    assert "toll" in told


@pytest.mark.parametrize(
    ("at_m", "told"),
    [((0.0, 200.0), 1), ((0.0, 200.5), 2), ((900.0, 700.0, 400.0), 2), ((50.0,), 1), ((), 0)],
)
def test_barriers_within_200_m_of_the_last_told_are_one(at_m: tuple[float, ...], told: int) -> None:
    """Common practice, no source."""
    found = _barriers([_spot(LawKind.BARRIER, at, "") for at in at_m])
    assert len(found) == min(told, 1)
    if told > 1:
        assert found[0].from_m == min(at_m) and f"{told} barriers" in str(found[0].text)
