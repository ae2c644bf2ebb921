"""Plans that a guide would sign: nights, vans and bikes; common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest

from terrain.inputs.fleet import DEFAULT_FLEET
from terrain.stages.plan.course import bikes_for
from terrain.values.plan import ProblemKind
from terrain.values.trip import Trip
from tests.stages.plan.planned import RULES, planned, problems_of, straight
from tests.stages.tinymap import PAVED


@pytest.mark.parametrize("lone_km", [297.0, 298.0])
def test_the_night_is_in_the_town_with_the_hotel_and_not_just_before_it(
    tmp_path, lone_km: float
) -> None:
    """A guest house by the road, and two kilometres on a town with a hotel a little off it."""
    tiny = straight([0, 100, lone_km, 300, 450, 590])
    tiny.spot((1000 * lone_km, 0), tourism="guest_house", name="Lone House")
    tiny.nodes["H"] = (300_000, 400)
    tiny.way(("N3", "H"), PAVED)
    tiny.spot((300_000, 0), place="town", name="Midway")
    tiny.spot((300_000, 400), tourism="hotel", name="Grand")
    plan, _ = planned(tiny, tmp_path)
    assert plan.days[0].lodging is not None
    assert plan.days[0].lodging.name == "Grand"


def test_every_limit_of_hours_that_is_broken_has_its_word(tmp_path) -> None:
    """Beds after 1 h and 6.2 h of a limit of 6: on to the second, and the plan says so."""
    tiny = straight([0, 60, 372, 600])
    for km in (60, 372):
        tiny.spot((1000 * km, 0), tourism="hotel", name=f"Inn {km}")
        tiny.spot((1000 * km, 0), place="town", name=f"Town {km}")
    plan, _ = planned(tiny, tmp_path, rules=replace(RULES, ride_day_s=6 * 3600.0))
    over = [day.number for day in plan.days if day.riding_s > 6 * 3600.0 + 1]
    assert over == [1]
    assert len(problems_of(plan, ProblemKind.LONG_DAY)) == len(over)


@pytest.mark.parametrize(
    ("may_go", "wanted", "want"),
    [
        ("bc", "c", "c"),
        ("bc", "a", "b"),  # asked for, but must not go
        ("bc", None, "b"),
        ("", "a", "abc"),
    ],
)
def test_the_plan_is_for_a_bike_that_may_go(may_go: str, wanted: str | None, want: str) -> None:
    bike = DEFAULT_FLEET.classes[0]
    fleet = replace(DEFAULT_FLEET, classes=tuple(replace(bike, name=name) for name in "abc"))
    advice = SimpleNamespace(bikes=[SimpleNamespace(name=name) for name in may_go])
    found = bikes_for(Trip(wanted_class=wanted), fleet, advice)  # type: ignore[arg-type]
    assert "".join(b.name for b in found) == want
