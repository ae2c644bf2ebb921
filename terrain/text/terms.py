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
#: Kinds of help and of stops, as forms name them.
KIND_TERMS: tuple[str, ...] = (
    N_("mechanic"), N_("fuel"), N_("water"), N_("hospital"), N_("lodging"), N_("food"),
    N_("lunch"), N_("rest"), N_("check"), N_("van"), N_("night"), N_("pinned"),
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
#: What may be said of a part that was asked about; of its riding, then of its ground.
REPLY_TERMS: dict[str, str] = {
    "keep": N_("Yes, I mean to ride it"),
    "leave": N_("No, leave it out"),
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
#: Fields of a booking that an error may name.
FIELD_TERMS: tuple[str, ...] = (
    N_("starts_on"), N_("ends_on"), N_("lang"), N_("units"), N_("rider"), N_("luggage"),
    N_("state"),
)  # fmt: skip
#: Details of a booking by their column.
DETAIL_TERMS: dict[str, str] = {
    "customer": N_("Customer"), "email": N_("Email"), "starts_on": N_("First day"),
    "ends_on": N_("Last day"), "wanted": N_("Bike wanted"), "lang": N_("The rider's language"),
    "depart": N_("Start, local time"), "rider": N_("Rider"), "luggage": N_("Luggage"),
    "pillion": N_("with a pillion"), "guided": N_("with a guide"), "remark": N_("Remark"),
}  # fmt: skip
