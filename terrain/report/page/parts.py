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
from terrain.text.figures import whole_percents
from terrain.text.translator import N_, Words
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


def make_parts(facts: Facts, words: Words, voice: str) -> tuple[Part, ...]:
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
    parts = [makers[key](facts, words) for key in ORDER[voice] if key in makers]
    return tuple(without_empty_columns(part) for part in parts if part is not None)


def _plan(facts: Facts, words: Words) -> Part | None:
    if not facts["days"]:
        return None
    blocks = [_days_table(facts, words)]
    if facts["stops"]:
        blocks.append(_stops_table(facts, words))
    plan = facts.get("plan") or {"problems": [], "fuel": None}
    if plan["problems"]:
        blocks.append(Block(kind="heading", text=words._("What the plan cannot do")))
        lines = tuple(
            words._("{where}: {text}", where=_where(p, words), text=words.after_colon(p["text"]))
            for p in plan["problems"]
        )
        blocks.append(Block(kind="list", lines=lines))
    blocks.append(Block(kind="text", text=_plan_note(facts, plan, words)))
    return Part(key="plan", title=words._("Plan"), blocks=tuple(blocks))


def _where(item: dict[str, Any], words: Words) -> str:
    if item["to_m"] - item["from_m"] < 1:
        return words.at(item["from_m"])
    return words.span(item["from_m"], item["to_m"])


def _plan_note(facts: Facts, plan: dict[str, Any], words: Words) -> str:
    parts = []
    fuel = plan["fuel"]
    if fuel is not None:
        parts.append(
            words._(
                "Fuel by the {bike}: {range} on tarmac with the reserve kept back, less off road; "
                "the tank is full at the start.",
                bike=words.said(fuel.get("title") or fuel["class"].replace("-", " ")),
                range=words.far(fuel["range_m"]),
            )
        )
    if facts["trip"]["depart"] is None:
        start = facts["days"][0]["start"]
        parts.append(words._("No departure is known: the clock starts at {start}.", start=start))
    parts.append(words._("Opening hours, prices and free beds are not checked. Call ahead."))
    return " ".join(parts)


def _days_table(facts: Facts, words: Words) -> Block:
    rows = []
    for day in facts["days"]:
        margin = day["daylight_margin_s"]
        light = ""
        if margin is not None:
            light = (
                words._("{time} before dark", time=words.lasting(margin + 3600))
                if margin >= 0
                else words._("too late by {time}", time=words.lasting(-margin))
            )
        rows.append(
            (
                str(day["number"]),
                words.span(day["from_m"], day["to_m"]),
                words.lasting(day["riding_s"]),
                f"{words.hour(day['start'])}–{words.hour(day['end'])}",
                light,
                _place(day["lodging"], words),
                "; ".join(words.tell_all(day["hard"])),
            )
        )
    head = ["Day", "Where", "Riding", "From, to", "Light", "Night", "Hard because"]
    return Block(kind="table", head=tuple(words._(h) for h in head), rows=tuple(rows))


def _stops_table(facts: Facts, words: Words) -> Block:
    rows = []
    for stop in facts["stops"]:
        kinds = ", ".join(words._(STOP_WORDS.get(k, k)) for k in stop.get("kinds", [stop["kind"]]))
        rows.append(
            (
                words.at(stop["at_m"]),
                words.hour(stop.get("arrive") or ""),
                kinds,
                stop_name(stop, words),
                words.tell(stop["why"] or ""),
                words.yes(stop["van_access"]),
            )
        )
    head = ["At", "When", "For", "Place", "Why", "Van"]
    return Block(kind="table", head=tuple(words._(h) for h in head), rows=tuple(rows))


_TABLE_HEADS = (
    N_("Day"), N_("Where"), N_("Riding"), N_("From, to"), N_("Light"), N_("Night"),
    N_("Hard because"), N_("At"), N_("When"), N_("For"), N_("Place"), N_("Why"), N_("Van"),
    N_("Farthest"), N_("Nearest then"), N_("What"),
)  # fmt: skip


def _place(place: dict[str, Any] | None, words: Words) -> str:
    if place is None:
        return ""
    name = place["name"] or words._("without a name on the map")
    return f"{name}, {place['phone']}" if place.get("phone") else str(name)


