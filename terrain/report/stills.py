"""The diagram and the map as SVG files that stand alone, for paper."""

from __future__ import annotations

import re
from functools import cache
from importlib.resources import files

from markupsafe import Markup

from terrain.report.frame import LABELS

_VARIABLE = re.compile(r"var\(--([a-z]+)\)")
_ROOT = re.compile(r":root\s*\{([^}]*)\}")
_SIZE = re.compile(r'viewBox="0 0 (\d+) (\d+)"')
# Only these rules draw; the page's own layout would confuse a plain SVG reader.
_DRAWING = re.compile(
    r"^(svg|\.[gbrmh]-|\.(paved|gravel|track|ferry|unmapped|relief|ridge|ramp|day|road|r\d|casing|"
    r"ride|mark|end|spot|scalebar|hit|e-|t-))"
)


def still_row(names: Markup, strip: Markup) -> bytes:
    """One row of the diagram, lane names and ride side by side."""
    size = _SIZE.search(strip)
    assert size is not None
    inner = f'<g>{_inside(names)}</g><g transform="translate({LABELS:.0f} 0)">{_inside(strip)}</g>'
    return _whole(inner, LABELS + float(size[1]) + 8, float(size[2]))


def still_map(drawn: Markup) -> bytes:
    size = _SIZE.search(drawn)
    assert size is not None
    return _whole(_inside(drawn), float(size[1]), float(size[2]))


def _whole(inner: str, width: float, height: float) -> bytes:
    text = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" '
        f'width="{width:.0f}" height="{height:.0f}"><style>{_style()}</style>'
        f"<defs>{_patterns()}</defs>{inner}</svg>"
    )
    return text.encode("utf-8")


def _inside(svg: Markup) -> str:
    text = str(svg)
    return text[text.index(">") + 1 : text.rindex("</svg>")]


@cache
def _colours() -> dict[str, str]:
    """The page's light palette."""
    root = _ROOT.search(_read("report.css"))
    assert root is not None
    pairs = (item.split(":") for item in root[1].split(";") if ":" in item)
    return {name.strip().removeprefix("--"): value.strip() for name, value in pairs}


def _coloured(text: str) -> str:
    return _VARIABLE.sub(lambda m: _colours()[m[1]], text)


@cache
def _style() -> str:
    """The drawing rules of the page, in its light colours."""
    screen = _read("report.css").split("@media screen")[0]
    rules = re.findall(r"([^{}]+)\{([^{}]*)\}", screen.split("* { box-sizing")[1])
    kept = ["text{font-family:'Noto Sans','Noto Sans Arabic'}"]
    for selectors, body in rules:
        wanted = [s.strip() for s in selectors.split(",") if _DRAWING.match(s.strip())]
        # The root of a still has no class of its own.
        plain = [re.sub(r"^svg(\.\w+)?\s+", "", s) for s in wanted if ":" not in s]
        plain = [s for s in plain if not s.startswith("svg")]
        if plain:
            kept.append(
                f"{','.join(plain)}{{{_coloured(body.replace('font-family: inherit;', ''))}}}"
            )
    return "".join(kept)


@cache
def _patterns() -> str:
    page = _read("report.html")
    defs = page[page.index("<defs>") + 6 : page.index("</defs>")]
    return _coloured(defs)


def _read(name: str) -> str:
    return (files("terrain.report") / "templates" / name).read_text(encoding="utf-8")
