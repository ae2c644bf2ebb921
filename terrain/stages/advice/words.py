"""Every sentence of advice, in one place, with its numbers left open.

A sentence is found by its code; `terrain.values.sentences` says how its numbers are shown. Words
among the numbers are fixed phrases, told in the language of the report; names stand as they are.
"""

from __future__ import annotations

from terrain.values.advice import Number, Said
from terrain.values.sentences import Sentence, sentence, word

_NAMES = ("named", "near", "span")  # texts among the numbers that are names

MESSAGES: dict[str, str] = {
    # setup
    "setup-road": "Road setup: {off_s} of {ride_s} riding counts as off-road ({off_share}), and "
    "even if all doubtful ground turns out the worse it stays {worst_share}.",
    "setup-off-road": "Off-road setup: {off_s} of {ride_s} riding counts as off-road "
    "({off_share}), and at least {best_share} if all doubtful ground turns out the better.",
    "setup-hard": "Off-road setup: {hard_s} of riding is on ground that road tyres cannot do.",
    "setup-ask": "Open: off-road riding may be {best_share} of the time or {worst_share}, "
    "depending on ground the map does not settle; the limit for road setup is {limit_share}.",
    "setup-close": "Open: off-road riding is {off_share} of the time, too close to the limit of "
    "{limit_share} to call.",
    "setup-nothing": "Open: nothing is known of the ground.",
    "setup-road-paved": "Road setup: nearly all of the {ride_s} of riding is on paved road.",
    "off-road-run": "{run_m} of {ground} from {from_at_m}, about {run_s} of riding.",
    "off-road-run-severity": "{run_m} of {ground} from {from_at_m}, about {run_s} of riding, "
    "severity up to {severity} of 5.",
    "doubt-run": "{run_m} from {from_at_m} may be {grounds}: {evidence}.",
    "season-weight": "{soft_m} of it softens in the rain of that month and counts for more.",
    "flip-skip": "If the {run_m} from {from_at_m} are left out.",
    "flip-better": "If the {run_m} from {from_at_m} turn out {ground}.",
    "flip-worse": "If the {run_m} from {from_at_m} turn out {ground}.",
    # pressures
    "pressure-road": "Tyre pressure as the maker says; check it cold.",
    "pressure-light": "On loose ground {low_bar:n} to {high_bar}; pump up before tarmac.",
    "pressure-heavy": "On loose ground not below {low_bar} on a heavy or loaded bike; pump "
    "up before tarmac.",
    # questions
    "ride-this-run": "Do you mean to ride the {run_m} from {from_at_m}{near}? If not: {without}. "
    "If yes: {with_}.",
    "which-ground": "Does anyone know the {run_m} from {from_at_m}{near}? If it is {better}: "
    "{if_better}. If it is {worse}: {if_worse}.",
    "skip-this-run": "Do you mean to ride the {run_m} from {from_at_m}{near}? Without them: "
    "{without}.",
    "month-unknown": "When is the ride? {soft_m} of it is ground that rain can close.",
    "which-parts": "Does anyone know these {n_parts} parts, {run_m} in all, the first from "
    "{from_at_m}, the longest {longest_m} from {longest_at_m}? If they are good: "
    "{if_better}. If not: {if_worse}.",
    # exclusions
    "rider-below-class": "Not for this rider ({rider}): it asks for {needed} at least.",
    "no-seat": "No seat for a pillion.",
    "payload": "Two people and luggage weigh about {load_kg}; it may carry {payload_kg}.",
    "payload-one": "Rider and luggage weigh about {load_kg}; it may carry {payload_kg}.",
    "range": "Gets {range_m} with the reserve kept; the longest way between pumps is {gap_m}, "
    "from {from_at_m}.",
    "motorway-ban": "{motorway_m} of motorway, where engines under {limit_cc} are kept off in "
    "many countries; local law decides.",
    # for and against a bike
    "suits-tarmac": "At home on the {paved_s} of tarmac.",
    "suits-dirt": "Light and able enough for the {dirt_s} off tarmac.",
    "copes-dirt": "Copes with the {dirt_s} off tarmac.",
    "dull-tarmac": "Less comfortable on the {paved_s} of tarmac than a road bike.",
    "short-dirt": "Out of its depth on {hard_s} of the riding, worst from {from_at_m} to "
    "{to_at_m}.",
    "heavy-dirt": "Heavy ({mass_kg}) for the {dirt_s} off tarmac.",
    "low-clearance": "Little ground clearance ({clearance_mm}) for {hard_s} of hard ground.",
    "asks-little": "Asks little of the rider.",
    "asks-much": "Asks much of this rider ({rider}).",
    "easy-repair": "Parts are {parts} and it is {repair} to mend, up to {far_s} from its "
    "nearest help.",
    "hard-repair": "Parts are {parts} and it is {repair} to mend, up to {far_s} from its "
    "nearest help (at {here_at_m}).",
    "no-help-known": "Parts are {parts}, and nobody who mends this class is named by the operator.",
    "reliable": "Few incidents: {rate_share} of rentals ({basis}).",
    "unreliable": "More incidents: {rate_share} of rentals ({basis}).",
    "motorway": "{motorway_m} of motorway or fast road, which it does not like.",
    "motorway-good": "At ease on {motorway_m} of motorway or fast road.",
    "fan-works": "Engine depends on its fan for {fan_s}.",
    "no-fan": "No fan: an air-cooled engine gets hot on {fan_s} of slow riding.",
    "range-tight": "Range {range_m} against {gap_m} between pumps from {from_at_m}: fill up at "
    "every pump.",
    "range-good": "Range {range_m} is ample for {gap_m} between pumps.",
    "luggage-not": "Does not take {luggage}; soft bags instead.",
    "two-up-slow": "Two up on {dirt_s} off tarmac is hard on bike and pillion.",
    "thin-air": "At {max_ele_m} the engine has about {power_share} of its power.",
    "no-tyres": "Cannot be fitted with {tyres} tyres.",
    # what was asked for
    "wanted-fits": "The {wanted} asked for fits best.",
    "wanted-near": "The {wanted} asked for fits nearly as well as the {better}.",
    "wanted-other": "The {wanted} asked for is not the best fit: the {better} suits this ride "
    "better ({fit_share} against {better_share}).",
    "wanted-excluded": "The {wanted} asked for must not go. {why}",
    "wanted-unknown": "There is no class {wanted} in the fleet.",
    # rider
    "rider-within": "Within what this rider ({rider}) is at ease with.",
    "rider-stretching": "Stretches this rider ({rider}): say so before they book.",
    "rider-beyond": "Beyond this rider ({rider}): another route, or a guide and more "
    "experience first.",
    "beyond-ground": "{run_s} of ground of severity {limit} or more of 5, up to {severity}; the "
    "longest part from {from_at_m}.",
    "beyond-off-road": "{off_s} of off-road riding in the longest day.",
    "loose-climb": "A loose climb or descent of {grade_pct} over {run_m}, from {from_at_m}; "
    "{steep_m} of {limit_pct} or more in all.",
    "sand": "{sand_s} of sand, from {from_at_m}.",
    "fords": "{n_fords} fords, the first at {first_at_m}.",
    "ford-one": "A ford at {first_at_m}.",
    "long-day": "{day_s} of riding in the longest day, stops not counted.",
    "altitude": "Up to {max_ele_m}, {rise_ele_m} above the start: risk of altitude sickness above "
    "{risk_ele_m}; do not go from low to above {day_ele_m} in a day.",
    "heat-rider": "Hot for the rider: up to {max_air_c} in the shade.",
    "heat-rider-felt": "Hot for the rider: up to {max_air_c} in the shade, felt as "
    "{max_heat_index_c}.",
    "pillion-off-road": "A pillion on {off_s} of off-road riding.",
    "soft-season": "{soft_m} of ground that the season may have softened or closed.",
    # cautions
    "beyond-rider": "This ride is beyond this rider ({rider}) on any bike.",
    "no-class-fits": "No class of the fleet can do this ride as it is.",
    "unmapped": "{unmapped_m} runs where no way is mapped: nothing is known of it.",
    "season-doubtful": "{soft_m} of earth roads in a wet month: may be impassable after rain.",
    "season-confirm": "{soft_m} of ground that heavy rain or season closes: take it as shut until "
    "somebody local says it is open.",
    "ford-how": "Fords: walk them first; not above the axle, nor when rising, brown or unseen.",
    "remote": "Up to {far_s} ({far_m}) by road from the nearest mechanic, at {here_at_m}: "
    "carry tools and spares, and know how to use them.",
    "care-far": "Up to {care_s} by road from the nearest hospital, at {here_at_m}.",
    "help-unknown": "No mechanic is mapped that can be reached by road: take help as far.",
    "heat-how": "Drink a litre an hour in the heat; stop where there is shade and wind.",
    "gear-heat": "Above {limit_c} full gear heats the body without end: rest often, ride early.",
    "fan-depends": "On {fan_s} of slow riding the engine is cooled by its fan alone.",
    "dark": "No tracks at night; plan to arrive an hour before dusk.",
    "not-leave": "A line on a map is not leave to ride: signs and local people decide.",
    "insurance": "Insurance and rental cover often end where the road does: get it in writing.",
    "licence": "The licence must cover the class ridden.",
    "estimates": "Times, ground and distances to help are estimates from open data; climate "
    "means are not a forecast.",
    # law
    "closed": "Tagged as closed to motorcycles: {run_m} from {from_at_m}{named}.",
    "private": "Private, or by permit only: {run_m} from {from_at_m}{named}.",
    "destination": "No through traffic: {run_m} from {from_at_m}{named}.",
    "no-motor-road": "A path or cycleway, not open to motors unless signed: {run_m} from "
    "{from_at_m}{named}.",
    "toll": "Toll: {run_m} from {from_at_m}{named}.",
    "conditional": "Open at times or to some only: {run_m} from {from_at_m}{named}.",
    "construction": "Under construction by the map: {run_m} from {from_at_m}{named}.",
    "border": "Border at {here_at_m}{named}: papers for rider and bike; permits where asked.",
    "military": "Military area at {here_at_m}{named}: permits, or no entry.",
    "protected": "Protected area at {here_at_m}{named}: permits or a fixed circuit may apply.",
    "barrier": "A barrier at {here_at_m}{named} may stop a motorcycle.",
    # what it rests on
    "rests-log": "Incident rates from {n_rentals} of your rentals.",
    "rests-log-span": "Incident rates from {n_rentals} of your rentals, {span}.",
    "rests-practice": "Incident rates of the {n_classes} classes: {basis}.",
    "rests-weights": "Weights of the fit table: {whose}.",
}


def say(
    code: str,
    *,
    from_m: float | None = None,
    to_m: float | None = None,
    source: str = "",
    **numbers: Number,
) -> Said:
    """The sentence of a code with its numbers."""
    told = {name: _told(name, value) for name, value in numbers.items()}
    return Said(
        code=code, text=sentence(MESSAGES[code], **told), from_m=from_m, to_m=to_m, source=source
    )


def _told(name: str, value: Number) -> Number:
    is_word = isinstance(value, str) and not isinstance(value, Sentence) and name not in _NAMES
    return word(str(value)) if is_word and value else value
