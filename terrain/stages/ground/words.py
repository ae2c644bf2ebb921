"""What a stretch and the whole ride rest on, in plain sentences, and the tags behind them."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from functools import lru_cache

import numpy as np

from terrain.stages.ground.notes import AppliedNote
from terrain.stages.ways.evidence import REACH_M
from terrain.stages.ways.tags import clash_words, first_word, tag_words
from terrain.tables.ground_errors import ENOUGH_WAYS
from terrain.tables.ground_severity import SEVERITIES
from terrain.text.catalogue import N_
from terrain.text.message import Message, join_messages, message, share_range, term
from terrain.text.terms import GROUND_TITLE_TERMS, ROADS_TERMS
from terrain.values.arrays import BoolArray, FloatArray, Int8Array, Int32Array
from terrain.values.ground import (
    BASES,
    LAND_GROUNDS,
    Basis,
    Count,
    Evidence,
    GroundKind,
    Severity,
    Share,
    TagFact,
    WayGround,
)
from terrain.values.views import WayFlag, WayTable

_EPOCH = date(1970, 1, 1)
_KEYS = ("surface", "tracktype", "smoothness")
_FOUR_WHEELS, _FORD = N_("for four-wheel drive only"), N_("a ford")


def way_evidence_of(
    ways: WayTable,
    way_ground: WayGround,
    way: int,
    p: tuple[float, float, float],
    basis: Basis,
    held: AppliedNote | None = None,
) -> Evidence:
    """The evidence for one way's ground: three sentences at most, its tags, its counts."""
    facts = tag_facts(ways, way)
    counts = _counts(ways, way_ground, way)
    clashes = clash_words(ways, way, int(way_ground.clash[way]))
    if held is not None and basis is Basis.NOTED:
        text = _note_words(held)
    elif basis is Basis.TAGGED:
        text = _tagged_words(ways, way, clashes, p)
    else:
        text = _estimate_words(ways, way, counts, p)
    return Evidence(
        text=text,
        tags=facts,
        counts=counts,
        clashes=clashes,
        note=held.note if held is not None else None,
    )


def tag_facts(ways: WayTable, way: int, keys: tuple[str, ...] = (*_KEYS, "highway")) -> tuple[
    TagFact, ...
]:  # fmt: skip
    """The way's own tags that speak of its ground."""
    day = int(ways.edited_day[way])
    edited = (_EPOCH + timedelta(days=day)).isoformat() if day > 0 else None
    return tuple(
        TagFact(way_id=int(ways.way_id[way]), key=key, value=value, edited=edited)
        for key in keys
        if (value := getattr(ways, key).text(way)) is not None
    )


def severity_tags(ways: WayTable, way: int) -> tuple[Message, ...]:
    """What tags say of how hard a way is to ride, in words."""
    if way < 0:
        return ()
    told = [
        tag_words(key, value)
        for key in ("surface", "tracktype", "smoothness")
        if (value := getattr(ways, key).text(way)) is not None
    ]
    flags = int(ways.flags[way])
    told += [term(_FOUR_WHEELS)] if flags & WayFlag.FOUR_WD_ONLY.value else []
    told += [term(_FORD)] if flags & WayFlag.FORD.value else []
    scale = int(ways.mtb_scale[way])
    if scale >= 1:
        told.append(message("mountain bike grade {grade} of 6", grade=str(scale)))
    return tuple(told)


@lru_cache(maxsize=1024)  # a ride has few levels and many stretches
def severity_words(severity: Severity | None, tags: tuple[Message, ...] = ()) -> str:
    """What the level is, and what it means for a loaded bike and for a novice.

    tags : that say so; without them the level is inferred, and told as what may be
    """
    if severity is None:
        return ""
    row = SEVERITIES[int(severity)]
    slick = severity >= Severity.LOOSE and any(tag in _SLICK_TAGS for tag in tags)
    ground = term(_SLICK if slick else row.ground)
    if severity is Severity.SMOOTH:
        if not tags:
            return message("May be {name}: {ground}", name=term(row.name), ground=term(row.ground))
        return message("{name}: {ground}", name=term(row.name), ground=term(row.ground))
    rest = message(
        "Loaded bike: {loaded}. Novice: {novice}.", loaded=term(row.loaded), novice=term(row.novice)
    )
    first = message(
        "No tag says how hard it is. May be {name}: {ground}.",
        name=term(row.name),
        ground=term(row.ground),
    )
    if tags:
        first = message(
            "{name} by its tags ({tags}): there may be {ground}.",
            name=term(row.name), tags=tags, ground=ground,
        )  # fmt: skip
    return join_messages((first, rest))


