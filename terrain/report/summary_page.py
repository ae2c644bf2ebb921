"""Many reports as one page: what forbids first, then what does not suit the bike asked for."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from terrain.report.diagram.legend import swatch
from terrain.report.drawing.stills import drawing_css, patterns
from terrain.report.html import page_template
from terrain.report.summary import HIGH, WIDE, SummaryRow
from terrain.text.terms import GROUND_TERMS
from terrain.text.translator import Translator
from terrain.values.ground import GroundKind

_LANE = f"0 0 {WIDE:.0f} {HIGH:.0f}"


def summary_html(rows: Sequence[SummaryRow], translator: Translator) -> bytes:
    """The page; it stands by harm, and where scripts run it can be sorted: what is forbidden stays
    above the rest in every order."""
    ordered = sorted(rows, key=lambda row: row.harm)
    return (
        page_template("summary.html")
        .render(
            rows=[(number, row) for number, row in enumerate(ordered)],
            headline=_headline(rows, translator),
            lead=_lead(rows, translator),
            key=[(swatch(f"g-{kind}"), translator._(GROUND_TERMS[kind])) for kind in GroundKind],
            lane=_LANE,
            translator=translator,
            lang=translator.lang,
            _=translator._,
            css=Markup(drawing_css()),
            patterns=patterns(),
        )
        .encode("utf-8")
    )


def _headline(rows: Sequence[SummaryRow], translator: Translator) -> str:
    n = sum(1 for row in rows if row.forbidden)
    if n:
        return translator._("{n} of {all} routes must not be ridden as drawn.", n=n, all=len(rows))
    if all(row.error for row in rows):
        return translator._("No route could be judged.")
    return translator._("Nothing was found that forbids a ride.")


def _lead(rows: Sequence[SummaryRow], translator: Translator) -> str:
    """How many want another bike, could not be judged, and were judged."""
    wrong = sum(1 for row in rows if row.mismatch)
    failed = sum(1 for row in rows if row.error)
    said = [translator.n_("One route was judged.", "{n} routes were judged.", len(rows) - failed)]
    if failed:
        said.append(translator.n_("One could not be judged.", "{n} could not be judged.", failed))
    if wrong:
        said.append(
            translator.n_(
                "For one, another bike is better than the one asked for.",
                "For {n}, another bike is better than the one asked for.",
                wrong,
            )
        )
    return " ".join(said)
