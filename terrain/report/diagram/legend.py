"""The signs of the diagram and of the map, each with its words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from terrain.report.drawing.svg import tag
from terrain.report.findings import BASIS_WORDS, GROUND_WORDS
from terrain.report.sections import KINDS, LAND, Section
from terrain.text.translator import Translator

_FIRM = ("tagged", "graded")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """A drawn sign and what it says."""

    drawn: Markup
    text: str


def diagram_key(facts: dict[str, Any], translator: Translator) -> list[Sign]:
    """The signs of the ground lane that this ride uses."""
    used = {s["ground"] for s in facts["stretches"]}
    rests = {s["basis"] for s in facts["stretches"]}
    for kind in set(LAND) - used:
        if any(s["p"] and s["p"][kind] >= 0.02 for s in facts["stretches"]):
            used.add(kind)
    signs = [
        Sign(drawn=swatch(f"g-{kind}"), text=translator._(GROUND_WORDS[kind]))
        for kind in KINDS
        if kind in used
    ]
    if rests & set(_FIRM):
        signs.append(Sign(drawn=swatch("b-tagged", 3.0), text=translator._("told by the map")))
    if "inferred" in rests:
        signs.append(
            Sign(drawn=swatch("b-inferred", 6.0), text=translator._(BASIS_WORDS["inferred"]))
        )
    if "noted" in rests:
        signs.append(Sign(drawn=swatch("b-noted", 6.0), text=translator._(BASIS_WORDS["noted"])))
    return signs


def map_key(cut: list[Section], ranks: set[int], translator: Translator) -> list[Sign]:
    """The lines of the map.

    ranks : of the roads drawn, as in `Surroundings`
    """
    used = {section.ground for section in cut}
    signs = [
        Sign(drawn=_line(f"ride m-{kind}"), text=translator._(GROUND_WORDS[kind]))
        for kind in KINDS
        if kind in used
    ]
    if ranks - {5, 6}:
        signs.append(Sign(drawn=_line("road r2"), text=translator._("other roads")))
    if 5 in ranks:
        signs.append(Sign(drawn=_line("road r5"), text=translator._("other tracks")))
    return signs


def swatch(kind: str, tall: float = 11.0) -> Markup:
    """A small box drawn as the diagram draws it."""
    box = tag("rect", class_=kind, width=21, height=tall, x=0.5, y=(12 - tall) / 2)
    return tag("svg", box, class_="swatch", viewBox="0 0 22 12", aria_hidden="true")


def _line(kind: str) -> Markup:
    line = tag("path", class_=kind, d="M0 6h30")
    return tag("svg", line, class_="swatch long", viewBox="0 0 30 12", aria_hidden="true")
