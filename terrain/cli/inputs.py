"""The trip and the operator's own files, as given on the command line."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from terrain.values.trip import Trip


def read_trip(options: dict[str, Any]) -> Trip:
    """The trip that `trip_options` describe."""
    from terrain.values.trip import Luggage, Rider, Trip

    return Trip(
        depart=options["depart"],
        rider=Rider(options["rider"]),
        pillion=options["pillion"],
        luggage=Luggage(options["luggage"]),
        wanted_class=options["wanted"],
    )


def read_operator(options: dict[str, Any]) -> dict[str, Any]:
    """The files that `operator_options` name, read; only those that were given."""
    given: dict[str, Any] = {}
    return given