def _help(facts: Facts, words: Words) -> Part | None:
    help_ = facts["help"]
    if help_ is None:
        return None
    rows = []
    for kind, name in HELP_NAMES.items():
        far = help_.get(kind)
        if far is None:
            continue
        if far["farthest_m"] is None:
            rows.append((words._(name), words._("none known on mapped roads"), "", ""))
            continue
        rows.append(
            (
                words._(name),
                f"{words.far(far['farthest_m'])}, {words.lasting(far['farthest_s'])}",
                words.at(far["farthest_at_m"]),
                _place(far["nearest"], words),
            )
        )
    head = ("What", "Farthest", "At", "Nearest then")
    blocks = [Block(kind="table", head=tuple(words._(h) for h in head), rows=tuple(rows))]
    remote = [_remote_text(run, words) for run in help_["remote"]]
    if remote:
        blocks.append(Block(kind="heading", text=words._("Far from a mechanic")))
        blocks.append(Block(kind="list", lines=tuple(remote)))
    blocks.append(Block(kind="text", text=" ".join(words.tell_all(help_["words"]))))
    return Part(key="help", title=words._("Help by road"), blocks=tuple(blocks))


def _remote_text(run: dict[str, Any], words: Words) -> str:
    where = words.span(run["from_m"], run["to_m"])
    if run["nearest_s"] is None:
        text = words._("{where}: no mechanic can be reached on mapped roads", where=where)
    else:
        text = words._(
            "{where}: up to {far} and {time} to the nearest mechanic",
            where=where,
            far=words.far(run["nearest_m"]),
            time=words.lasting(run["nearest_s"]),
        )
        if run["nearest"] is not None and run["nearest"]["name"]:
            text += f" ({_place(run['nearest'], words)})"
    if run["town"] is not None and run["town_s"] is not None:
        text += words._(
            "; the nearest town is {place}, {time} (likely help, not mapped)",
            place=_place(run["town"], words),
            time=words.lasting(run["town_s"]),
        )
    return f"{text}."


def _exits(facts: Facts, words: Words) -> Part | None:
    help_ = facts["help"]
    if help_ is None or not help_["exits"]:
        return None
    lines, _ = exit_lines(facts, words, 0.0, facts["route"]["length_m"])
    if not lines:
        return None
    return Part(
        key="exits",
        title=words._("Ways out of the unpaved parts"),
        blocks=(Block(kind="list", lines=tuple(lines)),),
    )


def exit_lines(
    facts: Facts, words: Words, from_m: float, to_m: float, most: int | None = None
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
        words._(
            "{where}: {text}",
            where=words.span(way["from_m"], way["to_m"]),
            text=words.after_colon(way["words"]),
        )
        for way in sorted(slowest, key=lambda way: float(way["from_m"]))
    ]
    return lines, len(ways) - len(lines)


def more_exits(n: int, words: Words) -> str:
    """What is said of ways out that are left out."""
    return words.n_(
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


def _detours(facts: Facts, words: Words) -> Part | None:
    detours = facts.get("detours") or []
    if not detours:
        return None
    names = {"road": words._("round a hard part"), "dirt": words._("more dirt")}
    rows = []
    for way in detours:
        shares = way["shares"]
        whole = whole_percents([shares[kind]["best"] for kind in LAND]) if shares else []
        ground = ", ".join(
            f"{words._(GROUND_WORDS[kind])} {words.amount(percent, '%')}"
            for kind, percent in zip(LAND, whole, strict=False)
            if percent >= 5
        )
        rows.append(
            (
                words.span(way["from_m"], way["to_m"]),
                names[way["kind"]],
                _more(words.far, way["added_m"]),
                _more(words.lasting, way["added_s"]),
                ground,
                ", ".join(way["roads"]),
            )
        )
    head = (
        words._("Where"), words._("For"), words._("Length"), words._("Time"), words._("Ground"),
        words._("Road"),
    )  # fmt: skip
    text = words._("Suggestions only; the ride itself is not changed.")
    blocks = (Block(kind="table", head=head, rows=tuple(rows)), Block(kind="text", text=text))
    return Part(key="detours", title=words._("Other ways round"), blocks=blocks)


def _more(teller: Callable[[float], str], added: float) -> str:
    """A change with its sign."""
    return f"{'−' if added < 0 else '+'}{teller(abs(added))}"


def _file(facts: Facts, words: Words) -> Part | None:
    problems = facts["route"]["problems"]
    if not problems:
        return None
    rows = tuple(_oddity(problem, words) for problem in problems)
    return Part(
        key="file", title=words._("About the file"), blocks=(Block(kind="list", lines=rows),)
    )


def _oddity(problem: dict[str, Any], words: Words) -> str:
    """One oddity of the file: where, what, and what was done."""
    what, action = words.tell(problem["what"]), words.tell(problem["action"])
    if not problem["where"]:
        return words._("{what} ({action})", what=what, action=action)
    where = words.tell(problem["where"])
    return words._("{where}: {what} ({action})", where=where, what=what, action=action)
