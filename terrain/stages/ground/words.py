"""What a stretch and the whole ride rest on, in plain sentences, and the tags behind them."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta

import numpy as np

from terrain.stages.ground.clashes import clash_words
from terrain.stages.ground.notes import Held
from terrain.tables.ground_severity import SEVERITIES
from terrain.values.arrays import FloatArray, Int8Array, Int32Array
from terrain.values.ground import (
    BASES,
    LAND,
    Basis,
    Count,
    Evidence,
    GroundKind,
    Severity,
    Share,
    TagFact,
    WayGround,
)
from terrain.values.views import WayTable

_EPOCH = date(1970, 1, 1)
_KEYS = ("surface", "tracktype", "smoothness")
_CLASS_WORDS = {
    "motorway": "motorways", "trunk": "trunk roads", "primary": "primary roads",
    "secondary": "secondary roads", "tertiary": "tertiary roads",
    "unclassified": "unclassified roads", "residential": "residential streets",
    "living_street": "living streets", "service": "service roads", "track": "tracks",
}  # fmt: skip
_GRADE_WORDS = {
    "grade1": "solid", "grade2": "mostly solid", "grade3": "an even mix of hard and soft",
    "grade4": "mostly soft", "grade5": "soft",
}  # fmt: skip


def way_evidence_of(
    ways: WayTable,
    way_ground: WayGround,
    way: int,
    p: tuple[float, float, float],
    basis: Basis,
    held: Held | None = None,
) -> Evidence:
    """The evidence for one way's ground: three sentences at most, its tags, its counts."""
    facts = tag_facts(ways, way)
    counts = _counts(ways, way_ground, way)
    clashes = clash_words(ways, way, int(way_ground.clash[way]))
    if held is not None and basis is Basis.NOTED:
        text = _note_words(held)
    elif basis is Basis.TAGGED:
        text = _tagged_words(ways, way, clashes)
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


def severity_words(severity: Severity | None) -> str:
    """What the level means for a loaded bike."""
    if severity is None:
        return ""
    row = SEVERITIES[int(severity)]
    return f"{row.name}: {row.ground}"


def ride_words(
    length_m: FloatArray,
    p: FloatArray,
    basis: Int8Array,
    shares: Mapping[GroundKind, Share] | None,
    basis_shares: Mapping[Basis, float],
) -> tuple[str, ...]:
    """What the shares of the whole ride rest on: pieces on land, shape (k,)."""
    if shares is None:
        return ("No part of the ride lies on mapped land.",)
    said = {
        Basis.TAGGED: "on surface tags",
        Basis.GRADED: "on tracktype or smoothness",
        Basis.INFERRED: "on our estimate",
        Basis.NOTED: "on your notes",
        Basis.UNMAPPED: "on nothing: no mapped way is near",
    }
    parts = [
        f"{_percent(share)} % {said[b]}" for b, share in basis_shares.items() if share >= 0.005
    ]
    out = [f"The ground rests {_listed(parts)}."]
    likely = np.argmax(p, axis=1)
    verbs = {
        Basis.NOTED: "noted by you", Basis.TAGGED: "tagged so",
        Basis.GRADED: "by tracktype or smoothness", Basis.INFERRED: "estimated",
    }  # fmt: skip
    for g, kind in enumerate(LAND):
        on = likely == g
        km = {b: length_m[on & (basis == BASES.index(b))].sum() / 1000 for b in verbs}
        told = [f"{_km(v)} km {verbs[b]}" for b, v in km.items() if v >= 0.05]
        rest = "no stretch; only the chance that a tag or an estimate is wrong"
        share = shares[kind]
        span = f"{_percent(share.low)} to {_percent(share.high)} %"
        out.append(f"{kind.value.capitalize()} ({span}): {_listed(told) if told else rest}.")
    return tuple(out)


def _tagged_words(ways: WayTable, way: int, clashes: tuple[str, ...]) -> str:
    day = int(ways.edited_day[way])
    when = f" (way last edited {_EPOCH + timedelta(days=day):%Y-%m})" if day > 0 else ""
    text = f"The map says surface={ways.surface.text(way)}{when}."
    if clashes:
        return f"{text} But {clashes[0]}, so we trust it less."
    return text


def _estimate_words(
    ways: WayTable, way: int, counts: tuple[Count, ...], p: tuple[float, float, float]
) -> str:
    grade, smooth = ways.tracktype.text(way), ways.smoothness.text(way)
    first = "No surface tag"
    if grade is not None:
        meaning = _GRADE_WORDS.get(grade)
        first += f"; tracktype={grade}" + (f" means {meaning}" if meaning else "")
    elif smooth is not None:
        first += f"; smoothness={smooth}"
    sentences = [f"{first}: our estimate is {_chances(p)}."]
    near = next((c for c in counts if c.what == "near"), None)
    if near is not None:
        sealed, n = near.paved, near.n
        word = _CLASS_WORDS.get((ways.highway.text(way) or "").removesuffix("_link"), "such ways")
        reach = f" within {_km(near.within_km)} km" if near.within_km else ""
        told = f"{sealed} of" if sealed * 2 >= n else f"{n - sealed} of"
        kind = "sealed" if sealed * 2 >= n else "unsealed"
        sentences.append(f"{told} {n} tagged {word}{reach} are {kind}.")
    else:
        sentences.append("No tagged way of its class is near, so we go by roads elsewhere.")
    sentences.extend(_others(counts))
    return " ".join(sentences[:3])


def _others(counts: tuple[Count, ...]) -> list[str]:
    out = []
    for count in counts:
        if count.what == "road":
            out.append(f"{count.paved} of {count.n} tagged parts of the same road are sealed.")
        elif count.what == "joined" and count.n > 1:
            out.append(f"Of {count.n} tagged roads it meets, {count.paved} are sealed.")
        elif count.what == "joined":
            out.append(f"The tagged road it meets is {'' if count.paved else 'un'}sealed.")
    return out


def _chances(p: tuple[float, float, float]) -> str:
    parts = [(v, kind.value) for v, kind in zip(p, LAND, strict=True)]
    best, second, _ = sorted(parts, reverse=True)
    text = f"{best[1]} {_percent(best[0])} %"
    return text + (f", {second[1]} {_percent(second[0])} %" if second[0] >= 0.05 else "")


def _note_words(held: Held) -> str:
    note = held.note
    who = f" by {note.who}" if note.who else ""
    when = f" of {note.noted.isoformat()}" if note.noted is not None else ", undated"
    said = note.ground.value if note.ground is not None else "no word of the ground"
    remark = f" ({note.remark})" if note.remark else ""
    return f"Your note{when}{who}: {said}{remark}."


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


def _percent(share: float) -> str:
    """Whole percent, but never 0 or 100 for what is neither."""
    if 0 < share < 0.01:
        return "under 1"
    if 0.99 < share < 1:
        return "over 99"
    return f"{100 * share:.0f}"


def _km(km: float) -> str:
    return f"{km:.0f}" if km >= 10 else f"{km:.1f}"


def _listed(parts: list[str]) -> str:
    return parts[0] if len(parts) == 1 else ", ".join(parts[:-1]) + " and " + parts[-1]
