"""What is worth saying first: the verdict, the shares, what to know, what is not known.

Works on the report as JSON (`Report.to_dict()`), so that every output says the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from terrain.report.sections import LAND
from terrain.text.catalogue import N_
from terrain.text.translator import Translator
from terrain.values.report import Facts

GROUND_WORDS: dict[str, str] = {
    "paved": N_("paved"),
    "gravel": N_("gravel"),
    "track": N_("track"),
    "ferry": N_("ferry"),
    "unmapped": N_("not on the map"),
}
BASIS_WORDS: dict[str, str] = {
    "tagged": N_("tagged"),
    "graded": N_("graded"),
    "inferred": N_("our estimate"),
    "noted": N_("your note"),
    "unmapped": N_("not on the map"),
}
_SURE = 0.8  # from this probability on, a stretch's ground counts as settled
_GUESSED = 0.3  # share of the ride from which on the ways between points must be spoken of
_GAP_M = 400.0  # doubtful runs closer than this are told as one


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The answer in a few words.

    warning : what must be said before the setup, "" if nothing; setup : "Road setup"
    bike : "small all-rounder", "" if not judged; certainty : in words
    settle : the one thing to settle first, "" if there is none
    """

    warning: str
    setup: str
    bike: str
    certainty: str
    settle: str

    def headline(self) -> str:
        setup = self.setup + (f", {self.certainty}" if self.certainty else "") + "."
        return f"{self.warning} {setup}".lstrip()

    def lead(self, translator: Translator) -> str:
        bike = translator._("Bike: {bike}.", bike=self.bike) if self.bike else ""
        return " ".join(part for part in (bike, self.settle) if part)

    def sentence(self, translator: Translator) -> str:
        return f"{self.headline()} {self.lead(translator)}".rstrip()


def verdict(facts: Facts, translator: Translator) -> Verdict:
    """The answer to "road trip or off-road trip?"."""
    advice = facts["advice"]
    if advice is None:
        return Verdict(
            warning="", setup=_by_ground(facts, translator), bike="", certainty="",
            settle=_settle(facts, translator),
        )  # fmt: skip
    setup = advice["setup"]
    names = {
        "road": translator._("Road setup"),
        "off-road": translator._("Off-road setup"),
        "ask": translator._("Ask first: road or off-road setup is open"),
    }
    bikes = advice["bikes"]
    beyond = (advice.get("rider") or {}).get("verdict") == "beyond"
    # No bike makes a ride right for a rider it is beyond, so none is named up front.
    bike = translator.translate_term(_bike_title(bikes[0])) if bikes and not beyond else ""
    warning = ""
    if beyond:
        warning = translator._(
            "Too hard for this rider ({rider}).",
            rider=translator.translate_term(advice["rider"]["rider"]),
        )
    return Verdict(
        warning=warning,
        setup=names[setup["choice"]],
        bike=bike,
        certainty=_certainty(setup, translator),
        settle=_settle(facts, translator),
    )


def setup_lines(facts: Facts, translator: Translator) -> list[str]:
    """Why this setup, which bikes, and how it suits the rider, in a few sentences."""
    advice = facts["advice"]
    if advice is None:
        return []
    lines = [translator.translate(said) for said in advice["setup"]["reasons"][:1]]
    bikes = advice["bikes"]
    if bikes:
        ranked = [
            f"{translator.translate_term(_bike_title(bike))} ({fit_text(bike['fit'], translator)})"
            for bike in bikes[:3]
        ]
        told = ", ".join(ranked)
        if (advice.get("rider") or {}).get("verdict") == "beyond":
            lines.append(
                translator._("If it is ridden all the same, bikes by fit: {bikes}.", bikes=told)
            )
        else:
            lines.append(translator._("Bikes by fit: {bikes}.", bikes=told))
    else:
        lines.append(translator._("No bike of the fleet can do this ride as it is."))
    if advice.get("wanted"):
        lines.append(translator.translate(advice["wanted"]))
    if advice.get("rider"):
        lines.append(rider_text(advice["rider"], translator))
    return lines


def rider_text(rider: dict[str, Any], translator: Translator) -> str:
    """How the ride suits the rider, in one sentence."""
    return translator.translate(rider["text"])


# A bike's fit from 0 to 1, told in words: a figure would claim more than it knows.
_FITS = (
    (0.8, N_("fits well")),
    (0.65, N_("fits")),
    (0.5, N_("fits in part")),
    (0.0, N_("fits poorly")),
)


def fit_text(fit: float, translator: Translator) -> str:
    """How well a bike fits the trip, in words."""
    return translator._(next(text for least, text in _FITS if fit >= least))


def _bike_title(bike: dict[str, Any]) -> str:
    return str(bike.get("title") or bike["class"].replace("-", " "))


def _guessed_share(facts: Facts) -> float:
    """Share of the ride that was routed between points too far apart to show the way."""
    whole = facts["match"]["matched_m"]
    return facts["match"]["filled_m"] / whole if whole else 0.0


def _certainty(setup: dict[str, Any], translator: Translator) -> str:
    p = setup["p_off_road"]
    if p is None or setup["choice"] == "ask":
        return ""
    sure = p if setup["choice"] == "off-road" else 1 - p
    if sure >= 0.97:
        return translator._("nearly certain")
    if sure >= 0.9:
        return translator._("very likely right")
    if sure >= 0.75:
        return translator._("likely right")
    return translator._("not certain")


