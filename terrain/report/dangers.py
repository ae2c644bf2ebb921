"""The things to know before riding: heat, remoteness, hard ground, season, light, fuel, law."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from terrain.report.findings import GROUND_WORDS, ground_at, near_place
from terrain.stages.relief.gradient import parts_on
from terrain.tables.advice import LOOSE_M
from terrain.tables.heat import Measure, levels_c
from terrain.text.plain import shortened
from terrain.text.translator import Translator
from terrain.values.report import Facts

_GAP_M = 400.0  # runs closer than this are told as one
_STEEP_PCT = 12.0
_STEEP_LOOSE_PCT = 10.0
_LOOSE = ("gravel", "track")
_HOT_AIR_C = 30.0  # common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing to know: what, where on the ride, and what to do about it.

    kind : of danger; weight : how much it matters, for the order
    from_m, to_m : None if it is the whole ride; placed : `what` says where already
    """

    kind: str
    what: str
    do: str
    weight: float
    from_m: float | None = None
    to_m: float | None = None
    placed: bool = False


def things_to_know(facts: Facts, translator: Translator, most: int = 3) -> list[Finding]:
    """The worst of all dangers, the weightiest first, each kind once."""
    chosen: list[Finding] = []
    for item in all_dangers(facts, translator):
        if item.kind not in {other.kind for other in chosen}:
            chosen.append(item)
    return chosen[:most]


def all_dangers(facts: Facts, translator: Translator) -> list[Finding]:
    """Everything found, the weightiest first."""
    found = [item for finder in _FINDERS for item in finder(facts, translator)]
    return sorted(found, key=lambda item: -item.weight)


def where_text(item: Finding, facts: Facts, translator: Translator) -> str:
    """ ", km 31 to 62, near Sandel"; empty if it is the whole ride or said."""
    if item.placed or item.from_m is None or item.to_m is None:
        return ""
    where = translator.km_range(item.from_m, item.to_m)
    if item.kind == "heat":  # the diagram shows where else it is hot
        where = translator._("hottest at {where}", where=where)
    text = f", {where}"
    place = near_place(facts, (item.from_m + item.to_m) / 2)
    return text + (translator._(", near {place}", place=shortened(place, 40)) if place else "")


def _steep(facts: Facts, translator: Translator) -> list[Finding]:
    """The steepest 100 m of all, and the steepest ramp on loose ground, as the advice has it."""
    relief = facts["relief"]
    if not relief or not relief["steepest"]:
        return []
    rows = relief["steepest"]
    sure = [row for row in rows if not row.get("doubtful")]
    found = [item for row in sure[:1] if (item := _steep_at(row, facts, translator)) is not None]
    loose = _loose_ramp(facts)
    if loose is not None:
        found.append(_ramp(*loose, ground_at(facts, (loose[0] + loose[1]) / 2), translator))
    if found or sure:
        return found
    worst = max(rows, key=lambda row: abs(row["grade_pct"]))
    if abs(worst["grade_pct"]) < _STEEP_LOOSE_PCT:
        return []
    if worst.get("void"):
        return [_no_heights(worst, translator)]
    item = _steep_at(worst, facts, translator)
    if item is None:
        return []
    what = translator._("{what} by the elevation model, likely too much", what=item.what)
    return [replace(item, what=what, weight=item.weight * 10.0 / abs(worst["grade_pct"]))]


def _steep_at(row: dict[str, Any], facts: Facts, translator: Translator) -> Finding | None:
    from_m, to_m, grade = row["from_m"], row["to_m"], abs(row["grade_pct"])
    ground = ground_at(facts, (from_m + to_m) / 2)
    if ground in _LOOSE and "ramps" in facts["relief"]:
        return None  # told by its ramp
    least = _STEEP_LOOSE_PCT if ground in _LOOSE else _STEEP_PCT
    return _ramp(from_m, to_m, grade, ground, translator) if grade >= least else None


def _ramp(from_m: float, to_m: float, grade: float, ground: str, translator: Translator) -> Finding:
    loose = ground in _LOOSE
    figure, length = translator.number(grade), translator.distance(to_m - from_m)
    what = translator._("Steep: {grade} % over {length}", grade=figure, length=length)
    if loose:
        what = translator._(
            "Steep on {ground}: {grade} % over {length}",
            ground=translator._(GROUND_WORDS[ground]),
            grade=figure,
            length=length,
        )
    return Finding(
        kind="steep",
        what=what,
        do=translator._("Low gear, no stop on the ramp."),
        weight=min(grade, 25) / 20 * (1.6 if loose else 0.8),
        from_m=from_m,
        to_m=to_m,
    )


