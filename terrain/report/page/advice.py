"""The advice in parts: setup, bikes, checks and spares, questions, cautions."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from terrain.report.page.blocks import Block, Part
from terrain.report.page.once import is_found
from terrain.tables.advice import ALWAYS_SAID
from terrain.text.catalogue import N_
from terrain.text.terms import SCORE_TERMS, SETUP_NAME_TERMS
from terrain.text.translator import Translator
from terrain.values.advice import Advice, AdviceItem, RiderVerdict
from terrain.values.report import Report
from terrain.values.verdict import Audience, BookedBike

# A bike's fit from 0 to 1, told in words: a figure would claim more than it knows.
_FITS = (
    (0.8, N_("fits well")),
    (0.65, N_("fits")),
    (0.5, N_("fits in part")),
    (0.0, N_("fits poorly")),
)
_MOST_BIKES = 4  # columns that a page has room for


def fit_text(fit: float, translator: Translator) -> str:
    """How well a bike fits the trip, in words."""
    return translator._(next(text for least, text in _FITS if fit >= least))


def advice_part(report: Report, translator: Translator, *, audience: Audience) -> Part | None:
    """Setup with its reasons, bikes, rider, law."""
    advice = report.assessed.advice
    setup = advice.setup
    # The first reason stands at the top of the report already.
    why = setup.reasons[1:] or setup.reasons
    blocks = [Block(kind="heading", text=translator._("Setup")), _listed(why, translator)]
    if setup.pressures:
        blocks.append(_listed(setup.pressures, translator))
    if setup.flips:
        blocks.append(Block(kind="heading", text=translator._("What would change the answer")))
        lines = tuple(
            translator._(
                "{if_so} Then: {setup}.",
                if_so=translator.translate(f.said.text),
                setup=translator._(SETUP_NAME_TERMS[f.then]),
            )
            for f in setup.flips
        )
        blocks.append(Block(kind="list", lines=lines))
    blocks += _bikes(advice, report.verdict.booked, translator, audience)
    blocks += _rider(advice, translator)
    if advice.law:
        blocks.append(Block(kind="heading", text=translator._("Law and access on the way")))
        blocks.append(_listed(advice.law, translator))
    if rests_on := _told(advice.rests_on, audience):
        text = " ".join(translator.translate(said.text) for said in rests_on)
        blocks.append(Block(kind="text", text=text))
    return Part(key="advice", title=translator._("Advice and its reasons"), blocks=tuple(blocks))


def _bikes(
    advice: Advice, booked: BookedBike | None, translator: Translator, audience: Audience
) -> list[Block]:
    blocks = [Block(kind="heading", text=translator._("Bikes, the best fit first"))]
    told = {wanted.bike for wanted in (booked,) if wanted is not None and wanted.fits is False}
    for barred in advice.excluded:
        if barred.name in told:  # which the findings say, with why
            continue
        reasons = " ".join(translator.translate(said.text) for said in barred.reasons)
        text = translator._(
            "Must not go: {bike}. {reasons}",
            bike=translator.translate_term(barred.title),
            reasons=reasons,
        )
        blocks.append(Block(kind="text", text=text))
    rows = []
    for bike in advice.bikes:
        rows.append(
            (
                translator.translate_term(bike.title),
                fit_text(bike.fit, translator),
                _words(bike.reasons, translator, audience),
                _words(bike.against, translator, audience),
            )
        )
    head = (
        translator._("Bike"),
        translator._("Fit"),
        translator._("For it"),
        translator._("Against it"),
    )
    blocks.append(Block(kind="table", head=head, rows=tuple(rows)))
    # Rates and weights are for those who rent the bikes out; a rider reads words.
    if audience is Audience.STAFF:
        blocks += fit_table(advice, translator)
    return blocks


def fit_table(advice: Advice, translator: Translator) -> list[Block]:
    """What each line adds to the fit of the best bikes, 0 to 1."""
    bikes = advice.bikes[:_MOST_BIKES]
    if not bikes:
        return []
    # What is not known is left out of the fit, and out of what it may come to at most.
    known = [any(bike.table[n].points is not None for bike in bikes)
             for n in range(len(bikes[0].table))]  # fmt: skip
    total = sum(w.weight for w, yes in zip(bikes[0].table, known, strict=True) if yes)
    if not total > 0:
        return []
    head = (
        translator._("What counts"),
        translator._("At most"),
        *(translator.translate_term(bike.title) for bike in bikes),
    )
    rows = []
    for n, line in enumerate(bikes[0].table):
        points = [bike.table[n].points for bike in bikes]
        cells = (line.weight / total if known[n] else None, *points)
        name = translator._(SCORE_TERMS[line.what])
        rows.append((name, *(_points(value, translator) for value in cells)))
    fits = (1.0, *(bike.fit for bike in bikes))
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


def _rider(advice: Advice, translator: Translator) -> list[Block]:
    rider = advice.rider
    blocks = [Block(kind="heading", text=translator._("Rider"))]
    if rider.verdict is RiderVerdict.WITHIN:  # the others are findings
        blocks.append(Block(kind="text", text=translator.translate(rider.text)))
    if rider.reasons:
        blocks.append(_listed(rider.reasons, translator))
    return blocks


def checks_part(report: Report, translator: Translator) -> Part | None:
    """Checks."""
    advice = report.assessed.advice
    if not (advice.checks or advice.spares):
        return None
    blocks: list[Block] = []
    for items, title in (
        (advice.checks, translator._("Checks")), (advice.spares, translator._("To carry")),
    ):  # fmt: skip
        if items:
            blocks += [Block(kind="heading", text=title), _listed(items, translator)]
    return Part(key="checks", title=translator._("Checks and spares"), blocks=tuple(blocks))


def questions_part(report: Report, translator: Translator) -> Part | None:
    """Questions."""
    advice = report.assessed.advice
    if not advice.questions:
        return None
    title = translator._("Questions for the customer")
    return Part(key="questions", title=title, blocks=(_listed(advice.questions, translator),))


def cautions_part(report: Report, translator: Translator, *, audience: Audience) -> Part | None:
    """Cautions."""
    advice = report.assessed.advice
    items = [item for item in advice.cautions if not is_found(item, report)]
    if not items:
        return None
    told = _told(items, audience)
    mine = [item for item in told if item.code not in ALWAYS_SAID]
    always = [item for item in told if item.code in ALWAYS_SAID]
    blocks = [_listed(mine, translator)] if mine else []
    if always:
        text = translator._("On every ride: permits, licence, insurance")
        blocks.append(replace(_listed(always, translator), kind="fold", text=text))
    return Part(key="cautions", title=translator._("Cautions"), blocks=tuple(blocks))


def _words(items: Iterable[AdviceItem], translator: Translator, audience: Audience) -> str:
    return " ".join(translator.translate(said.text) for said in _told(items, audience)[:3])


def _told(items: Iterable[AdviceItem], audience: Audience) -> list[AdviceItem]:
    return [item for item in items if item.is_for(audience.value)]


def _listed(items: Iterable[AdviceItem], translator: Translator) -> Block:
    return Block(kind="list", lines=tuple(translator.translate(said.text) for said in items))