def _by_ground(facts: Facts, translator: Translator) -> str:
    shares = facts["ground"]["shares"]
    if any(shares[kind] is None for kind in LAND):
        return translator._("No part of the route lies on a mapped road")
    off = shares["gravel"]["high"] + shares["track"]["high"]
    if off < 0.02:
        return translator._("Paved all the way, by the map")
    if shares["track"]["best"] >= 0.5:
        return translator._("Mostly track")
    if shares["paved"]["low"] >= 0.5:
        return translator._("Mostly paved road")
    if shares["paved"]["high"] < 0.5:
        return translator._("Mostly unpaved")
    return translator._("About half paved, half unpaved")


# Questions of the advice whose answer may change the setup.
DECIDING = (
    "which-way", "which-ways", "send-track", "ride-this-run", "which-ground", "which-one",
    "which-any", "which-parts", "which-parts-many", "which-parts-good", "which-parts-bad",
    "skip-this-run",
)  # fmt: skip


def _settle(facts: Facts, translator: Translator) -> str:
    for question in (facts["advice"] or {}).get("questions", []):
        if question["code"] in (*DECIDING, "rider-below-run"):
            return translator._(
                "To settle first: {question}", question=translator.after_colon(question)
            )
    firm = facts["advice"] is not None and facts["advice"]["setup"]["choice"] != "ask"
    if _guessed_share(facts) >= _GUESSED and not firm:
        return translator._(
            "To settle first: send the plan as a track; {length} of it lie between points too far "
            "apart to show the road.",
            length=translator.distance(facts["match"]["filled_m"]),
        )
    run = doubtful_run(facts)
    if run is None or _decided(facts):
        return ""
    from_m, to_m = run
    place, length, where = (
        near_place(facts, from_m),
        translator.distance(to_m - from_m),
        translator.km_mark(from_m),
    )
    if facts["advice"] is None:
        return translator._("Least known: the {length} from {where}.", length=length, where=where)
    near = translator._(", near {place}", place=place) if place else ""
    if facts["advice"]["setup"]["choice"] == "ask":
        return translator._(
            "To settle first: the {length} from {where}{near}.",
            length=length, where=where, near=near,
        )  # fmt: skip
    return translator._(
        "Least known, though it does not change the answer: the {length} from {where}{near}.",
        length=length, where=where, near=near,
    )  # fmt: skip


def _decided(facts: Facts) -> bool:
    """Whether the desk has decided, so that no doubt is left to settle."""
    advice = facts["advice"] or {}
    return bool(advice.get("edited")) and advice["setup"]["choice"] != "ask"


def doubtful_run(facts: Facts) -> tuple[float, float] | None:
    """The longest run whose ground is not settled, if it is long enough to matter."""
    best: tuple[float, float] | None = None
    run: tuple[float, float] | None = None
    for s in facts["stretches"]:
        doubtful = s["ground"] == "unmapped" or (
            s["p"] is not None and max(s["p"].values()) < _SURE
        )
        if not doubtful:
            continue
        joined = run is not None and s["from_m"] - run[1] <= _GAP_M
        run = (run[0] if run is not None and joined else s["from_m"], s["to_m"])
        if best is None or run[1] - run[0] > best[1] - best[0]:
            best = run
    if best is None:
        return None
    length = facts["route"]["length_m"]
    return best if best[1] - best[0] >= max(1000.0, 0.02 * length) else None


def near_place(facts: Facts, at_m: float, within_m: float = 8000.0) -> str:
    """The name of the place the ride passes nearest to a position; "" if none is near."""
    places = [p for p in facts.get("places", []) if abs(p["at_m"] - at_m) <= within_m]
    if not places:
        return ""
    return str(min(places, key=lambda p: abs(p["at_m"] - at_m))["name"])


def share_lines(facts: Facts, translator: Translator) -> list[tuple[str, str]]:
    """(ground, share with its interval) for the three grounds; empty if there are none."""
    shares = facts["ground"]["shares"]
    known = {kind: shares[kind] for kind in LAND if shares[kind] is not None}
    return [
        (translator._(GROUND_WORDS[kind]), text)
        for kind, text in translator.intervals(known).items()
    ]


def shares_in_words(facts: Facts, translator: Translator) -> str:
    """How sure the shares are, in one sentence."""
    shares = facts["ground"]["shares"]
    if any(shares[kind] is None for kind in LAND):
        return translator._("No mapped road, so no shares.")
    wide = max(shares[kind]["high"] - shares[kind]["low"] for kind in LAND)
    basis = facts["ground"]["basis"]
    known = basis["tagged"] + basis["graded"] + basis["noted"]
    rests = translator._("{share} of it is told by the map", share=translator.percent(known))
    if _guessed_share(facts) >= _GUESSED:
        return translator._(
            "The shares allow for other ways between the points: {rests}.", rests=rests
        )
    if wide <= 0.2 and known < 0.5:
        # A narrow interval about a guess is a confident guess, not knowledge.
        return translator._("The shares are our estimate: only {rests}.", rests=rests)
    if wide <= 0.06:
        return translator._("The shares are well known: {rests}.", rests=rests)
    if wide <= 0.2:
        return translator._("The shares are fairly well known: {rests}.", rests=rests)
    return translator._("The shares are uncertain: only {rests}.", rests=rests)


def not_known(facts: Facts, translator: Translator) -> list[str]:
    """What the report cannot say, in sentences."""
    return translator.translate_all(item["why"] for item in facts["not_known"])


def ground_at(facts: Facts, at_m: float) -> str:
    """The ground at a position of the ride."""
    for s in facts["stretches"]:
        if s["from_m"] <= at_m < s["to_m"]:
            return str(s["ground"])
    return str(facts["stretches"][-1]["ground"])
