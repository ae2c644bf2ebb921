"""A booking as its reports are made from it: who rides, when, and with which bike."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict

from terrain.values.trip import Luggage, Rider, Riding, Trip, Wants
from terrain.web.booked import class_named

if TYPE_CHECKING:
    from terrain.values.fleet import Fleet

# A column holds "" while nobody said.
_Unsaid = BeforeValidator(lambda value: value or None)


class _Kept(BaseModel):
    model_config = ConfigDict(frozen=True)


class OneRider(_Kept):
    """One rider of a booking. wanted : the bike as it was written; riding : None if not said"""

    customer: str = ""
    email: str = ""
    wanted: str = ""
    rider: Rider = Rider.STEADY
    riding: Annotated[Riding | None, _Unsaid] = None
    luggage: Luggage = Luggage.SOFT
    pillion: bool = False

    def columns(self) -> dict[str, Any]:
        """As the tables hold it."""
        return {**self.model_dump(mode="json"), "riding": self.riding or ""}


#: What is asked of each rider, as the booking's own columns are named.
RIDER_COLUMNS = tuple(OneRider.model_fields)


class Booked(_Kept):
    """A booking. depart : local time; wants : None if not said; first : who booked"""

    ref: str = ""
    lang: str = "en"
    units: str = "metric"
    depart: Annotated[datetime | None, _Unsaid] = None
    wants: Annotated[Wants | None, _Unsaid] = None
    guided: bool = False
    first: OneRider = OneRider()


def booked_from(columns: Mapping[str, Any]) -> Booked:
    """Out of a booking's columns, which hold the first rider's too."""
    return Booked.model_validate({**columns, "first": dict(columns)})


def trip_of(booking: Booked, rider: OneRider, fleet: Fleet) -> Trip:
    """The trip as one of a booking's riders makes it."""
    return Trip(
        depart=booking.depart,
        rider=rider.rider,
        riding=rider.riding,
        wants=booking.wants,
        pillion=rider.pillion,
        luggage=rider.luggage,
        guided=booking.guided,
        wanted_class=class_named(rider.wanted, fleet),
    )
