"""The handover sheet: what is fitted, packed and said before a bike goes out on a ride."""

from __future__ import annotations

from collections.abc import Iterator

from terrain.text.catalogue import N_
from terrain.text.message import Message, message, term
from terrain.text.terms import SETUP_NAME_TERMS, TYRES_TERMS
from terrain.values.advice import AdviceItem, SetupChoice
from terrain.values.fleet import BikeClass, Cooling
from terrain.values.handover import Handover, Handovers, SheetItem
from terrain.values.report import Report
from terrain.values.trip import Luggage, Trip
from terrain.values.verdict import FindingKind, Rank

# Kit that a class needs only if its engine is cooled so, or has a fan.
_LIQUID = ("coolant", "water-engine", "coolant-morning", "coolant-midday")
_FAN = ("fan-listen", "fan-fall")
_AIR = ("air-cooled-rest",)
_MORNING = ("t-clocs", "air-cooled-rest", "coolant-midday", "fan-listen", "after-ford")
_MOST_SAID = 4


def handovers_of(report: Report) -> Handovers:
    """A sheet for each class that may go; why none is printed where the ride is not settled."""
    assessed, verdict = report.assessed, report.verdict
    held = [item.what for item in verdict.forbidden]
    if verdict.answer is SetupChoice.ASK:
        held.append(verdict.headline)
    named = {bike.name: bike for bike in assessed.fleet.classes}
    fits = [named[item.name] for item in assessed.advice.bikes if item.name in named]
    return Handovers(held=tuple(held), sheets=tuple(_sheet(report, bike) for bike in fits))


def _sheet(report: Report, bike: BikeClass) -> Handover:
    assessed, verdict = report.assessed, report.verdict
    days = assessed.plan.days
    parts = {"bike": term(bike.title), "setup": term(SETUP_NAME_TERMS[verdict.answer.value])}
    headline = (
        message("{bike}, {setup}, {tyres}", tyres=term(TYRES_TERMS[verdict.tyres]), **parts)
        if verdict.tyres is not None
        else message("{bike}, {setup}", **parts)
    )
    return Handover(
        bike=bike.name,
        title=bike.title,
        headline=headline,
        payload_kg=bike.payload_kg,
        end_s=days[-1].end_s if days and assessed.trip.depart is not None else None,
        fit=tuple(_fit(report, bike)),
        put=tuple(_put(report, bike)),
        say=tuple(_say(report, bike)),
    )


def _fit(report: Report, bike: BikeClass) -> Iterator[SheetItem]:
    """What is fitted and checked; where the maker's figure is not known here, a blank."""
    advice, setup = report.assessed.advice, report.assessed.advice.setup
    off_s, hard_s = setup.off_road_s[0], setup.hard_s[0]
    rough = setup.choice is not SetupChoice.ROAD
    why = message("{off_s} off tarmac, weighted by how hard it is", off_s=off_s)
    if report.verdict.tyres is None:
        yield SheetItem(
            what=message("Tyres, front and rear: ______"), why=message("the desk decided the setup")
        )
    else:
        tyres = term(TYRES_TERMS[report.verdict.tyres])
        yield SheetItem(
            what=message("Tyres, front and rear: {tyres}", tyres=tyres), why=why if off_s else ""
        )
    yield SheetItem(
        what=message("Pressure for the road, cold: front ______ rear ______"),
        why=message("as the maker says, for this load"),
    )
    for item in setup.pressures:
        if item.code != "pressure-road" and dict(item.numbers).get("bike") == bike.title:
            yield SheetItem(what=item.text, why=message("tell the rider"))
    yield SheetItem(what=_load(report.assessed.trip))
    yield _tank(report, bike)
    yield SheetItem(what=message("Oil at the mark, bike level; note it: ______"))
    if bike.cooling is Cooling.LIQUID:
        where = message("at {where}", where=term(bike.coolant_check)) if bike.coolant_check else ""
        yield SheetItem(
            what=message("Coolant to the mark, engine cold; note it: ______"), why=where
        )
    else:
        yield SheetItem(what=message("Fins clean"), why=message("air-cooled: no coolant"))
    if bike.fan:
        yield SheetItem(
            what=message("Fan turns freely, its wire and sensor sound; it comes on when hot"),
            why=next((x.text for x in advice.cautions if x.code == "fan-depends"), ""),
        )
    yield SheetItem(what=message("Clutch: free play right, no slip; note it: ______"))
    yield SheetItem(
        what=message("Chain slack and oil; spokes and bolts tight"),
        why=message("{hard_s} of hard ground", hard_s=hard_s) if hard_s >= 60 else "",
    )
    if rough:
        yield SheetItem(what=message("Clean air filter"), why=message("dust"))
    yield SheetItem(
        what=message("Brakes, levers, cables, lights; kick start tried")
        if bike.kick_start
        else message("Brakes, levers, cables, lights")
    )


