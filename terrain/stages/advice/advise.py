"""The advice as a whole: each part from its own module, joined here."""

from __future__ import annotations

from dataclasses import replace

from terrain.stages.advice.bikes.limits import for_practised, what_helps
from terrain.stages.advice.bikes.rank import rank_bikes, takes, weights_of
from terrain.stages.advice.bikes.reasons import with_reasons
from terrain.stages.advice.burden import OffRoadTime, burden_of
from terrain.stages.advice.case import AdviceCase
from terrain.stages.advice.rider.cautions import has_poor_ground, list_cautions
from terrain.stages.advice.rider.fit import judge_rider
from terrain.stages.advice.rider.kit import checks, conditions, pressures, spares
from terrain.stages.advice.rider.law import list_law
from terrain.stages.advice.rider.questions import ask
from terrain.stages.advice.setup.judge import judge_setup
from terrain.stages.advice.words import advice_item
from terrain.tables.advice import BIKES, PRACTICE, SETUP, WEIGHTS, BikeModel, SetupModel
from terrain.text.catalogue import N_
from terrain.text.message import message, term
from terrain.values.advice import (
    Advice,
    AdviceItem,
    BikeFit,
    Excluded,
    Setup,
    SetupChoice,
    Tyres,
)
from terrain.values.trip import Rider

# Common practice, no source.
_NEAR_FIT = 0.05  # fits closer than this are told as alike


def advise_case(
    case: AdviceCase, *, setup_model: SetupModel = SETUP, bike_model: BikeModel = BIKES
) -> Advice:
    """Setup, bikes and all the rest for one ride, rider and fleet. Pure: same in, same out."""
    burden = burden_of(case, setup_model)
    # Tyres follow the ground: a slow rider makes no road ride an off-road one, nor the reverse.
    usual = case.as_usual()
    laid = burden if usual is case else burden_of(usual, setup_model)
    setup = judge_setup(usual, laid, setup_model)
    if not case.is_usual:
        usual_s = (laid.ride_s, burden.ride_s)
        said = advice_item("setup-usual", usual_s=usual_s[0], ride_s=usual_s[1], source=PRACTICE)
        setup = replace(setup, reasons=(*setup.reasons, said))
    ranked, refused = rank_bikes(case, burden, bike_model, setup.choice, tyres=setup.tyres)
    fits = with_reasons(case, burden, ranked, setup.tyres, bike_model)
    setup = replace(setup, reasons=_either(setup, usual, laid, fits, bike_model))
    rider = judge_rider(case, burden)
    going = tuple(b for f in fits if (b := case.fleet.named(f.name)) is not None)
    rest = tuple(b for b in case.fleet.classes if b not in going)
    # What to carry and check follows from the ride, whichever bikes may go.
    wished = case.fleet.named(case.trip.wanted_class or "")
    held = conditions(case, burden, (*going, *rest), bike_model)
    return Advice(
        setup=replace(setup, pressures=pressures(case, setup.choice, going, held, bike_model)),
        excluded=refused,
        bikes=fits,
        wanted=_wanted(case, fits, refused, setup.tyres),
        rider=rider,
        spares=spares(held, tuple(dict.fromkeys((*filter(None, [wished]), *going[:1])))),
        checks=checks(held, case.fleet.classes),
        questions=(
            *ask(usual, laid, setup.choice, rider, setup_model),
            *_how_long(case, fits),
        ),
        cautions=list_cautions(case, rider, fits, refused, what_helps(case, bike_model)),
        law=list_law(case),
        weights=weights_of(case),
        rests_on=tuple(item.only_for("staff") for item in _rests_on(case)),
    )