def _no_heights(row: dict[str, Any], translator: Translator) -> Finding:
    return Finding(
        kind="steep",
        what=translator._("Heights are missing here: how steep it is is not known"),
        do=translator._("Ask somebody who has ridden it."),
        weight=0.4,
        from_m=row["from_m"],
        to_m=row["to_m"],
    )


def _loose_ramp(facts: Facts) -> tuple[float, float, float] | None:
    """The steepest ramp on loose ground: from, to [m], steepness [%]; None if there is none."""
    ramps = facts["relief"].get("ramps", [])
    sure = [(r["from_m"], r["to_m"], r["grade_pct"]) for r in ramps if not r.get("doubtful")]
    spans = [(s["from_m"], s["to_m"]) for s in facts["stretches"] if s["ground"] in _LOOSE]
    steep = [p for p in parts_on(sure, spans, LOOSE_M) if p[2] >= _STEEP_LOOSE_PCT]
    return max(steep, key=lambda part: part[2], default=None)


def _hard(facts: Facts, translator: Translator) -> list[Finding]:
    """The longest hard run and the longest run of track; the weightier will be told."""
    found = []
    hard = _runs(facts, lambda s: (s["severity"] or 0) >= 4)
    if hard and max(map(_length, hard)) >= 300:
        from_m, to_m = max(hard, key=_length)
        found.append(
            Finding(
                kind="hard",
                what=translator._(
                    "{length} of hard riding in one piece",
                    length=translator.distance(to_m - from_m),
                ),
                do=translator._(
                    "Only for riders used to it; ask how it is now, ride it in daylight."
                ),
                weight=1.8 + (to_m - from_m) / 10_000,
                from_m=from_m,
                to_m=to_m,
            )
        )
    tracks = _runs(facts, lambda s: s["ground"] == "track")
    if tracks and max(map(_length, tracks)) >= 300:
        from_m, to_m = max(tracks, key=_length)
        found.append(
            Finding(
                kind="hard",
                what=translator._(
                    "{length} of track in one piece", length=translator.distance(to_m - from_m)
                ),
                do=translator._("Ask how it is now; ride it in daylight."),
                weight=1.0 + (to_m - from_m) / 10_000,
                from_m=from_m,
                to_m=to_m,
            )
        )
    return found


def _season(facts: Facts, translator: Translator) -> list[Finding]:
    for risk, weight, what, do in (
        (
            "confirm-first",
            2.6,
            translator._("{length} may be shut at this season"),
            translator._("Take it as shut until somebody local says it is open."),
        ),
        (
            "doubtful",
            1.6,
            translator._("{length} may be too wet to pass after rain"),
            translator._("Ask the day before; have another way."),
        ),
    ):
        runs = _runs(facts, lambda s, risk=risk: s["season_risk"] == risk)  # type: ignore[misc]
        total = sum(map(_length, runs))
        if total >= 200:
            from_m, to_m = max(runs, key=_length)
            text = what.format(length=translator.distance(total))
            weight += total / 30_000
            return [
                Finding(kind="season", what=text, do=do, weight=weight, from_m=from_m, to_m=to_m)
            ]
    return []


def _remote(facts: Facts, translator: Translator) -> list[Finding]:
    help_ = facts["help"]
    if help_ is None:
        return []
    found = []
    for run in help_["remote"]:
        length = translator.distance(run["to_m"] - run["from_m"])
        if run["nearest_s"] is None:
            what = translator._(
                "{length} from which no mechanic in the map can be reached by road (not the same "
                "as none)",
                length=length,
            )
            # Where the map of a region holds hardly any, this says something of the map.
            weight = 3.0 if run["unusual"] else 0.5
        else:
            what = translator._(
                "Far from help: {far} and {time} to a mechanic",
                far=translator.distance(run["nearest_m"]),
                time=translator.duration(run["nearest_s"]),
            )
            weight = 1.4 + run["nearest_s"] / 3600
        found.append(
            Finding(
                kind="remote",
                what=what,
                do=translator._("Carry tools and tubes; tell somebody when you will be out."),
                weight=weight,
                from_m=run["from_m"],
                to_m=run["to_m"],
            )
        )
    return found


# Weight of each level of heat, the gravest first: stop, no hard exercise, rest often.
_HEAT_LEVELS = tuple(zip(levels_c(Measure.RIDING)[:0:-1], (3.6, 2.4, 1.1), strict=True))


