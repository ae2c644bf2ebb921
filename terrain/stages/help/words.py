"""What to say of help by road: what the map lacks, what is closed by tag, who else may help."""

from __future__ import annotations

import numpy as np

from terrain.stages.help.found import HelpSearch, mends_all
from terrain.tables.help import RESTRICTED_PRICE, RESTRICTED_TOLD_M
from terrain.text.catalogue import N_
from terrain.text.message import Message, join_messages, message, road_called, term
from terrain.text.terms import HELP_TERMS, WEAK_HELP_TERMS
from terrain.values.fleet import Fleet
from terrain.values.help import (
    HELPER_REACH_M,
    Farthest,
    HelperKind,
    HelpKind,
    Remote,
    Weaker,
    WeakHelp,
)
from terrain.values.views import PLACE_KINDS, PlaceKind

# Common practice, no source.
_MOST_RUNS = 3  # told with the weaker help near them
_MOST_WEAKER = 4
_LACKED = (HelpKind.FUEL, HelpKind.WATER, HelpKind.HOSPITAL)


def help_words(
    found: HelpSearch,
    farthest_of: dict[HelpKind, Farthest],
    remote: tuple[Remote, ...],
    weaker: tuple[Weaker, ...],
    fleet: Fleet,
) -> tuple[str, ...]:
    """What the reader must know of the help that is told, in plain sentences."""
    words: list[str] = [_workshops(found)]
    lacks = [kind.value for kind in _LACKED if farthest_of[kind].farthest_m is None]
    if all(item.kind is not WeakHelp.LODGING for item in weaker):
        lacks.append(WeakHelp.LODGING.value)
    if lacks:
        words.append(
            message(
                "Not in the map, as far as roads lead from this ride: {lacks}. That is not the "
                "same as none.",
                lacks=tuple(term(HELP_TERMS[kind]) for kind in lacks),
            )
        )
    words += _own_words(found, fleet)
    mechanic = farthest_of[HelpKind.MECHANIC]
    if mechanic.farthest_m is not None and (mechanic.outside_m or 0.0) < mechanic.farthest_m:
        words.append(
            message("The edge of the map is nearer than the help: there may be some beyond it.")
        )
    afloat = [far.ferry_m for far in farthest_of.values()]
    afloat += [item.ferry_m for item in weaker]
    if any(afloat) or any(run.ferry_m or run.town_ferry_m for run in remote):
        words.append(
            message("Where the way to help takes a ferry, its hours and the wait come on top.")
        )
    words += _restricted(farthest_of)
    words += [_weaker_near(run) for run in remote if run.weaker][:_MOST_RUNS]
    if farthest_of[HelpKind.TOWN].farthest_m is not None:
        words.append(
            message(
                "Towns are likely help for common bikes only: inferred from their size, never "
                "mapped."
            )
        )
    return tuple(words)


def _workshops(found: HelpSearch) -> Message:
    is_mechanic = found.places.kind == PLACE_KINDS.index(PlaceKind.MECHANIC)
    count = int((is_mechanic & (found.places.edge >= 0)).sum())
    if not count:
        return message(
            "The map data of this region hold no motorcycle workshop. That is not the same as "
            "none: workshops are badly mapped in many countries. Ask before you go."
        )
    if np.isnan(found.mapped[HelpKind.MECHANIC].time.cost).all():
        return message(
            "No motorcycle workshop in the map can be reached by road from this ride. That is not "
            "the same as none."
        )
    return message(
        "The map data of this region hold one motorcycle workshop; there may be others, "
        "and it may have closed.",
        "The map data of this region hold {n} motorcycle workshops; there may be others, "
        "and these may have closed.",
        n=count,
    )


def _restricted(farthest_of: dict[HelpKind, Farthest]) -> list[Message]:
    """The longest way to help over roads closed by tag, once: it is mostly one road for all."""
    ways = max(
        (far.restricted for far in farthest_of.values()),
        key=lambda ways: sum(way.length_m for way in ways),
        default=(),
    )
    length_m = sum(way.length_m for way in ways)
    if length_m < RESTRICTED_TOLD_M:
        return []
    longest = max(ways, key=lambda way: way.length_m)
    return [
        message(
            "A way to help leads {length_m} over roads closed by tag ({tags}), of which {road} is "
            "the longest. In an emergency they are ridden; they count {price} times.",
            length_m=length_m,
            tags=tuple(dict.fromkeys(f"access={way.access}" for way in ways)),
            road=road_called(longest.name) if longest.name else term(N_("a road without a name")),
            price=RESTRICTED_PRICE,
        )
    ]


def _weaker_near(run: Remote) -> str:
    """The nearest weaker help at the worst point of a remote run, by name and phone."""
    items = join_messages(
        (_weaker_item(item) for item in run.weaker[:_MOST_WEAKER]), N_("{first}; {then}")
    )
    return message("Nearer at {at_m}: {items}.", at_m=run.worst_at_m, items=items)


def _weaker_item(item: Weaker) -> Message:
    kind, place = term(WEAK_HELP_TERMS[item.kind]), item.place
    name = place.name or place.near or ""
    who = ", ".join(text for text in (name, place.phone) if text)
    if not who:
        return message("{kind}, {there_s}", kind=kind, there_s=item.time_s)
    return message("{kind} {who}, {there_s}", kind=kind, who=who, there_s=item.time_s)


def _own_words(found: HelpSearch, fleet: Fleet) -> list[Message]:
    """What the operator's own partners count for."""
    words = []
    own = [helper for helper in found.helpers if helper.kind is HelperKind.MECHANIC]
    some = sum(not mends_all(helper, fleet) for helper in own)
    if len(own) > some:
        words.append(
            message(
                "One of the operator's own partners counts as a mechanic.",
                "{n} of the operator's own partners count as mechanics.",
                n=len(own) - some,
            )
        )
    if some:
        words.append(
            message(
                "One of the operator's own partners mends some classes only, and counts for "
                "these alone.",
                "{n} of the operator's own partners mend some classes only, and count for these "
                "alone.",
                n=some,
            )
        )
    for i, helper in enumerate(found.helpers):
        if found.snapped.edge[i] < 0:
            place = f" ({helper.where})" if helper.where else ""
            words.append(
                message(
                    "{helper}{place} lies more than {limit_m} from any road of the region and is "
                    "left out of distances.",
                    helper=helper.name,
                    place=place,
                    limit_m=HELPER_REACH_M,
                )
            )
    return words
