"""The ground of a ride in one line, as the desk's tables show it: all rides on one scale."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby, pairwise

from markupsafe import Markup

from terrain.report.diagram.lanes import draw_ground
from terrain.report.drawing.columns import ground_columns
from terrain.report.drawing.ink import LIGHT
from terrain.report.drawing.scale import DiagramRow, nice_step
from terrain.report.drawing.svg import join, num, tag
from terrain.text.translator import Translator
from terrain.values.ground import LAND_GROUNDS, GroundKind, Severity, Stretch
from terrain.values.report import Report
from terrain.values.strip import Strip, StripPart
from terrain.values.verdict import FindingKind, RidePart

_WIDE_PX = 720.0
TALL_PX, LOW_PX = 28.0, 10.0  # of the ground on a booking's page, and in a table
_HARD = Severity.ROUGH
_NEAR_M = 200.0  # hard parts this close to each other are one


def strip_of(report: Report) -> Strip:
    """The strip of a report's ride: columns that can be seen at 720 px, no more."""
    match, plan = report.assessed.match, report.assessed.plan
    stretches = report.assessed.ground.stretches
    row = _row(match.length_m, match.length_m)
    closed = [part for item in report.verdict.forbidden if item.kind is FindingKind.CLOSED
              for part in item.parts]  # fmt: skip
    return Strip(
        length_m=match.length_m,
        parts=tuple(
            StripPart(
                from_m=x / row.px_per_m,
                to_m=(x + wide) / row.px_per_m,
                p=p,
                ground=GroundKind.PAVED if p is not None else GroundKind(other),
            )
            for x, wide, p, other in ground_columns(row, stretches)
        ),
        hard=_hard(stretches),
        closed=tuple(closed),
        nights_m=tuple(day.to_m for day, _ in pairwise(plan.days)),
    )


def _hard(stretches: tuple[Stretch, ...]) -> tuple[RidePart, ...]:
    found: list[RidePart] = []
    for s in stretches:
        if s.severity is None or s.severity < _HARD:
            continue
        if found and s.from_m - found[-1].to_m < _NEAR_M:
            found[-1] = RidePart(from_m=found[-1].from_m, to_m=s.to_m)
        else:
            found.append(RidePart(from_m=s.from_m, to_m=s.to_m))
    return tuple(found)


def _row(length_m: float, longest_m: float) -> DiagramRow:
    return DiagramRow(from_m=0.0, to_m=length_m, px_per_m=_WIDE_PX / max(longest_m, 1.0))


def draw_strip(
    strip: Strip,
    longest_m: float,
    translator: Translator,
    *,
    name: str = "",
    tall_px: float = TALL_PX,
) -> Markup:
    """The strip, as wide as its ride is long beside the longest of its table.

    longest_m : takes the whole width; name : of the ride, for readers aloud; tall_px : the ground
    Above the ground in black what is closed, below it what is hard, upright where a night lies.
    """
    row = _row(strip.length_m, longest_m)
    top, bar = (6.0, 4.0) if tall_px >= TALL_PX else (3.0, 2.5)
    foot = top + tall_px
    wide = 100.0 * strip.length_m / max(longest_m, 1.0)
    ground = tag(
        "svg", draw_ground(row, strip.parts, tall_px), y=top, width=f"{num(wide)}%",
        height=tall_px, viewBox=f"0 0 {num(row.width)} {num(tall_px)}",
        preserveAspectRatio="none",
    )  # fmt: skip
    marks = [
        *_bars(strip.closed, longest_m, "closed", 0.0, top + 0.2 * tall_px),
        *_bars(strip.hard, longest_m, "closed", foot + bar / 2, bar),
    ]
    for at_m in strip.nights_m:
        x = _share(at_m, longest_m)
        marks.append(tag("line", class_="cut", x1=x, x2=x, y1=0, y2=foot + 2 * bar))
    return tag(
        "svg", join([ground, *marks]), class_="groundstrip", role="img", height=foot + 2 * bar,
        aria_label=strip_words(strip, translator, name=name),
    )  # fmt: skip


def _share(at_m: float, longest_m: float) -> str:
    return f"{num(100.0 * at_m / max(longest_m, 1.0))}%"


def _bars(
    parts: tuple[RidePart, ...], longest_m: float, kind: str, y: float, tall: float
) -> list[Markup]:
    """Each part at least as wide as can be seen."""
    drawn = []
    for part in parts:
        wide = max(100.0 * part.length_m / max(longest_m, 1.0), 0.3)
        drawn.append(
            tag("rect", class_=kind, x=_share(part.from_m, longest_m), y=y, width=f"{num(wide)}%",
                height=tall)
        )  # fmt: skip
    return drawn


