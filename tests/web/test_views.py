"""A booking's answer over all of its routes, and what is open, in one sentence each."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from terrain.text.translator import translator_for
from terrain.web.bookings import Standing
from terrain.web.summary import Summary
from terrain.web.views import Decider, booking_view, trip_days

_EN = translator_for("en")


def _route(n: int, setup: str = "road", **more: Any) -> Standing:
    told = {"route": f"Way {n}", "setup": setup, "forbidden": [], "verdict": "Road setup.",
            "lead": "", "differs": False, "mismatch": "", **more}  # fmt: skip
    return Standing(
        route_id=n, name=f"{n}.gpx", state="done", step="", what="", drawn=False, report_id=n,
        made_at=0.0, summary=Summary.model_validate(told),
    )  # fmt: skip


def _view(*rows: Standing, state: str = "analysed") -> Any:
    return booking_view(SimpleNamespace(state=state), rows, _EN)


def _banned(n: int) -> Standing:
    return _route(n, forbidden=["Closed."], works=["Offer another route."])


def test_the_answer_counts_every_route() -> None:
    ask = _route(3, "ask", ask="Do you mean to ride it?")
    assert _view().answer == "No route yet."
    assert _view(_route(1)).answer == "Road setup."
    assert _view(_banned(1), _banned(2)).answer == "Neither route can be ridden as booked."
    told = _view(_route(1), _route(2)).answer
    assert told == "Both routes can be ridden as booked. Road setup."
    told = _view(_route(1), _route(2, "off-road")).answer
    assert told == "Both routes can be ridden as booked. The setup differs."
    told = _view(_route(1), _banned(2), ask).answer
    assert told == "One of 3 routes can be ridden as booked. A question is open for Way 3."


def test_what_is_open_says_who_decides_and_says_it_once() -> None:
    rows = (_banned(1), _banned(2))
    assert [(x.what, x.who) for x in _view(*rows).open] == [("Offer another route.", Decider.RIDER)]
    ask = _route(3, "ask", ask="Do you mean it?", differs=True, booked="Booked tourer.")
    found = [(x.what, x.who) for x in _view(_route(1), ask).open]
    assert found == [
        ("Way 3: Booked tourer.", Decider.DESK), ("Way 3: Do you mean it?", Decider.RIDER)
    ]  # fmt: skip
    assert _view(*rows, state="settled").open == ()


def test_days_of_a_trip_are_told_short() -> None:
    assert trip_days("2027-07-10", "2027-07-12", _EN) == "10 to 12 July 2027"
    assert trip_days("2027-07-30", "2027-08-02", _EN) == "30 July 2027 to 2 August 2027"
    assert trip_days("2027-07-10", "", _EN) == "10 July 2027"
    german = trip_days("2027-07-01", "2027-07-03", translator_for("de"))
    assert german == "1. bis 3. Juli 2027"
    french = trip_days("2027-07-01", "2027-07-03", translator_for("fr"))
    assert french == "du 1er au 3 juillet 2027"
