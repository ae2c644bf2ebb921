"""What the advice says of the rider's heat follows the published steps."""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.stages.advice.advise import advise_case
from terrain.values.heat import Heat

from .table import CASES
from .trips import inputs_of, rider_heat


@pytest.mark.parametrize(
    ("over_h", "wbgt_c", "code", "verdict"),
    [
        (0.9, 30.0, "heat-rider-felt", "within"),
        (1.0, 30.0, "heat-rider-stress", "stretching"),
        (0.0, 31.0, "heat-rider-stop", "stretching"),
    ],
)
def test_heat_in_the_wind_of_riding_against_what_people_there_bear(
    over_h: float, wbgt_c: float, code: str, verdict: str
) -> None:
    """ISO 7243 looks at the mean of an hour; 31 stop: Japan sports guide 2013."""
    rider = replace(
        rider_heat(34.0, index_c=41.0, wbgt_c=wbgt_c + 2, riding_wbgt_c=wbgt_c),
        over_riding_h=over_h, used_to_heat=True,
    )  # fmt: skip
    heat = Heat(rider=rider)
    advice = advise_case(replace(inputs_of(CASES[0]), heat=heat))
    reasons = advice.rider.reasons
    assert [said.code for said in reasons if said.code.startswith("heat-rider")] == [code]
    assert advice.rider.verdict == verdict
    stop = [said for said in advice.cautions if said.code == "heat-no-riding"]
    assert bool(stop) is (code == "heat-rider-stop")
    assert all("another day" in said.text for said in stop)


@pytest.mark.parametrize(("used", "verdict"), [(True, "within"), (False, "stretching")])
def test_danger_by_the_heat_index_is_daily_life_where_people_are_used_to_it(
    used: bool, verdict: str
) -> None:
    """Danger from 39 deg C (103 deg F): classes of the US National Weather Service."""
    rider = rider_heat(34.0, index_c=40.0, wbgt_c=29.0, riding_wbgt_c=27.0)
    heat = Heat(rider=replace(rider, used_to_heat=used))
    advice = advise_case(replace(inputs_of(CASES[0]), heat=heat))
    assert advice.rider.verdict == verdict
    told = [said for said in advice.cautions if said.code == "heat-used"]
    assert bool(told) is used


def test_extreme_danger_by_the_heat_index_says_not_to_ride() -> None:
    """Extreme danger from 52 deg C (125 deg F): classes of the US National Weather Service."""
    for index_c, told in ((51.0, False), (52.0, True)):
        heat = Heat(rider=rider_heat(44.0, index_c=index_c, wbgt_c=30.0, riding_wbgt_c=29.0))
        cautions = advise_case(replace(inputs_of(CASES[0]), heat=heat)).cautions
        assert ("heat-no-riding" in {said.code for said in cautions}) is told


def test_without_a_date_it_says_what_does_not_count() -> None:
    inputs = inputs_of(CASES[0])
    for month, told in ((None, True), (3, False)):
        cautions = advise_case(replace(inputs, month=month)).cautions
        assert ("undated" in {said.code for said in cautions}) is told


@pytest.mark.parametrize(("index_c", "code"), [(26.9, "heat-rider-sun"), (27.0, "heat-rider-felt")])
def test_dry_air_is_not_said_to_be_felt_as_what_it_is(index_c: float, code: str) -> None:
    """ "Hot for the rider: up to 26 °C in the shade, felt as 25 °C": what was hot was the sun."""
    heat = Heat(rider=rider_heat(26.0, index_c=index_c, wbgt_c=28.0, riding_wbgt_c=24.0))
    reasons = advise_case(replace(inputs_of(CASES[0]), heat=heat)).rider.reasons
    (said,) = [item for item in reasons if item.code.startswith("heat-rider")]
    assert said.code == code
    assert ("in the sun" in said.text) == (code == "heat-rider-sun")