def _load(trip: Trip) -> Message:
    bags = {
        Luggage.NONE: N_("No luggage"), Luggage.SOFT: N_("Soft bags only"),
        Luggage.BOXES: N_("Boxes, locked and level"),
    }[trip.luggage]  # fmt: skip
    if trip.pillion:
        return message("{bags}; seat and pegs for the pillion, suspension set", bags=term(bags))
    return message("{bags}; no pillion", bags=term(bags))


def _tank(report: Report, bike: BikeClass) -> SheetItem:
    what = message("Tank full: {tank_l}", tank_l=bike.tank_l)
    fuel = report.assessed.plan.fuel
    if fuel is None or fuel.bike != bike.name:
        return SheetItem(what=what)
    return SheetItem(
        what=what,
        why=message("{range_m} on tarmac with the reserve kept back", range_m=fuel.range_m),
    )


def _suits(code: str, bike: BikeClass) -> bool:
    """Whether a row of kit or checks is for this class."""
    if code in _LIQUID:
        return bike.cooling is Cooling.LIQUID
    if code in _FAN:
        return bike.fan
    return code not in _AIR or bike.cooling is not Cooling.LIQUID


def _plain(item: AdviceItem) -> Message:
    """The row without the classes it is for: the sheet is of one class."""
    kit = dict(item.numbers).get("kit")
    return term(str(kit)) if kit is not None and "Only for" in item.message else item.text


def _put(report: Report, bike: BikeClass) -> Iterator[SheetItem]:
    advice = report.assessed.advice
    far = {item.code: item.text for item in advice.cautions}
    for item in advice.spares:
        if _suits(item.code, bike):
            why: Message | str = ""
            if item.code == "first-aid":
                why = far.get("care-far", far.get("care-far-ferry", ""))
            elif item.code == "tools":
                why = far.get("remote", "")
            yield SheetItem(what=_plain(item), why=why)


def _say(report: Report, bike: BikeClass) -> Iterator[SheetItem]:
    """All dangers of the ride, some care, the clutch, fords, and what is looked at each day."""
    verdict, advice = report.verdict, report.assessed.advice
    rest = [x for x in verdict.of(Rank.DANGER, Rank.CARE) if x.kind is not FindingKind.WANTED_BIKE]
    for found in rest[: max(_MOST_SAID, len(verdict.of(Rank.DANGER)))]:
        do = found.do.rider
        yield SheetItem(what=found.what, why=do if isinstance(do, Message) else "")
    by_code = {item.code: item.text for item in reversed(advice.cautions)}
    if "clutch-hot" in by_code:
        yield SheetItem(what=by_code["clutch-hot"], why=by_code.get("clutch-how", ""))
    if "ford-how" in by_code:
        yield SheetItem(what=by_code["ford-how"])
    for item in advice.checks:
        if item.code in _MORNING and _suits(item.code, bike):
            yield SheetItem(what=_plain(item))
