"""Help by road and the ways out, in words and tables."""

from __future__ import annotations

from terrain.report.page.blocks import Block, Part
from terrain.text.catalogue import N_
from terrain.text.terms import HELP_TERMS, WEAK_HELP_TERMS
from terrain.text.translator import Translator
from terrain.values.exits import Exit
from terrain.values.help import PlaceRef, Remote
from terrain.values.report import Report

_HEADS = (N_("What"), N_("Farthest"), N_("At"), N_("Nearest then"))


def help_part(report: Report, translator: Translator) -> Part | None:
    """How far each kind of help is at most, and where it is far."""
    help_, _ = report.assessed.help, translator._
    rows = []
    for kind, far in help_.kinds:
        if far.farthest_s_m is None or far.farthest_s is None or far.farthest_s_at_m is None:
            none = _("none in the map (not the same as none)")
            rows.append((_(HELP_TERMS[kind]), none, "", ""))
            continue
        rows.append(
            (
                _(HELP_TERMS[kind]),
                _far(far.farthest_s_m, far.farthest_s, far.ferry_m, translator),
                translator.km_mark(far.farthest_s_at_m), place_text(far.place, translator),
            )
        )  # fmt: skip
    rows += [
        (
            _(WEAK_HELP_TERMS[item.kind.value]),
            _far(item.length_m, item.time_s, item.ferry_m, translator),
            translator.km_mark(item.at_m), place_text(item.place, translator),
        )
        for item in help_.weaker
    ]  # fmt: skip
    blocks = [Block(kind="table", head=tuple(_(h) for h in _HEADS), rows=tuple(rows))]
    if help_.remote:
        blocks.append(Block(kind="heading", text=_("Far from a mechanic")))
        lines = tuple(_remote_text(run, translator) for run in help_.remote)
        blocks.append(Block(kind="list", lines=lines))
    blocks.append(Block(kind="text", text=" ".join(translator.translate_all(help_.words))))
    return Part(key="help", title=_("Help by road"), blocks=tuple(blocks))


def _far(metres: float, seconds: float, ferry_m: float, translator: Translator) -> str:
    return f"{translator.distance(metres)}, {time_there(seconds, ferry_m, translator)}"


def time_there(seconds: float, ferry_m: float, translator: Translator) -> str:
    """The time of a way to help, and whether it takes a ferry."""
    time = translator.duration(seconds)
    return translator._("{time} with a ferry", time=time) if ferry_m else time


def place_text(place: PlaceRef | None, translator: Translator) -> str:
    """A place by name and telephone; "" for none."""
    if place is None:
        return ""
    name = place.name or translator._("without a name on the map")
    return f"{name}, {place.phone}" if place.phone else str(name)


def _remote_text(run: Remote, translator: Translator) -> str:
    where = translator.km_range(run.from_m, run.to_m)
    if run.nearest_s is None or run.nearest_m is None:
        text = translator._(
            "{where}: no mechanic in the map can be reached by road (not the same as none)",
            where=where,
        )
    else:
        text = translator._(
            "{where}: up to {far} and {time} to the nearest mechanic", where=where,
            far=translator.distance(run.nearest_m),
            time=time_there(run.nearest_s, run.ferry_m, translator),
        )  # fmt: skip
        if run.nearest is not None and run.nearest.name:
            text += f" ({place_text(run.nearest, translator)})"
    if run.town is not None and run.town_s is not None:
        text += translator._(
            "; the nearest town is {place}, {time} (likely help, not mapped)",
            place=place_text(run.town, translator),
            time=time_there(run.town_s, run.town_ferry_m, translator),
        )  # fmt: skip
    return f"{text}."


def exits_part(report: Report, translator: Translator, most: int | None = None) -> Part | None:
    """The ways out of the unpaved parts; the slowest `most` of them."""
    lines, more = exit_lines(report, translator, 0.0, report.assessed.match.length_m, most)
    if not lines:
        return None
    blocks = [Block(kind="list", lines=tuple(lines))]
    if more:
        blocks.append(Block(kind="text", text=more_exits(more, translator)))
    return Part(
        key="exits", title=translator._("Ways out of the unpaved parts"), blocks=tuple(blocks)
    )


def exit_lines(
    report: Report, translator: Translator, from_m: float, to_m: float, most: int | None = None
) -> tuple[list[str], int]:
    """The ways out of the unpaved parts between two positions, a line each in riding order.

    most : how many at most, those that take longest
    Returns: the lines, and how many more there are.
    """
    ways = [
        way
        for way in report.assessed.help.exits
        if way.from_m < to_m and way.to_m > from_m and not way.is_short
    ]
    slowest = sorted(ways, key=_out_s, reverse=True)[:most]
    lines = [
        translator._(
            "{where}: {text}",
            where=translator.km_range(way.from_m, way.to_m),
            text=translator.after_colon(way.words),
        )
        for way in sorted(slowest, key=lambda way: way.from_m)
    ]
    return lines, len(ways) - len(lines)


def more_exits(n: int, translator: Translator) -> str:
    """What is said of ways out that are left out."""
    return translator.n_(
        "One more, shorter in time, stands in the HTML report.",
        "{n} more, shorter in time, stand in the HTML report.",
        n,
    )


def _out_s(way: Exit) -> float:
    """The longest time out of an unpaved part [s]; without end where it is not known."""
    return float("inf") if way.worst is None or way.unknown_m else way.worst.time_s
