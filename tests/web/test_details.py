"""What is told of a booking, and what is not."""

from __future__ import annotations

from dataclasses import FrozenInstanceError

import pytest

from terrain.errors import InputError
from terrain.web.details import Details, checked_booking


def test_only_what_is_told_has_a_column() -> None:
    told = checked_booking({"customer": " Ada ", "starts_on": "", "pillion": "", "rider": "novice"})
    assert told == Details(customer="Ada", starts_on="", pillion=False, rider="novice")
    assert told.columns() == {
        "customer": "Ada", "starts_on": "", "pillion": False, "rider": "novice",
    }  # fmt: skip
    assert checked_booking({"seen": "x", "rider": ""}) == Details()
    with pytest.raises(FrozenInstanceError):
        told.customer = "Bo"  # type: ignore[misc]


@pytest.mark.parametrize(
    ("given", "where"),
    [
        ({"email": "ada"}, "Email"), ({"ref": "a b"}, "Reference"), ({"ref": ""}, "Reference"),
        ({"starts_on": "14.3.2027"}, "First day"), ({"lang": "xx"}, "The rider's language"),
        ({"starts_on": "2027-03-14", "ends_on": "2027-03-13"}, "Last day"),
        ({"depart": "2027-03-14T07:30+01:00"}, "Start, local time"), ({"state": "lost"}, "State"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_by_the_name_of_its_field(given, where: str) -> None:
    with pytest.raises(InputError) as refused:
        checked_booking(given)
    assert refused.value.where == where and refused.value.fix
