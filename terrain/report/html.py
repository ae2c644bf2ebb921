"""The report as one self-contained page: no request leaves it."""

from __future__ import annotations

import re
from functools import cache, lru_cache
from typing import Any

import jinja2
from markupsafe import Markup, escape

from terrain.report.diagram.diagram import diagram_note, render_days
from terrain.report.diagram.down import render_downs
from terrain.report.diagram.legend import ground_key, map_key, swatch
from terrain.report.diagram.when import PAGE, draw_when
from terrain.report.diagram.when import PHONE as WHEN_PHONE
from terrain.report.drawing.map import map_edges, map_shapes, map_ways_round, render_map
from terrain.report.drawing.stills import drawing_css, patterns
from terrain.report.drawing.view import PHONE
from terrain.report.files import asset
from terrain.report.page.blocks import Block
from terrain.report.page.page import Page, make_page
from terrain.report.page.spots import map_spots
from terrain.report.said import TRUST_LINE
from terrain.text.plain import plain_line
from terrain.text.translator import Translator
from terrain.values.ground import GroundKind
from terrain.values.report import Report
from terrain.values.verdict import Audience

# Short enough for a line of a phone, and no part of an address or of a file's name.
_HYPHENED = re.compile(r"(?<![\w/.-])\w{1,10}(?:-\w{1,10}){1,2}(?![\w/-])")
# A name in a script that runs right to left is set apart, so that numbers beside it stay in place.
_LETTERS = "[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc]+"
_RIGHT_TO_LEFT = re.compile(f"{_LETTERS}(?:[ '’-]{_LETTERS})*")
_SCROLLED = 2  # days, or parts of a long one, that a phone shows without folding them
_PHONE_LETTERS = 46  # of the longest entries of all columns together


def render_html(report: Report, translator: Translator, audience: Audience = Audience.RIDER) -> str:
    """The whole page. Names from files and maps come out as text, whatever they hold."""
    page = make_page(report, translator, audience)
    spots = map_spots(report, translator)
    downs = render_downs(report, translator)
    drawn = {
        # Whom to thank stands under the map already, how far to trust it among the cautions.
        "footer": [
            line
            for number, line in enumerate(page.footer)
            if number != TRUST_LINE and line.rstrip(". ") not in page.credit
        ],
        "days": render_days(report, translator),
        "downs": downs,
        "is_long": len(downs) > _SCROLLED,
        "key": ground_key(report.assessed.ground.stretches, translator),
        "diagram_note": diagram_note(report, translator),
        "shapes": map_shapes(report),
        "map": render_map(report, translator, page.credit, spots),
        "small_map": render_map(report, translator, page.credit, spots, PHONE),
        "spots": spots,
        "when": _when(report, translator),
        "map_key": map_key(
            report.verdict.sections,
            map_edges(report),
            translator,
            detours=bool(map_ways_round(report)),
        ),
    }
    return page_template("report.html").render(
        page={**_fields(page), **drawn},
        translator=translator,
        lang=translator.lang,
        _=translator._,
        css=Markup(drawing_css() + asset("report.css")),
        patterns=patterns(),
        swatches={kind.value: swatch(f"g-{kind.value}") for kind in GroundKind},
        js=Markup(asset("report.js")),
    )


def _when(report: Report, translator: Translator) -> dict[str, Any] | None:
    """The months of a ride on no date: the answer, why, and the table for desk and phone."""
    when = report.assessed.when
    if when is None:
        return None
    return {
        "headline": translator.translate(when.headline),
        "lead": " ".join(translator.translate_all(when.lead)),
        "notes": " ".join(translator.translate_all(when.notes)),
        "wide": draw_when(when, translator, PAGE),
        "small": draw_when(when, translator, WHEN_PHONE),
    }


@cache
def page_template(name: str) -> jinja2.Template:
    """A template of a page that stands alone."""
    environment = jinja2.Environment(
        autoescape=True,
        loader=jinja2.FunctionLoader(asset),
        undefined=jinja2.StrictUndefined,
        finalize=_plain,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {"whole_words": whole_words, "short": _short}
    return environment.get_template(name)


def whole_words(text: str, keeps: str = 'class="whole"') -> Markup:
    """Words with a hyphen in them kept on one line, lines kept apart.

    keeps : the attribute that does it
    """
    lines = "\n".join(str(_plain(line)) for line in text.split("\n"))
    return Markup(_HYPHENED.sub(rf"<span {keeps}>\g<0></span>", lines))


def _short(table: Block) -> bool:
    """A table that fits a phone as it stands."""
    longest = [[max(head.split(), key=len, default="")] for head in table.head]
    cells = zip(longest, zip(*table.rows, strict=True), strict=True)
    return sum(max(map(len, (*head, *column))) for head, column in cells) <= _PHONE_LETTERS


def _plain(value: Any) -> Any:
    """Text without control characters and marks that steer the direction of what follows."""
    if isinstance(value, str) and not isinstance(value, Markup):
        return _escaped(value)
    return value


@lru_cache(maxsize=4096)
def _escaped(text: str) -> Markup:
    """Heads of columns and short entries come again and again."""
    return escape(_RIGHT_TO_LEFT.sub("\u2068\\g<0>\u2069", plain_line(text)))


def _fields(page: Page) -> dict[str, Any]:
    return {name: getattr(page, name) for name in page.__dataclass_fields__}
