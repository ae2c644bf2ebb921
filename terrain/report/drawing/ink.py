"""One table of inks for page, paper, cards, maps and plots: darkness grows with hardness.

Colours are of Okabe and Ito's set for colour-blind readers (Color Universal Design, 2008) and
greys; each ground has a texture of its own beside its colour.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Ink:
    """A named colour on a light page and on a dark one."""

    name: str
    light: str
    dark: str


INKS: tuple[Ink, ...] = (
    Ink("paper", "#ffffff", "#16171a"),
    Ink("ink", "#1a1a1a", "#ececec"),
    Ink("soft", "#595959", "#b4b4b4"),
    Ink("line", "#bdbdbd", "#4d4d50"),
    Ink("faint", "#eeeeee", "#26272a"),
    # Grounds, the harder the darker on a light page; on a dark one the farther from the page.
    Ink("paved", "#d0d0d0", "#47484c"),
    Ink("gravel", "#e69f00", "#735200"),
    Ink("dot", "#5b3d00", "#f0b429"),
    Ink("track", "#d55e00", "#d55e00"),
    Ink("hatch", "#5c2700", "#ffc9a3"),
    Ink("closed", "#000000", "#ffffff"),
    Ink("onclosed", "#ffffff", "#000000"),
    # How much harm a finding stands for.
    Ink("danger", "#595959", "#b4b4b4"),
    Ink("care", "#a6a6a6", "#77787c"),
    Ink("help", "#0072b2", "#56b4e9"),
    Ink("helpfill", "#cfe3f0", "#173347"),
    Ink("mild", "#f4e1eb", "#43283a"),
    Ink("warm", "#dba6c4", "#7d3f63"),
    Ink("hot", "#a8527f", "#dd9cc0"),
    Ink("onhot", "#ffffff", "#16171a"),
    Ink("link", "#005a8e", "#7cc4f0"),
    Ink("touch", "#f0e442", "#f0e442"),
    Ink("open", "#ffffff", "#16171a"),
    Ink("ferry", "#0072b2", "#56b4e9"),
)


LIGHT = {ink.name: ink.light for ink in INKS}


def root_css() -> str:
    """The inks as CSS variables, light and dark."""
    light = " ".join(f"--{ink.name}: {ink.light};" for ink in INKS)
    dark = " ".join(f"--{ink.name}: {ink.dark};" for ink in INKS)
    return (
        f":root {{ {light} }}\n"
        f"@media screen and (prefers-color-scheme: dark) {{ :root {{ {dark} }} }}\n"
    )
