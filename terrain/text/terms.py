"""Closed sets of words, each said once; every table holds English to be translated."""

from __future__ import annotations

from terrain.text.catalogue import N_

#: What a rider's form asks about experience off road, by rider.
EXPERIENCE_TERMS: dict[str, str] = {
    "novice": N_("little or none"),
    "steady": N_("some, steady on gravel"),
    "expert": N_("much, also hard tracks"),
}
#: What a rider's form asks about riding at all, by `values.trip.Riding`.
RIDING_TERMS: dict[str, str] = {
    "new": N_("less than a year"),
    "practised": N_("a year or more"),
}
#: What a rider's form asks about the kind of trip wanted, by `values.trip.Wants`.
WANTS_TERMS: dict[str, str] = {
    "road": N_("a road trip"),
    "off-road": N_("an off-road trip"),
    "open": N_("no idea, or both"),
}
#: Luggage in a rider's form.
BAG_TERMS: dict[str, str] = {
    "none": N_("none"), "soft": N_("soft bags"), "boxes": N_("hard boxes"),
}  # fmt: skip
RIDER_TERMS: tuple[str, ...] = (N_("novice"), N_("steady"), N_("expert"))
LUGGAGE_TERMS: tuple[str, ...] = (N_("none"), N_("soft"), N_("boxes"))
ROLE_TERMS: tuple[str, ...] = (N_("guide"), N_("staff"), N_("admin"))
SETUP_TERMS: tuple[str, ...] = (N_("road"), N_("off-road"), N_("ask"))
#: Grades of severity of a note, from the easiest.
SEVERITY_TERMS: tuple[str, ...] = (
    N_("smooth"), N_("easy"), N_("loose"), N_("rough"), N_("hard"), N_("extreme"),
)  # fmt: skip
#: Kinds of help, as forms name them.
KIND_TERMS: tuple[str, ...] = (
    N_("mechanic"), N_("fuel"), N_("water"), N_("hospital"), N_("lodging"), N_("food"),
)  # fmt: skip
#: Who or what a history names.
ACTOR_TERMS: tuple[str, ...] = (N_("rider"), N_("desk"))
#: Where a booking stands, by its state.
STATE_TERMS: dict[str, str] = {
    "waiting": N_("waiting for route"),
    "analysed": N_("read"),
    "asked": N_("question open"),
    "replied": N_("answered by the rider"),
    "decided": N_("decided"),
    "answered": N_("sent"),
    "settled": N_("settled"),
}
#: What a rider may say of a road after the ride.
SAID_TERMS: dict[str, str] = {
    "paved": N_("paved"), "gravel": N_("gravel"), "track": N_("track"), "shut": N_("shut"),
    "not": N_("did not ride"),
}  # fmt: skip
#: The letters of the desk.
LETTER_TERMS: dict[str, str] = {"answer": N_("Report and question"), "reminder": N_("Reminder")}
#: What may be said of a part that was asked about; of its riding, then of its ground.
REPLY_TERMS: dict[str, str] = {
    "keep": N_("Yes, I mean to ride it"),
    "leave": N_("Leave it out"),
    "unsure": N_("Not sure"),
    "paved": N_("It is paved"),
    "gravel": N_("It is gravel"),
    "track": N_("It is a track"),
}
#: What is done with a route, by the step a worker is at.
STEP_TERMS: dict[str, str] = {
    "reading": N_("reading the file"),
    "judging": N_("laying it on the map, judging ground, heat and help"),
    "writing": N_("writing the report"),
}
#: Details of a booking by their column.
DETAIL_TERMS: dict[str, str] = {
    "customer": N_("Customer"), "email": N_("Email"), "starts_on": N_("First day"),
    "ends_on": N_("Last day"), "wanted": N_("Bike wanted"), "lang": N_("The rider's language"),
    "depart": N_("Start, local time"), "rider": N_("Rider"),
    "riding": N_("On motorcycles for"), "wants": N_("Wants"), "luggage": N_("Luggage"),
    "pillion": N_("with a pillion"), "guided": N_("with a guide"), "remark": N_("Remark"),
}  # fmt: skip
#: Ground, by its kind.
GROUND_TERMS: dict[str, str] = {
    "paved": N_("paved"), "gravel": N_("gravel"), "track": N_("track"), "ferry": N_("ferry"),
    "unmapped": N_("not on the map"),
}  # fmt: skip
#: What a ground rests on.
BASIS_TERMS: dict[str, str] = {
    "tagged": N_("tagged"), "graded": N_("graded"), "inferred": N_("our estimate"),
    "noted": N_("your note"), "unmapped": N_("not on the map"),
}  # fmt: skip
#: The same, in the diagram's lane.
BASIS_LANE_TERMS: dict[str, str] = {
    "tagged": N_("map"), "graded": N_("map"), "noted": N_("your note"),
    "inferred": N_("our estimate"), "unmapped": N_("not on the map"),
}  # fmt: skip
#: Classes of ways, in the plural.
ROADS_TERMS: dict[str, str] = {
    "motorway": N_("motorways"), "trunk": N_("trunk roads"), "primary": N_("primary roads"),
    "secondary": N_("secondary roads"), "tertiary": N_("tertiary roads"),
    "unclassified": N_("unclassified roads"), "residential": N_("residential streets"),
    "living_street": N_("living streets"), "service": N_("service roads"), "track": N_("tracks"),
    "path": N_("paths"), "footway": N_("footways"), "cycleway": N_("cycleways"),
    "bridleway": N_("bridleways"), "pedestrian": N_("pedestrian streets"),
    "steps": N_("steps"),
}  # fmt: skip
#: A road by its class.
ROAD_TERMS: dict[str, str] = {
    "motorway": N_("motorway"), "trunk": N_("trunk road"), "primary": N_("primary road"),
    "secondary": N_("secondary road"), "tertiary": N_("tertiary road"),
    "unclassified": N_("minor road"), "residential": N_("street"), "living_street": N_("street"),
    "service": N_("service road"), "track": N_("farm or forest way"), "path": N_("path"),
    "road": N_("road of unknown class"), "steps": N_("steps"),
}  # fmt: skip
#: What a tracktype says.
GRADE_TERMS: dict[str, str] = {
    "grade1": N_("solid"), "grade2": N_("mostly solid"),
    "grade3": N_("an even mix of hard and soft"), "grade4": N_("mostly soft"),
    "grade5": N_("nothing but soft"),
}  # fmt: skip
#: Surfaces of the map, by their tag; those that riders need not tell apart share a word.
SURFACE_TERMS: dict[str, str] = {
    "asphalt": N_("asphalt"), "tarmac": N_("asphalt"), "bitumen": N_("asphalt"),
    "concrete": N_("concrete"), "concrete:plates": N_("concrete slabs"),
    "concrete:lanes": N_("two concrete strips"), "paved": N_("paved"),
    "chipseal": N_("asphalt with chippings"), "paving_stones": N_("paving stones"),
    "paving_stones:lanes": N_("two paved strips"), "bricks": N_("bricks"), "brick": N_("bricks"),
    "interlock": N_("paving stones"), "sett": N_("cobbles"), "cobblestone": N_("cobbles"),
    "cobblestone:flattened": N_("cobbles"), "portuguese_pavement": N_("cobbles"),
    "unhewn_cobblestone": N_("rough cobbles"), "grass_paver": N_("grass pavers"),
    "metal": N_("metal"), "metal_grid": N_("metal grid"), "wood": N_("planks"),
    "tiles": N_("tiles"), "stone:plates": N_("stone slabs"), "compacted": N_("compacted gravel"),
    "fine_gravel": N_("fine gravel"), "gravel": N_("gravel"), "shells": N_("shells"),
    "chippings": N_("chippings"), "crushed_limestone": N_("crushed stone"),
    "laterite": N_("laterite"), "unpaved": N_("not paved"), "pebblestone": N_("pebbles"),
    "rock": N_("rock"), "rocky": N_("rock"), "bare_rock": N_("rock"), "stone": N_("stones"),
    "scree": N_("scree"), "ground": N_("bare ground"), "natural": N_("bare ground"),
    "dirt": N_("earth"), "earth": N_("earth"), "soil": N_("earth"),
    "dirt/sand": N_("earth and sand"), "clay": N_("clay"), "woodchips": N_("wood chips"),
    "acrylic": N_("plastic"), "rubber": N_("rubber"), "grass": N_("grass"),
    "sand": N_("sand"), "mud": N_("mud"), "snow": N_("snow"),
    "ice": N_("ice"), "salt": N_("salt"),
}  # fmt: skip
#: How even a way is, by its smoothness tag (OSM wiki, Key:smoothness).
EVENNESS_TERMS: dict[str, str] = {
    "excellent": N_("very even"), "good": N_("even"), "intermediate": N_("fairly even"),
    "bad": N_("uneven"), "very_bad": N_("rough"), "horrible": N_("very rough"),
    "very_horrible": N_("extremely rough"), "impassable": N_("impassable on wheels"),
}  # fmt: skip
#: How sure a setup is.
SURENESS_TERMS: dict[str, str] = {
    "nearly-certain": N_("nearly certain"), "very-likely": N_("very likely right"),
    "likely": N_("likely right"), "not-certain": N_("not certain"),
}  # fmt: skip
#: Ranks of findings.
RANK_TERMS: dict[str, str] = {
    "forbidden": N_("forbidden"), "danger": N_("danger"), "care": N_("care"), "note": N_("note"),
}  # fmt: skip
#: What endangers a ride, by the kinds of findings that may.
DANGER_TERMS: dict[str, str] = {
    "closed": N_("closures"), "dark": N_("darkness"), "heat": N_("heat"),
    "season": N_("roads the season may shut"), "remote": N_("far from help"),
    "hard": N_("hard riding"), "fuel": N_("fuel"), "steep": N_("steep ground"),
    "cold": N_("cold"), "water": N_("water on the way"), "ferry": N_("ferries"),
}  # fmt: skip
#: How a ride fits its rider.
FIT_TERMS: dict[str, str] = {
    "within": N_("within"), "stretching": N_("a stretch"), "beyond": N_("too hard"),
}  # fmt: skip
#: A rider, by experience.
RIDER_NAME_TERMS: dict[str, str] = {
    "novice": N_("novice rider"), "steady": N_("steady rider"), "expert": N_("expert rider"),
}  # fmt: skip
#: What a rider wants of the trip.
WANTS_NAME_TERMS: dict[str, str] = {
    "road": N_("wants a road trip"), "off-road": N_("wants an off-road trip"),
    "open": N_("open to road or off-road"),
}  # fmt: skip
#: What is carried.
LOAD_TERMS: dict[str, str] = {
    "none": N_("no luggage"), "soft": N_("soft luggage"), "boxes": N_("boxes"),
}  # fmt: skip
#: Tyres.
TYRES_TERMS: dict[str, str] = {
    "road": N_("road tyres"), "mixed": N_("mixed tyres"), "block": N_("block tyres"),
}  # fmt: skip
#: How hot an engine gets.
CONCERN_TERMS: dict[str, str] = {
    "low": N_("low"), "medium": N_("middling"), "high": N_("high"),
}  # fmt: skip
#: What makes it hot.
CAUSE_TERMS: dict[str, str] = {
    "standing": N_("standing with the engine on"), "walking-pace": N_("walking pace"),
    "climb": N_("climbs"), "soft-ground": N_("loose ground"), "hot-air": N_("hot air"),
    "little-coolant": N_("little coolant for its power"),
    "grades-unknown": N_("climbs are not known"),
}  # fmt: skip
#: How easily parts are found.
PARTS_TERMS: dict[str, str] = {
    "common": N_("common"), "fair": N_("found in larger towns"), "rare": N_("rare"),
}  # fmt: skip
#: How easily a bike is mended.
REPAIR_TERMS: dict[str, str] = {
    "easy": N_("easy"), "fair": N_("neither easy nor hard"), "hard": N_("hard"),
}  # fmt: skip
#: What a fit is made of, by the keys of `terrain.tables.advice.WEIGHTS`.
SCORE_TERMS: dict[str, str] = {
    "ground": N_("ground"), "rider": N_("what it asks of the rider"),
    "load": N_("seats, payload, luggage"), "repair": N_("mending it far from help"),
    "reliability": N_("breakdowns and falls"), "heat": N_("engine heat"),
    "range": N_("range between pumps"),
}  # fmt: skip
#: Help and settlements, by kind.
HELP_TERMS: dict[str, str] = {
    "mechanic": N_("mechanic"), "fuel": N_("fuel"), "water": N_("water"),
    "hospital": N_("hospital"), "lodging": N_("lodging"), "food": N_("food"), "town": N_("town"),
    "city": N_("city"), "village": N_("village"), "hamlet": N_("hamlet"),
}  # fmt: skip
#: Weaker help, by kind.
WEAK_HELP_TERMS: dict[str, str] = {
    "tyres": N_("tyre shop"), "car_repair": N_("car workshop"), "clinic": N_("clinic"),
    "doctor": N_("doctor"), "pharmacy": N_("pharmacy"), "police": N_("police"),
    "lodging": N_("lodging"),
}  # fmt: skip
#: How a ride is left.
EXIT_TERMS: dict[str, str] = {
    "back": N_("by turning back"), "on": N_("by riding on"), "side": N_("by a side way"),
}  # fmt: skip
#: What a stop is for.
STOP_TERMS: dict[str, str] = {
    "fuel": N_("fuel"), "lunch": N_("lunch"), "rest": N_("rest"), "water": N_("water"),
    "check": N_("check of coolant and oil"), "van": N_("van"), "night": N_("overnight"),
    "pinned": N_("your stop"),
}  # fmt: skip
#: A setup, as a thing to fit, as a cell's value, and as the answer.
SETUP_NAME_TERMS: dict[str, str] = {
    "road": N_("road setup"), "off-road": N_("off-road setup"), "ask": N_("ask first"),
}  # fmt: skip
SETUP_VALUE_TERMS: dict[str, str] = {
    "road": N_("road"), "off-road": N_("off-road"), "ask": N_("open: ask first"),
}  # fmt: skip
SETUP_ANSWER_TERMS: dict[str, str] = {
    "road": N_("Road setup"), "off-road": N_("Off-road setup"),
    "ask": N_("Ask first: road or off-road setup is open"),
}  # fmt: skip
#: A setup that an answer would lead to.
SETUP_THEN_TERMS: dict[str, str] = {
    "road": N_("road setup"), "off-road": N_("off-road setup"), "ask": N_("still open"),
}  # fmt: skip
#: Ground at the head of a line.
GROUND_TITLE_TERMS: dict[str, str] = {
    "paved": N_("Paved"), "gravel": N_("Gravel"), "track": N_("Track"),
}  # fmt: skip
#: How a place that helps is known.
HELP_BASIS_TERMS: dict[str, str] = {
    "mapped": N_("on the map"), "inferred": N_("likely, by its size"),
    "operator": N_("the operator's own"),
}  # fmt: skip
#: Days of the week, Monday first.
WEEKDAY_TERMS: tuple[str, ...] = (
    N_("Monday"), N_("Tuesday"), N_("Wednesday"), N_("Thursday"), N_("Friday"), N_("Saturday"),
    N_("Sunday"),
)  # fmt: skip
#: Orders of the table of bookings.
SORT_TERMS: dict[str, str] = {
    "turn": N_("whose turn it is"), "date": N_("first day"),
    "age": N_("longest open question"), "changed": N_("last change"), "ref": N_("reference"),
}  # fmt: skip
#: Parts of a bike whose faults are kept.
FAULT_TERMS: dict[str, str] = {
    "fan": N_("fan"), "sensor": N_("sensor"), "coolant": N_("coolant"), "clutch": N_("clutch"),
    "other": N_("something else"),
}  # fmt: skip
