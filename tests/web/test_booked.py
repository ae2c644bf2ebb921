"""The booked bike beside the advised one, in words."""

from __future__ import annotations

from dataclasses import replace

from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.advice import BikeFit, Excluded, RiderVerdict
from terrain.web.booked import differs, mismatch
from tests.assessed import ADVICE

_FIRST, _OTHER = (bike.name for bike in DEFAULT_FLEET.classes[:2])
_FIT = BikeFit(name=_FIRST, title=_FIRST, fit=0.9, table=(), reasons=(), against=())


def test_of_a_ride_beyond_its_rider_no_other_bike_is_the_answer() -> None:
    """Whoever reads "booked this, advised that" changes the bike, and the ride stays too hard."""
    advice = replace(ADVICE, bikes=(_FIT,))
    assert differs(_OTHER, advice, DEFAULT_FLEET) and not differs(_FIRST, advice, DEFAULT_FLEET)
    assert not differs("", advice, DEFAULT_FLEET)
    assert "advised" in mismatch(_OTHER, advice, DEFAULT_FLEET)
    hard = replace(advice, rider=replace(ADVICE.rider, verdict=RiderVerdict.BEYOND))
    assert not differs(_OTHER, hard, DEFAULT_FLEET) and not differs("", hard, DEFAULT_FLEET)
    assert "advised" not in mismatch(_OTHER, hard, DEFAULT_FLEET)
    out = Excluded(name=_OTHER, title=_OTHER, reasons=())
    barred = replace(hard, excluded=(out,))
    assert differs(_OTHER, barred, DEFAULT_FLEET)
    assert "must not go" in mismatch(_OTHER, barred, DEFAULT_FLEET)
