"""The advice as a whole: each part from its own module, joined here."""

from __future__ import annotations

from dataclasses import replace

from terrain.stages.advice.bikes.rank import rank_bikes, weights_of
from terrain.stages.advice.bikes.reasons import with_reasons
from terrain.stages.advice.burden import burden_of
from terrain.stages.advice.rider.cautions import list_cautions
from terrain.stages.advice.rider.fit import judge_rider
from terrain.stages.advice.rider.kit import checks, conditions, pressures, spares
from terrain.stages.advice.rider.law import list_law
from terrain.stages.advice.rider.questions import ask
from terrain.stages.advice.setup.judge import judge_setup
from terrain.stages.advice.words import say
from terrain.tables.advice import BIKES, SETUP, WEIGHTS, BikeModel, SetupModel
from terrain.text.figures import N_
from terrain.text.message import word
from terrain.values.advice import Advice, AdviceInputs, BikeFit, Excluded, Said

_NEAR_FIT = 0.03  # fits closer than this are told as alike


def advise(
    inputs: AdviceInputs, *, setup_model: SetupModel = SETUP, bike_model: BikeModel = BIKES
) -> Advice:
    """Setup, bikes and all the rest for one ride, rider and fleet. Pure: same in, same out."""
    burden = burden_of(inputs, setup_model)
    setup = judge_setup(inputs, burden, setup_model)
    ranked, refused = rank_bikes(inputs, burden, bike_model)
    fits = with_reasons(inputs, burden, ranked, setup.tyres, bike_model)
    rider = judge_rider(inputs, burden)
    going = tuple(b for f in fits if (b := inputs.fleet.named(f.name)) is not None)
    held = conditions(inputs, burden, going, bike_model)
    return Advice(
        setup=replace(setup, pressures=pressures(inputs, setup.choice, going, held, bike_model)),
        excluded=refused,
        bikes=fits,
        wanted=_wanted(inputs, fits, refused),
        rider=rider,
        spares=spares(held),
        checks=checks(held),
        questions=ask(inputs, burden, setup.choice, rider, setup_model),
        cautions=list_cautions(inputs, rider, fits, refused),
        law=list_law(inputs),
        weights=weights_of(inputs),
        rests_on=_rests_on(inputs),
    )


def _wanted(
    inputs: AdviceInputs, fits: tuple[BikeFit, ...], refused: tuple[Excluded, ...]
) -> Said | None:
    name = inputs.trip.wanted_class
    if not name:
        return None
    bike = inputs.fleet.named(name)
    if bike is None:
        return say("wanted-unknown", wanted=name)
    for item in refused:
        if item.name == name:
            return say("wanted-excluded", wanted=bike.title, why=item.reasons[0].text,
                       reason=item.reasons[0].code)  # fmt: skip
    if fits[0].name == name:
        return say("wanted-fits", wanted=bike.title, fit_share=fits[0].fit)
    fit = next(f for f in fits if f.name == name)
    code = "wanted-near" if fits[0].fit - fit.fit < _NEAR_FIT else "wanted-other"
    return say(code, wanted=bike.title, better=fits[0].title, fit_share=fit.fit,
               better_share=fits[0].fit)  # fmt: skip


def _rests_on(inputs: AdviceInputs) -> tuple[Said, ...]:
    fleet = inputs.fleet
    said: list[Said] = []
    if fleet.rentals is not None:
        code = "rests-log-span" if fleet.rentals_span else "rests-log"
        said.append(say(code, n_rentals=fleet.rentals, span=fleet.rentals_span))
        believed = [bike for bike in fleet.classes if bike.incident_low is None]
        if believed:
            basis = sorted({bike.incident_basis for bike in believed})
            said.append(say("rests-few", classes=tuple(word(bike.title) for bike in believed),
                            basis="; ".join(basis)))  # fmt: skip
    else:
        basis = sorted({bike.incident_basis for bike in fleet.classes})
        said.append(say("rests-practice", n_classes=len(fleet.classes), basis="; ".join(basis)))
    usual = {name: row.weight for name, row in WEIGHTS.items()}
    own = weights_of(inputs) != usual
    said.append(say("rests-weights", whose=N_("the operator's") if own else N_("our own")))
    return tuple(said)
