"""What forbids the ride as planned: closed ways, the bikes, the rider, the load."""

from __future__ import annotations

from collections.abc import Iterator

from terrain.stages.advice.bikes.measures import carried_kg
from terrain.stages.verdict.parts import merged, place_of, total_m
from terrain.tables.advice import BIKES
from terrain.tables.verdict import LIMITS
from terrain.text.catalogue import N_
from terrain.text.figures import told_minutes
from terrain.text.message import Message, after, join_messages, message, term
from terrain.values.advice import AdviceItem, Excluded, LawKind, RiderVerdict
from terrain.values.closed import ClosedPart, Closure, closed_by_tag, closed_on
from terrain.values.closed import closed_m as closed_length_m
from terrain.values.fleet import BikeClass
from terrain.values.ground import GroundKind
from terrain.values.places import AreaKind
from terrain.values.report import Assessed
from terrain.values.verdict import Finding, FindingKind, PerAudience, Rank, RidePart, for_all

# Common practice, no source.
_MOST_TAGS = 4  # of a closed way's tags are named
# Where no bike is pushed: up steps, where works go on, and where a tag keeps out walkers too.
# Source: OSM wiki, Key:access.
_NOT_PUSHED = ("highway=steps", "highway=construction", "construction", "access")


def closed(ride: Assessed) -> Iterator[Finding]:
    """All that is closed to motorcycles or open with leave only, as one; then what may be shut."""
    barred = ride.places.closed
    parts = merged((part.from_m, part.to_m) for part in barred)
    closed_m = total_m(parts)
    if parts:
        afloat = any(
            closed_on(barred, s.from_m, s.to_m)
            for s in ride.ground.stretches
            if s.ground is GroundKind.FERRY
        )
        rank = Rank.FORBIDDEN if afloat or closed_m >= LIMITS.barred_m else Rank.CARE
        short = closed_m < LIMITS.push_m and all(part.tag != _NOT_PUSHED[0] for part in barred)
        short = short and not afloat
        push = short and not any(part.tag.startswith(_NOT_PUSHED) for part in barred)
        yield Finding(
            kind=FindingKind.CLOSED,
            rank=Rank.NOTE if short else rank,
            what=message(
                "{closed_m} of {ride_m} are closed to motorcycles on the map, or open only with "
                "permission.",
                closed_m=closed_m, ride_m=ride.match.length_m,
            ),
            why=after(message("By its tags: {tags}.", tags=_tags(barred)), *_but(parts, ride)),
            do=for_all(message("Push the bike there, or go round."))
            if push
            else PerAudience(
                rider=message(
                    "Do not ride it without permission: ask the rental desk for another way. "
                    "Signs and local law decide."
                ),
                staff=message(
                    "Get permission, or send them another way. Signs and local law decide."
                ),
                guide=message(
                    "Get permission before the trip, or lead another way. Signs and local law "
                    "decide."
                ),
            ),
            parts=parts,
            place=place_of(parts, ride.places),
            size=closed_m,
        )  # fmt: skip
    yield from _at_times(ride)
    yield from _gates(ride)
    yield from _against(ride)
    yield from _found_shut(ride)
    yield from _areas(ride)
    yield from _gone(ride)


def _but(parts: tuple[RidePart, ...], ride: Assessed) -> Iterator[Message]:
    """How much of what is closed is a ferry, how much is open at other times, and how much nobody
    drew: the way between two points was guessed over it."""
    afloat_m = sum(
        closed_length_m(closed_on(ride.places.closed, s.from_m, s.to_m))
        for s in ride.ground.stretches
        if s.ground is GroundKind.FERRY
    )
    if afloat_m >= LIMITS.push_m:
        yield message("{ferry_m} of it are a ferry.", ferry_m=afloat_m)
    timed_m = closed_length_m(p for p in ride.places.closed if p.closure is Closure.AT_TIMES)
    if timed_m >= LIMITS.push_m:
        yield message(
            "{timed_m} of it are closed at the hour or season you pass, and open at others.",
            timed_m=timed_m,
        )
    through_m = closed_length_m(p for p in ride.places.closed if p.closure is Closure.THROUGH)
    if through_m >= LIMITS.push_m:
        yield message("{through_m} of it are closed to through traffic only.", through_m=through_m)
    unbuilt = (Closure.CONSTRUCTION, Closure.PROPOSED)
    unbuilt_m = closed_length_m(p for p in ride.places.closed if p.closure in unbuilt)
    if unbuilt_m >= LIMITS.push_m:
        yield message(
            "{unbuilt_m} of it are being built or only planned: there may be no road, whoever "
            "permits it.",
            unbuilt_m=unbuilt_m,
        )
    guessed_m = sum(
        max(0.0, min(part.to_m, b) - max(part.from_m, a))
        for part in parts
        for a, b in ride.match.gaps
    )
    if guessed_m >= LIMITS.push_m:
        yield message(
            "{guessed_m} of it lie on a way that was guessed between points far apart: send the "
            "plan as a track if it goes another way.",
            guessed_m=guessed_m,
        )


