"""The report as one self-contained page: no request leaves it."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import Any

import jinja2
from markupsafe import Markup

from terrain.report.diagram import diagram_note, render_rows
from terrain.report.findings import BASIS_WORDS, GROUND_WORDS
from terrain.report.mapping import render_map
from terrain.report.page import Page, ShareLine, make_page
from terrain.report.safe import plain_line
from terrain.report.sections import KINDS
from terrain.report.svg import join, num, tag
from terrain.report.words import Words
from terrain.values.report import Facts, Report


def render_html(
    report: Report, words: Words, voice: str = "rider", facts: Facts | None = None
) -> str:
    """The whole page. Names from files and maps come out as text, whatever they hold.

    facts : the report as its JSON, if it is at hand
    """
    facts = facts or report.to_dict()
    page = make_page(facts, words, voice)
    rows = render_rows(facts, list(page.cut), words)
    drawn = {
        "rows": list(zip(rows[::2], rows[1::2], strict=True)),
        "map": render_map(report.match, report.surroundings, list(page.cut), words, page.credit),
        "diagram_note": diagram_note(facts, words),
        "key": _key(facts, words),
        "shares": [
            {"name": share.name, "text": share.text, "bar": _share_bar(share)}
            for share in page.shares
        ],
    }
    return _template().render(
        page={**_fields(page), **drawn},
        words=words,
        lang=words.lang,
        _=words._,
        css=Markup(_asset("report.css")),
        js=Markup(_asset("report.js")),
    )


@cache
def _asset(name: str) -> str:
    return (files("terrain.report") / "templates" / name).read_text(encoding="utf-8")


@cache
def _template() -> jinja2.Template:
    environment = jinja2.Environment(
        autoescape=True,
        loader=jinja2.FunctionLoader(_asset),
        undefined=jinja2.StrictUndefined,
        finalize=_plain,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("report.html")


def _plain(value: Any) -> Any:
    """Text without control characters and marks that steer the direction of what follows."""
    if isinstance(value, str) and not isinstance(value, Markup):
        return plain_line(value)
    return value


def _fields(page: Page) -> dict[str, Any]:
    return {name: getattr(page, name) for name in page.__dataclass_fields__}


def _share_bar(share: ShareLine) -> Markup:
    """A share on a line from nothing to all: the interval as a band, the best as a stroke."""
    low, high, best = (100 * share.share[key] for key in ("low", "high", "best"))
    inner = [
        tag("path", class_="axis", d="M0 10h100", style="stroke:var(--line)"),
        tag("rect", class_=share.kind, x=low, y=4, width=max(high - low, 0.6), height=12),
        tag(
            "path",
            class_="axis",
            d=f"M{num(best)} 1v18",
            style="stroke-width:2px",
            vector_effect="non-scaling-stroke",
        ),
    ]
    return tag(
        "svg", join(inner), viewBox="0 0 100 20", preserveAspectRatio="none", aria_hidden="true"
    )


def _swatch(kind: str) -> Markup:
    rect = tag("rect", class_=kind, width=21, height=11, x=0.5, y=0.5)
    return tag("svg", rect, class_="swatch", viewBox="0 0 22 12", aria_hidden="true")


def _key(facts: dict[str, Any], words: Words) -> list[dict[str, Any]]:
    """The signs that this ride uses, with their words."""
    used = {s["ground"] for s in facts["stretches"]}
    for s in facts["stretches"]:
        used.update(kind for kind, share in (s["p"] or {}).items() if share >= 0.02)
    entries = [
        {"swatch": _swatch(f"g-{kind}"), "text": words._(GROUND_WORDS[kind])}
        for kind in KINDS
        if kind in used
    ]
    rests = {s["basis"] for s in facts["stretches"]}
    if "inferred" in rests:
        entries.append({"swatch": _swatch("b-inferred"), "text": words._(BASIS_WORDS["inferred"])})
    if rests & {"tagged", "graded"}:
        entries.append({"swatch": _swatch("b-tagged"), "text": words._("told by the map")})
    if "noted" in rests:
        entries.append({"swatch": _swatch("b-noted"), "text": words._(BASIS_WORDS["noted"])})
    return entries
