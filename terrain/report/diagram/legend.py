"""Swatches of the grounds and of the map's lines, each with its words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from terrain.report.drawing.svg import join, tag
from terrain.text.terms import GROUND_TERMS
from terrain.text.translator import Translator
from terrain.values.ground import GroundKind, Stretch
from terrain.values.verdict import Section


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """A drawn sign and what it says."""

    drawn: Markup
    text: str


def ground_key(stretches: Sequence[Stretch], translator: Translator) -> list[tuple[str, str]]:
    """The grounds that a ride may have, by kind and name."""
    used = {s.ground for s in stretches}
    for k, kind in enumerate((GroundKind.PAVED, GroundKind.GRAVEL, GroundKind.TRACK)):
        if any(s.p is not None and s.p[k] >= 0.02 for s in stretches):
            used.add(kind)
    return [(kind.value, translator._(GROUND_TERMS[kind])) for kind in GroundKind if kind in used]


def map_key(
    cut: Sequence[Section], edges: Sequence[str], translator: Translator, *, detours: bool = False
) -> list[Sign]:
    """The lines of the map.

    edges : "closed" and "doubt" where it draws them; detours : whether other ways are drawn
    """
    used = {section.ground for section in cut}
    signs = [
        Sign(
            drawn=_line(f"ride u-{kind.value}", f"ride m-{kind.value}"),
            text=translator._(GROUND_TERMS[kind]),
        )
        for kind in GroundKind
        if kind in used
    ]
    words = {"closed": translator._("closed to motorcycles"), "doubt": translator._("in doubt")}
    signs += [
        Sign(
            drawn=_line(f"edge-{name}", f"inner-{name}", "ride u-paved", "ride m-paved"), text=text
        )
        for name, text in words.items()
        if name in edges
    ]
    if detours:
        signs.append(Sign(drawn=_line("detour"), text=translator._("another way round")))
    return signs


def swatch(kind: str) -> Markup:
    """A small box drawn as the diagram draws it."""
    drawn = join(
        [tag("rect", class_=name, width=15, height=12, x=0.5, y=0.5) for name in (kind, "frame")]
    )
    return tag("svg", drawn, class_="swatch", viewBox="0 0 16 13", aria_hidden="true")


def _line(*kinds: str) -> Markup:
    lines = join([tag("path", class_=kind, d="M0 8h36") for kind in kinds])
    return tag("svg", lines, class_="swatch long", viewBox="0 0 36 16", aria_hidden="true")
