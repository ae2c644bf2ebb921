"""The rental log: read as spreadsheets write it, all faults at once."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from terrain.errors import FleetError
from terrain.inputs.rentals import parse_rentals, read_rentals
from terrain.values.rentals import Rental
from terrain.values.trip import Rider


def test_a_full_row() -> None:
    text = (
        "class,incident,days,km,ground,rider,date\nLight Trail,no,3,410,track,steady,2027-01-12\n"
    )
    assert parse_rentals(text, "log.csv") == (
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
    (rental,) = parse_rentals(text, "log.csv")
    assert rental == Rental(bike="a", incident=True)


@pytest.mark.parametrize("word", ["no", "N", "0", "", "false", "0.0"])
def test_no_incident(word: str) -> None:
    (rental,) = parse_rentals(f"class,incident,km\na,{word},5\n", "log.csv")
    assert rental.incident is False


def test_decimal_comma_in_a_semicolon_table() -> None:
    (rental,) = parse_rentals("class;incident;km\na;no;410,5\n", "log.csv")
    assert rental.km == 410.5


def test_all_faults_at_once() -> None:
    text = (
        "class,incident,km,ground,rider,date\n"
        "a,perhaps,5,track,steady,2027-01-01\n"
        ",no,5,track,steady,2027-01-01\n"
        "a,no,-3,mud,hero,yesterday\n"
    )
    with pytest.raises(FleetError) as caught:
        parse_rentals(text, "log.csv")
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
        ("klass,incident\na,no\n", "write 'class'"),
        ("class\na\n", "column 'incident' is missing"),
        ("class,incident,class\na,no,b\n", "stands twice"),
    ],
)
def test_heads_and_empty_logs(text: str, words: str) -> None:
    with pytest.raises(FleetError, match=words):
        parse_rentals(text, "log.csv")


def test_files(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes("class,incident\ncafé,no\n".encode("cp1252"))
    assert read_rentals(path)[0].bike == "café"
    with pytest.raises(FleetError, match="there is no such file"):
        read_rentals(tmp_path / "none.csv")
    with pytest.raises(FleetError, match="cannot be read"):
        read_rentals(tmp_path)