def strip_words(strip: Strip, translator: Translator, *, name: str = "") -> str:
    """What the strip shows, for those who hear it."""
    _ = translator._
    parts = [name] if name else []
    parts.append(_("ground along {length}", length=translator.distance(strip.length_m)))
    for told, spans in ((_("closed: {where}"), strip.closed), (_("hard: {where}"), strip.hard)):
        if spans:
            longest = sorted(spans, key=lambda part: -part.length_m)[:3]
            where = [
                translator.km_range(x.from_m, x.to_m)
                for x in sorted(longest, key=lambda part: part.from_m)
            ]
            parts.append(told.format(where=", ".join(where)))
    return translator.in_a_row(parts)


_RUN_COLUMNS = 120


def strip_runs(strip: Strip) -> tuple[tuple[str, float], ...]:
    """The likeliest ground in runs along the ride, where nothing can be drawn: ink, share [%]."""
    inks, k = [], 0
    for column in range(_RUN_COLUMNS if strip.parts else 0):
        middle_m = (column + 0.5) / _RUN_COLUMNS * strip.length_m
        while k + 1 < len(strip.parts) and strip.parts[k].to_m <= middle_m:
            k += 1
        part = strip.parts[k]
        ground = part.ground if part.p is None else LAND_GROUNDS[part.p.index(max(part.p))]
        inks.append("line" if ground is GroundKind.UNMAPPED else ground.value)
    return tuple((LIGHT[ink], 100.0 * len(list(run)) / _RUN_COLUMNS) for ink, run in groupby(inks))


def mark_runs(parts: Sequence[RidePart], length_m: float) -> tuple[tuple[str, float], ...]:
    """Parts of the ride as such runs: black where they lie, "" between."""
    cuts = [("", 0.0)]
    for part in parts:
        cuts += [("", part.from_m), (LIGHT["closed"], part.to_m)]
    cuts.append(("", length_m))
    ends = [100.0 * at_m / max(length_m, 1.0) for _, at_m in cuts]
    runs = [(ink, b - a) for (ink, _), a, b in zip(cuts[1:], ends, ends[1:], strict=False)]
    return tuple((ink, share) for ink, share in runs if share > 0.0) if parts else ()


def draw_scale(longest_m: float, translator: Translator) -> Markup:
    """Distance along the bottom of several strips."""
    unit = translator.distance_unit_m
    longest = longest_m / unit
    if longest <= 0:
        return Markup("")
    step, marks, n = nice_step(longest, 6), [], 0
    while n * step < longest * 0.97:
        told = translator.number(n * step, 0 if step >= 1 or not n else 1)
        marks.append(
            tag("text", told if n else f"{translator.distance_unit}\u00a00",
                x=_share(n * step * unit, longest_m), y=12,
                text_anchor="middle" if n else "start")
        )  # fmt: skip
        n += 1
    return tag("svg", join(marks), class_="stripscale", aria_hidden="true")


def draw_day(
    strip: Strip, span: tuple[float, float], longest_m: float, stops_m: Sequence[float],
    translator: Translator,
) -> Markup:  # fmt: skip
    """One day of the ride with its stops, on the scale of the longest day.

    span : metres along the ride where the day begins and ends; stops_m : where its stops lie
    """
    from_m, to_m = span
    row = DiagramRow(from_m=from_m, to_m=to_m, px_per_m=_WIDE_PX / max(longest_m, 1.0))
    ground = tag(
        "svg", draw_ground(row, strip.parts, 20.0), y=2.0,
        width=f"{num(100.0 * (to_m - from_m) / max(longest_m, 1.0))}%", height=20.0,
        viewBox=f"0 0 {num(row.width)} 20", preserveAspectRatio="none",
    )  # fmt: skip
    marks, last = [], -1.0
    for at_m in sorted(stops_m):
        share = (at_m - from_m) / max(longest_m, 1.0)
        x = f"{num(100.0 * share)}%"
        marks.append(tag("line", class_="stop", x1=x, x2=x, y1=0, y2=26))
        if share - last > 0.05:  # names nearer than this would lie on each other
            told = translator.distance_number(at_m)
            anchor = "end" if share > 0.95 else "start" if share < 0.02 else "middle"
            marks.append(tag("text", told, x=x, y=37, text_anchor=anchor))
            last = share
    return tag("svg", join([ground, *marks]), class_="daystrip", aria_hidden="true")