_SLICK_TAGS = tuple(tag_words("surface", value) for value in ("ice", "snow"))
_SLICK = N_("ice or packed snow, on which tyres without studs slide")


# Common practice, no source.
_WIDE = 0.05
_TELLS = 0.8  # chance of the likeliest ground from which a tag is said to tell it


def ride_words(
    length_m: FloatArray,
    p: FloatArray,
    basis: Int8Array,
    shares: Mapping[GroundKind, Share] | None,
    basis_shares: Mapping[Basis, float],
    *,
    thin: BoolArray,
) -> tuple[str, ...]:
    """What the shares of the whole ride rest on: pieces on land, shape (k,).

    thin : True for estimates that rest on too few tagged ways of their class
    """
    if shares is None:
        return (term(N_("No part of the ride lies on mapped land.")),)
    parts = tuple(
        message(_RESTS[b], share=share) for b, share in basis_shares.items() if share >= 0.005
    )
    out = [message("The ground rests {parts}.", parts=parts)]
    thin_share = float(length_m[thin].sum() / length_m.sum())
    # Ranges of a few hundredths are not what anybody calls wide.
    wide = any(share.high - share.low >= _WIDE for share in shares.values())
    if thin_share >= 0.005 and wide:
        out.append(
            message(
                "For {share} of the way that is thin: fewer than {n_ways} tagged ways of its "
                "class lie within {reach_m}, so the ranges below are wider.",
                share=thin_share, n_ways=ENOUGH_WAYS, reach_m=REACH_M,
            )
        )  # fmt: skip
    likely, tagged = np.argmax(p, axis=1), basis == BASES.index(Basis.TAGGED)
    vague = tagged & (p.max(axis=1) < _TELLS)
    for g, kind in enumerate(LAND_GROUNDS):
        on = likely == g
        held = [(form, on & (basis == BASES.index(b)) & ~vague) for b, form in _KNOWN_BY.items()]
        held.append((N_("{run_m} by a tag that leaves it open"), on & vague))
        length = [(form, float(length_m[part].sum())) for form, part in held]
        told = tuple(message(form, run_m=metres) for form, metres in length if metres >= 50.0)
        rest = term(N_("no stretch; only the chance that a tag or an estimate is wrong"))
        out.append(
            message(
                "{ground} ({range}): {parts}.",
                ground=term(GROUND_TITLE_TERMS[kind]),
                range=share_range(shares[kind].low, shares[kind].high),
                parts=told or rest,
            )
        )
    return tuple(out)


_RESTS = {
    Basis.TAGGED: N_("{share} on surface tags"),
    Basis.GRADED: N_("{share} on tracktype or smoothness"),
    Basis.INFERRED: N_("{share} on our estimate"),
    Basis.NOTED: N_("{share} on your notes"),
    Basis.UNMAPPED: N_("{share} on nothing: no mapped way is near"),
}
_KNOWN_BY = {
    Basis.NOTED: N_("{run_m} noted by you"), Basis.TAGGED: N_("{run_m} tagged so"),
    Basis.GRADED: N_("{run_m} by tracktype or smoothness"),
    Basis.INFERRED: N_("{run_m} estimated"),
}  # fmt: skip


#: Surface values that leave open what the ground is like (OSM wiki, Tag:surface=unpaved; firm or
#: soft by weather: common practice, no source).
_VAGUE = {
    "unpaved": N_("That may be anything from hard gravel to mud"),
    "ground": N_("That may be firm when dry and soft when wet"),
    "dirt": N_("That may be firm when dry and soft when wet"),
    "earth": N_("That may be firm when dry and soft when wet"),
}


def _tagged_words(
    ways: WayTable, way: int, clashes: tuple[str, ...], p: tuple[float, float, float]
) -> str:
    day = int(ways.edited_day[way])
    tag = tag_words("surface", ways.surface.text(way) or "")
    if day > 0:
        text = message(
            "The map says {tag} (way last edited {edited_day}).",
            tag=tag,
            edited_day=f"{_EPOCH + timedelta(days=day):%Y-%m}",
        )
    else:
        text = message("The map says {tag}.", tag=tag)
    said = [text]
    vague = _VAGUE.get(first_word(ways.surface.text(way) or ""))
    if vague is not None:
        said.append(
            message("{vague}: our estimate is {chances}.", vague=term(vague), chances=_chances(p))
        )
    if clashes:
        said.append(message("But {clash}, so we trust it less.", clash=clashes[0]))
    return join_messages(said)


