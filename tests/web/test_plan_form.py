"""Stops changed in place: what a guide alters, strikes out or adds becomes the wishes kept."""

from __future__ import annotations

from terrain.text.translator import translator_for
from terrain.values.plan import Plan
from terrain.web.access import Form
from terrain.web.plan_form import plan_table, typed_wishes

_EN = translator_for("en")


def _stop(km: float, kind: str, *, mine: bool = False, day: int = 1) -> dict[str, object]:
    return {
        "at_m": 1000 * km, "off_m": 0, "kind": kind, "kinds": [kind], "name": f"at {km:g}",
        "lon": 1.0, "lat": 2.0, "why": "", "day": day, "arrive": "10:00", "stay_s": 900,
        "van_access": None, "place": None, "pinned": mine,
    }  # fmt: skip


def _day(number: int, from_km: float, to_km: float) -> dict[str, object]:
    return {
        "number": number, "from_m": 1000 * from_km, "to_m": 1000 * to_km, "riding_s": 3600,
        "stops_s": 0, "start": "08:30", "end": "15:25", "sunrise": None, "sunset": None,
        "dusk": None, "daylight_margin_s": None, "lodging": None, "hard": [],
    }  # fmt: skip


def _plan() -> Plan:
    lodging = {"kind": "lodging", "from_m": 80_000, "to_m": 80_000, "text": "No bed."}
    return Plan.from_dict(
        {
            "days": [_day(1, 0, 80), _day(2, 80, 120)],
            "stops": [
                _stop(20, "fuel"), _stop(40, "lunch", mine=True), _stop(60, "rest"),
                _stop(80, "night"),
            ],
            "plan": {"problems": [lodging]},
        }
    )  # fmt: skip


_KEPT = {"start": "08:00", "nights": [], "without": ["33.0"], "ends": ["15:00", "15:25"],
         "stops": [{"km": "40", "kind": "lunch", "name": "at 40", "min": "15"}]}  # fmt: skip


def _sent(**changed: str) -> Form:
    """What a browser sends of the table, untouched but for what is changed."""
    table = plan_table(_plan(), None, _KEPT, Form(), _EN)
    texts = {}
    for day in table.days:
        for row in day.rows:
            if hasattr(row, "key"):
                texts |= {f"km.{row.key}": row.km, f"name.{row.key}": row.name,
                          f"was_name.{row.key}": row.was_name}  # fmt: skip
                texts[f"is.{row.key}"] = row.before
                if not row.night:
                    texts[f"min.{row.key}"] = row.minutes
    return Form(texts=texts | {key.replace("_", ".", 1): v for key, v in changed.items()})


def _after(**changed: str) -> dict[str, object]:
    return typed_wishes(_sent(**changed), _KEPT, _plan())


def test_nothing_typed_changes_nothing() -> None:
    assert _after() == _KEPT


def test_a_stop_altered_in_place_is_the_guides_own_and_not_there_twice() -> None:
    told = _after(min_0="45")
    assert told["stops"] == [
        *_KEPT["stops"],
        {"km": "20.0", "kind": "fuel", "name": "", "min": "45"},
    ]
    assert told["without"] == ["33.0"]
    moved = _after(km_0="24")
    assert moved["stops"][1]["km"] == "24" and moved["without"] == ["33.0", "20.0"]  # type: ignore[index]


def test_positions_have_the_readers_mark_and_are_kept_with_a_point() -> None:
    table = plan_table(_plan(), None, _KEPT, Form(), translator_for("fr"))
    assert next(getattr(row, "km", "") for row in table.days[0].rows) == "20,0"
    form = Form(texts={"is.0": "20,0/15/fuel/-", "km.0": "20,5", "name.0": "", "min.0": "15"})
    told = typed_wishes(form, {}, _plan())
    assert (told["stops"][0]["km"], told["without"]) == ("20.5", ["20.0"])


def test_what_is_struck_out_is_left_out_or_no_longer_the_guides() -> None:
    assert _after(gone_2="1")["without"] == ["33.0", "60.0"]
    assert _after(gone_1="1")["stops"] == []
    assert _after(back_0="1")["without"] == []


def test_a_night_is_moved_in_its_row_and_what_is_missing_stands_below_it() -> None:
    form = _sent()
    form.texts["km.night.1"] = "75"
    assert typed_wishes(form, _KEPT, _plan())["nights"] == [{"number": "1", "km": "75", "name": ""}]
    rows = plan_table(_plan(), None, _KEPT, Form(), _EN).days[0].rows
    assert [getattr(row, "km", "missing") for row in rows] == [
        "20.0", "40.0", "60.0", "80.0", "missing",
    ]  # fmt: skip


def test_the_foot_tells_what_was_changed_and_what_it_does_to_the_day() -> None:
    changes = plan_table(_plan(), None, _KEPT, Form(), _EN).changes
    assert changes == (
        "km\u00a040: lunch “at 40”", "no stop at km\u00a033", "day 1 ends 15:25 instead of 15:00"
    )  # fmt: skip


def test_positions_typed_in_miles_are_kept_in_kilometres() -> None:
    form = Form(texts={"stop_km.1": "10", "stop_kind.1": "rest"})
    told = typed_wishes(form, {}, None, 1609.344)
    assert told["stops"][0]["km"] == "16.09"