def _either(
    setup: Setup, case: AdviceCase, burden: OffRoadTime, fits: tuple[BikeFit, ...], model: BikeModel
) -> tuple[AdviceItem, ...]:
    """The reasons of an open setup with the bike for each outcome, where they differ."""
    if setup.choice is not SetupChoice.ASK or not fits or not burden.ride_s > 0:
        return setup.reasons
    going = [case.fleet.named(fit.name) for fit in fits]
    if not any(bike is not None and takes(bike, Tyres.MIXED) for bike in going):
        none = advice_item("ask-none", source=PRACTICE)
        return tuple(none if item.code == "ask-else" else item for item in setup.reasons)
    outcomes = (
        (burden.better(), SetupChoice.ROAD, Tyres.ROAD),
        (burden.worse(), SetupChoice.OFF_ROAD, Tyres.MIXED),
    )
    road, dirt = (
        rank_bikes(case, burden.on(ground), model, choice, tyres=tyres)[0][0].title
        for ground, choice, tyres in outcomes
    )
    if road == dirt:
        return setup.reasons
    said = advice_item("ask-bikes", road=road, dirt=dirt, either=fits[0].title, source=PRACTICE)
    return tuple(said if item.code == "ask-else" else item for item in setup.reasons)


def _how_long(case: AdviceCase, fits: tuple[BikeFit, ...]) -> tuple[AdviceItem, ...]:
    """Whether they are new to motorcycles: asked where that would change the bike."""
    rules, trip = case.fleet.rules, case.trip
    if trip.riding is not None or trip.rider is not Rider.NOVICE:
        return ()
    bikes = [bike for fit in fits if (bike := case.fleet.named(fit.name)) is not None]
    first = next((b for b in bikes if b.name == trip.wanted_class), bikes[0] if bikes else None)
    if first is None or not for_practised(first, rules):
        return ()
    lighter = next((b for b in bikes if not for_practised(b, rules)), None)
    if lighter is None:
        then = message("no bike of the fleet then")
    else:
        then = message("the {bike} instead", bike=term(lighter.title))
    return (advice_item("how-long-riding", bike=first.title, then=then, source=PRACTICE),)


def _wanted(
    case: AdviceCase,
    fits: tuple[BikeFit, ...],
    refused: tuple[Excluded, ...],
    tyres: Tyres | None,
) -> AdviceItem | None:
    name = case.trip.wanted_class
    if not name:
        return None
    bike = case.fleet.named(name)
    if bike is None:
        return advice_item("wanted-unknown", wanted=name)
    for item in refused:
        if item.name == name:
            return advice_item("wanted-excluded", wanted=bike.title, why=item.reasons[0].text,
                       reason=item.reasons[0].code)  # fmt: skip
    if fits[0].name == name:
        poor = has_poor_ground(fits[0])
        code = "wanted-poor" if poor else "wanted-only" if len(fits) == 1 else "wanted-fits"
        return advice_item(code, wanted=bike.title, fit_share=fits[0].fit)
    if tyres is not None and not takes(bike, tyres):
        return advice_item("wanted-tyres", wanted=bike.title, better=fits[0].title,
                           tyres=tyres.value)  # fmt: skip
    fit = next(f for f in fits if f.name == name)
    code = "wanted-near" if fits[0].fit - fit.fit < _NEAR_FIT else "wanted-other"
    return advice_item(code, wanted=bike.title, better=fits[0].title, fit_share=fit.fit,
               better_share=fits[0].fit)  # fmt: skip


def _rests_on(case: AdviceCase) -> tuple[AdviceItem, ...]:
    fleet = case.fleet
    said: list[AdviceItem] = []
    if fleet.rentals is not None:
        code = "rests-log-span" if fleet.rentals_span else "rests-log"
        said.append(advice_item(code, n_rentals=fleet.rentals, span=fleet.rentals_span))
        believed = [bike for bike in fleet.classes if bike.incident_low is None]
        if believed:
            basis = sorted({bike.incident_basis for bike in believed})
            said.append(
                advice_item(
                    "rests-few",
                    classes=tuple(term(bike.title) for bike in believed),
                    basis="; ".join(basis),
                )
            )
    else:
        basis = sorted({bike.incident_basis for bike in fleet.classes})
        said.append(
            advice_item("rests-practice", n_classes=len(fleet.classes), basis="; ".join(basis))
        )
    usual = {name: row.weight for name, row in WEIGHTS.items()}
    own = weights_of(case) != usual
    said.append(advice_item("rests-weights", whose=N_("the operator's") if own else N_("our own")))
    return tuple(said)
