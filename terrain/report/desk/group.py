"""A group under one strip of ground: a row a rider, black where too hard, grey at the edge."""

from __future__ import annotations

from collections.abc import Iterable

from markupsafe import Markup

from terrain.report.desk.strip import draw_scale, draw_strip
from terrain.report.drawing.svg import join, num, tag
from terrain.report.files import asset
from terrain.text.plain import plain_line
from terrain.text.translator import Translator
from terrain.values.group import Group, GroupRider
from terrain.values.verdict import RidePart

_TALL_PX, _EDGE_PX = 18.0, 12.0


def group_css() -> str:
    """The rules of the table, for a page that has the inks."""
    return asset("group.css")


def group_headline(group: Group, translator: Translator) -> str:
    """How many of the bikes may go, how many hang on an answer, and whose pace all ride at."""
    may = sum(rider.may_go is True for rider in group.riders)
    open_ = sum(rider.may_go is None for rider in group.riders)
    counts = []
    if open_ < len(group.riders):
        counts.append(translator.n_("{may} of one bike may go.", "{may} of {n} bikes may go.",
                                    len(group.riders), may=may))  # fmt: skip
    if open_:
        counts.append(translator.n_("One of {all} bikes waits for an answer.",
                                    "{n} of {all} bikes wait for an answer.",
                                    open_, all=len(group.riders)))  # fmt: skip
    said = " ".join(counts)
    timed = [rider for rider in group.riders if rider.riding_s is not None]
    if len(timed) < 2:
        return said
    slowest = max(timed, key=lambda rider: rider.riding_s or 0.0)
    pace = translator._(
        "The group rides at the pace of {name}.", name=plain_line(_name(slowest, translator))
    )
    return f"{said} {pace}"


def group_lines(group: Group, translator: Translator) -> tuple[str, ...]:
    """The group in plain lines for a mail: the headline, then a line for each rider."""
    say, lines = translator.translate, [group_headline(group, translator)]
    thens = _once([say(rider.then.rider) for rider in group.riders], translator)
    for rider, then in zip(group.riders, thens, strict=True):
        about = ", ".join(filter(None, (say(rider.about), translator.translate_term(rider.bike))))
        lines.append(
            translator._(
                "{name} ({about}): {answer} {then}", name=plain_line(_name(rider, translator)),
                about=plain_line(about), answer=say(rider.answer), then=then,
            ).strip()
        )  # fmt: skip
    return tuple(lines)


def _once(told: list[str], translator: Translator) -> list[str]:
    """What was told of a rider before is not told again."""
    above = translator._("As above.")
    return [above if text and text in told[:i] else text for i, text in enumerate(told)]


def _name(rider: GroupRider, translator: Translator) -> str:
    """As the booking has it, or what stands for it."""
    return translator.translate_term(rider.name)


def draw_group(group: Group, translator: Translator) -> Markup:
    """A table: the common ground on top, then a row for each rider in the given order.

    Its looks are those of the classes in `group.css`, with the page's inks.
    """
    _, length_m = translator._, group.strip.length_m
    ground = draw_strip(group.strip, length_m, translator) + draw_scale(length_m, translator)
    head = [
        tag("th", _("Rider"), scope="col"),
        tag("th", Markup(ground), scope="col", class_="axis-of"),
        tag("th", _("In the saddle"), scope="col", class_="n"),
        tag("th", _("Answer"), scope="col"),
    ]  # fmt: skip
    thens = _once([translator.translate(x.then.staff) for x in group.riders], translator)
    rows = [
        _row(rider, then, length_m, translator)
        for rider, then in zip(group.riders, thens, strict=True)
    ]
    table = tag(
        "table",
        join([tag("thead", tag("tr", join(head))), tag("tbody", join(rows))]),
        class_="group",
    )
    key = [
        join([_sign("hard"), tag("span", _("too hard for this rider"))]),
        join([_sign("edge"), tag("span", _("at the edge"))]),
    ]
    return join([table, tag("p", join(key), class_="group-key")])


def _row(rider: GroupRider, then: str, length_m: float, translator: Translator) -> Markup:
    told = (translator.translate(rider.about), translator.translate_term(rider.bike))
    about = ", ".join(filter(None, told))
    who = [
        tag("b", plain_line(_name(rider, translator))),
        tag("span", plain_line(about), class_="soft"),
    ]
    why = translator.translate(rider.why)
    where = [_marks(rider, length_m, translator)]
    if why:
        where.append(tag("span", plain_line(why), class_="soft"))
    time = "" if rider.riding_s is None else translator.duration(rider.riding_s)
    answer = [tag("b", translator.translate(rider.answer)), Markup(" ")]
    answer.append(tag("span", then))
    return tag(
        "tr",
        join(
            [
                tag("th", join(who), scope="row"),
                tag("td", join(where)),
                tag("td", time or translator._("not known"), class_="n"),
                tag("td", join(answer)),
            ]
        ),
    )


def _marks(rider: GroupRider, length_m: float, translator: Translator) -> Markup:
    """The rider's own line: the edge low, what is too hard over its whole height."""
    middle = _TALL_PX / 2
    drawn = [tag("line", class_="base", x1=0, x2="100%", y1=middle, y2=middle)]
    drawn += _bars(rider.at_edge, length_m, "k-care", _EDGE_PX)
    drawn += _bars(rider.too_hard, length_m, "k-forbidden", _TALL_PX)
    told = [
        text.format(where=", ".join(translator.km_range(part.from_m, part.to_m) for part in parts))
        for text, parts in (
            (translator._("too hard: {where}"), rider.too_hard),
            (translator._("at the edge: {where}"), rider.at_edge),
        )
        if parts
    ]
    return tag(
        "svg", join(drawn), class_="rider-line", height=_TALL_PX, role="img",
        aria_label="; ".join(told) or translator._("nothing too hard"),
    )  # fmt: skip


def _bars(parts: Iterable[RidePart], length_m: float, kind: str, tall: float) -> list[Markup]:
    """At least as wide as can be seen."""
    drawn = []
    for part in parts:
        wide = max(100.0 * part.length_m / max(length_m, 1.0), 0.8)
        left = min(100.0 * part.from_m / max(length_m, 1.0), 100.0 - wide)
        drawn.append(
            tag("rect", class_=kind, x=f"{num(left)}%", width=f"{num(wide)}%",
                y=(_TALL_PX - tall) / 2, height=tall)
        )  # fmt: skip
    return drawn


def _sign(kind: str) -> Markup:
    name = "k-forbidden" if kind == "hard" else "k-care"
    box = tag("rect", class_=name, width=20, height=12)
    return tag("svg", box, class_="swatch", width=20, height=12, aria_hidden="true")
