"""The fleet file: all faults at once, each with its line and what to write."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.errors import FleetError
from terrain.inputs.fleet import check_fleet, parse_fleet, read_fleet
from terrain.inputs.fleet.write import fleet_text, save_beside
from terrain.inputs.toml_lines import key_lines
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.fleet import Fleet, IncidentRate

SMALL = """\
name = "Island rentals"

[class.trail]
like = "light-trail"
title = "trail bike"
mass_kg = 125
"""


def faults(text: str) -> list[tuple[int, str]]:
    fleet, found = check_fleet(text)
    assert fleet is None
    assert all(f.fix for f in found)
    return [(f.line, f.what) for f in found]


def test_a_class_like_a_generic_one() -> None:
    fleet = parse_fleet(SMALL, "fleet.toml")
    (bike,) = fleet.classes
    generic = DEFAULT_FLEET.named("light-trail")
    assert generic is not None
    assert bike == replace(generic, name="trail", title="trail bike", mass_kg=125)
    assert fleet.rules == DEFAULT_FLEET.rules


def test_rules_in_the_units_of_the_file() -> None:
    text = SMALL + "[rules]\nremote_km = 30\nremote_min = 45\nride_day_h = 7.5\n"
    rules = parse_fleet(text, "x").rules
    assert (rules.remote_m, rules.remote_s, rules.ride_day_s) == (30_000, 2_700, 27_000)
    assert rules.range_reserve == 0.2


def test_weights() -> None:
    fleet = parse_fleet(SMALL + "[weights]\nrepair = 8\n", "x")
    assert fleet.weights == (("repair", 8.0),)


def test_all_faults_at_once_with_their_lines() -> None:
    text = """\
name = "x"
[rules]
remote_kms = 5
remote_min = "an hour"
[weights]
grund = 3
rider = -1
[class.a]
like = "light-tral"
[class.b]
like = "enduro"
mass_kg = 20
cooling = "water"
coling = "air"
tyres = ["road",
         "knobbly"]
