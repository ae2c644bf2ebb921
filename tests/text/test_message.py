"""Sentences keep their message and numbers: through copies, JSON, other units and languages."""

from __future__ import annotations

import copy
import json
import pickle
from datetime import date
from pathlib import Path

import pytest

from terrain.region.store import load_value, save_value
from terrain.text.figures import Figures, Units
from terrain.text.message import (
    Message,
    join_messages,
    message,
    road_called,
    share_range,
    spaced,
    term,
)
from terrain.text.packed import messages_of, with_messages
from terrain.text.translator import Translator, translator_for
from tests.values.note import Note

_SAID = message(
    "Ride {run_m} on {road} to {end_at_m} ({low_c:n} to {high_c}).",
    run_m=31_400.0, road="{Mill} Lane", end_at_m=4_730.0, low_c=18.2, high_c=25.0,
)  # fmt: skip


def test_a_sentence_is_its_english_metric_text() -> None:
    assert _SAID == "Ride 31 km on {Mill} Lane to km 4.7 (18 to 25 °C)."
    assert json.loads(json.dumps([_SAID])) == [str(_SAID)]


def test_other_units_are_told_from_the_numbers() -> None:
    told = Translator(units=Units.IMPERIAL).translate(_SAID).replace("\u00a0", " ")
    assert told == "Ride 19.5 mi on {Mill} Lane to mile 2.9 (65 to 77 °F)."


@pytest.mark.parametrize(
    "again", [copy.copy, copy.deepcopy, lambda s: pickle.loads(pickle.dumps(s))]
)
def test_copies_keep_message_and_numbers(again) -> None:  # type: ignore[no-untyped-def]
    kept = again(_SAID)
    assert isinstance(kept, Message)
    assert (kept, kept.message, kept.numbers) == (_SAID, _SAID.message, _SAID.numbers)


def test_plural_follows_the_language() -> None:
    # French counts nought as one: Unicode CLDR plural rules.
    def told(lang: str, n: int) -> str:
        said = message("one more place", "{n} more places", n=n)
        return translator_for(lang).translate(said)

    assert [told("en", n) for n in (1, 2)] == ["one more place", "2 more places"]
    assert [told("es", n) for n in (1, 2)] == ["un lugar más", "2 lugares más"]
    assert [told("fr", n) for n in (0, 1, 2)] == [
        "un autre endroit", "un autre endroit", "2 autres endroits",
    ]  # fmt: skip


def test_sentences_within_sentences_are_told_too() -> None:
    whole = message("{what}: {where}", what=term("Road tyres"), where=(term("gravel"), "Sill"))
    assert whole == "Road tyres: gravel and Sill"
    assert translator_for("es").translate(whole) == "Neumáticos de carretera: grava y Sill"
    both = join_messages([message("Fill up."), "", message("Lunch.")])
    assert both == "Fill up. Lunch."
    assert translator_for("fr").translate(both) == "Faites le plein. Déjeuner."
    assert join_messages([]) == ""


def test_json_brings_sentences_back() -> None:
    facts = {
        "a": [_SAID, {"b": join_messages([_SAID, term("Stops")])}],
        "c": [1.0, 2.0],
        "name": "Sill",
    }
    told = {**facts, "messages": messages_of(facts)}
    again = with_messages(json.loads(json.dumps(told)))
    assert {key: again[key] for key in facts} == facts
    fr = translator_for("fr", "imperial")
    assert fr.translate(again["a"][1]["b"]) == fr.translate(facts["a"][1]["b"])  # type: ignore[index]
    assert with_messages({"a": "b"}) == {"a": "b"}


def test_a_region_keeps_its_sentences(tmp_path: Path) -> None:
    save_value(tmp_path / "v", Note(text=(_SAID, "plain")))
    first, second = load_value(tmp_path / "v", Note).text
    assert isinstance(first, Message)
    assert (first, first.numbers) == (_SAID, _SAID.numbers)
    assert type(second) is str