def _at_times(ride: Assessed) -> Iterator[Finding]:
    """What is closed at times, where it cannot be told whether it is when the ride passes."""
    barred = ride.places.at_times
    parts = merged((part.from_m, part.to_m) for part in barred)
    if not parts:
        return
    yield Finding(
        kind=FindingKind.CLOSED,
        rank=Rank.CARE,
        what=message("{run_m} may be closed when you pass, by the map.", run_m=total_m(parts)),
        why=message("By its tags: {tags}.", tags=_tags(barred)),
        do=for_all(message("Ask whether it is open then; have another way.")),
        parts=parts,
        place=place_of(parts, ride.places),
        size=total_m(parts),
    )


def _against(ride: Assessed) -> Iterator[Finding]:
    """What is ridden against one-way roads: by a slip of the line, or by the plan."""
    parts = merged(ride.places.against)
    if not parts:
        return
    against_m = total_m(parts)
    yield Finding(
        kind=FindingKind.CLOSED,
        rank=Rank.CARE if against_m >= LIMITS.barred_m else Rank.NOTE,
        what=message("{run_m} are drawn against one-way roads.", run_m=against_m),
        do=for_all(message("Check the direction, or take another road; signs decide.")),
        parts=parts,
        place=place_of(parts, ride.places),
        size=against_m,
    )


def _gates(ride: Assessed) -> Iterator[Finding]:
    """Gates that a tag locks or closes, stiles and the like: a ride ends at one."""
    shut = [(node.at_m, node.at_m) for node in ride.places.nodes if node.shut]
    parts = merged(shut, LIMITS.same_gate_m)
    if not parts:
        return
    yield Finding(
        kind=FindingKind.CLOSED,
        rank=Rank.DANGER,
        what=message(
            "A barrier that is locked, closed to motorcycles or made for walkers, by the map.",
            "{n} barriers that are locked, closed to motorcycles or made for walkers, by the map.",
            n=len(parts),
        ),
        do=for_all(message("Ask who opens it, or have another way ready.",
                           "Ask who opens them, or have another way ready.", n=len(parts))),
        parts=parts,
        place=place_of(parts, ride.places),
        size=float(len(parts)),
    )  # fmt: skip


def _found_shut(ride: Assessed) -> Iterator[Finding]:
    """What riders found shut on earlier rides: it may be open again, or not."""
    found = ride.found_shut
    parts = merged((part.from_m, part.to_m) for part in found)
    if not parts:
        return
    length_m = total_m(parts)
    yield Finding(
        kind=FindingKind.CLOSED,
        rank=Rank.DANGER,
        what=message(
            "Riders found {run_m} shut, last on {last_day}.",
            run_m=length_m, last_day=max(part.last_day for part in found).isoformat(),
        ),
        do=for_all(message("Ask whether it is open again, and have another way ready.")),
        parts=parts,
        place=place_of(parts, ride.places),
        size=length_m,
    )  # fmt: skip


def _tags(barred: tuple[ClosedPart, ...]) -> tuple[Message, ...]:
    """The tags that close it with their lengths, the longest first."""
    longest = closed_by_tag(barred)
    told = [message("{tag} {run_m}", tag=tag, run_m=run_m) for tag, run_m in longest[:_MOST_TAGS]]
    rest_m = sum(run_m for _, run_m in longest[_MOST_TAGS:])
    return (*told, *([message("other {run_m}", run_m=rest_m)] if rest_m else []))


def _areas(ride: Assessed) -> Iterator[Finding]:
    areas = [area for area in ride.places.areas or () if area.kind is AreaKind.MILITARY]
    parts = merged((area.from_m, area.to_m) for area in areas)
    if not parts:
        return
    length_m = total_m(parts)
    yield Finding(
        kind=FindingKind.CLOSED,
        rank=Rank.DANGER,
        what=message(
            "{run_m} within a military area on the map: it may be closed.", run_m=length_m
        ),
        do=for_all(message("Ask before you go; turn round at a sign or a guard.")),
        parts=parts,
        place=place_of(parts, ride.places),
        size=length_m,
    )


