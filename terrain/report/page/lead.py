"""Phrases of the report's head that several writers say alike."""

from __future__ import annotations

from dataclasses import dataclass

from terrain.tables.verdict import LIMITS
from terrain.text.plain import shortened
from terrain.text.terms import GROUND_TERMS, LOAD_TERMS, RIDER_NAME_TERMS, WANTS_NAME_TERMS
from terrain.text.translator import Translator
from terrain.values.ground import LAND_GROUNDS, Basis, Share
from terrain.values.report import Report
from terrain.values.verdict import Finding

_MOST_SPOTS = 4  # common practice, no source
_NOTHING = 0.005  # a share told as 0 %
_FIRM = (Basis.TAGGED, Basis.GRADED, Basis.NOTED)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareRow:
    """One ground: its kind, its name, its share in words, and the share itself."""

    kind: str
    name: str
    text: str
    share: Share


def about_trip(report: Report, translator: Translator) -> tuple[str, ...]:
    """Length, day and rider, a phrase each."""
    trip, _ = report.assessed.trip, translator._
    parts = [translator.distance(report.assessed.match.length_m)]
    if trip.depart is not None:
        parts.append(
            _("{day}, from {time}", day=translator.day(trip.depart),
              time=translator.clock(trip.depart))
        )  # fmt: skip
    rider = [_(RIDER_NAME_TERMS[trip.rider])]
    if trip.is_new:
        rider.append(_("new to motorcycles"))
    if trip.pillion:
        rider.append(_("with a pillion"))
    rider.append(_(LOAD_TERMS[trip.luggage]))
    if trip.guided:
        rider.append(_("with a guide"))
    if trip.wants is not None:
        rider.append(_(WANTS_NAME_TERMS[trip.wants]))
    return (*parts, ", ".join(rider))


def much_off_map(report: Report) -> bool:
    """Whether what is told of the ride's ground leaves out too much of it to go unsaid."""
    match = report.assessed.match
    return match.unmapped_m >= LIMITS.off_map_share * (match.matched_m + match.unmapped_m)


def share_rows(report: Report, translator: Translator) -> tuple[tuple[ShareRow, ...], str]:
    """The three shares with their intervals, and what they rest on in a sentence."""
    ground = report.assessed.ground
    if ground.shares is None:
        return (), translator._("No mapped road, so no shares.")
    told = translator.intervals(
        {
            kind.value: {"best": share.best, "low": share.low, "high": share.high}
            for kind, share in ground.shares.items()
        }
    )
    rows = tuple(
        ShareRow(
            kind=kind.value, name=translator._(GROUND_TERMS[kind]), text=told[kind.value],
            share=ground.shares[kind],
        )
        for kind in LAND_GROUNDS
    )  # fmt: skip
    firm = sum(ground.basis_shares.get(basis, 0.0) for basis in _FIRM)
    if firm < _NOTHING:
        rests = translator._("none of it is told by the map")
    elif firm >= 0.5:
        rests = translator._("{share} of it is told by the map", share=translator.percent(firm))
    else:
        rests = translator._(
            "only {share} of it is told by the map", share=translator.percent(firm)
        )
    rests = f"{rests[:1].upper()}{rests[1:]}."
    if much_off_map(report):
        of = translator._("The shares are of the {length} that lie on mapped roads.",
                          length=translator.distance(report.assessed.match.matched_m))  # fmt: skip
        rests = f"{rests} {of}"
    return rows, rests


def finding_place(item: Finding, translator: Translator) -> str:
    """ "km 31 to 62, near Sandel"; spots one by one; "" if it is the whole ride."""
    longest = item.longest
    if longest is None:
        return ""
    where = translator.km_range(longest.from_m, longest.to_m)
    if len(item.parts) > 1 and longest.length_m == 0:  # spots
        told = [translator.km_mark(part.from_m) for part in item.parts[:_MOST_SPOTS]]
        more = len(item.parts) - len(told)
        rest = [translator.n_("one more", "{n} more", more)] if more else []
        return ", ".join([*told, *rest])
    if len(item.parts) > 1:
        where = translator._("{n} places, the longest {where}", n=len(item.parts), where=where)
    if item.place:
        where = translator._("{where}, near {place}", where=where, place=shortened(item.place, 40))
    return where
