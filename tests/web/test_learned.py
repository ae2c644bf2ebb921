"""The whole loop at the desk: rides and words in; what was learned of them, and how true it is."""

from __future__ import annotations

import json
import re
from datetime import date
from typing import Any

import numpy as np
import pytest
import sqlalchemy as sa

import terrain
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.text.message import message
from terrain.text.translator import translator_for
from terrain.values.hindsight import Held, Hindsight, Miss
from terrain.web import bookings, schema
from terrain.web.judged import hindsight_from, stored_hindsight
from terrain.web.summary import Summary
from terrain.web.work import unpack
from tests.web.conftest import Office
from tests.web.test_rides import _sent, _told_right, _work, plan, real, recording

__all__ = ["plan", "real", "recording"]


def _facts(real: Office, ref: str) -> dict[str, Any]:
    with real.db.read() as conn:
        query = sa.select(schema.reports.c.facts).join(
            schema.bookings, schema.bookings.c.id == schema.reports.c.booking_id
        )
        kept = conn.execute(query.where(schema.bookings.c.ref == ref)).scalar()
    return dict(json.loads(unpack(bytes(kept))))


def _report(real: Office, ref: str, plan: bytes) -> tuple[str, dict[str, Any]]:
    link = real.booking(ref, starts_on="2027-03-14")
    real.send(link, plan)
    _work(real)
    return link, _facts(real, ref)


def _keys(real: Office, link: str) -> list[str]:
    page = real.client.get(f"{link}/ride").text
    return list(dict.fromkeys(re.findall(r'name="(way\.\d+\.\d+)"', page)))


def _ground_on(facts: dict[str, Any], way_id: int) -> set[tuple[str, str]]:
    return {(s["ground"], s["basis"]) for s in facts["stretches"] if s["way_id"] == way_id}


def test_the_loop_from_booking_to_the_next_report(
    real: Office, plan: bytes, recording: bytes
) -> None:
    staff = real.as_role("staff")
    assert "No ride was sent yet" in staff.get("/desk/true").text
    assert "nothing to give back yet" in staff.get("/desk/give-back").text
    links = [_report(real, f"K{n}", plan)[0] for n in (1, 2, 3, 4)]
    right, doubtful = _told_right(real, _keys(real, links[0]))
    before = _facts(real, "K1")
    with real.db.read() as conn:
        (row,) = bookings.standings(conn, [1])[1]
    asked = dict(zip(_keys(real, links[0]), (row.summary or Summary()).after, strict=True))
    way_id = asked[doubtful[0]][0]
    region = terrain.open_region("island", real.settings.home)
    p = region.ground.p[int(np.flatnonzero(region.roads.ways.way_id == way_id)[0])]
    least, other, likely = (("paved", "gravel", "track")[i] for i in np.argsort(p))
    assert {ground for ground, _ in _ground_on(before, way_id)} == {likely}

    def says(link: str, ground: str) -> None:
        """What the map knows as it knows it, and the ground of the doubtful part."""
        said = [right.get(key) or (ground if key == doubtful[0] else "") for key in asked]
        told = dict(zip(_keys(real, link), said, strict=True))
        assert real.client.post(f"{link}/ride", data=told).status_code == 303
        _work(real)

    # Three riders record the ride and say what the road was, each by the link of his own.
    for link in links[:3]:
        _sent(real, link, recording)
        says(link, other)
    # The next report on the road has their ground, their times, and says so.
    _, after = _report(real, "K5", plan)
    assert _ground_on(after, way_id) == {(other, "noted")}
    assert after["trip"]["own_rides"]["rides"] == 3
    report = staff.get("/desk/b/K5/report/5").text
    assert "Times from 3 recorded rides of the operator" in report
    # How true the reports were, without a name.
    page = staff.get("/desk/true").text
    assert " of 3, " in page and "of the expected time" in page
    assert "By the times learned from these rides" in page
    assert "ride.gpx" not in page and "K1" not in page
    # What the map lacks, for a person to enter.
    page = staff.get("/desk/give-back").text
    tree = json.loads(staff.get("/desk/give-back.geojson").content)
    ways = {feature["properties"]["way_id"]: feature for feature in tree["features"]}
    assert str(way_id) in staff.get("/desk/give-back").text
    assert ways[way_id]["properties"]["ridden_as"] == other
    # One who says otherwise is heard as well: it is shown, and nothing is given back.
    says(links[3], least)
    assert "they do not agree" in staff.get("/desk/learned").text
    tree = json.loads(staff.get("/desk/give-back.geojson").content)
    assert way_id not in [feature["properties"]["way_id"] for feature in tree["features"]]


def test_spares_and_rates_follow_what_failed_on_rentals(real: Office, plan: bytes) -> None:
    staff = real.as_role("staff")
    assert "Nothing is put down yet" in staff.get("/desk/failures").text
    _, before = _report(real, "K1", plan)
    best = before["advice"]["bikes"][0]["class"]
    for n in range(12):
        real.booking(f"L{n}", starts_on="2027-03-10", ends_on="2027-03-12")
        told = {"failed": ("Chain", "chain", "fan")[n]} if n < 3 else {"well": "1"}
        staff.post(f"/desk/b/L{n}/incidents", {"bike": best, **told})
    _, after = _report(real, "K2", plan)
    first = after["advice"]["spares"][0]
    assert first["code"] == "failed-before" and "Chain and fan" in first["text"]
    assert after["advice"]["spares"][1:] == before["advice"]["spares"]
    page = staff.get("/desk/failures").text
    assert "<strong>Chain</strong> 2, <strong>fan</strong> 1" in page
    # 3 of 12, drawn towards what was believed; reckoned here by hand for Beta(20 m, 20 (1 - m)).
    mean = next(b.incident_rate for b in DEFAULT_FLEET.classes if b.name == best)
    (rate,) = re.findall(r"<strong>all</strong></td>.*?>3 of 12</td><td>([\d.]+)", page)
    assert float(rate) == pytest.approx(100 * (20 * mean + 3) / 32, abs=0.5)


def test_reasons_are_said_in_each_language_after_they_were_kept() -> None:
    reason = message("{night_s} of it was ridden in the dark", night_s=3600.0)
    told = Hindsight(
        time=Held(n=1, held=0, share=0.0, low=0.0, high=0.8), mean_error=0.5, learned_error=None,
        bias=1.5, ground=None,
        misses=(
            Miss(name="ride 1", day=date(2027, 3, 14), moving_s=9.0, expected_s=6.0, ratio=1.5,
                 reason=reason),
        ),
    )  # fmt: skip
    back = hindsight_from(stored_hindsight(told))
    assert back == told
    for lang in ("en", "fr", "de"):
        say = translator_for(lang)
        assert say.translate(back.misses[0].reason) == say.translate(reason)
    assert hindsight_from("") is None
