"""The bike that a booking names against the one that is advised."""

from __future__ import annotations

from typing import TYPE_CHECKING

from terrain.values.advice import RiderVerdict

if TYPE_CHECKING:
    from terrain.text.translator import Translator
    from terrain.values.advice import Advice
    from terrain.values.fleet import Fleet


def class_named(text: str, fleet: Fleet) -> str | None:
    """The fleet's class that a booking means by name or title; None if it means none."""
    bike = fleet.meant(text)
    return None if bike is None else bike.name


def differs(wanted: str, advice: Advice, fleet: Fleet) -> bool:
    """Whether a bike is booked, and another one is advised, or none; of a ride beyond its rider,
    whether it must not go: no other bike is the answer there."""
    name = class_named(wanted, fleet) or wanted
    if advice.rider.verdict is RiderVerdict.BEYOND:
        return name in {out.name for out in advice.excluded}
    best = advice.bikes[0].name if advice.bikes else ""
    return bool(wanted) and best != name


def mismatch(
    wanted: str,
    advice: Advice,
    fleet: Fleet,
    translator: Translator | None = None,
    *,
    why: bool = True,
) -> str:
    """How the booked bike stands against the advised one, in a sentence; "" without a bike.

    why : with the first reason if it must not go
    """
    from terrain.text.translator import translator_for

    translator = translator or translator_for("en")
    if not wanted:
        return ""
    name = class_named(wanted, fleet)
    if name is None:
        return translator._("Booked {bike}, which is no class of the fleet.", bike=repr(wanted))
    bike = fleet.named(name)
    title = translator.translate_term(bike.title) if bike else name
    for out in advice.excluded:
        if out.name == name:
            reason = translator.translate(out.reasons[0].text) if out.reasons and why else ""
            told = translator._("Booked {bike}, which must not go.", bike=title)
            return f"{told} {reason}".strip()
    if advice.rider.verdict is RiderVerdict.BEYOND:
        return translator._("Booked {bike}.", bike=title)
    if not advice.bikes:
        return translator._("Booked {bike}; no bike of the fleet fits.", bike=title)
    if advice.bikes[0].name == name:
        return translator._("Booked {bike}, as advised.", bike=title)
    advised = translator.translate_term(advice.bikes[0].title)
    return translator._("Booked {bike}; advised {advised}.", bike=title, advised=advised)
