"""The rental log: read as spreadsheets write it, all faults at once."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from terrain.errors import FleetError
from terrain.inputs.rentals import parse_log, read_log
from terrain.values.rentals import Rental
from terrain.values.trip import Rider


def _parse(text: str, source: str, classes: tuple[str, ...] = ()) -> tuple[Rental, ...]:
    return parse_log(text, source, classes).rentals


def test_a_full_row() -> None:
    text = (
        "class,incident,days,km,ground,rider,date\nLight Trail,no,3,410,track,steady,2027-01-12\n"
    )
    assert _parse(text, "log.csv") == (
        Rental(bike="light-trail", incident=False, days=3, km=410, ground="track",
               rider=Rider.STEADY, day=date(2027, 1, 12)),
    )  # fmt: skip


@pytest.mark.parametrize(
    "text",
    [
        "incident,class\nyes,a\n",
        "class;incident\r\na;Yes\r\n",
        "\ufeffclass\tincident\na\t1\n".lstrip("\ufeff"),
        'class,incident\n"a","2"\n\n',
        "Class , Incident\n a , x \n",
    ],
)
def test_as_spreadsheets_write_it(text: str) -> None:
    (rental,) = _parse(text, "log.csv")
    assert rental == Rental(bike="a", incident=True)


@pytest.mark.parametrize("word", ["no", "N", "0", "", "false", "0.0"])
def test_no_incident(word: str) -> None:
    (rental,) = _parse(f"class,incident,km\na,{word},5\n", "log.csv")
    assert rental.incident is False


def test_decimal_comma_in_a_semicolon_table() -> None:
    (rental,) = _parse("class;incident;km\na;no;410,5\n", "log.csv")
    assert rental.km == 410.5


def test_all_faults_at_once() -> None:
    text = (
        "class,incident,km,ground,rider,date\n"
        "a,perhaps,5,track,steady,2027-01-01\n"
        ",no,5,track,steady,2027-01-01\n"
        "a,no,-3,mud,hero,yesterday\n"
    )
    with pytest.raises(FleetError) as caught:
        _parse(text, "log.csv")
    lines = str(caught.value).splitlines()
    assert lines[0] == "log.csv: 6 faults"
    assert [line.strip().split(" ")[1] for line in lines[1:]] == [
        "2:",
        "3:",
        "4:",
        "4:",
        "4:",
        "4:",
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "the log is empty"),
        ("class,incident\n", "no rentals"),
        ("klass,incident\na,no\n", "Write 'class'"),
        ("class\na\n", "column 'incident' is missing"),
        ("class,incident,class\na,no,b\n", "stands twice"),
    ],
)
def test_heads_and_empty_logs(text: str, words: str) -> None:
    with pytest.raises(FleetError, match=words):
        _parse(text, "log.csv")


def test_files(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes("class,incident\ncafé,no\n".encode("cp1252"))
    assert read_log(path).rentals[0].bike == "café"
    with pytest.raises(FleetError, match="there is no such file"):
        read_log(tmp_path / "none.csv")
    with pytest.raises(FleetError, match="this is a folder"):
        read_log(tmp_path)


# -- as an operator's own tables are -------------------------------------------------------------


@pytest.mark.parametrize(
    ("dates", "expected"),
    [
        (("31/01/2027", "02/03/2027"), (date(2027, 1, 31), date(2027, 3, 2))),
        (("01/31/2027", "02/03/2027"), (date(2027, 1, 31), date(2027, 2, 3))),
        (("02.03.2027", "1.4.27"), (date(2027, 3, 2), date(2027, 4, 1))),
        (("05/05/2027",), (date(2027, 5, 5),)),
        (("2027-01-31T08:30", "2027-2-1"), (date(2027, 1, 31), date(2027, 2, 1))),
        (("31-01-2027 00:00:00", "02-03-2027 00:00:00"), (date(2027, 1, 31), date(2027, 3, 2))),
    ],
)
def test_dates_by_the_order_of_the_whole_log(
    dates: tuple[str, ...], expected: tuple[date, ...]
) -> None:
    rows = "".join(f"a;no;{text}\n" for text in dates)
    found = _parse("class;incident;date\n" + rows, "log.csv")
    assert tuple(r.day for r in found) == expected


@pytest.mark.parametrize(
    ("dates", "words"),
    [
        (("02/03/2027",), r"nothing tells\. Write it as 2027-01-31"),
        (("31/01/2027", "01/31/2027", "02/03/2027"), "the log has both"),
        (("31.02.2027",), "no day of the calendar"),
        (("next week",), "must be a date such as"),
    ],
)
def test_dates_that_could_be_two_days(dates: tuple[str, ...], words: str) -> None:
    rows = "".join(f"a;no;{text}\n" for text in dates)
    with pytest.raises(FleetError, match=words):
        _parse("class;incident;date\n" + rows, "log.csv")


@pytest.mark.parametrize(
    ("text", "km"),
    [
        ("410,5", 410.5), ("1.234", 1234.0), ("1,234", 1234.0), ("1.234,5", 1234.5),
        ("1,234.5", 1234.5), ("1 234", 1234.0), ("410 km", 410.0), ("0", 0.0),
    ],
)  # fmt: skip
def test_kilometres_as_people_write_them(text: str, km: float) -> None:
    (rental,) = _parse(f"class;incident;km\na;no;{text}\n", "log.csv")
    assert rental.km == km


@pytest.mark.parametrize("codec", ["utf-8-sig", "utf-16", "cp1252"])
def test_character_sets_of_spreadsheets(tmp_path: Path, codec: str) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes("class;incident;km\r\nTodo Camino;sí;410,5\r\n".encode(codec))
    assert read_log(path).rentals == (Rental(bike="todo-camino", incident=True, km=410.5),)


def test_the_first_line_of_one_spreadsheet_names_the_separator() -> None:
    with pytest.raises(FleetError, match="line 3: incident 'perhaps' must be yes or no"):
        _parse("sep=;\nclass;incident\na;perhaps\n", "log.csv")
    assert len(_parse("sep=;\nclass;incident\na;no\n", "log.csv")) == 1


def test_columns_of_the_operators_own_are_left_alone_and_told() -> None:
    log = parse_log("Customer;Bike;Incident;Price\nA. Rill;a;no;99,50\n", "log.csv")
    assert log.rentals == (Rental(bike="a", incident=False),)
    assert log.unread == ("Customer", "Price")


@pytest.mark.parametrize(
    ("start", "words"),
    [(b"PK\x03\x04", "a spreadsheet file"), (b"\xd0\xcf\x11\xe0", "an old spreadsheet file")],
)
def test_a_spreadsheet_is_no_table(tmp_path: Path, start: bytes, words: str) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(start)
    with pytest.raises(FleetError, match=words):
        read_log(path)


def test_cells_too_many_or_too_few() -> None:
    """An unquoted decimal comma moves every later cell; it must never be read as something."""
    text = (
        "class,km,incident,ground\na,410,5,no,track\na,410\na,410,no\na,410,no,track,,\n"
    )  # fmt: skip
    with pytest.raises(FleetError) as caught:
        _parse(text, "log.csv")
    lines = str(caught.value).splitlines()
    assert lines[0] == "log.csv: 2 faults"
    assert lines[1].strip() == (
        "line 2: 5 cells where the head has 4. Put numbers with a decimal comma in quotes, "
        "or save with semicolons."
    )
    assert lines[2].strip() == "line 3: 2 cells where the head has 4. Fill in incident."


def test_a_class_that_is_nearly_one_of_the_fleet_is_a_fault() -> None:
    text = "class,incident\ndual-sprot,no\nDualSport,no\nscooter,no\nroad_tourer,no\n"
    names = ("dual-sport", "dual-sport", "road-tourer", "road tourer")
    with pytest.raises(FleetError) as caught:
        _parse(text, "log.csv", names)
    assert "line 2: class 'dual-sprot' is no class of the fleet. Write 'dual-sport'" in str(
        caught.value
    )
    right = _parse(text.replace("dual-sprot", "dual-sport"), "log.csv", names)
    assert [r.bike for r in right] == ["dual-sport", "dual-sport", "scooter", "road-tourer"]


def test_every_fault_names_its_line_and_its_fix() -> None:
    text = (
        "sep=;\n"
        "Class;Incident;Days;KM;Ground;Rider;Date\n"
        "dual-sprot;maybe;two;far;mud;hero;31/31/2027\n"
        ";no;3;410;track;steady;2027-01-12\n"
        "dual-sport;no;3;410;track\n"
    )
    with pytest.raises(FleetError) as caught:
        _parse(text, "log.csv", ("dual-sport",))
    faults = [line.strip() for line in str(caught.value).splitlines()[1:]]
    assert len(faults) == 8
    for fault in faults:
        assert fault.startswith(("line 3:", "line 4:"))
        assert any(word in fault for word in ("must be", "rite", "ill in")), fault


def test_the_same_slip_on_many_lines_is_told_once() -> None:
    rows = "".join("dual-sprot,no\n" for _ in range(40))
    with pytest.raises(FleetError) as caught:
        _parse("class,incident\n" + rows + "a,perhaps\n", "log.csv", ("dual-sport",))
    assert str(caught.value).splitlines() == [
        "log.csv: 41 faults",
        "  lines 2, 3, 4, 5, 6 and 35 more: class 'dual-sprot' is no class of the fleet. "
        "Write 'dual-sport'.",
        "  line 42: incident 'perhaps' must be yes or no.",
    ]


def test_setup_heat_and_what_failed() -> None:
    text = (
        "class,incident,setup,max_temp_c,failed\n"
        'light-trail,yes,Off road,"34,5 °C", Clutch  Lever\nlight-trail,no,road,,\n'
    )
    one, other = parse_log(text, "log.csv").rentals
    assert (one.setup, one.heat_c, one.failed) == ("off-road", 34.5, "clutch lever")
    assert (other.setup, other.heat_c, other.failed) == ("road", None, None)
    with pytest.raises(FleetError, match="setup 'water' must be road or off-road"):
        parse_log("class,incident,setup\nlight-trail,no,water\n", "log.csv")
    with pytest.raises(FleetError, match="degrees Celsius"):
        parse_log("class,incident,heat\nlight-trail,no,340\n", "log.csv")