def _heat(facts: Facts, translator: Translator) -> list[Finding]:
    rider = (facts["heat"] or {}).get("rider") or {}
    wbgt = rider.get("max_wbgt_riding_c")
    if wbgt is None:
        return []
    weight = next((w for level, w in _HEAT_LEVELS if wbgt >= level), None)
    if weight is None:
        return []
    # The lowest level is reached on any sunny day; in mild air its advice goes without saying.
    if weight == _HEAT_LEVELS[-1][1] and rider["max_air_temp_c"] < _HOT_AIR_C:
        return []
    worst = rider["worst"]
    what = translator._(
        "Heat: up to {temp} ({low} to {high})",
        temp=translator.temp(rider["max_air_temp_c"]),
        low=translator.number(translator.temp_value(rider["max_air_temp_low_c"])),
        high=translator.number(translator.temp_value(rider["max_air_temp_high_c"])),
    )
    drink = translator._(
        "Drink {water} an hour, rest in shade with the gear open.",
        water=translator.volume(rider["water_most_l_per_h"]),
    )
    early = translator._("Be through before that hour, or go on another day.")
    return [
        Finding(
            kind="heat",
            what=what,
            do=f"{early} {drink}" if weight == _HEAT_LEVELS[0][1] else drink,
            weight=weight,
            from_m=worst["from_m"],
            to_m=worst["to_m"],
        )
    ]


def _cold(facts: Facts, translator: Translator) -> list[Finding]:
    rider = (facts["heat"] or {}).get("rider") or {}
    chill = rider.get("min_wind_chill_c")
    if chill is None or chill > 0:
        return []
    at_m = rider["min_wind_chill_at_m"]
    return [
        Finding(
            kind="cold",
            what=translator._(
                "Cold: it may feel like {temp} at speed", temp=translator.temp(chill)
            ),
            do=translator._("Warm layers and gloves; ice is possible."),
            weight=1.2 + max(0.0, -chill) / 10,
            from_m=at_m,
            to_m=at_m,
        )
    ]


def _light(facts: Facts, translator: Translator) -> list[Finding]:
    found = []
    for day in facts["days"]:
        margin = day["daylight_margin_s"]
        if margin is not None and margin < 0:
            late = translator.duration(-margin)
            found.append(
                Finding(
                    kind="light",
                    what=translator._("Day {n} ends {late} too late", n=day["number"], late=late),
                    do=translator._(
                        "Start earlier or ride less: plan to arrive an hour before dark."
                    ),
                    weight=2.2,
                    from_m=day["from_m"],
                    to_m=day["to_m"],
                )
            )
    dark = [p for p in (facts.get("plan") or {}).get("problems", []) if p["kind"] == "daylight"]
    if not found and dark and all(day["sunrise"] is None for day in facts["days"]):
        found.append(
            Finding(
                kind="light",
                what=translator._("The sun does not rise"),
                do=translator._("No tracks in the dark: go at another time of year."),
                weight=2.2,
                from_m=dark[0]["from_m"],
                to_m=dark[0]["to_m"],
            )
        )
    return found[:1]


def _fuel(facts: Facts, translator: Translator) -> list[Finding]:
    problems = (facts.get("plan") or {}).get("problems", [])
    dry = [problem for problem in problems if problem["kind"] == "fuel"]
    return [
        Finding(
            kind="fuel",
            what=translator._("Fuel does not reach"),
            do=translator.translate(problem["text"]),
            weight=3.0,
            from_m=problem["from_m"],
            to_m=problem["to_m"],
        )
        for problem in dry[:1]
    ]


def _law(facts: Facts, translator: Translator) -> list[Finding]:
    law = (facts["advice"] or {}).get("law", [])
    return [
        Finding(
            kind="law",
            what=translator.translate(said).rstrip("."),
            do=translator._("Ask for leave or go round."),
            weight=2.8,
            from_m=said["from_m"],
            to_m=said["to_m"],
            placed=True,
        )
        for said in law
        if said["code"].split("-")[0] in ("closed", "private", "military")
    ][:1]


def _ferry(facts: Facts, translator: Translator) -> list[Finding]:
    runs = _runs(facts, lambda s: s["ground"] == "ferry")
    return [
        Finding(
            kind="ferry",
            what=translator._("A ferry of {length}", length=translator.distance(b - a)),
            do=translator._("Check its hours."),
            weight=0.8,
            from_m=a,
            to_m=b,
        )
        for a, b in runs[:1]
    ]


def _length(run: tuple[float, float]) -> float:
    return run[1] - run[0]


def _runs(facts: Facts, wanted: Callable[[dict[str, Any]], bool]) -> list[tuple[float, float]]:
    """Stretches that are wanted, close ones joined."""
    runs: list[tuple[float, float]] = []
    for s in facts["stretches"]:
        if not wanted(s):
            continue
        if runs and s["from_m"] - runs[-1][1] <= _GAP_M:
            runs[-1] = (runs[-1][0], s["to_m"])
        else:
            runs.append((s["from_m"], s["to_m"]))
    return runs


_FINDERS: tuple[Callable[[Facts, Translator], list[Finding]], ...] = (
    _steep, _hard, _season, _remote, _heat, _cold, _light, _fuel, _law, _ferry,
)  # fmt: skip
