"""What the desk's tables keep of a report: its verdict's parts, spoken in every language."""

from __future__ import annotations

import json
from typing import Annotated, Any, NamedTuple, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, PlainSerializer

from terrain.values.strip import Strip


def _strip(told: Any) -> Strip | None:
    return told if told is None or isinstance(told, Strip) else Strip.from_dict(told)


_KeptStrip = Annotated[
    Strip | None,
    BeforeValidator(_strip),
    PlainSerializer(lambda strip: None if strip is None else strip.to_dict(), return_type=Any),
]


class _Kept(BaseModel):
    # Every field has a default: a report that an earlier version made knows fewer of them.
    model_config = ConfigDict(frozen=True, populate_by_name=True)


class SharePart(NamedTuple):
    """One kind of ground and how much of the ride it is, in words."""

    name: str
    share: str


class AskedPart(NamedTuple):
    """What is asked of a part, and what a no would mean."""

    text: str
    if_left: str


class BikeLine(NamedTuple):
    """A bike that may go. fit : 0 to 1"""

    name: str
    title: str
    fit: float


class PartAt(NamedTuple):
    """Where a part that is asked about lies on the line as it was sent, and where its road lies
    again."""

    from_m: float
    to_m: float
    about_ground: bool
    again: tuple[tuple[float, float], ...] = ()


class Rental(_Kept):
    """What a rental log takes of a ride: its ground, its hottest air, its length."""

    ground: str = ""
    heat_c: float | None = None
    km: int | None = None
    setup: str = ""


class Needs(_Kept):
    """What the day of a ride needs: a van, rest in the heat, leave for closed roads.

    hot_c : hottest air, None where heat is no finding; shut_m : closed, found shut, or to be taken
        as shut at that season
    """

    van: bool = False
    hot_c: float | None = None
    shut_m: int = 0


class RiderKept(_Kept):
    """How a rider of a group stands.

    hard, edge : from and to [m], beyond them or at their limit; setup : of SetupChoice
    excluded : names of classes that must not go with them; none of an earlier version's report
    """

    name: str
    riding_s: float | None
    hard: tuple[tuple[float, float], ...]
    edge: tuple[tuple[float, float], ...]
    may_go: bool | None
    setup: str = ""
    excluded: tuple[str, ...] = ()


class RiderSaid(NamedTuple):
    """What is said of a rider of a group. staff, rider : what comes next, to each of them"""

    about: str
    bike: str
    why: str
    answer: str
    staff: str
    rider: str


class GroupSaid(_Kept):
    """What is said of a group. headline : how many may go; spares : for all of them"""

    headline: str
    riders: tuple[RiderSaid, ...]
    spares: tuple[str, ...]


class Sentences(_Kept):
    """The verdict's parts in one language.

    forbidden : all that forbids the ride, a line each; know : the gravest of the rest
    why, no_bike, works, ask : as in RouteBrief
    asked : of each of the summary's `parts`, the question, and what a no would mean
    questions : what is asked beside it, to be answered in words
    after_said : of each of the summary's `after`, ways to ask about when they were ridden
    bike_said : the bike to take, "" if none is named
    mismatch : how the booked bike stands against the advised one; booked : without the reason
    """

    route: str = ""
    about: str = ""
    verdict: str = ""
    lead: str = ""
    shares: tuple[SharePart, ...] = ()
    forbidden: tuple[str, ...] = ()
    know: str = ""
    unknown: tuple[str, ...] = ()
    asked: tuple[AskedPart, ...] = ()
    after_said: tuple[str, ...] = ()
    questions: tuple[str, ...] = ()
    bikes: tuple[BikeLine, ...] = ()
    bike_said: str = ""
    mismatch: str = ""
    booked: str = ""
    why: tuple[str, ...] = ()
    no_bike: str = ""
    works: tuple[str, ...] = ()
    ask: str = ""
    group_said: GroupSaid | None = None


class Told(Sentences):
    """A report's summary in one language.

    setup : of SetupChoice; bike : name of the class that fits best, "" for none
    excluded : names of classes that must not go; differs : the booked bike is not the advised one
    edited : the desk decided; strip : None if an earlier version made the report
    places : what a search finds it by; after : ids of ways to ask about when they were ridden
    needs : None if an earlier version made the report
    group : its riders, none for a booking of one
    """

    setup: str = ""
    bike: str = ""
    excluded: tuple[str, ...] = ()
    differs: bool = False
    edited: bool = False
    days: int = 0
    length_m: float = 0.0
    strip: _KeptStrip = None
    places: tuple[str, ...] = ()
    parts: tuple[PartAt, ...] = ()
    rental: Rental = Rental()
    needs: Needs | None = None
    after: tuple[tuple[int, ...], ...] = ()
    group: tuple[RiderKept, ...] = ()


class Summary(Told):
    """A report's summary as it is kept: in English, and its sentences in the other languages."""

    spoken: dict[str, Sentences] = Field(default={}, alias="in")

    def told(self, lang: str) -> Told:
        """With its sentences in a language; English where an earlier version did not speak it."""
        words = self.spoken.get(lang)
        return self if words is None else self.model_copy(update=dict(words))

    @classmethod
    def from_json(cls, text: str) -> Self:
        return cls.model_validate_json(text)

    def to_json(self) -> str:
        # By the standard library: searches of the table know its spaces.
        return json.dumps(self.model_dump(mode="json", by_alias=True), ensure_ascii=False)
