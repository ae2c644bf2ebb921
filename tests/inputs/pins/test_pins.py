"""A guide's pins from TOML, good and bad."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.errors import PlanError
from terrain.inputs import pins as module
from terrain.inputs.pins import parse_pins, read_pins
from terrain.values.plan import PinnedNight, PinnedStop, Pins, StopKind

GOOD = """start = "07:30"

[[day]]
number = 1
end_km = 182.5
name = "Lower Camp"

[[day]]
number = 2
end = [0.5, -0.25]

[[stop]]
km = 97
kind = "lunch"
stay_min = 60

[[stop]]
at = [0.5, 0.5]
name = "Mill bridge"
"""


def test_every_key() -> None:
    assert parse_pins(GOOD.encode(), "plan.toml") == Pins(
        nights=(
            PinnedNight(day=1, at_m=182_500.0, name="Lower Camp", where="plan.toml, line 3"),
            PinnedNight(day=2, lon=0.5, lat=-0.25, where="plan.toml, line 8"),
        ),
        stops=(
            PinnedStop(kind=StopKind.LUNCH, at_m=97_000.0, stay_s=3_600.0,
                       where="plan.toml, line 12"),
            PinnedStop(lon=0.5, lat=0.5, name="Mill bridge", where="plan.toml, line 17"),
        ),
        start_s=7.5 * 3600,
    )  # fmt: skip


def test_toml_time_and_empty_file() -> None:
    assert parse_pins(b"start = 08:15:00\n", "p").start_s == 8.25 * 3600
    assert parse_pins(b"", "p") == Pins()


def test_example_of_the_module_works() -> None:
    assert module.__doc__ is not None
    example = module.__doc__.partition("\n\n")[2]
    pins = parse_pins(example.encode(), "p")
    assert (len(pins.nights), len(pins.stops)) == (1, 1)


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("[[stop]]\nkin = 4\n", ["line 1: kin is not known", "Did you mean kind?"]),
        ("[[stop]]\nkm = 4\nat = [1, 2]\n", ["line 1: give either km or at"]),
        ("[[stop]]\nname = 'x'\n", ["give either km or at"]),
        ("\n\n[[stop]]\nkm = -4\n", ["line 3: km has to be a number from 0"]),
        ("[[stop]]\nkm = nan\n", ["km has to be a number"]),
        ("[[stop]]\nkm = true\n", ["km has to be a number"]),
        ("[[stop]]\nat = [200, 2]\n", ["longitude of at has to be a number from -180 to 180"]),
        ("[[stop]]\nat = 'here'\n", ["at has to be [lon, lat]"]),
        ("[[stop]]\nkm = 4\nkind = 'night'\n", ["kind 'night' is none of fuel, lunch"]),
        ("[[stop]]\nkm = 4\nkind = ['x']\n", ["is none of"]),
        ("[[stop]]\nkm = 4\nname = 7\n", ["name has to be text"]),
        ("[[day]]\nend_km = 4\n", ["number has to be a whole number"]),
        ("[[day]]\nnumber = 1\nend_km = 4\n[[day]]\nnumber = 1\nend_km = 5\n",
         ["day 1 is given more than once"]),
        ("[day]\nnumber = 1\n", ["day has to be written as [[day]]"]),
        ("start = '25:00'\n", ["start has to be a time"]),
        ("start = 8\n", ["start has to be a time"]),
        ("lunch = 3\n", ["plan.toml: lunch is not known"]),
        ("[[stop]\n", ["this is not TOML", "line 1"]),
    ],
)  # fmt: skip
def test_fault_is_named_with_its_line(text, parts) -> None:
    with pytest.raises(PlanError) as caught:
        parse_pins(text.encode(), "plan.toml")
    for part in parts:
        assert part in str(caught.value)


def test_all_faults_at_once() -> None:
    text = "start = 9\n[[day]]\nnumber = 0\nend_km = -1\n[[stop]]\nkm = 'x'\n"
    with pytest.raises(PlanError) as caught:
        parse_pins(text.encode(), "plan.toml")
    for part in ("start has", "line 2: number", "line 2: end_km", "line 5: km"):
        assert part in str(caught.value)


def test_files(tmp_path: Path) -> None:
    path = tmp_path / "plan.toml"
    path.write_text(GOOD)
    assert len(read_pins(path).stops) == 2
    with pytest.raises(PlanError, match="no such file"):
        read_pins(tmp_path / "none.toml")
    with pytest.raises(PlanError, match="this is a folder"):
        read_pins(tmp_path)
    with pytest.raises(PlanError, match="not UTF-8"):
        parse_pins(b"\xff", "p")
    with pytest.raises(PlanError, match="larger than 1 MB"):
        parse_pins(b"#" * 2_000_000, "p")


@settings(max_examples=200, deadline=None)
@given(st.integers(0, len(GOOD)), st.text(max_size=6))
def test_any_edit_gives_pins_or_one_error(at, junk) -> None:
    text = (GOOD[:at] + junk + GOOD[at:]).encode("utf-8", "replace")
    try:
        pins = parse_pins(text, "p")
    except PlanError as exc:
        assert str(exc)
    else:
        assert isinstance(pins, Pins)