def _gone(ride: Assessed) -> Iterator[Finding]:
    codes = (LawKind.DISUSED.value, f"{LawKind.DISUSED.value}-more")
    gone = [item for item in ride.advice.law if item.code in codes]
    parts = merged((item.from_m, item.to_m) for item in gone if item.from_m is not None
                   and item.to_m is not None)  # fmt: skip
    if not parts:
        return
    yield Finding(
        kind=FindingKind.CLOSED,
        rank=Rank.CARE,
        what=message("Tagged as abandoned, disused or gone: there may be no way through."),
        do=for_all(message("Have another way ready.")),
        parts=parts,
        place=place_of(parts, ride.places),
        size=total_m(parts),
    )


def no_bike(ride: Assessed) -> Iterator[Finding]:
    """That no bike of the fleet may go, with why for each."""
    if ride.advice.bikes or not ride.advice.excluded:
        return
    yield Finding(
        kind=FindingKind.NO_BIKE,
        rank=Rank.FORBIDDEN,
        what=message("No bike of the fleet may go on this ride as it is."),
        why=message("{what}.", what=join_messages(_whys(ride), "{first}; {then}")),
        do=PerAudience(
            rider=message("Ask the rental desk for another route, or for a way to split it."),
            staff=message(
                "Offer another route, a lighter load, another rider or a bike from elsewhere."
            ),
            guide=message("Lead another route, or split the party."),
        ),
    )  # fmt: skip


# Why a bike is kept out, in a few words: the advice tells each at length.
_KEPT_OUT = {
    "new-rider": N_("too heavy or too strong for somebody new to motorcycles"),
    "rider-below-class": N_("for {needed} riders at least"),
    "no-seat": N_("no seat for a pillion"),
    "payload": N_("may carry {payload_kg}, and {load_kg} are to go"),
    "payload-one": N_("may carry {payload_kg}, and {load_kg} are to go"),
    "range": N_("{range_m} on a tank, and {gap_m} between pumps"),
    "motorway-ban": N_("kept off motorways in many countries"),
    "too-rough-road": N_("{run_m} too rough for a bike for roads"),
    "too-rough-dual": N_("{run_m} on which it takes an expert"),
}


def _whys(ride: Assessed) -> Iterator[Message]:
    """Each reason once, with the bikes it keeps out."""
    kept_out: dict[str, tuple[Message, list[Excluded]]] = {}
    for item in ride.advice.excluded:
        reason = item.reasons[0]
        form = _KEPT_OUT.get(reason.code)
        why = message(form, **dict(reason.numbers)) if form else reason.text
        kept_out.setdefault(str(why), (why, []))[1].append(item)
    for why, items in kept_out.values():
        yield message("{bikes}: {why:c}", bikes=tuple(term(item.title) for item in items), why=why)


def booked_bike(ride: Assessed) -> Iterator[Finding]:
    """That the bike asked for must not go, or that another is better."""
    name, said = ride.trip.wanted_class, ride.advice.wanted
    if not name or said is None:
        return
    out = next((item for item in ride.advice.excluded if item.name == name), None)
    if out is not None:
        yield _must_not_go(out)
        return
    fit = next((fit for fit in ride.advice.bikes if fit.name == name), None)
    if fit is not None and fit is ride.advice.bikes[0]:
        return
    if ride.advice.rider.verdict is RiderVerdict.BEYOND:
        return  # no bike makes the ride right for them: none "will do"
    # One that cannot take the tyres is the wrong bike, however well it fits else.
    poor = fit is None or fit.fit < LIMITS.poor_fit or said.code == "wanted-tyres"
    ask = PerAudience(
        rider=message("Ask the rental desk which bike to take."),
        staff=message("Tell the customer before they book."),
        guide="",
    )
    yield Finding(
        kind=FindingKind.WANTED_BIKE,
        rank=Rank.CARE if poor else Rank.NOTE,
        what=said.text,
        do=for_all("") if said.code == "wanted-near" else ask,
    )


_PAYLOAD = ("payload", "payload-one")


def _must_not_go(out: Excluded) -> Finding:
    return Finding(
        kind=FindingKind.WANTED_BIKE,
        rank=Rank.FORBIDDEN,
        what=message("The {wanted} asked for must not go.", wanted=term(out.title)),
        # What the load is to the bike has a finding of its own.
        why=join_messages(_texts(tuple(r for r in out.reasons if r.code not in _PAYLOAD))),
        do=PerAudience(
            rider=message("Take another bike or another route: ask the rental desk."),
            staff=message("Offer another bike or another route before they book."),
            guide=message("See that another bike comes, or lead another route."),
        ),
    )