# Factors: NIST SP 811 (2008), appendix B; the US gallon is 3.785 411 784 L, the quart a quarter.
@pytest.mark.parametrize(
    ("name", "value", "metric", "imperial"),
    [
        ("carry_l", 2.0, "2 L", "2.1 US qt"),
        ("tank_l", 18.9271, "18.9 L", "5 US gal"),
        ("mass_kg", 200.0, "200 kg", "441 lb"),
        ("low_bar", 1.5, "1.5 bar", "22 psi"),
        ("rain_mm", 50.8, "51 mm", "2.0 in"),
        ("top_ele_m", 3048.0, "3 050 m", "10 000 ft"),
        ("run_kph", 80.4672, "80 km/h", "50 mph"),
        ("peak_c", -40.0, "−40 °C", "−40 °F"),
        ("short_m", 152.4, "150 m", "500 ft"),
        ("long_m", 402.336, "400 m", "0.3 mi"),
        ("far_m", 10_000.0, "10 km", "6.2 mi"),
        ("off_share", 0.004, "under 1 %", "under 1 %"),
        ("noted_day", "2026-05-01", "1 May 2026", "1 May 2026"),
        ("edited_day", "2026-05", "May 2026", "May 2026"),
        ("hot_month", 7, "July", "July"),
        ("n_fords", 3, "3", "3"),
        ("far_s", None, "not known", "not known"),
        ("van", True, "yes", "yes"),
    ],
)
def test_numbers_are_told_by_the_end_of_their_name(
    name: str, value: object, metric: str, imperial: str
) -> None:
    for units, text in ((Units.METRIC, metric), (Units.IMPERIAL, imperial)):
        told = Translator(units=units).figure(name, value)
        assert told.replace("\u00a0", " ").replace("\u202f", " ") == text


def test_nothing_is_not_negative() -> None:
    assert Figures().number(-0.3) == "0"
    assert Figures().day(date(2027, 3, 14)) == "14 March 2027"


def test_a_point_is_not_told_as_a_stretch() -> None:
    metric, imperial = translator_for(), translator_for(units="imperial")
    assert metric.km_range(11_677.4, 11_677.4) == "km\u00a011.7"
    assert metric.km_range(11_677.4, 11_690.0) == "km\u00a011.7"
    assert metric.km_range(11_677.4, 11_777.4) == "km\u00a011.7 to 11.8"
    assert metric.km_range(31_000.0, 62_000.0) == "km\u00a031 to 62"
    # "2.8 km are closed, km 8 to 10", half a kilometre late: tenths below ten.
    assert metric.km_range(7_500.0, 10_300.0) == "km\u00a07.5 to 10.3"
    assert metric.km_range(7_400.0, 17_600.0) == "km\u00a07 to 18"
    assert imperial.km_range(11_677.4, 11_677.4) == "mile\u00a07.3"


def test_semicolons_and_classes_of_bikes_as_the_language_sets_them() -> None:
    """French sets a thin or no-break space before a semicolon, Italian elides before a vowel."""
    assert translator_for("en").in_a_row(["a", "b", "c"]) == "a; b; c"
    assert translator_for("en").in_a_row([]) == ""
    french = translator_for("fr").in_a_row(["a", "b"])
    assert french != "a; b" and french.replace("\u202f", " ").replace("\xa0", " ") == "a ; b"
    said = translator_for("it")._("the {bike} instead", bike="enduro")
    assert said == "meglio l’enduro"
    assert translator_for("fr")._("the {bike} instead", bike="enduro") == "plutôt l’enduro"
    for length, told in (("8,3 km", "gli 8,3 km"), ("11 km", "gli 11 km"), ("110 km", "i 110 km")):
        assert translator_for("it")._joined(f"i {length}") == told


@pytest.mark.parametrize(
    ("low", "high", "told"),
    [(0.43, 0.48, "43 to 48 %"), (0.481, 0.479, "48 %"), (0.994, 1.0, "99 to 100 %"),
     (0.997, 1.0, "over 99 %"), (1.0, 1.0, "100 %")],
)  # fmt: skip
def test_a_range_of_shares_is_told_once(low: float, high: float, told: str) -> None:
    assert spaced(str(share_range(low, high))) == told


@pytest.mark.parametrize(
    ("name", "told", "in_german"),
    [("7", "road 7", "Straße 7"), ("10;11", "road 10;11", "Straße 10;11"), ("B 7", "B 7", "B 7"),
     ("Harbour Road", "Harbour Road", "Harbour Road")],
)  # fmt: skip
def test_a_number_alone_is_told_as_that_of_a_road(name: str, told: str, in_german: str) -> None:
    """ "200 m from km 3 (7, near Sandel)" may be anything."""
    called = road_called(name)
    assert called == told
    where = message(" ({road}, near {place})", road=called, place="Sandel")
    assert where == f" ({told}, near Sandel)"
    assert in_german in translator_for("de").translate(where)
