"""Stops that a guide changes on the page of the plan, through to the plan made of it."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import lxml.html

from terrain.inputs.pins import parse_pins
from terrain.values.plan import StopKind
from terrain.web.work import Made, Material, pack
from terrain.web.worker import Worker
from tests.stages.plan.planned import a_bike, planned, pump_inn_and_track, trip_at
from tests.web.conftest import Office
from tests.web.standin import quick_make


class _Guide:
    """A guide at the page of a plan with a pump, an inn and two meetings with the van."""

    def __init__(self, office: Office, folder: Path) -> None:
        self.office, self.folder, self.stops = office, folder, ()
        office.send(office.booking())
        self.visitor = office.as_role("guide")
        self.work()

    def work(self) -> None:
        worker = Worker(self.office.db, self.office.settings, self._make)
        while worker.once():
            pass

    def _make(self, material: Material, *rest: Any) -> Made:
        pins = parse_pins(material.pins.encode(), "plan") if material.pins else None
        plan, _ = planned(
            pump_inn_and_track(), self.folder, bikes=(a_bike(7),), pins=pins,
            trip=replace(trip_at(11), guided=True),
        )  # fmt: skip
        self.stops: Any = plan.stops
        return replace(quick_make(material, *rest), facts=pack(json.dumps(plan.to_dict()).encode()))

    def spots(self) -> list[tuple[object, ...]]:
        return [(round(s.at_m), s.van_access, s.lon, s.lat) for s in self.stops]

    def fields(self) -> dict[str, str]:
        """What a browser would send of the page as it stands."""
        page = lxml.html.fromstring(self.visitor.get("/guide/1").text)
        return dict(page.get_element_by_id("plan").form_values())

    def rows(self) -> list[tuple[str, ...]]:
        """What each stop is for and whether the van comes, as the page says it."""
        page = lxml.html.fromstring(self.visitor.get("/guide/1").text)
        return [
            (row.get("class"), row[4].text_content(), row[5].find("strong").text_content())
            for row in page.iter("tr") if (row.get("class") or "").split(" ")[0] == "stop"
        ]  # fmt: skip

    def change(self, **typed: str) -> None:
        fields = self.fields()
        told = {key.replace("_", "."): text for key, text in typed.items()}
        assert set(told) <= {*fields, *(f"gone.{n}" for n in range(20))}
        self.visitor.post("/guide/1", {**fields, **told})
        self.work()


def test_a_stop_changed_in_its_row_stays_what_it_is_and_stands_once(
    office: Office, tmp_path: Path
) -> None:
    """All of them, one after the other: each keeps its place, its kinds and whether a van comes."""
    guide = _Guide(office, tmp_path)
    spots, rows = guide.spots(), guide.rows()
    before = [stop.kinds for stop in guide.stops]
    assert sum(StopKind.VAN in kinds for kinds in before) == 2 and {row[2] for row in rows} >= {
        "yes"
    }
    for n in range(len(rows)):
        guide.change(**{f"min_{n}": "35"})
        assert guide.spots() == spots, n
        after = guide.rows()
        assert [row[1:] for row in after] == [row[1:] for row in rows], n
        assert [row[0] for row in after].count("stop mine") == n + 1
        assert guide.fields()[f"min.{n}"] == "35"
    assert all(set(was) <= set(stop.kinds) for was, stop in zip(before, guide.stops, strict=True))
    # Undone one by one, the plan is the one it was.
    for _ in rows:
        n = next(n for n, row in enumerate(guide.rows()) if row[0] == "stop mine")
        guide.change(**{f"gone_{n}": "1"})
    assert [(guide.spots(), guide.rows())] == [(spots, rows)]
    assert [stop.kinds for stop in guide.stops] == before


def test_a_meeting_with_the_van_is_moved_and_moved_again(office: Office, tmp_path: Path) -> None:
    guide = _Guide(office, tmp_path)
    n = next(n for n, stop in enumerate(guide.stops) if StopKind.VAN in stop.kinds)
    n_stops, n_vans = len(guide.stops), 2
    for off_km in (1.2, 6.0, -4.0):
        to_km = f"{guide.stops[n].at_m / 1000 + off_km:.1f}"
        guide.change(**{f"km_{n}": to_km})
        met = [stop for stop in guide.stops if StopKind.VAN in stop.kinds]
        assert len(met) == n_vans, to_km
        assert len(guide.stops) == n_stops, to_km
        n = next(n for n, stop in enumerate(guide.stops) if stop.pinned)
        assert abs(guide.stops[n].at_m / 1000 - float(to_km)) < 0.1
        assert StopKind.VAN in guide.stops[n].kinds
