"""The parts of the report below the diagram: advice, plan, help, cautions, the file."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from terrain.report.diagram.letters import STOP_WORDS
from terrain.report.diagram.plan import stop_name
from terrain.report.findings import GROUND_WORDS
from terrain.report.page.advice import ADVICE_PARTS
from terrain.report.page.blocks import Block, Part, without_empty_columns
from terrain.report.page.ground import ground_part
from terrain.report.page.heat import heat_part
from terrain.report.sections import LAND
from terrain.text.catalogue import N_
from terrain.text.figures import whole_percents
from terrain.text.translator import Translator
from terrain.values.report import Facts

# Which parts each reader gets, in which order.
ORDER: dict[str, tuple[str, ...]] = {
    "rider": (
        "cautions", "advice", "ground", "heat", "checks", "help", "plan", "detours", "exits",
        "file",
    ),
    "staff": (
        "advice", "questions", "checks", "cautions", "ground", "heat", "help", "plan", "detours",
        "exits", "file",
    ),
    "guide": (
        "plan", "exits", "help", "checks", "ground", "heat", "detours", "advice", "questions",
        "cautions", "file",
    ),
}  # fmt: skip

HELP_NAMES: dict[str, str] = {
    "mechanic": N_("mechanic"),
    "fuel": N_("fuel"),
    "water": N_("water"),
    "hospital": N_("hospital"),
    "town": N_("town"),
}

_WEAK_NAMES: dict[str, str] = {
    "tyres": N_("tyre shop"),
    "car_repair": N_("car workshop"),
    "clinic": N_("clinic"),
    "doctor": N_("doctor"),
    "pharmacy": N_("pharmacy"),
    "police": N_("police"),
    "lodging": N_("lodging"),
}


def make_parts(facts: Facts, translator: Translator, audience: str) -> tuple[Part, ...]:
    """The parts that this reader gets and this report has."""
    makers = {
        **ADVICE_PARTS,
        "help": _help,
        "plan": _plan,
        "exits": _exits,
        "ground": ground_part,
        "heat": heat_part,
        "detours": _detours,
        "file": _file,
    }
    parts = [makers[key](facts, translator) for key in ORDER[audience] if key in makers]
    return tuple(without_empty_columns(part) for part in parts if part is not None)


def _plan(facts: Facts, translator: Translator) -> Part | None:
    if not facts["days"]:
        return None
    blocks = [_days_table(facts, translator)]
    if facts["stops"]:
        blocks.append(_stops_table(facts, translator))
    plan = facts.get("plan") or {"problems": [], "fuel": None}
    if plan["problems"]:
        blocks.append(Block(kind="heading", text=translator._("What the plan cannot do")))
        lines = tuple(
            translator._(
                "{where}: {text}",
                where=_where(p, translator),
                text=translator.after_colon(p["text"]),
            )
            for p in plan["problems"]
        )
        blocks.append(Block(kind="list", lines=lines))
    blocks.append(Block(kind="text", text=_plan_note(facts, plan, translator)))
    return Part(key="plan", title=translator._("Plan"), blocks=tuple(blocks))


def _where(item: dict[str, Any], translator: Translator) -> str:
    if item["to_m"] - item["from_m"] < 1:
        return translator.km_mark(item["from_m"])
    return translator.km_range(item["from_m"], item["to_m"])


def _plan_note(facts: Facts, plan: dict[str, Any], translator: Translator) -> str:
    parts = []
    fuel = plan["fuel"]
    if fuel is not None:
        parts.append(
            translator._(
                "Fuel by the {bike}: {range} on tarmac with the reserve kept back, less off road; "
                "the tank is full at the start.",
                bike=translator.translate_term(
                    fuel.get("title") or fuel["class"].replace("-", " ")
                ),
                range=translator.distance(fuel["range_m"]),
            )
        )
    own = facts["trip"].get("own_rides")
    if own is not None:
        parts.append(
            translator.say(
                "Times from one recorded ride of the operator, {first_day} to {last_day}.",
                "Times from {n} recorded rides of the operator, {first_day} to {last_day}.",
                n=own["rides"], first_day=own["first_day"], last_day=own["last_day"],
            )
        )  # fmt: skip
    if facts["trip"]["depart"] is None:
        start = facts["days"][0]["start"]
        parts.append(
            translator._("No departure is known: the clock starts at {start}.", start=start)
        )
    parts.append(translator._("Opening hours, prices and free beds are not checked. Call ahead."))
    return " ".join(parts)


def _days_table(facts: Facts, translator: Translator) -> Block:
    rows = []
    for day in facts["days"]:
        margin = day["daylight_margin_s"]
        light = ""
        if margin is not None:
            light = (
                translator._("{time} before dark", time=translator.duration(margin + 3600))
                if margin >= 0
                else translator._("too late by {time}", time=translator.duration(-margin))
            )
        rows.append(
            (
                str(day["number"]),
                translator.km_range(day["from_m"], day["to_m"]),
                translator.duration(day["riding_s"]),
                f"{translator.hour(day['start'])}–{translator.hour(day['end'])}",
                light,
                _place(day["lodging"], translator),
                "; ".join(translator.translate_all(day["hard"])),
            )
        )
    head = ["Day", "Where", "Riding", "From, to", "Light", "Night", "Hard because"]
    return Block(kind="table", head=tuple(translator._(h) for h in head), rows=tuple(rows))


def _stops_table(facts: Facts, translator: Translator) -> Block:
    rows = []
    for stop in facts["stops"]:
        kinds = ", ".join(
            translator._(STOP_WORDS.get(k, k)) for k in stop.get("kinds", [stop["kind"]])
        )
        rows.append(
            (
                translator.km_mark(stop["at_m"]),
                translator.hour(stop.get("arrive") or ""),
                kinds,
                stop_name(stop, translator),
                translator.translate(stop["why"] or ""),
                translator.yes(stop["van_access"]),
            )
        )
    head = ["At", "When", "For", "Place", "Why", "Van"]
    return Block(kind="table", head=tuple(translator._(h) for h in head), rows=tuple(rows))


_TABLE_HEADS = (
    N_("Day"), N_("Where"), N_("Riding"), N_("From, to"), N_("Light"), N_("Night"),
    N_("Hard because"), N_("At"), N_("When"), N_("For"), N_("Place"), N_("Why"), N_("Van"),
    N_("Farthest"), N_("Nearest then"), N_("What"),
)  # fmt: skip


def _place(place: dict[str, Any] | None, translator: Translator) -> str:
    if place is None:
        return ""
    name = place["name"] or translator._("without a name on the map")
    return f"{name}, {place['phone']}" if place.get("phone") else str(name)


def _help(facts: Facts, translator: Translator) -> Part | None:
    help_ = facts["help"]
    if help_ is None:
        return None
    rows = []
    for kind, name in HELP_NAMES.items():
        far = help_.get(kind)
        if far is None:
            continue
        if far["farthest_m"] is None:
            rows.append(
                (translator._(name), translator._("none in the map (not the same as none)"), "", "")
            )
            continue
        rows.append(
            (
                translator._(name),
                f"{translator.distance(far['farthest_m'])}, "
                f"{translator.duration(far['farthest_s'])}",
                translator.km_mark(far["farthest_at_m"]),
                _place(far["nearest"], translator),
            )
        )
    for item in help_["weaker"]:
        rows.append(
            (
                translator._(_WEAK_NAMES[item["kind"]]),
                f"{translator.distance(item['nearest_m'])}, "
                f"{translator.duration(item['nearest_s'])}",
                translator.km_mark(item["at_m"]),
                _place(item["nearest"], translator),
            )
        )
    head = ("What", "Farthest", "At", "Nearest then")
    blocks = [Block(kind="table", head=tuple(translator._(h) for h in head), rows=tuple(rows))]
    remote = [_remote_text(run, translator) for run in help_["remote"]]
    if remote:
        blocks.append(Block(kind="heading", text=translator._("Far from a mechanic")))
        blocks.append(Block(kind="list", lines=tuple(remote)))
    blocks.append(Block(kind="text", text=" ".join(translator.translate_all(help_["words"]))))
    return Part(key="help", title=translator._("Help by road"), blocks=tuple(blocks))


def _remote_text(run: dict[str, Any], translator: Translator) -> str:
    where = translator.km_range(run["from_m"], run["to_m"])
    if run["nearest_s"] is None:
        text = translator._(
            "{where}: no mechanic in the map can be reached by road (not the same as none)",
            where=where,
        )
    else:
        text = translator._(
            "{where}: up to {far} and {time} to the nearest mechanic",
            where=where,
            far=translator.distance(run["nearest_m"]),
            time=translator.duration(run["nearest_s"]),
        )
        if run["nearest"] is not None and run["nearest"]["name"]:
            text += f" ({_place(run['nearest'], translator)})"
    if run["town"] is not None and run["town_s"] is not None:
        text += translator._(
            "; the nearest town is {place}, {time} (likely help, not mapped)",
            place=_place(run["town"], translator),
            time=translator.duration(run["town_s"]),
        )
    return f"{text}."


def _exits(facts: Facts, translator: Translator) -> Part | None:
    help_ = facts["help"]
    if help_ is None or not help_["exits"]:
        return None
    lines, _ = exit_lines(facts, translator, 0.0, facts["route"]["length_m"])
    if not lines:
        return None
    return Part(
        key="exits",
        title=translator._("Ways out of the unpaved parts"),
        blocks=(Block(kind="list", lines=tuple(lines)),),
    )


def exit_lines(
    facts: Facts, translator: Translator, from_m: float, to_m: float, most: int | None = None
) -> tuple[list[str], int]:
    """The ways out of the unpaved parts between two positions, a line each in riding order.

    most : how many at most, those that take longest
    Returns: the lines, and how many more there are.
    """
    ways = [
        way
        for way in (facts["help"] or {}).get("exits", [])
        if way["from_m"] < to_m and way["to_m"] > from_m and not _is_short(way)
    ]
    slowest = sorted(ways, key=_out_s, reverse=True)[:most]
    lines = [
        translator._(
            "{where}: {text}",
            where=translator.km_range(way["from_m"], way["to_m"]),
            text=translator.after_colon(way["words"]),
        )
        for way in sorted(slowest, key=lambda way: float(way["from_m"]))
    ]
    return lines, len(ways) - len(lines)


def more_exits(n: int, translator: Translator) -> str:
    """What is said of ways out that are left out."""
    return translator.n_(
        "One more, shorter in time, stands in the HTML report.",
        "{n} more, shorter in time, stand in the HTML report.",
        n,
    )


def _out_s(way: dict[str, Any]) -> float:
    """The longest time out of an unpaved part [s]; without end where it is not known."""
    unknown = way["worst"] is None or way["unknown_m"]
    return float("inf") if unknown else float(way["worst"]["time_s"])


def _is_short(way: dict[str, Any]) -> bool:
    """Out within five minutes from anywhere: nothing to plan."""
    worst = way["worst"]
    return worst is not None and worst["time_s"] <= 300 and not way["unknown_m"]


def _detours(facts: Facts, translator: Translator) -> Part | None:
    detours = facts.get("detours") or []
    if not detours:
        return None
    names = {"road": translator._("round a hard part"), "dirt": translator._("more dirt")}
    rows = []
    for way in detours:
        shares = way["shares"]
        whole = whole_percents([shares[kind]["best"] for kind in LAND]) if shares else []
        ground = ", ".join(
            f"{translator._(GROUND_WORDS[kind])} {translator.amount(percent, '%')}"
            for kind, percent in zip(LAND, whole, strict=False)
            if percent >= 5
        )
        rows.append(
            (
                translator.km_range(way["from_m"], way["to_m"]),
                names[way["kind"]],
                _more(translator.distance, way["added_m"]),
                _more(translator.duration, way["added_s"]),
                ground,
                ", ".join(way["roads"]),
            )
        )
    head = (
        translator._("Where"), translator._("For"), translator._("Length"), translator._("Time"),
        translator._("Ground"),
        translator._("Road"),
    )  # fmt: skip
    text = translator._("Suggestions only; the ride itself is not changed.")
    blocks = (Block(kind="table", head=head, rows=tuple(rows)), Block(kind="text", text=text))
    return Part(key="detours", title=translator._("Other ways round"), blocks=blocks)


def _more(teller: Callable[[float], str], added: float) -> str:
    """A change with its sign."""
    return f"{'−' if added < 0 else '+'}{teller(abs(added))}"


def _file(facts: Facts, translator: Translator) -> Part | None:
    problems = facts["route"]["problems"]
    if not problems:
        return None
    rows = tuple(_oddity(problem, translator) for problem in problems)
    return Part(
        key="file", title=translator._("About the file"), blocks=(Block(kind="list", lines=rows),)
    )


def _oddity(problem: dict[str, Any], translator: Translator) -> str:
    """One oddity of the file: where, what, and what was done."""
    what, action = translator.translate(problem["what"]), translator.translate(problem["action"])
    if not problem["where"]:
        return translator._("{what} ({action})", what=what, action=action)
    where = translator.translate(problem["where"])
    return translator._("{where}: {what} ({action})", where=where, what=what, action=action)