def beyond_rider(ride: Assessed) -> Iterator[Finding]:
    """That the ride is beyond the rider, or at the edge of what they can do, with why."""
    fit = ride.advice.rider
    rider = term(fit.rider)
    if fit.verdict is RiderVerdict.BEYOND:
        told = fit.reasons[: max(1, fit.n_beyond)]
        parts = _parts_of(told)
        yield Finding(
            kind=FindingKind.BEYOND_RIDER,
            rank=Rank.FORBIDDEN,
            what=message("Too hard for this rider ({rider}).", rider=rider),
            why=_why_rider(told),
            do=PerAudience(
                rider=message("Take another route, or gain experience with a guide first."),
                staff=message("Offer another route, or a guide and more experience first."),
                guide=message("Lead another route, or leave this part out."),
            ),
            parts=parts,
            place=place_of(parts, ride.places),
        )  # fmt: skip
    elif fit.verdict is RiderVerdict.STRETCHING:
        worst = fit.reasons[: max(1, fit.n_worst)]
        # Heat has a finding of its own: what else stretches them is told before it.
        told = (*(r for r in worst if not r.code.startswith("heat-")), *worst)[:1]
        parts = _parts_of(told)
        yield Finding(
            kind=FindingKind.BEYOND_RIDER,
            rank=Rank.CARE,
            what=message("Stretches this rider ({rider}).", rider=rider),
            why=_why_rider(told),
            do=PerAudience(
                rider=message("Take your time and rest often.")
                if ride.trip.guided
                else message("Take your time, rest often, and do not ride it alone."),
                staff=message("Say so before they book."),
                guide=message("Plan more time and more stops."),
            ),
            parts=parts,
            place=place_of(parts, ride.places),
        )


_STEEP = N_(
    "A loose climb or descent of {grade_pct} over {run_m}; {steep_m} of {limit_pct} or more in all."
)


def _why_rider(reasons: tuple[AdviceItem, ...]) -> Message | str:
    """Each reason; where the first lies is told by the finding's own place."""
    if not reasons:
        return ""
    first, *more = reasons
    return after(_too_much(first), *(_too_much_from(reason) for reason in more))


def _too_much_from(reason: AdviceItem) -> Message:
    if reason.code in _SAYS_WHERE or reason.from_m is None:
        return _too_much(reason)
    return message("From {from_at_m}: {why:c}", from_at_m=reason.from_m, why=_too_much(reason))


_SAYS_WHERE = ("sand", "fords", "ford-one")


def _too_much(reason: AdviceItem) -> Message:
    """Why it is too much, but not again what it is said after nor where it lies."""
    told = dict(reason.numbers)
    if reason.code == "loose-climb":
        return message(_STEEP, **told)
    if reason.code == "loose-climb-one":
        return message("A loose climb or descent of {grade_pct} over {run_m}.", **told)
    if reason.code not in ("beyond-ground", "stretch-ground"):
        return reason.text
    share = told["part_share"]
    whole_min, part_min = (
        told_minutes(s) if isinstance(s := told[key], int | float) else None
        for key in ("run_s", "part_s")
    )
    if whole_min == part_min or (isinstance(share, float) and share >= LIMITS.whole_share):
        return message("{run_s} of it, up to severity {severity} of 5.", **told)
    return message("{run_s} of it, {part_s} in one part, up to severity {severity} of 5.", **told)


def _texts(items: tuple[AdviceItem, ...]) -> list[Message]:
    return [item.text for item in items]


def _parts_of(items: tuple[AdviceItem, ...]) -> tuple[RidePart, ...]:
    """All places of the reasons; a day that is too much as a whole hides none of them."""
    spots = [item for item in items if item.code != "beyond-off-road"]
    return merged(span for item in spots for span in item.places) or merged(
        span for item in items for span in item.places
    )


def overload(ride: Assessed) -> Iterator[Finding]:
    """That people and luggage weigh more than the bike that would go may carry."""
    bike = _going(ride)
    if bike is None or (ride.trip.pillion and bike.seats < 2):
        return
    load_kg = carried_kg(ride.trip, BIKES)
    if load_kg <= bike.payload_kg:
        return
    form = N_("Rider and luggage weigh about {load_kg}; the {bike} may carry {payload_kg}.")
    if ride.trip.pillion:
        form = N_(
            "Two people and luggage weigh about {load_kg}; the {bike} may carry {payload_kg}."
        )
    yield Finding(
        kind=FindingKind.OVERLOAD,
        rank=Rank.FORBIDDEN,
        what=message(form, load_kg=load_kg, bike=term(bike.title), payload_kg=bike.payload_kg),
        do=PerAudience(
            rider=message("Leave luggage behind, or take a bike that may carry it."),
            staff=message("Weigh them, cut the luggage, or give a bike that may carry it."),
            guide=message("Put the luggage in the van, or change the bike."),
        ),
        size=load_kg - bike.payload_kg,
    )  # fmt: skip


def _going(ride: Assessed) -> BikeClass | None:
    """The bike asked for; without one, the first that may go."""
    name = ride.trip.wanted_class or next((fit.name for fit in ride.advice.bikes), "")
    return ride.fleet.named(name)