def _estimate_words(
    ways: WayTable, way: int, counts: tuple[Count, ...], p: tuple[float, float, float]
) -> str:
    grade, smooth = ways.tracktype.text(way), ways.smoothness.text(way)
    chances = _chances(p)
    if grade is not None or smooth is not None:
        key, value = ("smoothness", smooth) if grade is None else ("tracktype", grade)
        tag = tag_words(key, value or "")
        first = message(
            "No surface tag; {tag}: our estimate is {chances}.", tag=tag, chances=chances
        )
    else:
        first = message("No surface tag: our estimate is {chances}.", chances=chances)
    near = next((c for c in counts if c.what == "near"), None)
    told = _near_words(near, ways.highway.text(way) or "")
    if near is not None and (near.paved * 2 >= near.n) != (p[0] >= 0.5):
        told = join_messages((told, term(N_("Other signs of the way weigh more than these."))))
    said = [first, told, *_others(counts)]
    return join_messages(said[:3])


def _near_words(near: Count | None, highway: str) -> str:
    """How many tagged ways of the same class nearby are sealed or unsealed."""
    if near is None:
        return term(N_("No tagged way of its class is near, so we go by roads elsewhere."))
    roads = term(ROADS_TERMS.get(highway.removesuffix("_link"), N_("such ways")))
    if near.paved * 2 >= near.n:
        count, kind = near.paved, term(N_("sealed"))
    else:
        count, kind = near.n - near.paved, term(N_("unsealed"))
    if not near.within_km:
        return message(
            "{n_count} of {n_all} tagged {roads} are {kind}.",
            n_count=count, n_all=near.n, roads=roads, kind=kind,
        )  # fmt: skip
    return message(
        "{n_count} of {n_all} tagged {roads} within {near_m} are {kind}.",
        n_count=count, n_all=near.n, roads=roads, near_m=1000.0 * near.within_km, kind=kind,
    )  # fmt: skip


def _others(counts: tuple[Count, ...]) -> list[str]:
    out: list[str] = []
    for count in counts:
        if count.what == "road":
            out.append(
                message(
                    "{n_sealed} of {n_all} tagged parts of the same road are sealed.",
                    n_sealed=count.paved,
                    n_all=count.n,
                )
            )
        elif count.what == "joined" and count.n > 1:
            out.append(
                message(
                    "Of {n_all} tagged roads it meets, one is sealed.",
                    "Of {n_all} tagged roads it meets, {n} are sealed.",
                    n_all=count.n,
                    n=count.paved,
                )
            )
        elif count.what == "joined" and count.paved:
            out.append(message("The tagged road it meets is sealed."))
        elif count.what == "joined":
            out.append(message("The tagged road it meets is unsealed."))
    return out


def _chances(p: tuple[float, float, float]) -> str:
    parts = [(v, kind.value) for v, kind in zip(p, LAND_GROUNDS, strict=True)]
    best, second, _ = sorted(parts, reverse=True)
    told = [
        message(
            "{ground} {share}", ground=term(ground), share=round(float(share), 4)
        )  # as the JSON tells it
        for share, ground in (best, second)
        if share >= 0.05
    ]
    return join_messages(told, "{first}, {then}")


def _note_words(held: AppliedNote) -> str:
    note = held.note
    if note.noted is not None:
        when = message(" of {noted_day}", noted_day=note.noted.isoformat())
    else:
        when = term(N_(", undated"))
    return message(
        "Your note{when}{by}: {said}{remark}.",
        when=when,
        by=message(" by {who}", who=note.who) if note.who else "",
        said=term(note.ground.value if note.ground is not None else N_("no word of the ground")),
        remark=f" ({note.remark})" if note.remark else "",
    )


def _counts(ways: WayTable, way_ground: WayGround, way: int) -> tuple[Count, ...]:
    told = way_ground.evidence
    near_m = float(told.near_m[way])
    out = []
    for what, count, rows, km in (
        ("near", told.near, told.near_way, None if np.isnan(near_m) else near_m / 1000),
        ("road", told.road, told.road_way, None),
        ("joined", told.joined, told.joined_way, None),
    ):
        four = [int(c) for c in count[way]]
        if sum(four):
            out.append(
                Count(
                    what=what, n=sum(four), paved=four[0], gravel=four[1], track=four[2],
                    unpaved=four[3], within_km=km, examples=_examples(ways, rows[way]),
                )
            )  # fmt: skip
    return tuple(out)


def _examples(ways: WayTable, rows: Int32Array) -> tuple[TagFact, ...]:
    return tuple(f for row in rows if row >= 0 for f in tag_facts(ways, int(row), ("surface",)))
