"""What the advice says of the rider's heat follows the published steps."""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.stages.advice.advise import advise_case
from terrain.stages.advice.case import HeatFacts

from .table import CASES
from .trips import inputs_of


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
    heat = HeatFacts(
        max_air_temp_c=34.0, hot_at_m=1_000.0, max_heat_index_c=41.0, max_wbgt_c=wbgt_c + 2,
        max_wbgt_riding_c=wbgt_c, caution_s=3_600.0, over_limit_s=3_600.0 * over_h,
        used_to_heat=True,
    )  # fmt: skip
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
    heat = HeatFacts(
        max_air_temp_c=34.0, hot_at_m=1_000.0, max_heat_index_c=40.0, max_wbgt_c=29.0,
        max_wbgt_riding_c=27.0, caution_s=3_600.0, used_to_heat=used,
    )  # fmt: skip
    advice = advise_case(replace(inputs_of(CASES[0]), heat=heat))
    assert advice.rider.verdict == verdict
    told = [said for said in advice.cautions if said.code == "heat-used"]
    assert bool(told) is used


def test_extreme_danger_by_the_heat_index_says_not_to_ride() -> None:
    """Extreme danger from 52 deg C (125 deg F): classes of the US National Weather Service."""
    for index_c, told in ((51.0, False), (52.0, True)):
        heat = HeatFacts(
            max_air_temp_c=44.0, hot_at_m=1_000.0, max_heat_index_c=index_c, max_wbgt_c=30.0,
            max_wbgt_riding_c=29.0, caution_s=3_600.0,
        )  # fmt: skip
        cautions = advise_case(replace(inputs_of(CASES[0]), heat=heat)).cautions
        assert ("heat-no-riding" in {said.code for said in cautions}) is told


def test_without_a_date_it_says_what_does_not_count() -> None:
    inputs = inputs_of(CASES[0])
    for month, told in ((None, True), (3, False)):
        cautions = advise_case(replace(inputs, month=month)).cautions
        assert ("undated" in {said.code for said in cautions}) is told
