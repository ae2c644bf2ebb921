"""The road card: one A5 page a day, for the tank bag."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from terrain.report.dangers import all_dangers, where_text
from terrain.report.diagram.diagram import render_rows
from terrain.report.diagram.letters import STOP_WORDS
from terrain.report.diagram.plan import stop_name
from terrain.report.drawing.scale import fold
from terrain.report.drawing.stills import still_row
from terrain.report.page.page import Page, make_page
from terrain.report.page.parts import exit_lines, more_exits
from terrain.report.paper.typeset import drawing, plain, typeset
from terrain.text.plain import plain_line, shortened
from terrain.text.translator import Translator
from terrain.values.report import Facts, Report

_ONE_ROW_M = 150_000.0  # a longer day folds once, and its letters are smaller
_ROW_PX = (440.0, 620.0)
_LONGEST_TITLE = 70
_MOST_KNOW = 4
_MOST_CLOSED = 6
_MOST_STOPS = 12
_MOST_EXITS = 4


def render_card(report: Report, translator: Translator, facts: Facts | None = None) -> bytes:
    """A PDF with a page for each day of the plan: diagram, dangers, stops, ways out.

    facts : the report as its JSON, if it is at hand
    Raises TerrainError if it cannot be set.
    """
    facts = facts or report.to_dict()
    page = make_page(facts, translator, "guide")
    data = {
        "lang": translator.lang,
        "title": page.title,
        "credit": shortened(page.credit, 160),
        "know_title": translator._("To know"),
        "stops_title": translator._("Stops"),
        "stops_head": [
            translator._("When"),
            translator._("At"),
            translator._("For"),
            translator._("Place"),
        ],
        "exits_title": translator._("Ways out of the unpaved parts"),
        "cards": [_card(day, facts, page, translator) for day in _days(facts)],
    }
    return typeset("card.typ", plain(data), datetime.fromisoformat(facts["made_at"]))


def _days(facts: Facts) -> list[dict[str, Any]]:
    whole = {"number": None, "from_m": 0.0, "to_m": facts["route"]["length_m"]}
    return facts["days"] or [whole]


def _card(day: dict[str, Any], facts: Facts, page: Page, translator: Translator) -> dict[str, Any]:
    from_m, to_m = day["from_m"], day["to_m"]
    folded = to_m - from_m > _ONE_ROW_M
    longest_m = (to_m - from_m) / 2 if folded else _ONE_ROW_M
    rows = fold(to_m - from_m, start_m=from_m, longest_m=longest_m, width=_ROW_PX[folded])
    drawn = render_rows(facts, list(page.cut), translator, rows, without=("plan",))
    alt = translator._(
        "Diagram of {span}; the table below tells the same.", span=translator.km_range(from_m, to_m)
    )
    inside = [s for s in facts["stops"] if from_m <= s["at_m"] <= to_m and _of_day(s, day)]
    kept = _most_needed(inside)
    exits, more = exit_lines(facts, translator, from_m, to_m, _MOST_EXITS)
    return {
        "title": _title(day, page, translator),
        "about": _about(day, translator),
        "drawings": [
            drawing(still_row(names, strip), alt)
            for names, strip in zip(drawn[::2], drawn[1::2], strict=True)
        ],
        "know": [
            *closed_lines(from_m, to_m, facts, translator),
            *_know(from_m, to_m, facts, translator),
        ],
        "stops": [_stop(stop, translator) for stop in kept],
        "more_stops": _more_stops(len(inside) - len(kept), translator),
        "exits": exits,
        "more_exits": more_exits(more, translator) if more else "",
    }


def _most_needed(stops: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """As many stops as a card has room for, in riding order: those for the van alone go first."""
    by_need = sorted(stops, key=lambda stop: stop.get("kinds", [stop["kind"]]) == ["van"])
    return sorted(by_need[:_MOST_STOPS], key=lambda stop: float(stop["at_m"]))


def _more_stops(n: int, translator: Translator) -> str:
    if n <= 0:
        return ""
    return translator.n_(
        "One more stop stands in the HTML report.", "{n} more stops stand in the HTML report.", n
    )


def _of_day(stop: dict[str, Any], day: dict[str, Any]) -> bool:
    return day["number"] is None or stop.get("day") in (None, day["number"])


def _title(day: dict[str, Any], page: Page, translator: Translator) -> str:
    if day["number"] is None:
        return shortened(page.title, _LONGEST_TITLE)
    title = shortened(page.title, _LONGEST_TITLE)
    return f"{translator._('Day {n}', n=day['number'])}: {title}"


def _about(day: dict[str, Any], translator: Translator) -> str:
    parts = [
        translator.km_range(day["from_m"], day["to_m"]),
        translator.distance(day["to_m"] - day["from_m"]),
    ]
    if day.get("start"):
        parts.append(f"{translator.hour(day['start'])}–{translator.hour(day['end'])}")
    if day.get("riding_s"):
        parts.append(translator._("{time} of riding", time=translator.duration(day["riding_s"])))
    if day.get("dusk"):
        parts.append(translator._("dark at {time}", time=day["dusk"]))
    if day.get("lodging") and day["lodging"]["name"]:
        parts.append(translator._("night: {place}", place=day["lodging"]["name"]))
    return ", ".join(parts)


def closed_lines(from_m: float, to_m: float, facts: Facts, translator: Translator) -> list[str]:
    """What of a day is closed by tag, in one line: all of it summed, its places named."""
    spans = [
        (max(part["from_m"], from_m), min(part["to_m"], to_m), part["tag"])
        for part in (facts.get("closed") or {}).get("parts", [])  # reports of old have none
        if part["from_m"] < to_m and part["to_m"] > from_m
    ]
    if not spans:
        return []
    longest = sorted(spans, key=lambda span: span[0] - span[1])[:_MOST_CLOSED]
    named = [f"{translator.km_range(a, b)} ({plain_line(tag)})" for a, b, tag in sorted(longest)]
    if len(spans) > len(longest):
        named.append(translator.n_("one more", "{n} more", len(spans) - len(longest)))
    return [
        translator._(
            "Closed to motorcycles by tag, {length} in all: {places}. Signs and local law decide.",
            length=translator.distance(sum(b - a for a, b, _ in spans)),
            places=translator.listing(named),
        )
    ]


def _know(from_m: float, to_m: float, facts: Facts, translator: Translator) -> list[str]:
    found = [
        item
        for item in all_dangers(facts, translator)
        if item.from_m is None or (item.from_m < to_m and (item.to_m or item.from_m) >= from_m)
    ]
    return [
        f"{item.what}{where_text(item, facts, translator)}. {item.do}"
        for item in found[:_MOST_KNOW]
    ]


def _stop(stop: dict[str, Any], translator: Translator) -> list[str]:
    kinds = ", ".join(translator._(STOP_WORDS.get(k, k)) for k in stop.get("kinds", [stop["kind"]]))
    return [
        translator.hour(stop.get("arrive") or ""), translator.km_mark(stop["at_m"]), kinds,
        stop_name(stop, translator),
    ]  # fmt: skip
