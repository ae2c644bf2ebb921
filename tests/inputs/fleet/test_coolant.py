"""Where a class's coolant is looked at, in the operator's words."""

from __future__ import annotations

from terrain.inputs.fleet import check_fleet, parse_fleet
from terrain.inputs.fleet.write import fleet_text

_FILE = 'name = "x"\n[class.trail]\nlike = "dual-sport"\n'


def test_where_coolant_is_looked_at_is_read_and_written_again() -> None:
    where = 'cap "R" on the right'
    fleet = parse_fleet(f"{_FILE}coolant_check = '{where}'\n", "f.toml")
    assert fleet.classes[0].coolant_check == where
    assert parse_fleet(fleet_text(fleet), "f.toml").classes == fleet.classes


def test_without_it_nothing_is_said_and_an_empty_one_is_a_fault() -> None:
    assert parse_fleet(_FILE, "f.toml").classes[0].coolant_check is None
    fleet, faults = check_fleet(f'{_FILE}coolant_check = ""\n')
    assert fleet is None and [fault.line for fault in faults] == [4]