seats = 2.5
[class.B]
title = "b"
"""
    assert faults(text) == [
        (3, "there is no key 'remote_kms'"),
        (4, "remote_min must be a number, not 'an hour'"),
        (6, "there is no weight 'grund'"),
        (7, "weight rider must be a number from 0 to 100, not -1"),
        (9, "there is no generic class 'light-tral' to start from"),
        (12, "mass_kg = 20 must be at least 50"),
        (13, "cooling 'water' is not known"),
        (14, "there is no key 'coling'"),
        (16, "tyres 'knobbly' is not known"),
        (17, "seats must be a whole number, not 2.5"),
        (18, "class name 'B' must be lower-case letters, digits and hyphens"),
        (18, "class B lacks mass_kg, payload_kg, power_kw, displacement_cc, drag_area_m2, "
             "cooling, fan, tank_l, consumption_l_100km, seats, luggage, clearance_mm, tyres, "
             "kick_start, parts, repair, off_road, motorway, minimum_rider, incident_rate, "
             "incident_basis"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("word", "hint"),
    [("mas_kg = 1", "mass_kg"), ("tank = 1", "tank_l"), ("minimun_rider = 'x'", "minimum_rider")],
)
def test_the_nearest_right_key(word: str, hint: str) -> None:
    _, found = check_fleet(SMALL + word + "\n")
    assert found[0].fix == f"Did you mean {hint}?"


@pytest.mark.parametrize(
    ("text", "line", "what"),
    [
        ("", 0, "name is missing"),
        ('name = "x"\n', 0, "class is missing"),
        ('name = "x"\n[class]\n', 2, "class is empty"),
        ('name = "x"\nclass = 3\n', 2, "class must be a table, not 3"),
        ('name = "x"\n[class]\na = 3\n', 3, "class.a must be a table"),
        ('name = ""\n' + SMALL[24:], 1, "name is empty"),
        (SMALL + "fan = true\n", 7, 'fan = true does not go with cooling = "air"'),
        (SMALL + "coolant_l = 1.2\n", 7, 'coolant_l does not go with cooling = "air"'),
        (SMALL + "incident_rate = 0.5\nincident_high = 0.1\n", 7, "incident_rate lies outside"),
        (SMALL + "incident_rate = nan\n", 7, "incident_rate"),
        (SMALL + "tank_l = inf\n", 7, "tank_l"),
        (SMALL + "[weights]\n" + "".join(
            f"{w} = 0\n" for w in ("ground", "rider", "load", "repair", "reliability", "heat",
                                   "range")), 7, "all weights are 0"),
        (SMALL + "[colour]\n", 7, "there is no key 'colour'"),
        (SMALL + '[[class.trail.incidents]]\nground = "mud"\nrate = 2\nlow = 0\nhigh = 1\n'
         "rentals = 3\nincidents = 1\n", 8, "ground 'mud' is not known"),
    ],
)  # fmt: skip
def test_single_faults(text: str, line: int, what: str) -> None:
    found = faults(text)
    assert found[0][0] == line
    assert found[0][1].startswith(what)


@pytest.mark.parametrize(
    ("text", "line"),
    [('name = "a\n', 1), ("a = 1\na = 2\n", 2), ("x\n", 1), ("[a]\n[a]\n", 2), ("a = [1,\n2", 2)],
)
def test_not_toml(text: str, line: int) -> None:
    ((found, what),) = faults(text)
    assert abs(found - line) <= 1
    assert what.startswith("this is not TOML (")


def test_one_fault_is_one_line() -> None:
    with pytest.raises(FleetError) as caught:
        parse_fleet(SMALL + "mas_kg = 1\n", "fleet.toml")
    assert str(caught.value) == (
        "fleet.toml, line 7: there is no key 'mas_kg'. Did you mean mass_kg?"
    )


def test_many_faults_are_listed() -> None:
    with pytest.raises(FleetError) as caught:
        parse_fleet(SMALL + "mas_kg = 1\nseats = 9\n", "fleet.toml")
    text = str(caught.value)
    assert text.startswith("fleet.toml: 2 faults\n  line 7: ")
    assert "\n  line 8: seats = 9 must be at most 2." in text
    assert caught.value.exit_code == 3


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(FleetError, match="there is no such file"):
        read_fleet(tmp_path / "none.toml")
    with pytest.raises(FleetError, match="this is a folder"):
        read_fleet(tmp_path)
    path = tmp_path / "latin.toml"
    path.write_bytes(b'name = "x"\n# caf\xe9\n')
    with pytest.raises(FleetError, match=r"latin\.toml, line 2: the file is not UTF-8"):
        read_fleet(path)
    path.write_bytes(b"\xef\xbb\xbf" + SMALL.encode())
    assert read_fleet(path).name == "Island rentals"
    path.write_bytes(b"#" * 2_000_000)
    with pytest.raises(FleetError, match="too big"):
        read_fleet(path)


def test_written_and_read_back() -> None:
    rate = IncidentRate(ground="track", rate=0.1, low=0.05, high=0.2, rentals=40, incidents=4)
    classes = (replace(DEFAULT_FLEET.classes[0], incidents=(rate,), incident_low=0.01,
                       incident_high=0.04), *DEFAULT_FLEET.classes[1:])  # fmt: skip
    fleet = replace(DEFAULT_FLEET, classes=classes, rentals=214, rentals_span="2025 to 2027")
    again = parse_fleet(fleet_text(fleet, header=("learnt", "")), "x")
    assert again.classes == fleet.classes
    assert again.rules == fleet.rules
    assert (again.rentals, again.rentals_span) == (214, "2025 to 2027")


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=60).filter(lambda s: s.strip()), st.floats(50, 600))
def test_any_title_survives_writing(title: str, mass: float) -> None:
    """Quotes, backslashes, control characters, line ends: TOML 1.0 basic strings."""
    mass = round(mass, 3)
    bike = replace(DEFAULT_FLEET.classes[0], title=title, mass_kg=mass)
    text = fleet_text(Fleet(name="x", classes=(bike,)))
    (again,) = parse_fleet(text, "x").classes
    assert again.title == title and again.mass_kg == mass


def test_never_written_over_an_old_file(tmp_path: Path) -> None:
    old = tmp_path / "fleet.toml"
    old.write_text("old")
    names = [save_beside("new", old, exact=False).name for _ in range(3)]
    assert names == ["fleet-learnt.toml", "fleet-learnt-2.toml", "fleet-learnt-3.toml"]
    assert old.read_text() == "old"
    with pytest.raises(FleetError, match="exists already"):
        save_beside("new", old, exact=True)
    with pytest.raises(FleetError, match="cannot be written"):
        save_beside("new", tmp_path / "no" / "such.toml", exact=True)


TOML = """\
# comment = 1
title = "a # b"  # c
'odd key' = 'x'
"quoted" = 1
a.b.c = 1
text = \"\"\"
one
two = 3
\"\"\"
list = [
  1, # one
  [2, 3],
  "]",
]
inline = { x = 1, y = { z = 2 } }
[table]
k = 2027-03-14T07:30:00Z
[table.inner]
k = '''a
'''
[[array]]
k = 1
[[array]]
k = 2
[array.sub]
k = 3
[[array.deep]]
k = 4
"""


def test_lines_of_keys() -> None:
    lines = key_lines(TOML)
    expected = {
        ("title",): 2, ("odd key",): 3, ("quoted",): 4, ("a",): 5, ("a", "b", "c"): 5,
        ("text",): 6, ("list",): 10, ("list", 0): 11, ("list", 1, 1): 12, ("list", 2): 13,
        ("inline", "x"): 15, ("inline", "y", "z"): 15, ("table",): 16, ("table", "k"): 17,
        ("table", "inner", "k"): 19, ("array", 0, "k"): 22, ("array", 1): 23,
        ("array", 1, "k"): 24, ("array", 1, "sub", "k"): 26, ("array", 1, "deep", 0, "k"): 28,
    }  # fmt: skip
    assert {path: lines.get(path) for path in expected} == expected


def _paths(value: object, path: tuple[str | int, ...] = ()) -> set[tuple[str | int, ...]]:
    found = {path} if path else set()
    if isinstance(value, dict):
        for key, inner in value.items():
            found |= _paths(inner, (*path, key))
    elif isinstance(value, list):
        for i, inner in enumerate(value):
            found |= _paths(inner, (*path, i))
    return found


def test_every_key_that_tomllib_finds_has_a_line() -> None:
    for text in (TOML, fleet_text(DEFAULT_FLEET), SMALL):
        lines = key_lines(text)
        assert _paths(tomllib.loads(text)) <= lines.keys()
        assert max(lines.values()) <= text.count("\n") + 1


@settings(max_examples=200, deadline=None)
@given(st.text(alphabet="ab=\"'[]{}.,#\n \\1", max_size=60))
def test_the_scanner_ends_on_any_text(text: str) -> None:
    """It is only used on valid TOML, but must never hang."""
    try:
        valid = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError):
        return
    assert _paths(valid) <= key_lines(text).keys()
