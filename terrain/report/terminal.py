"""The summary on a terminal: about twenty lines, readable without colour."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import Any

from terrain.report.dangers import things_to_know, where_text
from terrain.report.findings import (
    GROUND_WORDS,
    not_known,
    share_lines,
    shares_in_words,
    verdict,
)
from terrain.text.plain import plain_line
from terrain.text.translator import Translator

# One sign a ground; the denser the sign, the better the road.
_SIGNS: dict[str, str] = {
    "paved": "█", "gravel": "▒", "track": "░", "ferry": "~", "unmapped": "·",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """Width in columns, and whether the terminal shows colours."""

    width: int = 80
    colour: bool = False

    def bold(self, text: str) -> str:
        return f"\x1b[1m{text}\x1b[0m" if self.colour else text

    def faint(self, text: str) -> str:
        return f"\x1b[2m{text}\x1b[0m" if self.colour else text


def render_summary(facts: dict[str, Any], translator: Translator, style: Style) -> str:
    """The whole summary, without a final line break; as much as twenty lines hold."""
    tries = [_summary(facts, translator, style, do=do, gaps=n) for do, n in _SHORTER]
    tries.append([tries[-1][0], *tries[-1][2:]])
    lines = next((lines for lines in tries if len(lines) <= _MOST_LINES), tries[-1])
    # No-break spaces have done their work once the lines are set.
    return "\n".join(lines).replace("\u00a0", " ").replace("\u202f", " ")


_MOST_LINES = 20
# Whether to say what to do, and how many gaps to name: the fullest that fits is shown.
_SHORTER = ((True, 4), (True, 2), (True, 1), (False, 2), (False, 1))


def _summary(
    facts: dict[str, Any], translator: Translator, style: Style, *, do: bool, gaps: int
) -> list[str]:
    lines: list[str] = []
    lines += [style.faint(_title(facts, translator, style.width)), ""]
    sentence = verdict(facts, translator).sentence(translator)
    lines += [style.bold(line) for line in _wrap(plain_line(sentence), style.width)]
    lines += ["", *_shares(facts, translator, style), ""]
    lines += _know(facts, translator, style, do=do)
    lines += _unknown(facts, translator, style, most=gaps)
    return [*lines, "", *_sketch(facts, translator, style.width)]


def _title(facts: dict[str, Any], translator: Translator, width: int) -> str:
    region = _short(plain_line(facts["region"]["name"]), 24)
    tail = f"  {translator.distance(facts['route']['length_m'])}, {region}"
    date = facts["region"]["map_date"]
    if date:
        tail += translator._(" map of {date}", date=date)
    return _short(plain_line(facts["route"]["name"]), width - len(tail)) + tail


def _short(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 1] + "…"


def _shares(facts: dict[str, Any], translator: Translator, style: Style) -> list[str]:
    parts = [f"{name} {share}" for name, share in share_lines(facts, translator)]
    lines = _wrap("   ".join(parts), style.width) if parts else []
    return [*lines, *_wrap(shares_in_words(facts, translator), style.width)]


def _know(facts: dict[str, Any], translator: Translator, style: Style, *, do: bool) -> list[str]:
    found = things_to_know(facts, translator)
    if not found:
        return []
    lines = [style.bold(translator._("To know"))]
    for item in found:
        text = plain_line(f"{item.what}{where_text(item, facts, translator)}.")
        text += f" {plain_line(item.do)}" if do else ""
        lines += _wrap(text, style.width, bullet="- ")
    return lines


def _unknown(
    facts: dict[str, Any], translator: Translator, style: Style, *, most: int
) -> list[str]:
    gaps = not_known(facts, translator)
    if not gaps:
        return []
    lines = [style.bold(translator._("Not known"))]
    for gap in gaps[:most]:
        lines += _wrap(plain_line(gap), style.width, bullet="- ")
    if len(gaps) > most:
        lines += _wrap(translator._("and more in the report."), style.width, bullet="- ")
    return lines


def _sketch(facts: dict[str, Any], translator: Translator, width: int) -> list[str]:
    """The ground lane in one row of signs, with its scale and key."""
    stretches = facts["stretches"]
    length = stretches[-1]["to_m"]
    step = length / width
    row, k = [], 0
    for column in range(width):
        middle = (column + 0.5) * step
        while k + 1 < len(stretches) and stretches[k]["to_m"] <= middle:
            k += 1
        row.append(_SIGNS[stretches[k]["ground"]])
    used = [kind for kind in _SIGNS if _SIGNS[kind] in row]
    key = "  ".join(f"{_SIGNS[kind]} {translator._(GROUND_WORDS[kind])}" for kind in used)
    end = translator.distance(length)
    scale = f"0{' ' * (width - 1 - len(end))}{end}"
    return ["".join(row), scale, key]


def _wrap(text: str, width: int, bullet: str = "") -> list[str]:
    """Lines of a text; numbers stay with their units (textwrap breaks at any white space)."""
    held = text.replace("\u00a0", "\ue000").replace("\u202f", "\ue001")
    lines = textwrap.wrap(
        held,
        width,
        initial_indent=bullet,
        subsequent_indent=" " * len(bullet),
        break_on_hyphens=False,
    )
    return [line.replace("\ue000", " ").replace("\ue001", " ") for line in lines]
