"""Every sentence of advice, in one place, with its numbers left open.

A sentence is found by its code; `terrain.text.message` says how its numbers are shown. Words
among the numbers are fixed phrases, told in the language of the report; names stand as they are.
"""

from __future__ import annotations

from terrain.text.catalogue import N_
from terrain.text.message import Message, Number, message, term
from terrain.values.advice import SPOT_LAWS, AdviceItem, LawKind

_NAMES = ("named", "near", "span")  # texts among the numbers that are names

MESSAGES: dict[str, str] = {
    # setup
    "setup-road": N_(
        "Road setup: counted by how hard it is, {off_s} of {ride_s} riding is off-road "
        "({off_share}). Even if doubtful ground turns out for the worse it stays {worst_share}; "
        "we advise off-road setup from {limit_share}."
    ),
    "setup-road-short": N_(
        "Road setup: what there is off the tarmac is ridden in a minute, too little to fit a bike "
        "out for."
    ),
    "setup-off-road": N_(
        "Off-road setup: counted by how hard it is, {off_s} of {ride_s} riding is "
        "off-road ({off_share}). Even if doubtful ground turns out for the better it stays "
        "{best_share}; we advise off-road setup from {limit_share}."
    ),
    "setup-hard": N_("Off-road setup: {hard_s} of riding is on ground that road tyres cannot do."),
    "setup-ask": N_(
        "Open: counted by how hard it is, {off_share} of the riding is off-road, but it "
        "may be {best_share} or {worst_share}: the map does not settle it. We advise "
        "off-road setup from {limit_share}."
    ),
    "setup-ask-off-road": N_(
        "Open, but most likely off-road setup ({p_share}): counted by how hard "
        "it is, {off_share} of the riding is off-road, but it may be {best_share} or "
        "{worst_share}: "
        "the map does not settle it. We advise off-road setup from {limit_share}."
    ),
    "setup-ask-road": N_(
        "Open, but most likely road setup ({p_share}): counted by how hard it is, "
        "{off_share} of the riding is off-road, but it may be {best_share} or {worst_share}: the "
        "map "
        "does not settle it. We advise off-road setup from {limit_share}."
    ),
    "setup-close": N_(
        "Open: counted by how hard it is, off-road riding is {off_share} of the time, "
        "too close to the limit of {limit_share} to call."
    ),
    "setup-guessed": N_(
        "Open: {guessed_m} of {length_m} lie between points too far apart to show the "
        "way. If it goes as we guessed: {as_guessed}."
    ),
    "any-way": N_(
        "It stays so whichever way you go between the points of the file, unless by one that "
        "is unlikely on this map: {guessed_m} of {length_m} lie between points far apart."
    ),
    "setup-nothing": N_("Open: nothing is known of the ground."),
    "setup-road-paved": N_("Road setup: nearly all of the {ride_s} of riding is on paved road."),
    "off-road-run": N_("{run_m} of {ground} from {from_at_m}{near}, about {run_s} of riding."),
    "off-road-run-severity": N_(
        "{run_m} of {ground} from {from_at_m}{near}, about {run_s} of riding, "
        "severity up to {severity} of 5."
    ),
    "doubt-run": N_("{run_m} from {from_at_m}{near} may be {grounds}: {evidence}."),
    "ask-else": N_("If nobody can say: mixed tyres, and a bike that can do either."),
    "ask-none": N_(
        "Nobody may leave it open: no bike that may go takes mixed tyres. Settle it before the "
        "booking."
    ),
    "ask-bikes": N_(
        "If it turns out a road trip: the {road}. If an off-road trip: the {dirt}. If nobody can "
        "say: mixed tyres, and the {either}."
    ),
    "season-weight": N_("{soft_m} of it softens in the rain of that time and counts for more."),
    "setup-usual": N_(
        "The setup follows the ground, so these are the times of a steady rider alone, {usual_s} "
        "in all; this ride takes about {ride_s}."
    ),
    # what would change it
    "flip-as-guessed": N_(
        "If the {guessed_s} of riding between far-apart points go as we guessed."
    ),
    "flip-skip": N_("If the {run_m} from {from_at_m}{near} are left out."),
    "flip-better": N_("If the {run_m} from {from_at_m}{near} turn out {ground}."),
    "flip-worse": N_("If the {run_m} from {from_at_m}{near} turn out {ground}."),
    "flip-map-wrong": N_(
        "If the map is wrong and the {run_m} from {from_at_m}{near} are {ground}."
    ),
    "flip-all-better": N_("If all {n_parts} doubtful parts, {run_m}, turn out for the better."),
    "flip-all-worse": N_("If all {n_parts} doubtful parts, {run_m}, turn out for the worse."),
    "flip-more": N_(
        "If off-road riding, counted by how hard it is, were {limit_s} or more instead of {off_s}."
    ),
    "flip-less": N_(
        "If off-road riding, counted by how hard it is, were under {limit_s} instead of {off_s}."
    ),
    # pressures
    "pressure-road": N_("Tyre pressure as the maker says; check it cold."),
    "pressure-light": N_(
        "On loose ground {low_bar:n} to {high_bar} for the {bike}; pump up before tarmac."
    ),
    "pressure-heavy": N_(
        "On loose ground not below {low_bar} for the {bike}, heavy or loaded as it "
        "is; pump up before tarmac."
    ),
    # questions
    "send-track": N_(
        "Can you send the way as a drawn track? {guessed_m} lie between points too "
        "far apart to show it, the longest part {longest_m} from {from_at_m}{near}. If it goes "
        "as we "
        "guessed: {as_guessed}."
    ),
    "which-way": N_(
        "Which way do you go in the {run_m} from {from_at_m} to {to_at_m}{near}? Only "
        "that leaves it open. If you go as we guessed: {as_guessed}."
    ),
    "which-ways": N_(
        "Which way do you go in these parts: {parts}? Only they leave it open. If you go "
        "as we guessed: {as_guessed}."
    ),
    "ride-this-run": N_(
        "Do you mean to ride the {run_m} from {from_at_m}{near}? If not: {without}."
    ),
    "which-ground": N_(
        "Does anyone know the {run_m} from {from_at_m}{near}? If it is {better}: "
        "{if_better}. If it is {worse}: {if_worse}."
    ),
    "skip-this-run": N_(
        "Do you mean to ride the {run_m} from {from_at_m}{near}? If not: {without}."
    ),
    "rider-below-run": N_(
        "Can the ride do without the {run_m} from {from_at_m}{near}? That part is "
        "beyond this rider ({rider})."
    ),
    "how-long-riding": N_(
        "Have you ridden motorcycles for a year or more? If not, the {bike} is too much to learn "
        "on: {then}."
    ),
    "month-unknown": N_("When is the ride? {soft_m} of it is ground that rain can close."),
    "which-parts": N_(
        "Does anyone know these parts: {parts}? If all are good: {if_better}. If all "
        "are bad: {if_worse}."
    ),
    "which-parts-many": N_(
        "Does anyone know the roads of these {n_parts} parts, {run_m} in all, "
        "above all {parts}? If they are good: {if_better}. If they are bad: {if_worse}."
    ),
    "which-one": N_(
        "Does anyone know the {parts}? If it is {ground}: {then}. If not: mixed tyres."
    ),
    "which-any": N_(
        "Does anyone know these parts: {parts}? If one of them is {ground}: {then}. If "
        "none is: mixed tyres."
    ),
    "which-parts-good": N_(
        "Does anyone know these parts: {parts}? If all are good: {then}. Otherwise: mixed tyres."
    ),
    "which-parts-bad": N_(
        "Does anyone know these parts: {parts}? If all are bad: {then}. Otherwise: mixed tyres."
    ),
    # exclusions
    "new-rider": N_(
        "Too much for a person new to motorcycles: {mass_kg} and {power_kw}; at most {limit_kg} "
        "and {limit_kw}."
    ),
    "rider-below-class": N_("It asks for this rider at least: {needed}. This rider is: {rider}."),
    "no-seat": N_("No seat for a pillion."),
    "payload": N_("Two people and luggage weigh about {load_kg}; it may carry {payload_kg}."),
    "payload-one": N_("Rider and luggage weigh about {load_kg}; it may carry {payload_kg}."),
    "range": N_(
        "Gets {range_m} with the reserve kept; the longest way between pumps is {gap_m}, from "
        "{from_at_m}."
    ),
    "motorway-ban": N_(
        "{motorway_m} of motorway, where engines under {limit_cc} are kept off in many "
        "countries; local law decides."
    ),
    "too-rough-road": N_(
        "{run_m} too rough for a bike for roads only, at worst {tag} from {from_at_m}{near}."
    ),
    "too-rough-dual": N_(
        "{run_m} of ground for heavy off-road vehicles, at worst {tag} from "
        "{from_at_m}{near}; on a bike of this kind only for an expert."
    ),
    # for and against a bike
    "suits-tarmac": N_("At home on the {paved_s} of tarmac."),
    "suits-dirt": N_("Light and able enough for the {dirt_s} off tarmac."),
    "copes-dirt": N_("Copes with the {dirt_s} off tarmac."),
    "dull-tarmac": N_("Less comfortable on the {paved_s} of tarmac than a road bike."),
    "short-dirt": N_(
        "Out of its depth on {hard_s} of the riding, worst from {from_at_m} to {to_at_m}."
    ),
    "hard-work": N_("Hard work on {hard_s} of hard ground, worst from {from_at_m}."),
    "heavy-dirt": N_("Heavy ({mass_kg}) for the {dirt_s} off tarmac."),
    "low-clearance": N_(
        "Little ground clearance ({clearance_mm}) for {hard_s} of hard ground, worst "
        "from {from_at_m}."
    ),
    "asks-little": N_("Asks little of the rider."),
    "asks-much": N_("Asks much of this rider ({rider})."),
    "easy-repair": N_(
        "Parts are {parts} and it is {repair} to mend, up to {far_s} from its nearest help."
    ),
    "hard-repair": N_(
        "Parts are {parts} and it is {repair} to mend, up to {far_s} from its nearest "
        "help (at {here_at_m})."
    ),
    "no-kick-start": N_(
        "No kick start: an electrical fault strands it, up to {far_s} from its nearest help."
    ),
    "no-help-known": N_(
        "Parts are {parts}, and nobody who mends this class is named by the operator."
    ),
    "reliable": N_("Seldom breaks down or falls."),
    "unreliable": N_("Breaks down or falls more often than others."),
    "reliable-rate": N_("Few incidents: {rate_share} of rentals ({basis})."),
    "unreliable-rate": N_("More incidents: {rate_share} of rentals ({basis})."),
    "motorway": N_("{motorway_m} of motorway or fast road, which it does not like."),
    "motorway-good": N_("At ease on {motorway_m} of motorway or fast road."),
    "fan-works": N_(
        "Engine heat is high ({why}), above all from {from_at_m}: it depends on its fan."
    ),
    "no-fan": N_("Engine heat is high ({why}), above all from {from_at_m}, and it has no fan."),
    "range-tight": N_(
        "Range {range_m} against {gap_m} between pumps from {from_at_m}: fill up at every pump."
    ),
    "range-carry": N_(
        "Range {range_m} against {gap_m} between pumps from {from_at_m}: carry {carry_l} of fuel."
    ),
    "range-good": N_("Range {range_m} is ample for {gap_m} between pumps."),
    "luggage-not": N_("Does not take {luggage}; soft bags instead."),
    "two-up-slow": N_("Two up on {dirt_s} off tarmac is hard on bike and pillion."),
    "thin-air": N_("At {max_ele_m}, {here_at_m}, the engine has about {power_share} of its power."),
    "no-tyres": N_("Cannot be fitted with {tyres} tyres."),
    # what was asked for
    "wanted-fits": N_("The {wanted} asked for fits best."),
    "wanted-only": N_("The {wanted} asked for is the only bike of the fleet that may go."),
    "wanted-poor": N_(
        "The {wanted} asked for may go, but suits this ride badly, and nothing in the fleet suits "
        "it better: another route, a lighter load, a guide, or a bike from elsewhere."
    ),
    "wanted-tyres": N_(
        "The {wanted} asked for cannot take the {tyres} tyres that this ride asks for; the "
        "{better} can."
    ),
    "wanted-near": N_(
        "The {wanted} asked for fits nearly as well as the {better}: either will do."
    ),
    "wanted-other": N_(
        "The {wanted} asked for is not the best fit: the {better} suits this ride better."
    ),
    "wanted-excluded": N_("The {wanted} asked for must not go. {why}"),
    "wanted-unknown": N_("There is no class {wanted} in the fleet."),
    # rider
    "rider-within": N_("Within what this rider ({rider}) is at ease with."),
    "rider-within-guided": N_(
        "Within what this rider ({rider}) can do with the guide's help in falls, at fords and "
        "with the clutch; too much alone."
    ),
    "rider-stretching-guided": N_(
        "Stretches this rider ({rider}) with the guide's help in falls, at fords and with the "
        "clutch, and is too much alone: say so before they book."
    ),
    "rider-stretching": N_("Stretches this rider ({rider}): say so before they book."),
    "rider-beyond-guided": N_(
        "Beyond this rider ({rider}), with a guide too: another route, or more experience first."
    ),
    "rider-beyond": N_(
        "Beyond this rider ({rider}): another route, or a guide and more experience first."
    ),
    "beyond-ground": N_(
        "{run_s} of ground too hard for this rider, up to severity {severity} of 5; "
        "the longest part from {from_at_m}{near}."
    ),
    "stretch-ground": N_(
        "{run_s} of ground that stretches this rider, up to severity {severity} of "
        "5; the longest part from {from_at_m}{near}."
    ),
    "beyond-off-road": N_("{off_s} of off-road riding in one day, counted by how hard it is."),
    "loose-climb": N_(
        "A loose climb or descent of {grade_pct} over {run_m}, from {from_at_m}{near}; "
        "{steep_m} of {limit_pct} or more in all."
    ),
    "loose-climb-one": N_(
        "A loose climb or descent of {grade_pct} over {run_m}, from {from_at_m}{near}."
    ),
    "sand": N_("{sand_s} of sand, the first from {from_at_m}{near}."),
    "fords": N_("{n_fords} fords, the first at {first_at_m}{near}."),
    "ford-one": N_("A ford at {first_at_m}{near}."),
    "long-day": N_("{day_s} of riding in the longest day, stops not counted."),
    "altitude": N_(
        "Up to {max_ele_m} at {here_at_m}{near}, {rise_ele_m} above the start: risk of "
        "altitude sickness for who stays above {risk_ele_m}; from low ground do not sleep above "
        "{day_ele_m} on the first day."
    ),
    "heat-rider-felt": N_(
        "Hot for the rider: up to {max_air_c} in the shade, felt as "
        "{max_heat_index_c}, at {hot_at_m}{near}."
    ),
    "heat-rider-sun": N_(
        "Up to {max_air_c} in the shade, at {hot_at_m}{near}; who stops in the sun or goes at "
        "walking pace in full gear is under strain (heat stress index, WBGT, up to {max_wbgt_c})."
    ),
    "heat-rider-stress": N_(
        "Heat stress for the rider: up to {max_air_c} in the shade, felt as {max_heat_index_c}, at "
        "{hot_at_m}{near}; for {over_s}, even in the wind of riding, the heat stress index (WBGT, "
        "up to {riding_wbgt_c}) is above what {whom} bear at such work (ISO 7243)."
    ),
    "heat-rider-stop": N_(
        "Heat stress for the rider: up to {max_air_c} in the shade, felt as "
        "{max_heat_index_c}, at {hot_at_m}{near}; even in the wind of riding a heat stress index "
        "(WBGT) of {riding_wbgt_c}, at which all exercise should stop: ride early or on another "
        "day."
    ),
    "pillion-off-road": N_("A pillion on {off_s} of off-road riding, counted by how hard it is."),
    "pillion-new": N_("A pillion with a person new to motorcycles."),
    "soft-season": N_(
        "{soft_m} of ground that the season may have softened or closed, the first at "
        "{first_at_m}{near}."
    ),
    # cautions
    "beyond-rider": N_("This ride is beyond this rider ({rider}) on any bike."),
    "beyond-rider-part": N_(
        "The {run_m} from {from_at_m}{near} are beyond this rider ({rider}) on "
        "any bike: leave them out or go round."
    ),
    "impassable": N_(
        "Tagged as impassable for any wheels: {run_m} from {from_at_m}{near}. Go round, "
        "or ask somebody who has been there."
    ),
    "heat-no-riding": N_(
        "Too hot to ride safely: up to {max_air_c} in the shade, at {hot_at_m}"
        "{near}. Even the wind of riding cools too little then: start early enough to be through "
        "before, or go on another day."
    ),
    "no-class-fits": N_(
        "No class of the fleet can do this ride as it is. What would help: {helps}."
    ),
    "unmapped": N_(
        "{unmapped_m} fit no mapped way, or none in the direction drawn, the longest part from "
        "{from_at_m}{near}: its ground is not known."
    ),
    "poor-fit": N_("No bike of the fleet suits this ride well; the best is the {bike}."),
    "poor-fit-load": N_(
        "With this load no bike of the fleet suits this ride well; the best is "
        "the {bike}. Without the pillion or with less luggage others could go: {others}."
    ),
    "season-doubtful": N_(
        "{soft_m} of earth roads in a wet month, the first at {first_at_m}{near}: "
        "may be impassable after rain."
    ),
    "season-confirm": N_(
        "{soft_m} of soft ground in a month of heavy rain, the first at "
        "{first_at_m}{near}: take it as shut until somebody local says it is open."
    ),
    "season-snow": N_(
        "{soft_m} that snow may close in that month, the first at {first_at_m}{near}: "
        "take it as shut until somebody local says it is open."
    ),
    "season-frost": N_(
        "{soft_m} of road made for frost, the first at {first_at_m}{near}: take it as "
        "gone without frost until somebody local says it is open."
    ),
    "season-tagged": N_(
        "{soft_m} tagged as open at some season only, the first at {first_at_m}"
        "{near}: ask whether it is open then."
    ),
    "ford-how": N_("Fords: walk them first; not above the axle, nor when rising, brown or unseen."),
    "remote": N_(
        "Up to {far_s} ({far_m}) by road from the nearest mechanic, at {here_at_m}{near}: "
        "carry tools and spares, and know how to use them."
    ),
    "care-far": N_("Up to {care_s} by road from the nearest hospital, at {here_at_m}{near}."),
    "care-far-ferry": N_(
        "Up to {care_s} from the nearest hospital, at {here_at_m}{near}, with a ferry: its hours "
        "and the wait come on top."
    ),
    "help-unknown": N_("No mechanic is mapped that can be reached by road: take help as far."),
    "heat-how": N_("Drink before you are thirsty; stop where there is shade and wind."),
    "heat-used": N_(
        "Heat is judged for people used to it, as riders are who live there. Who comes from a "
        "cooler place needs one to two weeks: take the first days easy."
    ),
    "gear-heat": N_(
        "Above {limit_c} full gear heats the body without end: rest often, ride early."
    ),
    "fan-depends": N_(
        "Engine heat is high ({why}), above all from {from_at_m}{near}: only the fan cools the "
        "engine there ({classes})."
    ),
    "clutch-hot": N_(
        "The clutch gets hot on the {run_m} from {from_at_m}{near}: steep and loose at walking "
        "pace, about {hot_s}."
    ),
    "clutch-how": N_(
        "On such parts: first gear, no slipping clutch; stop and let it cool before it smells."
    ),
    "clutch-contract": N_("A burnt clutch counts as yours in most rental contracts."),
    "dark": N_("No tracks at night; plan to arrive an hour before dusk."),
    "not-leave": N_("A line on a map is not permission to ride: signs and local people decide."),
    "insurance": N_("Insurance and rental cover often end where the road does: get it in writing."),
    "zones": N_(
        "Military and protected areas are listed as far as the map has them; some may be "
        "missing. Ask before you go: permits, an escort or a fixed circuit may be required."
    ),
    "zones-unread": N_(
        "Military, border and protected areas are not looked up: only ways tagged as "
        "closed or private, and mapped border posts, are listed. Ask before you go; permits, an "
        "escort "
        "or a fixed circuit may be required."
    ),
    "licence": N_(
        "The licence must cover the class ridden; abroad an international permit may be "
        "asked for beside it. Local law decides."
    ),
    "undated": N_("No date of travel is given: neither heat nor season counts in this advice."),
    "estimates": N_(
        "Times, ground and distances to help are estimates from open data; climate means "
        "are not a forecast."
    ),
    # law
    "closed": N_("Tagged as closed to motorcycles: {run_m} from {from_at_m}{named}."),
    "private": N_("Private, or by permit only: {run_m} from {from_at_m}{named}."),
    "destination": N_("No through traffic: {run_m} from {from_at_m}{named}."),
    "no-motor-road": N_(
        "A path or cycleway, not open to motors unless signed: {run_m} from {from_at_m}{named}."
    ),
    "toll": N_("Toll: {run_m} from {from_at_m}{named}."),
    "conditional": N_("Open at times or to some only: {run_m} from {from_at_m}{named}."),
    "construction": N_(
        "Under construction or only planned by the map: {run_m} from {from_at_m}"
        "{named}. There may be no way through."
    ),
    "motorway-law": N_(
        "Motorway: {run_m} from {from_at_m}{named}. Several countries keep all "
        "motorcycles off it, others small ones: ask for every bike; local law decides."
    ),
    "disused": N_(
        "Tagged as abandoned, disused or gone: {run_m} from {from_at_m}{named}. It may be "
        "overgrown, blocked or no longer there: ask somebody who knows it."
    ),
    "tunnel": N_(
        "Tunnel: {run_m} from {from_at_m}{named}. The map does not say that it is lit: sunglasses "
        "off before it; it may be dark, wet and of one lane."
    ),
    "floods": N_(
        "Under water at high tide or in floods by its tags: {run_m} from {from_at_m}{named}. Ask "
        "for the hours before you go."
    ),
    "border": N_("Border at {here_at_m}{named}: papers for rider and bike; permits where asked."),
    "military": N_(
        "Military area on the map: {run_m} from {from_at_m}{named}. It may be closed: ask "
        "first, obey the signs."
    ),
    "protected": N_(
        "Protected area: {run_m} from {from_at_m}{named}. Stay on the roads; permits or a "
        "fixed circuit may apply."
    ),
    "barriers": N_("{n_spots} barriers may stop a motorcycle: at {spots_at_m}."),
    "barrier": N_("A barrier at {here_at_m}{named} may stop a motorcycle."),
    # the runs of a kind that are not told one by one; each follows those of its kind
    **{
        f"{kind.value}-more": N_(
            "As above: {n_more} more, {more_m} in all, between {first_at_m} and {last_at_m}."
        )
        for kind in LawKind
        if kind not in SPOT_LAWS
    },
    # what it rests on
    "rests-log": N_("Incident rates from {n_rentals} of your rentals."),
    "rests-log-span": N_("Incident rates from {n_rentals} of your rentals, {span}."),
    "rests-few": N_("Too few of your rentals for a rate of the {classes}: {basis}."),
    "rests-practice": N_("Incident rates of the {n_classes} classes: {basis}."),
    "rests-weights": N_("Weights of the fit table: {whose}."),
}


def advice_item(
    code: str,
    *,
    from_m: float | None = None,
    to_m: float | None = None,
    source: str = "",
    **numbers: Number,
) -> AdviceItem:
    """The sentence of a code with its numbers."""
    told = {name: _told(name, value) for name, value in numbers.items()}
    return AdviceItem(
        code=code, text=message(MESSAGES[code], **told), from_m=from_m, to_m=to_m, source=source
    )


def _told(name: str, value: Number) -> Number:
    is_word = isinstance(value, str) and not isinstance(value, Message) and name not in _NAMES
    return term(str(value)) if is_word and value else value
