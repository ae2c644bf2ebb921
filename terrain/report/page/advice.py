"""The advice in parts: setup, bikes, checks and spares, questions, cautions."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from terrain.report.findings import fit_text, rider_text
from terrain.report.page.blocks import Block, Part
from terrain.text.catalogue import N_
from terrain.text.translator import Translator
from terrain.values.report import Facts

_TYRES: dict[str, str] = {
    "road": N_("road tyres"),
    "mixed": N_("mixed tyres"),
    "block": N_("block tyres"),
}
_SETUPS: dict[str, str] = {
    "road": N_("road setup"),
    "off-road": N_("off-road setup"),
    "ask": N_("ask first"),
}
#: The lines of the table behind a fit, by the keys of `terrain.tables.advice.WEIGHTS`.
SCORES: dict[str, str] = {
    "ground": N_("ground"),
    "rider": N_("what it asks of the rider"),
    "load": N_("seats, payload, luggage"),
    "repair": N_("mending it far from help"),
    "reliability": N_("breakdowns and falls"),
    "heat": N_("engine heat"),
    "range": N_("range between pumps"),
}
_MOST_BIKES = 4  # columns that a page has room for


def _advice(facts: Facts, translator: Translator) -> Part | None:
    advice = facts["advice"]
    if advice is None:
        return None
    setup = advice["setup"]
    # The first reason stands at the top of the report already.
    why = setup["reasons"][1:] or setup["reasons"]
    blocks = [Block(kind="heading", text=translator._("Setup")), _listed(why, translator)]
    if setup.get("tyres"):
        tyres = translator._("Fit {tyres}.", tyres=translator._(_TYRES[setup["tyres"]]))
        blocks.append(Block(kind="text", text=tyres))
    if setup.get("pressures"):
        blocks.append(_listed(setup["pressures"], translator))
    if setup.get("flips"):
        blocks.append(Block(kind="heading", text=translator._("What would change the answer")))
        lines = tuple(
            translator._(
                "{if_so} Then: {setup}.",
                if_so=translator.translate(f),
                setup=translator._(_SETUPS[f["then"]]),
            )
            for f in setup["flips"]
        )
        blocks.append(Block(kind="list", lines=lines))
    blocks += _bikes(advice, translator)
    blocks += _rider(advice, translator)
    if advice.get("law"):
        blocks.append(Block(kind="heading", text=translator._("Law and access on the way")))
        blocks.append(_listed(advice["law"], translator))
    if advice.get("rests_on"):
        text = " ".join(translator.translate(said) for said in advice["rests_on"])
        blocks.append(Block(kind="text", text=text))
    return Part(key="advice", title=translator._("Advice and its reasons"), blocks=tuple(blocks))


def _bikes(advice: dict[str, Any], translator: Translator) -> list[Block]:
    blocks = [Block(kind="heading", text=translator._("Bikes, the best fit first"))]
    for bike in advice.get("excluded", []):
        reasons = " ".join(translator.translate(said) for said in bike["reasons"])
        text = translator._(
            "Must not go: {bike}. {reasons}", bike=bike_title(bike, translator), reasons=reasons
        )
        blocks.append(Block(kind="text", text=text))
    rows = []
    for bike in advice["bikes"]:
        rows.append(
            (
                bike_title(bike, translator),
                fit_text(bike["fit"], translator),
                " ".join(translator.translate(said) for said in bike["reasons"][:3]),
                " ".join(translator.translate(said) for said in bike["against"][:3]),
            )
        )
    head = (
        translator._("Bike"),
        translator._("Fit"),
        translator._("For it"),
        translator._("Against it"),
    )
    blocks.append(Block(kind="table", head=head, rows=tuple(rows)))
    blocks += fit_table(advice, translator)
    return blocks


def fit_table(advice: dict[str, Any], translator: Translator) -> list[Block]:
    """What each line adds to the fit of the best bikes, 0 to 1."""
    bikes = advice["bikes"][:_MOST_BIKES]
    if not bikes:
        return []
    # What is not known is left out of the fit, and out of what it may come to at most.
    known = [any(bike["table"][n]["points"] is not None for bike in bikes)
             for n in range(len(bikes[0]["table"]))]  # fmt: skip
    total = sum(w["weight"] for w, yes in zip(bikes[0]["table"], known, strict=True) if yes)
    if not total > 0:
        return []
    head = (
        translator._("What counts"),
        translator._("At most"),
        *(bike_title(bike, translator) for bike in bikes),
    )
    rows = []
    for n, line in enumerate(bikes[0]["table"]):
        points = [bike["table"][n]["points"] for bike in bikes]
        cells = (line["weight"] / total if known[n] else None, *points)
        name = translator._(SCORES[line["what"]])
        rows.append((name, *(_points(value, translator) for value in cells)))
    fits = (1.0, *(bike["fit"] for bike in bikes))
    rows.append((translator._("In all"), *(translator.number(value, 2) for value in fits)))
    title = translator._("What each line adds to the fit: 0 fits not at all, 1 in full")
    blocks = [
        Block(kind="heading", text=title),
        Block(kind="table", head=head, rows=tuple(rows)),
    ]
    if not all(known):
        text = translator._("What is not known does not count: the rest is weighed without it.")
        blocks.append(Block(kind="text", text=text))
    return blocks


def _points(value: float | None, translator: Translator) -> str:
    return translator._("not known") if value is None else translator.number(value, 2)


def bike_title(bike: dict[str, Any], translator: Translator) -> str:
    """The name of a bike class as shown."""
    return translator.translate_term(str(bike.get("title") or bike["class"].replace("-", " ")))


def _rider(advice: dict[str, Any], translator: Translator) -> list[Block]:
    rider = advice.get("rider")
    if not rider:
        return []
    blocks = [Block(kind="heading", text=translator._("Rider"))]
    if rider["verdict"] != "beyond":  # which is said at the top and among the cautions
        blocks.append(Block(kind="text", text=rider_text(rider, translator)))
    if rider["reasons"]:
        blocks.append(_listed(rider["reasons"], translator))
    return blocks


def _checks(facts: Facts, translator: Translator) -> Part | None:
    advice = facts["advice"]
    if advice is None or not (advice["checks"] or advice["spares"]):
        return None
    blocks: list[Block] = []
    for key, title in (("checks", translator._("Checks")), ("spares", translator._("To carry"))):
        if advice[key]:
            blocks += [Block(kind="heading", text=title), _listed(advice[key], translator)]
    return Part(key="checks", title=translator._("Checks and spares"), blocks=tuple(blocks))


def _questions(facts: Facts, translator: Translator) -> Part | None:
    advice = facts["advice"]
    if advice is None or not advice["questions"]:
        return None
    title = translator._("Questions for the customer")
    return Part(key="questions", title=title, blocks=(_listed(advice["questions"], translator),))


def _cautions(facts: Facts, translator: Translator) -> Part | None:
    advice = facts["advice"]
    if advice is None or not advice["cautions"]:
        return None
    title = translator._("Cautions")
    return Part(key="cautions", title=title, blocks=(_listed(advice["cautions"], translator),))


def _listed(items: list[Any], translator: Translator) -> Block:
    return Block(kind="list", lines=tuple(translator.translate(said) for said in items))


ADVICE_PARTS: dict[str, Callable[[Facts, Translator], Part | None]] = {
    "advice": _advice,
    "checks": _checks,
    "questions": _questions,
    "cautions": _cautions,
}
