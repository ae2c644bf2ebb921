"""The diagram and the map as SVG files that stand alone, for paper."""

from __future__ import annotations

import html
import re
from functools import cache, lru_cache
from typing import Any

from markupsafe import Markup

from terrain.report.drawing.ink import LIGHT, root_css
from terrain.report.files import asset

_VARIABLE = re.compile(r"var\(--([a-z]+)\)")
_TEXTURED = re.compile(r'<(path|rect) class="g-(gravel|track)"([^>]*)/>')
_GROUNDED = re.compile(r"<rect [^>]*/>")
_POINTED = re.compile(r'<(?:rect|use)[^>]* class="hit"[^>]*/>')
_CLASSES = re.compile(r'class="([^"]+)"')
_NAMED = re.compile(r"\.([a-zA-Z][\w-]*)")
_ARABIC = re.compile("[\u0600-\u06ff\u0750-\u077f\u08a0-\u08ff\ufb50-\ufdff\ufe70-\ufefc]")
_LABELLED = re.compile(r"</g>|<g(?P<group>[^>]*)>|<text(?P<how>[^>]*)>(?P<said>[^<]*)</text>")
_MOVE = re.compile(r"translate\((\S+) (\S+)\)")
_ATTRIBUTES = re.compile(r'([\w-]+)="([^"]*)"')
_LOOKS = re.compile(r"[{;\s](font-size|font-weight|fill):\s*([^;}]+)")
_SIZE = re.compile(r'viewBox="0 0 (\d+) (\d+)"')


def still_map(shapes: Markup, drawn: Markup) -> bytes:
    """The map; `shapes` are the lines that it uses."""
    size = _SIZE.search(drawn)
    assert size is not None
    return _whole(f"<defs>{shapes}</defs>{_inside(drawn)}", float(size[1]), float(size[2]))


def lifted(svg: bytes) -> tuple[str, list[dict[str, Any]]]:
    """A still without its Arabic labels, and these with their places and looks.

    Its letters are joined of several glyphs, which the typesetter tells apart from marks in its own
    text only: drawn within the still they would cost the paper its standard.
    """
    text = svg.decode("utf-8")
    if not _ARABIC.search(text):
        return text, []
    labels: list[dict[str, Any]] = []
    moved = [(0.0, 0.0)]

    def lift(part: re.Match[str]) -> str:
        if part[0] == "</g>":
            moved.pop()
        elif part["group"] is not None:
            step = _MOVE.search(part["group"])
            x, y = map(float, step.groups()) if step else (0.0, 0.0)
            moved.append((moved[-1][0] + x, moved[-1][1] + y))
        elif _ARABIC.search(part["said"]):
            labels.append(_label(dict(_ATTRIBUTES.findall(part["how"])), part["said"], moved[-1]))
            return ""
        return part[0]

    return _LABELLED.sub(lift, text), labels


def _label(how: dict[str, str], said: str, moved: tuple[float, float]) -> dict[str, Any]:
    classes = set(how.get("class", "").split())
    looks: dict[str, str] = {}
    for names, rule in _rules():
        if rule.startswith("text") or any(needed <= classes for needed in names):
            looks |= {key: value.strip() for key, value in _LOOKS.findall(rule)}
    return {
        "x": float(how["x"]) + moved[0],
        "y": float(how["y"]) + moved[1],
        "anchor": how.get("text-anchor", "start"),
        "size": float(looks["font-size"].removesuffix("px")),
        "bold": looks.get("font-weight", "400") == "700",
        "fill": looks["fill"],
        "text": html.unescape(said).replace(" ", "\u00a0"),  # it has no width to break at
    }


@lru_cache(maxsize=64)
def still(drawn: Markup) -> bytes:
    """Any drawing of the page's rules."""
    size = _SIZE.search(drawn)
    assert size is not None
    return _whole(_inside(drawn), float(size[1]), float(size[2]))


def patterns() -> Markup:
    """The textures of the grounds, in the page's own colours."""
    return Markup(asset("patterns.svg"))


def drawing_css() -> str:
    """The inks and the rules that the diagram and the map are drawn by."""
    return root_css() + asset("drawing.css")


def _whole(inner: str, width: float, height: float) -> bytes:
    drawn = _layered(inner)
    style = _style(frozenset(" ".join(set(_CLASSES.findall(drawn))).split()))
    textures = "".join(text for name, text in _textures().items() if f"url(#{name})" in style)
    text = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" '
        f'width="{width:.0f}" height="{height:.0f}"><style>{style}</style>'
        f"<defs>{textures}</defs>{drawn}</svg>"
    )
    return text.encode("utf-8")


def _layered(drawn: str) -> str:
    """Textured shapes as a plain one under its texture: readers leave seams between tiles.

    What only a pointer meets is left out.
    """
    drawn = _POINTED.sub("", drawn)
    return _TEXTURED.sub(r'<\1 class="f-\2"\3/><\1 class="g-\2"\3/>', drawn)


@cache
def _textures() -> dict[str, str]:
    """The textures by name."""
    lines = [line for line in _coloured(patterns()).splitlines() if line]
    # The first rectangle is the plain ground, which lies below.
    return {line.split('"')[1]: _GROUNDED.sub("", line, count=1) for line in lines}


def _inside(svg: Markup) -> str:
    text = str(svg)
    return text[text.index(">") + 1 : text.rindex("</svg>")]


def _coloured(text: str) -> str:
    return _VARIABLE.sub(lambda m: LIGHT[m[1]], text)


@lru_cache(maxsize=64)
def _style(classes: frozenset[str]) -> str:
    """The drawing rules that these classes need: a reader tries each rule on each shape."""
    kept = [
        rule for names, rule in _rules() if not names or any(needed <= classes for needed in names)
    ]
    return "".join(kept)


@cache
def _rules() -> list[tuple[list[set[str]], str]]:
    """The drawing rules in the light colours, for a reader of SVG that knows no variables.

    Each with the classes that its selectors name; none for the rules of every drawing.
    """
    rules = asset("drawing.css")
    # The root of a still is the svg itself: a selector below it would match nothing.
    plain = re.sub(r"\bsvg (?=[.\w])", "", rules).replace("font-family: inherit;", "")
    # One bold for the whole paper: each weight is another font in the file.
    plain = re.sub(r"font-weight: 6\d0", "font-weight: 700", plain)
    plain += ".f-gravel{fill:var(--gravel)}.f-track{fill:var(--track)}"
    plain = "text{font-family:'Noto Sans','Noto Sans Arabic','Noto Sans CJK TC'}" + _coloured(plain)
    told = []
    for selectors, rule in re.findall(r"([^{}]+)(\{[^{}]*\})", plain):
        names = [set(_NAMED.findall(selector)) for selector in selectors.split(",")]
        told.append(([] if not all(names) else names, selectors.strip() + rule))
    return told
